//! What may look wrong about what is fed.

use super::Notice;

pub(crate) static LOCK_RAISES_CYCLES: Notice = Notice {
    id: "lock_raises_cycles",
    command: "feed",
    usual: || "the valve can bleed off before a slug what the lock adds".into(),
    source: "the water balance",
    advice: "lock for less, or a larger blowdown valve",
};

pub(crate) static SLUG_WORKS_BRIEFLY: Notice = Notice {
    id: "slug_works_briefly",
    command: "feed",
    usual: || "a slug works for as long as the blowdown is locked".into(),
    source: "decay and dilution of the dose in the water",
    advice: "a larger dose",
};

pub(crate) static ACID_WITHOUT_PH: Notice = Notice {
    id: "acid_without_ph",
    command: "feed and blowdown",
    usual: || "acid holds a stated pH".into(),
    source: "the site file",
    advice: "state ph.held, or leave the acid out",
};

pub(crate) static PUMP_TOO_SMALL: Notice = Notice {
    id: "feed_pump_too_small",
    command: "feed",
    usual: || "a pump that gives the feed below its full rate".into(),
    source: "the feed against the pump's full rate",
    advice: "a larger pump, or a stronger product",
};

pub(crate) static PUMP_TOO_LARGE: Notice = Notice {
    id: "feed_pump_too_large",
    command: "feed",
    usual: || "at least 10 % of the pump's full rate".into(),
    source: "common practice: below it a dosing pump does not keep its rate",
    advice: "a timer, a smaller pump, or a weaker product",
};

pub(crate) static PUMP_WITHOUT_DENSITY: Notice = Notice {
    id: "feed_pump_without_density",
    command: "feed",
    usual: || "a product whose density is stated".into(),
    source: "the site file",
    advice: "state density, as in \"1.15 kg/L\"",
};

pub(crate) static AMMONIA_TAKES_OXIDANT: Notice = Notice {
    id: "ammonia_takes_oxidant",
    command: "feed",
    usual: || "a demand that covers what ammonia takes".into(),
    source: crate::feed::BREAKPOINT_SOURCE,
    advice: "count it into demand, or ask the supplier for another biocide",
};
