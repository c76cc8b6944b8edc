//! Any text as a value of any quantity is refused with words, or finite.
#![no_main]

use coldbasin::quantity::unit::UNITS;
use coldbasin::quantity::{Concentration, read_value};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    for unit in UNITS {
        match read_value(text, unit.quantity) {
            Ok((si, uncertainty)) => {
                assert!(si.is_finite(), "{text}");
                assert!(uncertainty.is_none_or(|u| u.standard() >= 0.0), "{text}");
            }
            Err(error) => assert!(!error.message.is_empty()),
        }
    }
    let _ = text.parse::<Concentration>();
});
