//! Uncertainties against the guides' own examples, and first order against draws.

use super::model_of;
use approx::assert_relative_eq;
use coldbasin::model::{
    Contribution, Draws, Model, Output, Spread, Uncertain, Validation, Workspace,
};
use coldbasin::random::Seed;

const CANNERY: &str = include_str!("../examples/cannery.toml");
const DAIRY: &str = include_str!("../examples/dairy.toml");

fn model(site: &str) -> Model {
    model_of(site, &[])
}

fn spread(model: &Model) -> Spread {
    model.spread(model.base(), &mut Workspace::new(model)).unwrap()
}

/// JCGM 100:2008, annex H.2 (from memory): resistance, reactance and impedance of a circuit element from
/// correlated readings of voltage, current and phase. Uncertainties and coefficients of the readings are
/// printed to two digits, which moves the results by up to 2 %.
#[test]
fn correlated_readings_of_a_circuit_element() {
    let readings = [(4.9990, 0.0032), (19.6610e-3, 0.0095e-3), (1.04446, 0.00075)];
    let results = |x: [f64; 3]| {
        let [voltage, current, phase] = x;
        let impedance = voltage / current;
        [impedance * phase.cos(), impedance * phase.sin(), impedance]
    };
    let centre = readings.map(|(value, _)| value);
    let any_slot = model(CANNERY).slot("blowdown.cycles").unwrap();
    let contributions = (0..3)
        .map(|index| {
            let at = |sign: f64| {
                let mut x = centre;
                x[index] += sign * readings[index].1;
                results(x)
            };
            let (above, below) = (at(1.0), at(-1.0));
            let effects = (0..3).map(|result| 0.5 * (above[result] - below[result])).collect();
            Contribution {
                slot: any_slot,
                path: String::new(),
                shifts: vec![0.0; 3],
                effects,
                one_sided: false,
            }
        })
        .collect();
    let spread =
        Spread { contributions, correlations: vec![(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)] };
    for (result, (value, standard)) in
        [(127.732, 0.071), (219.847, 0.295), (254.260, 0.236)].into_iter().enumerate()
    {
        assert_relative_eq!(results(centre)[result], value, max_relative = 1e-5);
        assert_relative_eq!(spread.of(result).unwrap(), standard, max_relative = 0.02);
    }
}

/// Cannery with its water temperatures read by instruments.
fn with_instruments(instruments: &str) -> Model {
    let bare = CANNERY
        .replace("hot_water = \"37 degC ± 0.3 K\"", "hot_water = \"37 degC\"")
        .replace("cold_water = \"29 degC ± 0.3 K\"", "cold_water = \"29 degC\"");
    model(&format!("{bare}\n{instruments}"))
}

const ONE: &str = "[[instrument]]\nname = \"thermometer\"\n\
    reads = [\"circuit.hot_water\", \"circuit.cold_water\"]\naccuracy = \"0.3 K\"\nrepeatability = \"0.02 K\"\n";
const TWO: &str = "[[instrument]]\nreads = [\"circuit.hot_water\"]\naccuracy = \"0.3 K\"\nrepeatability = \"0.02 K\"\n\
    [[instrument]]\nreads = [\"circuit.cold_water\"]\naccuracy = \"0.3 K\"\nrepeatability = \"0.02 K\"\n";

/// A thermometer that is moved from the hot to the cold water has one error for both: the range, and with
/// it the evaporation, is surer than with two thermometers.
#[test]
fn an_instrument_shares_its_error() {
    // The method's own error is the same for both.
    let of = |instruments| {
        let spread = spread(&with_instruments(instruments));
        let method = spread.contributions.iter().find(|input| input.path == "method.evaporation");
        let of_method = method.unwrap().effects[Output::Evaporation as usize];
        let all = spread.standard(Output::Evaporation).unwrap();
        (all * all - of_method * of_method).sqrt()
    };
    let (shared, apart) = (of(ONE), of(TWO));
    assert!(shared < 0.7 * apart, "{shared} {apart}");
    let model = with_instruments(ONE);
    let slot = model.slot("circuit.hot_water").unwrap();
    let standard = model.slot_value(slot).uncertainty.unwrap().standard();
    assert_relative_eq!(standard, (0.3f64 * 0.3 / 3.0 + 0.02 * 0.02).sqrt(), max_relative = 1e-12);
    // A mean of sixteen readings has a fourth of the random error.
    let model = with_instruments(&format!("{ONE}readings = 16\n"));
    let standard = model.slot_value(slot).uncertainty.unwrap().standard();
    assert_relative_eq!(
        standard,
        (0.3f64 * 0.3 / 3.0 + 0.005 * 0.005).sqrt(),
        max_relative = 1e-12
    );
}

fn draws(model: &Model, count: u64) -> Draws {
    model.draws(&Seed::new(1), 0..count)
}

/// Both ways agree on the shipped examples, on an instrument, and on stated correlations; where they do
/// not, the input is rectangular and the only one that counts.
#[test]
fn first_order_agrees_with_draws() {
    let correlated = format!(
        "{CANNERY}\n[[correlation]]\nbetween = [\"circuit.hot_water\", \"circuit.cold_water\"]\ncoefficient = 0.8\n"
    );
    const DRAWS: u64 = 4_000;
    for site in [model(CANNERY), model(DAIRY), with_instruments(ONE), model(&correlated)] {
        let spread = spread(&site);
        let drawn = draws(&site, DRAWS);
        assert_eq!(drawn.infeasible, 0);
        let balance = site.evaluate(site.base(), &mut Workspace::new(&site)).unwrap();
        for output in [Output::Makeup, Output::Evaporation, Output::Blowdown] {
            let standard = spread.standard(output).unwrap();
            let summary = drawn.summary(output).unwrap();
            // A standard deviation of 4000 draws is known to 1.1 %, the mean to 1.6 % of it.
            assert_relative_eq!(summary.standard, standard, max_relative = 0.035);
            assert_relative_eq!(summary.mean, output.of(&balance), epsilon = 0.06 * standard);
        }
    }
}

#[test]
fn draws_of_several_inputs_have_the_first_order_interval() {
    let site = model(CANNERY);
    let drawn = draws(&site, 4_000);
    let standard = spread(&site).standard(Output::Makeup).unwrap();
    let balance = site.evaluate(site.base(), &mut Workspace::new(&site)).unwrap();
    let summary = drawn.summary(Output::Makeup).unwrap();
    let value = Output::Makeup.of(&balance);
    let validation = Validation::of(value, standard, &summary, drawn.count());
    // Sums of rectangular errors end a little sooner than normal ones.
    assert!(validation.distance < 0.15 * standard, "{validation:?} {standard}");
}

/// The same numbers, whatever the order in which they are drawn.
#[test]
fn a_draw_depends_on_its_number_alone() {
    let site = model(CANNERY);
    let seed = Seed::new(9);
    let whole = site.draws(&seed, 0..40);
    let mut parts = site.draws(&seed, 0..13);
    parts.append(site.draws(&seed, 13..40));
    assert_eq!(whole, parts);
}

#[test]
fn targets_feeds_levels_and_money_carry_it_too() {
    let site =
        model(&DAIRY.replace("calcium = \"86 mg/L as Ca\"", "calcium = \"86 mg/L as Ca ± 6 %\""));
    let base = site.base();
    let target = site.blowdown(base).unwrap().uncertain;
    let cycles = target.results.iter().find(|result| result.key == "allowed_cycles").unwrap();
    let part_of = |result: &Uncertain, path: &str| {
        let (_, part) = result.from.iter().find(|(from, _)| from == path).unwrap();
        part.sqrt() * result.standard / result.value
    };
    // Calcite binds: its index goes with the logarithm of calcium, so 3 % of calcium in 60 % of the
    // makeup moves the cycles by about half as much.
    let of_calcium = part_of(cycles, "makeup.well.analysis.calcium");
    assert!((0.003..0.03).contains(&of_calcium), "{cycles:?}");
    let money = &site.uncertain_money(base)[0];
    // All of the dairy's money follows the circulation, whose limit is 3 %.
    let of_circulation = part_of(money, "circuit.circulation");
    assert!((0.005..0.02).contains(&of_circulation), "{money:?}");
    assert!(!site.uncertain_feed(base).is_empty());
}

/// Sites of which nothing but the nameplate is known, invented: no `±` anywhere.
const NAMEPLATES: [&str; 10] = [
    "[air]\ndry_bulb = \"29 degC\"\nrelative_humidity = \"55 %\"\n[circuit]\ncirculation = \"600 m3/h\"\n\
     hot_water = \"36 degC\"\ncold_water = \"30 degC\"\n[blowdown]\ncycles = 4\n",
    "[air]\ndry_bulb = \"38 degC\"\nwet_bulb = \"19 degC\"\naltitude = \"900 m\"\n[circuit]\n\
     circulation = \"4000 gpm\"\nhot_water = \"95 degF\"\ncold_water = \"85 degF\"\n[blowdown]\ncycles = 5\n",
    "[air]\ndry_bulb = \"8 degC\"\nrelative_humidity = \"80 %\"\n[circuit]\ncirculation = \"150 m3/h\"\n\
     hot_water = \"28 degC\"\nrange = \"7 K\"\n[blowdown]\ncycles = 3\n",
    "[air]\nwet_bulb = \"24 degC\"\n[circuit]\nheat_load = \"5 MW\"\nhot_water = \"38 degC\"\n\
     cold_water = \"29 degC\"\n[blowdown]\ncycles = 6\n",
    "[circuit]\ncirculation = \"900 m3/h\"\nrange = \"8 K\"\n[evaporation]\nmethod = \"latent\"\n[blowdown]\ncycles = 4\n",
    "[air]\ndry_bulb = \"25 degC\"\ndew_point = \"14 degC\"\n[circuit]\ncirculation = \"300 m3/h\"\n\
     cold_water = \"24 degC\"\nrange = \"6 K\"\n[evaporation]\nmethod = \"merkel\"\n[blowdown]\ncycles = 5\n",
    "[air]\ndry_bulb = \"33 degC\"\nwet_bulb = \"27 degC\"\n[circuit]\ncirculation = \"2000 m3/h\"\n\
     hot_water = \"42 degC\"\ncold_water = \"32 degC\"\n[blowdown]\nflow = \"8 m3/h\"\n",
    "[circuit]\ncirculation = \"500 m3/h\"\n[evaporation]\nflow = \"6 m3/h\"\n[blowdown]\nconductivity = \"1600 uS/cm\"\n\
     [[makeup]]\n[makeup.analysis]\nconductivity = \"400 uS/cm\"\n",
    "[air]\ndry_bulb = \"30 degC\"\nrelative_humidity = \"40 %\"\n[circuit]\ncirculation = \"700 m3/h\"\n\
     hot_water = \"40 degC\"\ncold_water = \"28 degC\"\n[[cell]]\nname = \"a\"\ndrift = \"0.01 %\"\n\
     air_flow = \"80 kg/s\"\n[[cell]]\nname = \"b\"\ndrift = \"0.01 %\"\nair_flow = \"80 kg/s\"\n[blowdown]\ncycles = 4\n",
    "[air]\ndry_bulb = \"20 degC\"\nrelative_humidity = \"70 %\"\n[circuit]\ncirculation = \"60 m3/h\"\n\
     hot_water = \"32 degC\"\ncold_water = \"22 degC\"\n[losses]\nleakage = \"0.05 m3/h\"\n[blowdown]\ncycles = 3\n",
];

/// What first order makes of ordinary errors is what draws make of them.
#[test]
fn ordinary_errors_agree_with_draws() {
    const DRAWS: u64 = 2_000;
    for text in NAMEPLATES {
        let site = model(text);
        let spread = spread(&site);
        let summary = draws(&site, DRAWS).summary(Output::Makeup).unwrap();
        let standard = spread.standard(Output::Makeup).unwrap();
        assert!(!spread.is_curved(Output::Makeup as usize), "{text}");
        // A standard deviation of 2000 draws is known to 1.6 %; three of these, and the second order.
        assert_relative_eq!(summary.standard, standard, max_relative = 0.07);
    }
}

/// A nameplate and thermometers tell the makeup to some 15 to 25 %: what is said in the trade.
#[test]
fn a_site_with_nothing_stated_is_as_sure_as_people_in_the_trade_are() {
    for text in NAMEPLATES.iter().take(4) {
        let site = model(text);
        let sheet = site.sheet(site.base()).unwrap();
        let part = 2.0 * spread(&site).standard(Output::Makeup).unwrap()
            / sheet.balance.water.makeup_kg_per_s;
        assert!((0.15..0.27).contains(&part), "{part} {text}");
        assert!(sheet.makeup_rests_on_defaults);
    }
}

/// What is said to be exact is so, and has no ordinary error.
#[test]
fn exact_is_said_with_a_zero() {
    let exact = NAMEPLATES[0].replace("600 m3/h", "600 m3/h ± 0").replace("36 degC", "36 degC ± 0");
    let site = model(&exact);
    for (path, is_exact) in
        [("circuit.circulation", true), ("circuit.hot_water", true), ("circuit.cold_water", false)]
    {
        let value = site.slot_value(site.slot(path).unwrap());
        assert_eq!(value.uncertainty.unwrap().half_width == 0.0, is_exact, "{path}");
        assert_eq!(value.default_uncertainty.is_none(), is_exact, "{path}");
    }
}

/// Makeup is evaporation times C / (C - 1): near one cycle an error of the cycles bends it.
#[test]
fn first_order_says_where_it_does_not_hold() {
    let is_curved = |cycles: &str| {
        let site = model(&NAMEPLATES[0].replace("cycles = 4", cycles));
        spread(&site).is_curved(Output::Makeup as usize)
    };
    assert!(is_curved("cycles = 1.2"));
    assert!(!is_curved("cycles = 4"));
    let site = model(&NAMEPLATES[0].replace("cycles = 4", "cycles = 1.2"));
    let drawn = draws(&site, 2_000).summary(Output::Makeup).unwrap();
    assert!(drawn.standard > 1.1 * spread(&site).standard(Output::Makeup).unwrap());
}

/// The data sheet of all cells is off in one way.
#[test]
fn what_all_cells_share_is_one_error() {
    let site = model(NAMEPLATES[8]);
    let spread = spread(&site);
    let names: Vec<&str> = spread.contributions.iter().map(|input| input.path.as_str()).collect();
    assert!(names.contains(&"cell.*.drift") && names.contains(&"cell.*.air_flow"), "{names:?}");
    // 75 % of the drift as a limit, not that over the root of two.
    let drift = spread.standard(Output::Drift).unwrap();
    let balance = site.evaluate(site.base(), &mut Workspace::new(&site)).unwrap();
    let of_sheet = 0.75 / 3f64.sqrt();
    let of_circulation = 0.15 / 3f64.sqrt();
    let expected = of_sheet.hypot(of_circulation) * Output::Drift.of(&balance);
    assert_relative_eq!(drift, expected, max_relative = 0.01);
}
