//! `coldbasin check SITE --makeup ... --during ...`: two readings and no log.

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Outcome};
use coldbasin::model::{TwoReadings, TwoVerdict};
use coldbasin::quantity::{Duration, Measured, ReadError, Stated, Volume, VolumeFlow};
use coldbasin::report::check;
use coldbasin::site::Table;
use coldbasin::site::file::Override;
use std::error::Error;
use std::path::{Path, PathBuf};

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] =
    &[Table::Log, Table::Weather, Table::Year, Table::Basin, Table::Chemical];

/// What was read of the meters.
#[derive(clap::Args)]
pub struct Asked {
    /// Without a log: makeup between two readings, such as "214.5 m3" or "9 m3/h"
    #[arg(long, value_name = "AMOUNT")]
    makeup: Option<String>,

    /// Time between the two readings, such as "24 h" or "3 d"
    #[arg(long, value_name = "TIME", requires = "makeup")]
    during: Option<String>,

    /// Blowdown between the same readings
    #[arg(long, value_name = "AMOUNT", requires = "makeup")]
    blowdown: Option<String>,
}

const DAY: f64 = 86_400.0;
/// Within so short a time what the basin stores outweighs what it uses; so long a time is a slip.
const LEAST_SECONDS: f64 = 3_600.0;
const MOST_SECONDS: f64 = 400.0 * DAY;
/// More than so many times what is needed flows in no tower.
const FLOOD: f64 = 20.0;

/// A volume, m3, or a flow, m3/d.
enum Amount {
    Volume(f64),
    Flow(f64),
}

/// Runs the command.
pub fn run(
    asked: &Asked,
    path: &Path,
    (shown, common): (&Shown, &Common),
    handout: &Handout,
) -> Result<Outcome, Box<dyn Error>> {
    let site = CompiledSite::read(path, common, NOT_READ)?;
    let read = asked.read(&common.overrides)?;
    let model = &site.model;
    let sheet = model.check_two(model.base(), &read).map_err(|why| site.refused(&why))?;
    if read.makeup > FLOOD * sheet.expected.value {
        return Err(format!(
            "--makeup: {:.0} m3/day is more than {FLOOD:.0} times what the site asks for ({:.0} m3/day): is its \
             unit right, or is this the reading itself and not the difference of two?",
            read.makeup, sheet.expected.value
        )
        .into());
    }
    if handout.picture.path().is_some() {
        return Err("--picture: two readings have no course to draw; a log has".into());
    }
    let source = site.name.as_str();
    let inputs: [PathBuf; 1] = [path.to_path_buf()];
    deliver(
        &Answer {
            page: &|units| check::two_page(&sheet, source, units),
            working: &|_| check::two_working(&sheet),
            json: &|| as_json(&check::two_json(&sheet, source)),
            csv: &|| as_csv(&[check::TwoRow::from(check::two_json(&sheet, source))]),
            picture: None,
        },
        (shown, common),
        Files { picture: None, report: &handout.report, inputs: &inputs },
    )?;
    Ok(match sheet.verdict() {
        TwoVerdict::AsExpected => Outcome::Done,
        TwoVerdict::TooMuch | TwoVerdict::TooLittle => Outcome::WarningStands,
    })
}

impl Asked {
    fn read(&self, overrides: &[Override]) -> Result<TwoReadings, String> {
        let makeup = self.makeup.as_deref().unwrap_or_default();
        let makeup = amount("--makeup", makeup)?;
        let seconds = self.during.as_deref().map(duration).transpose()?;
        let flow = |option: &str, amount: Amount| match (amount, seconds) {
            (Amount::Flow(flow), _) => Ok(flow),
            (Amount::Volume(volume), Some(seconds)) => Ok(volume * DAY / seconds),
            (Amount::Volume(_), None) => Err(format!(
                "{option} is a volume: say with --during how long it took, such as --during \"24 h\""
            )),
        };
        if seconds.is_some() && matches!(makeup, Amount::Flow(_)) {
            return Err(
                "--makeup is a flow, which needs no --during; of two readings of a register write their \
                 difference, such as --makeup \"214.5 m3\""
                    .into(),
            );
        }
        let makeup = flow("--makeup", makeup)?;
        if makeup <= 0.0 {
            return Err(
                "--makeup must be above zero: the later reading less the earlier one".into()
            );
        }
        let blowdown =
            self.blowdown.as_deref().map(|text| amount("--blowdown", text)).transpose()?;
        let blowdown = blowdown.map(|amount| flow("--blowdown", amount)).transpose()?;
        if blowdown.is_some_and(|blowdown| blowdown >= makeup) {
            return Err("--blowdown is as much as --makeup or more: are the two swapped, or is a unit wrong?"
                .into());
        }
        let is_set = |tables: &[&str]| {
            let of = |set: &Override| {
                let text = set.to_string();
                tables.iter().any(|table| text.starts_with(table))
            };
            overrides.iter().any(of)
        };
        Ok(TwoReadings {
            hours: seconds.map(|seconds| seconds / 3_600.0),
            makeup,
            blowdown,
            load_is_known: is_set(&[
                "circuit.hot_water",
                "circuit.cold_water",
                "circuit.range",
                "circuit.heat_load",
                "evaporation.",
            ]),
            weather_is_known: is_set(&["air."]),
        })
    }
}

fn amount(option: &str, text: &str) -> Result<Amount, String> {
    let volume: Result<Stated<Volume>, ReadError> = text.parse();
    let flow: Result<Stated<VolumeFlow>, ReadError> = text.parse();
    let (amount, is_finite) = match (volume, flow) {
        (Ok(volume), _) => (Amount::Volume(volume.value.si()), volume.value.si()),
        (_, Ok(flow)) => (Amount::Flow(DAY * flow.value.si()), flow.value.si()),
        (Err(_), Err(error)) => {
            return Err(format!(
                "{option}: {}: write a volume or a flow, such as \"214.5 m3\" or \"9 m3/h\"",
                error.message
            ));
        }
    };
    if is_finite < 0.0 {
        return Err(format!(
            "{option} is below zero: write the later reading less the earlier one"
        ));
    }
    Ok(amount)
}

fn duration(text: &str) -> Result<f64, String> {
    let stated: Stated<Duration> = text.parse().map_err(|error: ReadError| {
        format!("--during: {}: write a time, such as \"24 h\"", error.message)
    })?;
    let seconds = stated.value.si();
    if !(LEAST_SECONDS..=MOST_SECONDS).contains(&seconds) {
        return Err(format!(
            "--during is {}: two readings must lie an hour apart, and no more than 400 days",
            text.trim()
        ));
    }
    Ok(seconds)
}
