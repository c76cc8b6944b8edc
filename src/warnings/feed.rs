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
    command: "feed",
    usual: || "acid holds a stated pH".into(),
    source: "the site file",
    advice: "state ph.held, or leave the acid out",
};
