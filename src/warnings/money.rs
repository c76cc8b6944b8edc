//! What may look wrong about what the water is billed by.

use super::Notice;

const SEWER_SOURCE: &str = "EPA 832-F-12-034 (2012), p. 200, and utilities' common practice";

pub(crate) static CHEMICALS_NOT_COUNTED: Notice = Notice {
    id: "chemicals_not_counted",
    command: "balance",
    usual: || "every chemical that has a price is in the sum".into(),
    source: "the site file",
    advice: "state what coldbasin feed asks for",
};

pub(crate) static SEWER_ON_EVAPORATION: Notice = Notice {
    id: "sewer_on_evaporation",
    command: "balance and year",
    usual: || "the sewer is not billed on what evaporates".into(),
    source: SEWER_SOURCE,
    advice: "ask the utility for an evaporation credit, and state cost.sewer_basis",
};

pub(crate) static SEWER_CREDIT_FOR_LEAKS: Notice = Notice {
    id: "sewer_credit_for_leaks",
    command: "balance",
    usual: || "all makeup that does not evaporate reaches the sewer".into(),
    source: SEWER_SOURCE,
    advice: "mend leakage and overflow: what soaks away is billed, though it never reaches the sewer",
};

pub(crate) static SEWER_MISSES_LOSSES: Notice = Notice {
    id: "sewer_misses_losses",
    command: "balance and level",
    usual: || "all that reaches the sewer passes the blowdown meter".into(),
    source: SEWER_SOURCE,
    advice: "mend leakage and overflow: what reaches the sewer is not billed, and the utility may ask for it",
};
