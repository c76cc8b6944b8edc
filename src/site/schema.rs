//! The form of a site file, for editors that complete and check it.

use super::Description;
use schemars::Schema;
use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use serde_json::Value;

/// The form of a site file as JSON Schema (draft 2020-12), from the types that read it. It knows keys,
/// kinds of values and words; what numbers can be together only [`validate`](super::validate()) knows.
pub fn schema() -> Schema {
    let generator = SchemaSettings::draft2020_12().into_generator();
    let mut schema = generator.into_root_schema_for::<Description>();
    RecursiveTransform(without_null).transform(&mut schema);
    schema.insert("title".into(), "Site file of coldbasin".into());
    schema
}

/// TOML has no null: what may be left out is simply left out.
fn without_null(schema: &mut Schema) {
    if schema.get("default").is_some_and(Value::is_null) {
        schema.remove("default");
    }
    if let Some(Value::Array(kinds)) = schema.get_mut("type") {
        kinds.retain(|kind| kind != "null");
        if let [kind] = kinds.as_slice() {
            let kind = kind.clone();
            schema.insert("type".into(), kind);
        }
    }
    let Some(Value::Array(choices)) = schema.get_mut("anyOf") else { return };
    choices.retain(|choice| choice.get("type").is_none_or(|kind| kind != "null"));
    if let [Value::Object(only)] = choices.as_slice() {
        let only = only.clone();
        schema.remove("anyOf");
        for (key, value) in only {
            // What is said of the entry goes before what is said of its type.
            if schema.get(&key).is_none() {
                schema.insert(key, value);
            }
        }
    }
}
