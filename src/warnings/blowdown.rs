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

pub(crate) static CIRCULATING_WATER_WEAKER: Notice = Notice {
    id: "circulating_water_weaker",
    command: "blowdown",
    usual: "the circulating water holds more of every tracer than the makeup",
    source: "the balance of solids",
    advice: "see whether the samples were swapped, and the unit and basis of the value",
};

pub(crate) static CORROSION_NOT_JUDGED: Notice = Notice {
    id: "corrosion_not_judged",
    command: "blowdown",
    usual: "the materials that the water touches are stated",
    source: "the site file",
    advice: "state [limits] materials, or limits on chloride, sulfate and pH of one's own",
};

pub(crate) static TARGET_CYCLES_HIGH: Notice = Notice {
    id: "target_cycles_high",
    command: "blowdown",
    usual: "at most 10 cycles",
    source: "cap of LEED v4, credit WE Cooling Tower Water Use (US Green Building Council, 2013)",
    advice: "check corrosion, retention and what one more cycle saves before it is set",
};

pub(crate) static MEASURED_CYCLES_DIFFER: Notice = Notice {
    id: "measured_cycles_differ",
    command: "blowdown",
    usual: "real cycles of the tower's own analysis within their uncertainty of the file's",
    source: "the balance of solids",
    advice: "see whether controller, probe or bleed valve hold what they are set to; state the cycles that are held",
};

pub(crate) static ACID_NOT_STATED: Notice = Notice {
    id: "acid_not_stated",
    command: "blowdown",
    usual: "alkalinity of the tower without acid is that of the makeup times the cycles, less what deposits",
    source: "the balance of solids: an equivalent of sulfate for one of alkalinity",
    advice: "state the pH that acid holds: [ph] held = 7.8",
};

pub(crate) static OWN_TEST_CONTRADICTS: Notice = Notice {
    id: "own_test_contradicts",
    command: "blowdown",
    usual: "most ions that do not react give the same cycles",
    source: "the balance of solids",
    advice: "sample makeup and tower on the same day and have both analysed anew, with chloride and magnesium",
};

pub(crate) static ODD_ION: Notice = Notice {
    id: "odd_ion",
    command: "blowdown",
    usual: "an ion that does not react gives the cycles of the others within three times its uncertainty",
    source: "the balance of solids",
    advice: "look the value, its unit and its basis up in the laboratory's report",
};

pub(crate) static LIMIT_ON_MADE_UP_ION: Notice = Notice {
    id: "limit_on_made_up_ion",
    command: "blowdown",
    usual: "what is limited was analysed",
    source: "the site file",
    advice: "have the ion analysed, and leave balance_with out",
};
