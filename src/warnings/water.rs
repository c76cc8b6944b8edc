//! What may look wrong about a blowdown target and the analyses behind it.

use super::Notice;

pub(crate) static NO_CYCLES_SATISFY: Notice = Notice {
    id: "no_cycles_satisfy",
    command: "blowdown",
    usual: "every floor lies below the ceiling",
    source: "the limits of the site",
    advice: "treat the makeup, feed acid or another program, or change the material that sets the limit",
};

pub(crate) static LIMIT_NOT_JUDGED: Notice = Notice {
    id: "limit_not_judged",
    command: "blowdown",
    usual: "every limited constituent is analysed",
    source: "the limits of the site",
    advice: "have the laboratory add what is missing",
};

pub(crate) static IONS_OUT_OF_BALANCE: Notice = Notice {
    id: "ions_out_of_balance",
    command: "blowdown",
    usual: "cations and anions within 5 % of their sum",
    source: "Standard Methods 1030 E (from memory)",
    advice: "an ion is missing or wrong, or its basis is: as CaCO3, or as the ion",
};

pub(crate) static CONDUCTIVITY_OFF_IONS: Notice = Notice {
    id: "conductivity_off_ions",
    command: "blowdown",
    usual: "measured conductivity within 10 % of that of the ions",
    source: "Standard Methods 1030 E (from memory)",
    advice: "an ion is missing, or the meter is off",
};

pub(crate) static CARBON_DIOXIDE_UNUSUAL: Notice = Notice {
    id: "carbon_dioxide_unusual",
    command: "blowdown",
    usual: "log10 pCO2 of -3.8 to -1.8",
    source: "common practice",
    advice: "check the tower's pH and alkalinity",
};

pub(crate) static ACID_NOT_NEEDED: Notice = Notice {
    id: "acid_not_needed",
    command: "blowdown",
    usual: "the water by itself is above the pH to hold",
    source: "the speciated water",
    advice: "leave out ph.held, or state a lower one",
};
