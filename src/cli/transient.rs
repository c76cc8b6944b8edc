//! `coldbasin transient`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Outcome};
use coldbasin::model::Uncertain;
use coldbasin::picture::{self, TransientWords};
use coldbasin::quantity::{Duration, MassConcentration, Measured, Ratio, Stated, VolumeFlow};
use coldbasin::report::transient;
use coldbasin::report::uncertain::{self, With};
use coldbasin::site::{LARGEST, Table};
use coldbasin::transient::{Blowdown, Change, Event, Substance};
use std::error::Error;
use std::path::PathBuf;
use std::str::FromStr;

const EXAMPLES: &str = "\
Examples:
  coldbasin transient site.toml --start 1 --hours 96
  coldbasin transient site.toml --event \"12 h blowdown shut\" --event \"36 h cycles 4\"
  coldbasin transient site.toml --event \"0 h blowdown open\" --hours 72
  coldbasin transient site.toml --event \"2 h dose 120 mg/L\" --half-life \"10 h\"";

/// Some ten years.
const MOST_HOURS: f64 = 100_000.0;

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year, Table::Chemical];

/// Follow the concentration in time after something happens
///
/// Between events the flows are constant and the solution is exact. Events are TIME and what
/// happens: blowdown shut, blowdown open, blowdown FLOW, cycles NUMBER (a new target), dose
/// CONCENTRATION (a slug, in the whole volume).
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// Cycles at the start; those of the site without it
    #[arg(long, value_name = "CYCLES")]
    start: Option<f64>,

    /// How far to follow the water
    #[arg(long, value_name = "HOURS", default_value_t = 72.0)]
    hours: f64,

    /// What happens, as in "12 h blowdown shut"; repeatable
    #[arg(long = "event", value_name = "TIME WHAT")]
    events: Vec<WrittenEvent>,

    /// Half life of what is dosed, as in "10 h"; it does not decay without it
    #[arg(long, value_name = "TIME")]
    half_life: Option<String>,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    common: Common,
}

/// An event as it was written: what it means depends on the site.
#[derive(Debug, Clone)]
struct WrittenEvent {
    text: String,
    hour: f64,
    what: Written,
}

#[derive(Debug, Clone, Copy)]
enum Written {
    Shut,
    Open,
    Flow(f64),
    Cycles(f64),
    Dose(f64),
}

impl FromStr for WrittenEvent {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        const HELP: &str = "write \"12 h blowdown shut\", \"12 h blowdown open\", \
             \"12 h blowdown 4 m3/h\", \"12 h cycles 4\" or \"12 h dose 120 mg/L\"";
        let keywords = ["blowdown", "cycles", "dose"];
        let found = keywords.iter().find_map(|word| Some((*word, text.split_once(word)?)));
        let Some((keyword, (time, rest))) = found else { return Err(HELP.into()) };
        let hour = positive(read::<Duration>(time)?.in_hours())?;
        let rest = rest.trim();
        let what = match (keyword, rest) {
            ("blowdown", "shut") => Written::Shut,
            ("blowdown", "open") => Written::Open,
            ("blowdown", flow) => {
                Written::Flow(positive(read::<VolumeFlow>(flow)?.in_cubic_metre_per_hour())?)
            }
            ("cycles", cycles) => {
                let cycles = read::<Ratio>(cycles)?.in_number();
                if !(cycles > 1.0 && cycles.is_finite()) {
                    return Err(format!("{cycles} cycles cannot be held: write more than 1"));
                }
                Written::Cycles(cycles)
            }
            (_, dose) => {
                Written::Dose(positive(read::<MassConcentration>(dose)?.in_milligram_per_litre())?)
            }
        };
        Ok(Self { text: text.trim().to_owned(), hour, what })
    }
}

fn positive(number: f64) -> Result<f64, String> {
    match number {
        _ if number < 0.0 => Err(format!("{number} is negative: write 0 or more")),
        _ if number > LARGEST => Err(format!("{number} is more than any plant has")),
        _ => Ok(number),
    }
}

fn read<Q: Measured>(text: &str) -> Result<Q, String> {
    let stated: Stated<Q> = text.trim().parse().map_err(|error| format!("{error}"))?;
    Ok(stated.value)
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    if let Some(start) = arguments.start.filter(|start| !(1.0..=1e6).contains(start)) {
        return Err(format!("--start {start}: cycles are 1 or more").into());
    }
    if !(arguments.hours > 0.0 && arguments.hours <= MOST_HOURS) {
        let hours = arguments.hours;
        return Err(format!("--hours {hours}: it must be above 0 and at most {MOST_HOURS}").into());
    }
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let inputs = model.base();
    let explain = |why| site.refused(&why);
    let (_, balance) = model.circuit(inputs).map_err(explain)?;
    let (valve_flow, _) = model.valve_flow(inputs, &balance);
    if let Some(late) = arguments.events.iter().find(|event| event.hour > arguments.hours) {
        let (hour, hours) = (late.hour, arguments.hours);
        return Err(
            format!("--event at {hour} h: the course ends at {hours} h; raise --hours").into()
        );
    }
    let event = |written: &WrittenEvent| {
        let change = match written.what {
            Written::Shut => Change::Blowdown(Blowdown::Flow(0.0)),
            Written::Open => Change::Blowdown(Blowdown::Flow(valve_flow)),
            Written::Flow(flow) => Change::Blowdown(Blowdown::Flow(flow)),
            Written::Cycles(cycles) => Change::Blowdown(Blowdown::Held { cycles, valve_flow }),
            Written::Dose(dose) => Change::Dose(dose),
        };
        Event { hour: written.hour, change }
    };
    let events: Vec<Event> = arguments.events.iter().map(event).collect();
    let decay = match &arguments.half_life {
        Some(text) => {
            let hours = read::<Duration>(text)
                .map_err(|wrong| format!("--half-life {text}: {wrong}"))?
                .in_hours();
            if hours <= 0.0 {
                return Err(format!("--half-life {text}: it must be above 0").into());
            }
            std::f64::consts::LN_2 / hours
        }
        None => 0.0,
    };
    let substance = Substance { decay, ..Substance::default() };
    let sheet = model
        .transient(inputs, arguments.start, substance, &events, arguments.hours)
        .map_err(explain)?;
    let sure =
        || model.uncertain_transient(inputs, arguments.start, substance, &events, arguments.hours);
    // People read how sure the least sure row is; programs have every row.
    let least_sure = |mut rows: Vec<Uncertain>| {
        rows.sort_by(|a, b| b.standard.total_cmp(&a.standard));
        rows.truncate(1);
        rows
    };
    let written: Vec<(f64, String)> =
        arguments.events.iter().map(|event| (event.hour, event.text.clone())).collect();
    let words = TransientWords {
        from: &site.name,
        substance: "dosed",
        events: &written,
        spread: &|at| model.transient_spread(inputs, arguments.start, substance, &events, at),
    };
    deliver(
        &Answer {
            page: &|units| {
                let mut page = transient::page(&sheet, &site.name, "dosed", units);
                page.detail.extend(uncertain::blocks(&least_sure(sure()), "", units));
                page
            },
            working: &|_| transient::working(&sheet),
            json: &|| {
                as_json(&With {
                    page: transient::json(&sheet, &site.name),
                    uncertain: uncertain::json(&sure()),
                })
            },
            csv: &|| as_csv(&transient::points(&sheet)),
            picture: Some(&|look| picture::transient(&sheet, &words, look)),
        },
        (&arguments.shown, common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: std::slice::from_ref(&arguments.site),
        },
    )?;
    Ok(Outcome::Done)
}
