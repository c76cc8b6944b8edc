//! Many runs: the same rows whatever the threads and parts, and each the balance of its own numbers.

use approx::assert_relative_eq;
use coldbasin::model::{Model, Workspace};
use coldbasin::site::{file, validate};
use coldbasin::whatif::columns::column;
use coldbasin::whatif::solve::{Question, solve};
use coldbasin::whatif::{Combination, Plan, PlanError, Runner};
use std::process::Command;

const DAIRY: &str = include_str!("../examples/dairy.toml");

fn model() -> Model {
    let source = file::read("dairy.toml", DAIRY, &[]).unwrap();
    Model::compile(&validate(&source.description).unwrap())
}

fn varied(inputs: &[(&str, &str)]) -> Vec<(String, String)> {
    inputs.iter().map(|(path, values)| ((*path).into(), (*values).into())).collect()
}

fn plan(model: &Model, inputs: &[(&str, &str)], combination: Combination) -> Plan {
    Plan::new(model, &varied(inputs), combination).unwrap()
}

/// What the rows of a plan are given, SI.
fn given(model: &Model, plan: &Plan) -> Vec<Vec<f64>> {
    let mut runner = Runner::new(model, plan, &[]);
    let row = |row| {
        runner.set(row);
        plan.axes().iter().map(|axis| runner.inputs().get(axis.slot)).collect()
    };
    (0..plan.rows()).map(row).collect()
}

fn output(arguments: &[&str]) -> Vec<u8> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coldbasin"));
    let output = command.args(["whatif", "examples/dairy.toml"]).args(arguments).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

#[test]
fn bytes_do_not_depend_on_threads_or_parts() {
    let grid = ["--vary", "air.wet_bulb=10 to 31 step 0.01 degC", "--vary", "blowdown.cycles=2, 3"];
    let drawn = [
        "--vary",
        "air.wet_bulb=10 to 25 degC",
        "--vary",
        "circuit.circulation=uncertainty",
        "--combine",
        "hypercube",
        "--rows",
        "3001",
        "--seed",
        "5",
    ];
    for plan in [&grid[..], &drawn] {
        for format in ["csv", "json", "text"] {
            let with = |more: &[&str]| output(&[plan, &["--format", format], more].concat());
            let whole = with(&["--threads", "1"]);
            assert!(whole.len() > 100_000);
            assert_eq!(with(&["--threads", "2"]), whole);
            assert_eq!(with(&["--threads", "7"]), whole);
            let parts: Vec<u8> =
                ["1/3", "2/3", "3/3"].iter().flat_map(|part| with(&["--part", part])).collect();
            assert_eq!(parts, whole);
        }
    }
}

#[test]
fn a_row_is_the_balance_of_its_own_numbers() {
    let model = model();
    let inputs = [("air.wet_bulb", "16, 22, 40 degC"), ("makeup.well.share", "0.2, 0.9")];
    let plan = plan(&model, &inputs, Combination::Grid);
    let columns =
        ["makeup", "cycles", "water_cost", "yearly_makeup"].map(|name| column(name).unwrap());
    let mut runner = Runner::new(&model, &plan, &columns);
    for row in 0..plan.rows() {
        let set = |runner: &Runner<'_>, index: usize| runner.inputs().get(plan.axes()[index].slot);
        runner.set(row);
        let overrides = [
            format!("air.wet_bulb={} degC", set(&runner, 0) - 273.15),
            format!("makeup.well.share={}", set(&runner, 1)),
            format!("makeup.mains.share={}", 1.0 - set(&runner, 1)),
        ]
        .map(|text| text.parse().unwrap());
        let source = file::read("dairy.toml", DAIRY, &overrides).unwrap();
        let alone = validate(&source.description).map(|site| Model::compile(&site));
        match (runner.results(), alone) {
            (Ok(results), Ok(alone)) => {
                let sheet = alone.sheet(alone.base()).unwrap();
                let money = sheet.money.as_ref().unwrap();
                let water: f64 = money.streams.iter().map(|stream| stream.yearly.total()).sum();
                let makeup = sheet.makeup.reference_m3_per_h;
                let cycles = sheet.balance.water.cycles_of_concentration;
                let wanted = [makeup, cycles, water, sheet.period.yearly_makeup_m3()];
                for (value, wanted) in results.values.iter().zip(wanted) {
                    assert_relative_eq!(*value, wanted, max_relative = 1e-9);
                }
            }
            // A wet bulb above the dry bulb has no balance by either way.
            (Err(_), Err(_)) => {}
            (row, alone) => panic!("{row:?} {alone:?}"),
        }
    }
}

#[test]
fn grids_pairs_and_hypercubes_give_what_they_say() {
    let model = model();
    let two = [("blowdown.cycles", "2, 3"), ("losses.leakage", "0, 1, 2 m3/h")];
    let rows = given(&model, &plan(&model, &two, Combination::Grid));
    let cycles: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    assert_eq!(cycles, [2.0, 2.0, 2.0, 3.0, 3.0, 3.0]);
    assert_relative_eq!(rows[4][1], 1.0 / 3600.0);
    let pairs = [("blowdown.cycles", "2, 3, 4"), ("losses.leakage", "0, 1, 2 m3/h")];
    let rows = given(&model, &plan(&model, &pairs, Combination::Pairs));
    assert_eq!(rows.len(), 3);
    assert_relative_eq!(rows[2][1], 2.0 / 3600.0);
    assert_eq!(rows[2][0], 4.0);
    // Every part of every range is met once, whatever the seed, and seeds differ.
    const ROWS: u32 = 400;
    let ranges = [("blowdown.cycles", "2 to 6"), ("air.wet_bulb", "10 to 25 degC")];
    let cube =
        |seed| given(&model, &plan(&model, &ranges, Combination::Hypercube { rows: ROWS, seed }));
    let (one, other) = (cube(1), cube(2));
    assert_ne!(one, other);
    for (axis, (low, width)) in [(2.0, 4.0), (283.15, 15.0)].into_iter().enumerate() {
        let mut parts: Vec<u32> = one
            .iter()
            .map(|row| ((row[axis] - low) / width * f64::from(ROWS)).floor() as u32)
            .collect();
        parts.sort_unstable();
        assert!(parts.into_iter().eq(0..ROWS));
    }
    // The two axes have nothing to do with each other.
    let mean = |axis: usize| one.iter().map(|row| row[axis]).sum::<f64>() / f64::from(ROWS);
    let (a, b) = (mean(0), mean(1));
    let moment = |x: usize, y: usize, mx: f64, my: f64| -> f64 {
        one.iter().map(|row| (row[x] - mx) * (row[y] - my)).sum()
    };
    let correlation = moment(0, 1, a, b) / (moment(0, 0, a, a) * moment(1, 1, b, b)).sqrt();
    assert!(correlation.abs() < 0.2, "{correlation}");
}

#[test]
fn draws_have_the_stated_uncertainty() {
    let model = model();
    let slot = model.slot("circuit.circulation").unwrap();
    let stated = model.slot_value(slot);
    let inputs = [("circuit.circulation", "uncertainty")];
    let rows = given(&model, &plan(&model, &inputs, Combination::Draws { rows: 20_000, seed: 3 }));
    let mean = rows.iter().map(|row| row[0]).sum::<f64>() / rows.len() as f64;
    let square = rows.iter().map(|row| (row[0] - mean).powi(2)).sum::<f64>() / rows.len() as f64;
    assert_relative_eq!(mean, stated.si, max_relative = 1e-3);
    assert_relative_eq!(square.sqrt(), stated.uncertainty.unwrap().standard(), max_relative = 0.02);
}

#[test]
fn plans_that_cannot_be_say_why() {
    let model = model();
    let refused = |inputs: &[(&str, &str)], combination| {
        Plan::new(&model, &varied(inputs), combination).unwrap_err()
    };
    let grid = Combination::Grid;
    assert!(matches!(refused(&[], grid), PlanError::Nothing));
    let twice = refused(&[("blowdown.cycles", "2"), ("blowdown.cycles", "3")], grid);
    assert!(matches!(twice, PlanError::Twice { .. }));
    let unequal =
        refused(&[("blowdown.cycles", "2, 3"), ("losses.leakage", "0 m3/h")], Combination::Pairs);
    assert!(
        unequal.to_string().contains("losses.leakage has 1, blowdown.cycles has 2"),
        "{unequal}"
    );
    let drawn = refused(&[("blowdown.cycles", "2 to 3")], grid);
    assert!(drawn.to_string().contains("needs a step"), "{drawn}");
    let listed = refused(&[("blowdown.cycles", "2, 3")], Combination::Draws { rows: 9, seed: 1 });
    assert!(listed.to_string().contains("rows are drawn from a range"), "{listed}");
    let derived = refused(&[("circuit.range", "5 K")], grid);
    assert!(derived.to_string().contains("circuit.hot_water"), "{derived}");
}

#[test]
fn a_solution_gives_the_result_it_was_asked_for() {
    let model = model();
    let mut work = Workspace::new(&model);
    for (path, wanted, makeup) in
        [("losses.leakage", "makeup = 12 m3/h", 12.0), ("blowdown.cycles", "makeup = 9 m3/h", 9.0)]
    {
        let question = Question::read(&model, path, wanted, None).unwrap();
        let answer = solve(&model, &question);
        assert_eq!(answer.solutions.len(), 1, "{path}");
        let mut inputs = model.base().clone();
        inputs.set(question.slot, answer.solutions[0].si);
        let balance = model.evaluate(&inputs, &mut work).unwrap();
        assert_relative_eq!(balance.makeup_m3_per_h(), makeup, max_relative = 1e-8);
    }
}

#[test]
fn none_and_several_solutions_are_told() {
    let model = model();
    let question = Question::read(&model, "blowdown.cycles", "makeup = 2 m3/h", None).unwrap();
    let none = solve(&model, &question);
    assert!(none.solutions.is_empty());
    assert!(none.extremes.unwrap()[0].1 > 2.0);
    // Evaporation falls with the wet bulb, and rises at once where water gives way to ice.
    let model = winter();
    let wanted = format!("evaporation = {} m3/h", evaporation(&model, 0.05));
    let question = Question::read(&model, "air.wet_bulb", &wanted, Some("-2 to 2 degC")).unwrap();
    assert_eq!(solve(&model, &question).solutions.len(), 2);
}

/// The dairy in winter.
fn winter() -> Model {
    let text = DAIRY.replace("22 degC", "0.2 degC").replace("30 degC", "4 degC");
    let source = file::read("dairy.toml", &text, &[]).unwrap();
    Model::compile(&validate(&source.description).unwrap())
}

/// Evaporation at a wet bulb, m3/h.
fn evaporation(model: &Model, wet_bulb: f64) -> f64 {
    let mut inputs = model.base().clone();
    model.write(&mut inputs, model.slot("air.wet_bulb").unwrap(), wet_bulb + 273.15);
    let water = model.evaluate(&inputs, &mut Workspace::new(model)).unwrap().water;
    coldbasin::model::Balance::reference_m3_per_h(water.evaporation_kg_per_s)
}

/// Of a wet bulb at 0.01 degC, where water gives way to ice, the evaporation jumps.
#[test]
fn a_jump_is_no_solution() {
    let model = winter();
    let between = 0.5 * (evaporation(&model, 0.009_999) + evaporation(&model, 0.010_001));
    let wanted = format!("evaporation = {between} m3/h");
    let question = Question::read(&model, "air.wet_bulb", &wanted, Some("0 to 0.02 degC")).unwrap();
    let answer = solve(&model, &question);
    assert!(answer.solutions.is_empty(), "{answer:?}");
    assert_relative_eq!(answer.jumps[0] - 273.15, 0.01, epsilon = 1e-6);
}

#[test]
fn a_solution_beside_the_edge_of_what_has_a_balance_is_found() {
    let model = model();
    let slot = model.slot("circuit.cold_water").unwrap();
    let is_solved = |celsius: f64| {
        let mut inputs = model.base().clone();
        model.write(&mut inputs, slot, celsius + 273.15);
        model.evaluate(&inputs, &mut Workspace::new(&model)).is_ok()
    };
    // Below some cold water the air cannot take up the heat.
    let (mut without, mut with) = (22.0, 27.0);
    for _ in 0..30 {
        let middle = 0.5 * (without + with);
        if is_solved(middle) { with = middle } else { without = middle }
    }
    // No point of the range lies between the edge and what is asked.
    let cold = with + 0.01;
    let wanted = format!("range = {} K", 35.0 - cold);
    let question = Question::read(&model, "circuit.cold_water", &wanted, None).unwrap();
    let answer = solve(&model, &question);
    assert_eq!(answer.solutions.len(), 1, "{answer:?}");
    assert_relative_eq!(answer.solutions[0].si - 273.15, cold, epsilon = 1e-6);
}

#[test]
fn a_result_that_does_not_move_has_no_solutions() {
    let model = model();
    let makeup = model.sheet(model.base()).unwrap().makeup.reference_m3_per_h;
    for wanted in [makeup, 8.0] {
        let wanted = format!("makeup = {wanted} m3/h");
        let question = Question::read(&model, "cost.makeup", &wanted, None).unwrap();
        let answer = solve(&model, &question);
        assert!(answer.solutions.is_empty() && answer.stands_still() == Some(makeup), "{answer:?}");
    }
}

#[test]
fn the_uncertainty_of_a_solution_is_that_of_many_answers() {
    let model = model();
    let question =
        Question::read(&model, "losses.leakage", "makeup = 12 m3/h", Some("0 to 20 m3/h")).unwrap();
    let told = solve(&model, &question).solutions[0].standard.unwrap();
    let uncertain: Vec<(String, String)> = model
        .slots()
        .iter()
        .filter(|value| value.uncertainty.is_some() && value.path != "losses.leakage")
        .map(|value| (value.path.clone(), "uncertainty".to_owned()))
        .collect();
    let plan = Plan::new(&model, &uncertain, Combination::Draws { rows: 300, seed: 9 }).unwrap();
    let mut answers = Vec::new();
    let mut runner = Runner::new(&model, &plan, &[]);
    for row in 0..plan.rows() {
        runner.set(row);
        // What the leak must be: the makeup is a straight line of it once the blowdown is shut.
        let mut inputs = runner.inputs().clone();
        let mut work = Workspace::new(&model);
        let mut excess = |leak: f64| {
            inputs.set(question.slot, leak);
            model.evaluate(&inputs, &mut work).unwrap().makeup_m3_per_h() - 12.0
        };
        let (mut low, mut high) = (0.0, 20.0 / 3600.0);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if excess(middle) < 0.0 { low = middle } else { high = middle }
        }
        answers.push(low);
    }
    let mean = answers.iter().sum::<f64>() / answers.len() as f64;
    let square = answers.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / answers.len() as f64;
    // 300 draws: a standard deviation is known to 4 %.
    assert_relative_eq!(told, square.sqrt(), max_relative = 0.15);
}

/// The leaving air of a row is that of the balance sheet.
#[test]
fn the_exit_air_of_a_row_is_that_of_the_sheet() {
    let model = model();
    let plan = plan(&model, &[("air.wet_bulb", "16, 22 degC")], Combination::Grid);
    let columns = ["exit_air", "exit_enthalpy", "exit_humidity_ratio", "exit_mist", "hot_water"]
        .map(|name| column(name).unwrap());
    let mut runner = Runner::new(&model, &plan, &columns);
    for row in 0..plan.rows() {
        runner.set(row);
        let sheet = model.sheet(runner.inputs()).unwrap();
        let exit = sheet.exchange().unwrap();
        let wanted = [
            exit.exit_temperature_celsius,
            exit.exit_enthalpy_j_per_kg / 1e3,
            exit.exit_humidity_ratio,
            exit.exit_mist_ratio,
            sheet.state().hot_water_celsius,
        ];
        for (value, wanted) in runner.results().unwrap().values.iter().zip(wanted) {
            assert_relative_eq!(*value, wanted, max_relative = 1e-12);
        }
    }
}
