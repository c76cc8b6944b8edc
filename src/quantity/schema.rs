//! Quantities as they stand in a site file, for the schema that editors complete and check it with.

use super::read::find_unit;
use super::{Concentration, Measured, Reported, SampledConductivity, Stated};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

/// A text that begins with a number; which units may follow the reader knows best.
const NUMBER_FIRST: &str = "^\\s*[-+\u{2212}]?(\\d|\\.\\d)";

fn names<Q: Measured>() -> String {
    let names: Vec<&str> = Q::EXPECTED.iter().map(|quantity| quantity.name()).collect();
    names.join(", or ")
}

impl<Q: Measured> JsonSchema for Stated<Q> {
    fn schema_name() -> Cow<'static, str> {
        names::<Q>().replace(", ", "_").replace(' ', "_").into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let written: Vec<&str> = Q::EXPECTED.iter().map(|quantity| quantity.example()).collect();
        let description = format!(
            "{}: {}. May carry an uncertainty, as in \"± 5 %\", \"± 2 UNIT (k=2)\".",
            names::<Q>(),
            written.join(", or ")
        );
        if find_unit("", Q::EXPECTED).is_ok() {
            json_schema!({
                "description": description,
                "anyOf": [{ "type": "number" }, { "type": "string", "pattern": NUMBER_FIRST }],
            })
        } else {
            json_schema!({
                "description": description,
                "type": "string",
                "pattern": NUMBER_FIRST,
            })
        }
    }
}

/// A text that begins with a number, or with `<` before a limit of detection.
const NUMBER_OR_BELOW: &str = "^\\s*[<≤]?=?\\s*[-+−]?(\\d|\\.\\d)";

impl<Q: Measured> JsonSchema for Reported<Q> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}_or_below", names::<Q>().replace(", ", "_").replace(' ', "_")).into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let written: Vec<&str> = Q::EXPECTED.iter().map(|quantity| quantity.example()).collect();
        json_schema!({
            "description": format!(
                "{}: {}; with \"<\" before a limit of detection.",
                names::<Q>(),
                written.join(", or ")
            ),
            "type": "string",
            "pattern": NUMBER_OR_BELOW,
        })
    }
}

impl JsonSchema for SampledConductivity {
    fn schema_name() -> Cow<'static, str> {
        "a_conductivity_with_its_temperature".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "a conductivity at 25 degC, or at another temperature that it names: \
                            \"420 uS/cm\", \"560 uS/cm at 20 degC\"",
            "type": "string",
            "pattern": NUMBER_FIRST,
        })
    }
}

impl JsonSchema for Concentration {
    fn schema_name() -> Cow<'static, str> {
        "a_concentration".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "a concentration with what it is counted as: \"48 mg/L as Ca\", \
                            \"120 mg/L as CaCO3\", \"1.2 mmol/L\" or \"2.4 meq/L\"; with \"<\" before a \
                            limit of detection",
            "type": "string",
            "pattern": NUMBER_OR_BELOW,
        })
    }
}
