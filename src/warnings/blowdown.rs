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

pub(crate) static MUCH_MADE_UP: Notice = Notice {
    id: "much_made_up",
    command: "blowdown",
    usual: "balance_with makes up at most 30 % of the sum of the ions",
    source: "common practice",
    advice: "see the unit and the basis of every ion, and that no point is misplaced",
};

pub(crate) static DISSOLVED_SOLIDS_OFF: Notice = Notice {
    id: "dissolved_solids_off",
    command: "blowdown",
    usual: "dissolved solids by drying 0.9 to 1.2 times what the ions leave; sums of ions within 15 %",
    source: "Standard Methods 1030 E (from memory)",
    advice: "have the laboratory say how it found them, and check the ions",
};

pub(crate) static P_ALKALINITY_OFF_PH: Notice = Notice {
    id: "p_alkalinity_off_ph",
    command: "blowdown",
    usual: "P alkalinity within 20 mg/L as CaCO3 of what pH and M alkalinity make",
    source: "equilibrium of the sample closed to the air",
    advice: "measure pH and P alkalinity anew, in one fresh sample",
};

pub(crate) static CONDUCTIVITY_COMPUTED: Notice = Notice {
    id: "conductivity_computed",
    command: "blowdown",
    usual: "the conductivity of every source is measured, or of none",
    source: "the site file",
    advice: "measure that of the other sources too",
};
