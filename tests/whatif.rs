//! Many runs: the same rows whatever the threads and parts, and each the balance of its own numbers.

use super::model_of;
use approx::assert_relative_eq;
use coldbasin::blowdown::set_point::ValveState;
use coldbasin::chemistry::Mineral;
use coldbasin::model::{Balance, LevelQuestions, Model, Workspace};
use coldbasin::site::{file, validate};
use coldbasin::whatif::columns::{Cell, column};
use coldbasin::whatif::solve::{Question, solve};
use coldbasin::whatif::{Combination, Plan, PlanError, Runner};
use std::process::Command;

const DAIRY: &str = include_str!("../examples/dairy.toml");

fn model() -> Model {
    model_of(DAIRY, &[])
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
    // Every result there is, of several cases, with texts and numbers.
    let all = [
        "--case",
        "acid: ph.held=8.0",
        "--vary",
        "cell.1.arrangement=counterflow, crossflow",
        "--vary",
        "makeup.well.share=20, 60, 100 %",
        "--columns",
        "all",
    ];
    for (plan, least) in [(&grid[..], 100_000), (&drawn, 100_000), (&all, 5_000)] {
        for format in ["csv", "json", "text"] {
            let with = |more: &[&str]| output(&[plan, &["--format", format], more].concat());
            let whole = with(&["--threads", "1"]);
            assert!(whole.len() > least);
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
    let columns = ["makeup", "cycles", "water_cost", "makeup_at_design_all_year"]
        .map(|name| column(&model, name).unwrap());
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
                    assert_relative_eq!(value.number(), wanted, max_relative = 1e-9);
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
        .map(|name| column(&model, name).unwrap());
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
            assert_relative_eq!(value.number(), wanted, max_relative = 1e-12);
        }
    }
}

/// A row's columns are what the commands answer.
#[test]
fn columns_are_what_the_commands_answer() {
    let model = model();
    let named = [
        "allowed_cycles",
        "target_cycles",
        "set_point",
        "ph",
        "conductivity",
        "valve_open",
        "makeup_at_target",
        "half_life_at_target",
        "calcite_index_at_surface",
        "total_cost",
        "scale inhibitor.kg_a_year",
        "settled_level",
        "dry_after",
    ];
    let columns = named.map(|name| column(&model, name).unwrap());
    let texts =
        ["controlling_limit", "next_limit", "stop"].map(|name| column(&model, name).unwrap());
    let plan = plan(&model, &[("makeup.well.share", "0.2, 0.6, 0.9")], Combination::Grid);
    let mut runner = Runner::new(&model, &plan, &columns);
    let mut of_texts = Runner::new(&model, &plan, &texts);
    for row in 0..plan.rows() {
        runner.set(row);
        of_texts.set(row);
        let sheet = model.blowdown(runner.inputs()).unwrap();
        let target = sheet.target_cycles.unwrap();
        let water = sheet.waters.iter().find(|water| water.cycles == target).unwrap();
        let at_target = sheet.at_target.unwrap();
        let ValveState::ByTurns(Some(turns)) = sheet.valve.unwrap().state else { panic!() };
        let money = model.sheet(runner.inputs()).unwrap().money.unwrap();
        let feed = model.feed(runner.inputs()).unwrap();
        let level = model.level(runner.inputs(), LevelQuestions::default()).unwrap();
        let wanted = [
            sheet.best_estimate,
            target,
            1e4 * sheet.set_point.unwrap().conductivity,
            water.basin.ph,
            1e4 * water.conductivity,
            turns.duty,
            Balance::reference_m3_per_h(at_target.makeup_kg_per_s),
            sheet.half_life(&at_target).unwrap(),
            water.surface.saturation_index(Mineral::Calcite).unwrap(),
            money.total,
            feed.lines[0].product_kg_per_year,
            level.settles_at.unwrap(),
            level.lost.empties_at.unwrap(),
        ];
        let results = runner.results().unwrap();
        assert_eq!(results.missing, None);
        for ((value, wanted), name) in results.values.iter().zip(wanted).zip(named) {
            let value = value.number();
            assert!((value - wanted).abs() <= 1e-9 * wanted.abs(), "{name}: {value} {wanted}");
        }
        let told = [
            sheet.controlling().unwrap().limit.measure.key(),
            sheet.next().unwrap().limit.measure.key(),
            sheet.stop.key().to_owned(),
        ];
        let values = of_texts.results().unwrap().values;
        assert_eq!(values, told.map(Cell::Text), "{values:?}");
    }
}

/// What the command ends with, prints and complains of.
fn ran(arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coldbasin"));
    let output = command.args(["whatif"]).args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn cases_are_the_sites_that_their_settings_make() {
    let columns = ["--columns", "allowed_cycles,controlling_limit", "--format", "csv"];
    let site = "examples/dairy.toml";
    let case = ["--case", "acid, 8: ph.held=8.0; blowdown.cycles=4"];
    let (status, both, _) = ran(&[&[site], &case[..], &columns].concat());
    assert_eq!(status, 0);
    let sets = ["--set", "ph.held=8.0", "--set", "blowdown.cycles=4"];
    let vary = ["--vary", "circuit.volume=35 m3"];
    let alone = |sets: &[&str]| ran(&[&[site], sets, &vary[..], &columns].concat()).1;
    let end = |text: &str, line: usize| {
        text.lines().nth(line).unwrap().rsplit(',').take(4).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(end(&both, 1), end(&alone(&[]), 1));
    assert_eq!(end(&both, 2), end(&alone(&sets), 1));
    assert!(both.contains("as it stands,") && both.contains("\"acid, 8\","), "{both}");
}

#[test]
fn rows_of_a_table_are_what_its_cells_say() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    let from = |text: &str, more: &[&str]| {
        std::fs::write(&file, text).unwrap();
        let from = ["examples/dairy.toml", "--from", file.to_str().unwrap(), "--format", "csv"];
        ran(&[&from[..], more].concat())
    };
    let head = "air.wet_bulb (degC),blowdown.cycles,cell.1.arrangement\n";
    let (status, rows, _) =
        from(&format!("{head}20,3,counterflow\n68 degF,3,counterflow\n22,4,crossflow\n"), &[]);
    assert_eq!(status, 0);
    let lines: Vec<Vec<&str>> = rows.lines().map(|line| line.split(',').collect()).collect();
    let [_, first, second, third] = lines.as_slice() else { panic!("{rows}") };
    // 68 degF are 20 degC; the name of the site holds a comma.
    assert_relative_eq!(second[4].parse::<f64>().unwrap(), 20.0, max_relative = 1e-12);
    for (one, other) in first[7..10].iter().zip(&second[7..10]) {
        let [one, other] = [one, other].map(|cell| cell.parse::<f64>().unwrap());
        assert_relative_eq!(one, other, max_relative = 1e-9);
    }
    assert_ne!(first[7..], third[7..]);
    // Mixed with a list: every line with every value.
    let mixed = from(
        &format!("{head}20,3,counterflow\n22,4,crossflow\n"),
        &["--vary", "losses.leakage=0, 1 m3/h"],
    );
    assert_eq!(mixed.1.lines().count(), 5);
    let said = |text: &str| {
        let (status, _, error) = from(text, &[]);
        assert_eq!(status, 1);
        error
    };
    let no_unit = said("air.wet_bulb,blowdown.cycles\n20 degC,3\n22,4\n");
    assert!(
        no_unit.contains("rows.csv:3: column 1, air.wet_bulb: the number has no unit"),
        "{no_unit}"
    );
    let empty = said("air.wet_bulb (degC),blowdown.cycles\n20,\n");
    assert!(empty.contains("rows.csv:2: column 2, blowdown.cycles: the cell is empty"), "{empty}");
    let text = said("cell.1.arrangement\nsideways\n");
    assert!(text.contains("rows.csv:2: ") && text.contains("one of \"counterflow\""), "{text}");
}

#[test]
fn rows_without_an_answer_keep_their_keys() {
    let vary = |values: &str| {
        let values = format!("air.wet_bulb={values} degC");
        let columns = "makeup,allowed_cycles,controlling_limit";
        ran(&["examples/dairy.toml", "--vary", &values, "--columns", columns, "--format", "json"])
    };
    let (status, rows, _) = vary("20, 50");
    assert_eq!(status, 0);
    let rows: Vec<serde_json::Value> =
        rows.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let keys =
        |row: &serde_json::Value| row.as_object().unwrap().keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&rows[0]), keys(&rows[1]));
    assert!(rows[0]["error"].is_null() && rows[0]["controlling"].is_string());
    assert!(rows[1]["makeup_m3_per_h"].is_null() && rows[1]["controlling"].is_null());
    assert!(rows[1]["error"].as_str().unwrap().contains("above the dry bulb"));
    let (status, rows, error) = vary("40, 50");
    assert_eq!((status, rows.lines().count()), (1, 2));
    assert!(error.contains("no row has an answer"), "{error}");
}

#[test]
fn what_a_site_cannot_give_is_refused_before_any_row() {
    let refused = |site: &str, columns: &str| {
        let (status, rows, error) =
            ran(&[site, "--vary", "blowdown.cycles=3", "--columns", columns]);
        assert_eq!((status, rows.as_str()), (1, ""), "{error}");
        error
    };
    let said = refused("examples/dairy.toml", "makeup,year_makeup");
    assert!(said.contains("add --weather FILE"), "{said}");
    let said = refused("examples/cannery.toml", "total_cost");
    assert!(said.contains("no price is stated") && said.contains("[cost]"), "{said}");
    let said = refused("examples/dairy.toml", "yearly_makeup");
    assert!(said.contains("makeup_at_design_all_year"), "{said}");
}

/// The year of a row is that of the command.
#[test]
fn the_year_of_a_row_is_that_of_the_command() {
    let folder = tempfile::tempdir().unwrap();
    let weather = folder.path().join("weather.csv");
    let days: String = include_str!("../examples/dairy-weather.csv")
        .lines()
        .take(1 + 48)
        .map(|line| format!("{line}\n"))
        .collect();
    std::fs::write(&weather, days).unwrap();
    let weather = weather.to_str().unwrap();
    let (status, row, _) = ran(&[
        "examples/dairy.toml",
        "--weather",
        weather,
        "--vary",
        "year.cold_water_set_point=20, 24 degC",
        "--columns",
        "year_makeup,year_fan_speed,year_peak_hour_at",
        "--format",
        "json",
    ]);
    assert_eq!(status, 0);
    let row: serde_json::Value = serde_json::from_str(row.lines().nth(1).unwrap()).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_coldbasin"));
    let set = ["--set", "year.cold_water_set_point=24 degC", "--format", "json"];
    let year = command.args(["year", "examples/dairy.toml", weather]).args(set).output().unwrap();
    let year: serde_json::Value = serde_json::from_slice(&year.stdout).unwrap();
    assert_eq!(row["year.makeup_m3"], year["all"]["makeup_m3"]);
    assert_eq!(row["year.fan_speed"], year["all"]["fan_speed"]);
    let (at, wanted) = (&row["year.peak_hour_at"], &year["peak_hour_m3_per_h"]["time"]);
    assert!(at.as_str().unwrap().starts_with(wanted.as_str().unwrap()), "{at} {wanted}");
}

/// 15.3 degC is 288.45 K, and 288.45 - 273.15 is no 15.3.
#[test]
fn what_was_varied_comes_back_as_it_was_typed() {
    for (format, wanted) in [("csv", ",15.3,"), ("json", "\"air.wet_bulb (degC)\":15.3,")] {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_coldbasin"))
            .args(["whatif", "examples/dairy.toml", "--vary", "air.wet_bulb=15.3 degC"])
            .args(["--columns", "makeup", "--format", format])
            .output()
            .unwrap();
        let rows = String::from_utf8(output.stdout).unwrap();
        assert!(rows.contains(wanted), "{rows}");
    }
}
