//! Towers at the edges of what can be: every one has a balance that closes, or an answer that says why
//! not; nothing is NaN.

use coldbasin::model::Model;
use coldbasin::quantity::UnitSystem;
use coldbasin::report::{balance, page};
use coldbasin::site::{Description, file, validate};

/// A tower of which every part can be replaced.
fn tower(circulation: &str, air: &str, water: &str, blowdown: &str) -> String {
    format!(
        "coldbasin = 1\n[air]\n{air}\n[circuit]\ncirculation = \"{circulation}\"\n{water}\n\
         [[cell]]\narrangement = \"counterflow\"\n[blowdown]\n{blowdown}\n"
    )
}

const AIR: &str = "dry_bulb = \"30 degC\"\nwet_bulb = \"22 degC\"";
const WATER: &str = "hot_water = \"36 degC\"\ncold_water = \"28 degC\"";
const FIVE: &str = "cycles = 5";

/// The text of the sheet, once its balances are seen to close; or what is wrong.
fn answer(site: &str) -> Result<String, String> {
    let problems = |description: &Description| validate(description).err().unwrap_or_default();
    let source = file::read_and_check("site.toml", site, &[], problems)
        .map_err(|wrong| wrong.to_string())?;
    let model = Model::compile(&validate(&source.description).map_err(|p| format!("{p:?}"))?);
    let sheet = model.sheet(model.base()).map_err(|why| why.to_string())?;
    let water = &sheet.balance.water;
    let liquid = water.drift_kg_per_s
        + water.blowdown_kg_per_s
        + water.leakage_kg_per_s
        + water.overflow_kg_per_s;
    let makeup = water.makeup_kg_per_s;
    assert!(((water.evaporation_kg_per_s + liquid) / makeup - 1.0).abs() < 1e-9, "{site}");
    if liquid > 0.0 && water.cycles_of_concentration.is_finite() {
        // What the makeup brings in of dissolved solids, the liquid carries out.
        assert!((liquid * water.cycles_of_concentration / makeup - 1.0).abs() < 1e-9, "{site}");
    }
    assert!(balance::rows(&sheet).iter().all(|row| row.si.is_finite()), "{site}");
    let text = page::text(
        &balance::page(&sheet, "site.toml", &[], UnitSystem::Si),
        page::Style::default(),
    );
    assert!(!text.contains("NaN"), "{text}");
    Ok(text)
}

#[test]
fn towers_that_can_be() {
    let air = |text: &str| text.replace(", ", "\n");
    for (what, site) in [
        (
            "dry air",
            tower(
                "900 m3/h",
                &air("dry_bulb = \"35 degC\", relative_humidity = \"0 %\""),
                WATER,
                FIVE,
            ),
        ),
        (
            "saturated air",
            tower(
                "900 m3/h",
                &air("dry_bulb = \"22 degC\", relative_humidity = \"100 %\""),
                WATER,
                FIVE,
            ),
        ),
        (
            "freezing",
            tower(
                "900 m3/h",
                &air("dry_bulb = \"0 degC\", relative_humidity = \"80 %\""),
                WATER,
                FIVE,
            ),
        ),
        (
            "hard frost",
            tower(
                "900 m3/h",
                &air("dry_bulb = \"-30 degC\", relative_humidity = \"80 %\""),
                WATER,
                FIVE,
            ),
        ),
        (
            "4,500 m",
            tower(
                "900 m3/h",
                &air("dry_bulb = \"15 degC\", wet_bulb = \"5 degC\", altitude = \"4500 m\""),
                WATER,
                FIVE,
            ),
        ),
        ("cycles 1.01", tower("900 m3/h", AIR, WATER, "cycles = 1.01")),
        ("cycles 50", tower("900 m3/h", AIR, WATER, "cycles = 50")),
        ("no blowdown", tower("900 m3/h", AIR, WATER, "flow = \"0 m3/h\"")),
        ("a litre a day", tower("1 L/d", AIR, WATER, FIVE)),
        ("a cubic kilometre a day", tower("1e9 m3/d", AIR, WATER, FIVE)),
        (
            "a range of a hundredth",
            tower("900 m3/h", AIR, "hot_water = \"28.01 degC\"\ncold_water = \"28 degC\"", FIVE),
        ),
        (
            "very hot water",
            tower("900 m3/h", AIR, "hot_water = \"79 degC\"\ncold_water = \"60 degC\"", FIVE),
        ),
    ] {
        let text = answer(&site).unwrap_or_else(|wrong| panic!("{what}: {wrong}"));
        assert!(text.contains("makeup"), "{what}");
    }
}

#[test]
fn towers_that_cannot_be_say_so() {
    for (what, site, says) in [
        ("cycles of 1", tower("900 m3/h", AIR, WATER, "cycles = 1"), "above 1"),
        (
            "more than any plant has",
            tower("900 m3/h", AIR, WATER, "cycles = 1e300"),
            "more than any plant has",
        ),
        ("1e300 m3/h", tower("1e300 m3/h", AIR, WATER, FIVE), "too large to be a measured value"),
        (
            "a thousand cells",
            tower("900 m3/h", AIR, WATER, FIVE).replace("[[cell]]", &"[[cell]]\n".repeat(1_000)),
            "at most 200 are read",
        ),
        ("no circulation", tower("0 m3/h", AIR, WATER, FIVE), "above 0"),
        (
            "no range",
            tower("900 m3/h", AIR, "hot_water = \"28 degC\"\ncold_water = \"28 degC\"", FIVE),
            "hot",
        ),
        (
            "boiling",
            tower("900 m3/h", AIR, "hot_water = \"130 degC\"\ncold_water = \"28 degC\"", FIVE),
            "hot_water",
        ),
        (
            "below the wet bulb",
            tower("900 m3/h", AIR, "hot_water = \"36 degC\"\ncold_water = \"20 degC\"", FIVE),
            "wet bulb",
        ),
        (
            "in space",
            tower(
                "900 m3/h",
                "dry_bulb = \"30 degC\"\nwet_bulb = \"22 degC\"\naltitude = \"20000 m\"",
                WATER,
                FIVE,
            ),
            "altitude",
        ),
        ("beyond numbers", tower("1e999 m3/h", AIR, WATER, FIVE), "too large"),
    ] {
        let wrong = answer(&site).expect_err(what);
        assert!(wrong.contains(says), "{what}: {wrong}");
    }
}
