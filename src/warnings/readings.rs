//! What may look wrong about a log, or about a table of weather.

use super::{Notice, percent};

/// Where more than this part of the rows is not used, it is told before anything that the rest says.
pub(crate) const MUCH_NOT_USED: f64 = 0.05;

pub(crate) static ROWS_NOT_USED: Notice = Notice {
    id: "rows_not_used",
    command: "check and year",
    usual: || {
        let much = percent(MUCH_NOT_USED);
        format!("at most {much} of the rows, or of a column's readings, are not used")
    },
    source: "common practice",
    advice: "the lines that --full lists, each with its reason",
};

pub(crate) static READING_MISSED: Notice = Notice {
    id: "reading_missed",
    command: "check",
    usual: || "a column with every = \"...\" is read as often as that".into(),
    source: "the site file",
    advice: "see that the round reads it",
};
