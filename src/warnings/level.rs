//! What may look wrong about a basin, its valve and its overflow.

use super::Notice;
use crate::model::{AIR_GAP_DIAMETERS, VALVE_OVER_DEMAND};

pub(crate) static VALVE_BELOW_DEMAND: Notice = Notice {
    id: "makeup_valve_below_demand",
    command: "level",
    usual: || "the valve passes what the tower uses in its peak hour".into(),
    source: "the water balance",
    advice: "a larger valve or more supply pressure",
};

pub(crate) static VALVE_WITHOUT_RESERVE: Notice = Notice {
    id: "makeup_valve_without_reserve",
    command: "level",
    usual: || format!("{VALVE_OVER_DEMAND} times this hour's makeup or more"),
    source: "common practice",
    advice: "see whether the peak hour and a refill are covered",
};

pub(crate) static OVERFLOW_UNKNOWN: Notice = Notice {
    id: "overflow_unknown",
    command: "level",
    usual: || "the overflow is described".into(),
    source: "the site file",
    advice: "state basin.overflow_pipe, overflow_side_pipe or overflow_weir; what it cannot carry floods the basin",
};

pub(crate) static OVERFLOW_TOO_SMALL: Notice = Notice {
    id: "overflow_too_small",
    command: "level",
    usual: || "the overflow carries the makeup valve stuck open".into(),
    source: "discharge relations of the level page",
    advice: "a wider overflow, or a smaller makeup valve",
};

pub(crate) static RUN_BACK_OVERFLOWS: Notice = Notice {
    id: "run_back_overflows",
    command: "level",
    usual: || "what runs back at a pump stop has room under the overflow".into(),
    source: "volumes of the site",
    advice: "a lower operating level, or check valves that hold the risers full",
};

pub(crate) static SUCTION_UNCOVERED: Notice = Notice {
    id: "suction_uncovered",
    command: "level",
    usual: || "the level stays above the suction's smallest submergence".into(),
    source: "the site's suction level",
    advice: "a higher operating level, or a slower start",
};

pub(crate) static ALARM_TOO_LATE: Notice = Notice {
    id: "alarm_too_late",
    command: "level",
    usual: || "the low alarm leaves the time to act that was asked for".into(),
    source: "the question's own time",
    advice: "raise the alarm level",
};

pub(crate) static AIR_GAP_SMALL: Notice = Notice {
    id: "air_gap_small",
    command: "level",
    usual: || {
        format!("{AIR_GAP_DIAMETERS} diameters of the makeup pipe above the overflow, or more")
    },
    source: "common practice; the local backflow rule decides",
    advice: "raise the makeup's outlet, or fit the backflow preventer that the local rule asks for",
};
