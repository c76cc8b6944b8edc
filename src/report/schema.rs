//! The form of each command's json, for programs that read it, made from the types that write it.

use super::{balance, blowdown, feed, level, solve, transient, uncertain, units, warnings};
#[cfg(feature = "files")]
use super::{check, visits, year};
use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{JsonSchema, Schema, json_schema};
use serde_json::Value;

/// A result that programs read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum ResultOf {
    /// `balance` of a site.
    Balance,
    /// `blowdown`.
    Blowdown,
    /// `blowdown --visits`.
    #[cfg(feature = "files")]
    BlowdownVisits,
    /// `check` of a log.
    #[cfg(feature = "files")]
    Check,
    /// `check --makeup`.
    #[cfg(feature = "files")]
    CheckTwoReadings,
    /// `feed`.
    Feed,
    /// `level`.
    Level,
    /// `solve`.
    Solve,
    /// `transient`.
    Transient,
    /// `units`.
    Units,
    /// `warnings`.
    Warnings,
    /// A line of `whatif`.
    WhatIf,
    /// `year`.
    #[cfg(feature = "files")]
    Year,
}

#[cfg(feature = "files")]
impl ResultOf {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::Balance,
        Self::Blowdown,
        Self::BlowdownVisits,
        Self::Check,
        Self::CheckTwoReadings,
        Self::Feed,
        Self::Level,
        Self::Solve,
        Self::Transient,
        Self::Units,
        Self::Warnings,
        Self::WhatIf,
        Self::Year,
    ];

    /// What `schema --of` calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Balance => "balance",
            Self::Blowdown => "blowdown",
            Self::BlowdownVisits => "blowdown-visits",
            Self::Check => "check",
            Self::CheckTwoReadings => "check-two-readings",
            Self::Feed => "feed",
            Self::Level => "level",
            Self::Solve => "solve",
            Self::Transient => "transient",
            Self::Units => "units",
            Self::Warnings => "warnings",
            Self::WhatIf => "whatif",
            Self::Year => "year",
        }
    }
}

/// The form of a result as JSON Schema (draft 2020-12). Keys only gain company: a key that it does not name is no
/// error.
pub fn schema(of: ResultOf) -> Schema {
    let mut schema = match of {
        ResultOf::Balance => made_from::<uncertain::WithDraws<uncertain::With<balance::Sheet>>>(),
        ResultOf::Blowdown => made_from::<blowdown::BlowdownOut>(),
        #[cfg(feature = "files")]
        ResultOf::BlowdownVisits => made_from::<visits::VisitsOut>(),
        #[cfg(feature = "files")]
        ResultOf::Check => made_from::<check::CheckOut>(),
        #[cfg(feature = "files")]
        ResultOf::CheckTwoReadings => made_from::<check::TwoOut>(),
        ResultOf::Feed => made_from::<uncertain::With<feed::FeedOut>>(),
        ResultOf::Level => made_from::<uncertain::With<level::LevelOut>>(),
        ResultOf::Solve => made_from::<solve::SolveOut>(),
        ResultOf::Transient => made_from::<uncertain::With<transient::TransientOut>>(),
        ResultOf::Units => made_from::<units::Units>(),
        ResultOf::Warnings => made_from::<Vec<warnings::WarningRow>>(),
        ResultOf::WhatIf => row(),
        #[cfg(feature = "files")]
        ResultOf::Year => made_from::<year::YearOut>(),
    };
    RecursiveTransform(without_links).transform(&mut schema);
    schema.insert("title".into(), "Result of coldbasin".into());
    schema
}

fn made_from<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}

/// Descriptions are the documentation's, without its links.
fn without_links(schema: &mut Schema) {
    if let Some(Value::String(text)) = schema.get_mut("description") {
        *text = text.replace("[`", "`").replace("`]", "`");
    }
}

/// A row of many runs: its columns are those that were asked for.
fn row() -> Schema {
    json_schema!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "description": "A row of many runs, one a line: what was varied and each column asked for, by its key.",
        "type": "object",
        "properties": {
            "row": {
                "description": "Its number, from 1, or `base`: the site as it stands.",
                "anyOf": [{"type": "integer", "minimum": 1}, {"const": "base"}]
            },
            "warnings": {
                "description": "Ids of what is out of its usual range.",
                "type": "array",
                "items": {"type": "string"}
            },
            "error": {"description": "Why the row has no results.", "type": ["string", "null"]}
        },
        "required": ["row"],
        "additionalProperties": {"type": ["number", "string", "null"]}
    })
}
