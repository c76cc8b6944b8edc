//! Uncertainties against the guides' own examples, and first order against draws.

use approx::assert_relative_eq;
use coldbasin::model::{Contribution, Draws, Model, Output, Spread, Validation, Workspace};
use coldbasin::random::Seed;
use coldbasin::site::{file, validate};

const CANNERY: &str = include_str!("../examples/cannery.toml");
const DAIRY: &str = include_str!("../examples/dairy.toml");

fn model(site: &str) -> Model {
    let source = file::read("site.toml", site, &[]).unwrap_or_else(|wrong| panic!("{wrong}"));
    Model::compile(&validate(&source.description).unwrap_or_else(|wrong| panic!("{wrong:?}")))
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
            Contribution { slot: any_slot, effects, one_sided: false }
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
    let of = |instruments| {
        let model = with_instruments(instruments);
        spread(&model).standard(Output::Evaporation).unwrap()
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
    assert_eq!(cycles.from[0].0, "makeup.well.analysis.calcium");
    // Calcite binds: its index goes with the logarithm of calcium, so 3 % of calcium in 60 % of the
    // makeup moves the cycles by about half as much.
    assert!((0.003..0.03).contains(&(cycles.standard / cycles.value)), "{cycles:?}");
    let money = &site.uncertain_money(base)[0];
    // All of the dairy's money follows the circulation, whose limit is 3 %.
    assert!((0.005..0.02).contains(&(money.standard / money.value)), "{money:?}");
    assert!(!site.uncertain_feed(base).is_empty());
}
