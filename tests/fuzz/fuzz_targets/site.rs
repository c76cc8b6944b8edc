//! Any text as a site file ends in problems with places, or in a site that is evaluated.
#![no_main]

use coldbasin::model::{Model, Workspace};
use coldbasin::site::{Description, file, validate};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let problems = |description: &Description| validate(description).err().unwrap_or_default();
    match file::read_and_check("site.toml", text, &[], problems) {
        Err(wrong) => drop(wrong.to_string()),
        Ok(source) => {
            let site = match validate(&source.description) {
                Ok(site) => site,
                Err(problems) => return drop(source.locate(problems).to_string()),
            };
            let model = Model::compile(&site);
            if let Err(why) = model.evaluate(model.base(), &mut Workspace::new(&model)) {
                drop(source.locate(vec![model.explain(&why)]).to_string());
            }
        }
    }
});
