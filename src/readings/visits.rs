//! The technician's own sheet: dated analyses and field tests of makeup and tower, a row each.
//!
//! The header names the columns as the trade does, each with its unit: `Date`, `Water`, `pH`,
//! `Conductivity uS/cm`, `Calcium mg/L as CaCO3`. The site file may say it of other headers
//! (`[visits]`). What a row leaves empty was not tested.

use super::lines::Lines;
use super::not_used::no_number;
use super::number::{Number, number_of};
use super::rows::delimiter_of;
use super::time::{date_in, meaning_of, time_of};
use super::{LogError, NotUsed, text_of};
use crate::chemistry::Constituent;
use crate::quantity::unit::Unit;
use crate::quantity::{Concentration, Measured, Quantity, find_unit};
use crate::site::VisitsLayout;
use crate::site::description::DecimalSign;
use jiff::civil::{Date, DateTime};
use std::io::Read;

/// Which water was sampled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sampled {
    /// What the makeup valve lets in.
    Makeup,
    /// The circulating water.
    Tower,
}

/// A number of a test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// As written; half of what it is below.
    pub value: f64,
    /// Whether it was written as below something.
    pub is_below: bool,
}

/// A row: one water on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Line in the file.
    pub line: u64,
    /// When it was taken.
    pub time: DateTime,
    /// Which water.
    pub water: Sampled,
    /// pH.
    pub ph: Option<f64>,
    /// Conductivity at 25 degC, S/m.
    pub conductivity: Option<f64>,
    /// What was found of each constituent, mg/L in the basis that it is shown as.
    pub constituents: Vec<(Constituent, Tested)>,
}

/// A sheet as read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Visits {
    /// In order of time, the makeup of a day before its tower.
    pub samples: Vec<Sample>,
    /// What was not used.
    pub not_used: NotUsed,
    /// Headers of columns that say nothing of the water.
    pub other_columns: Vec<String>,
}

/// Why a sheet of visits cannot be read at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum VisitsError {
    /// As a log.
    #[error(transparent)]
    Log(#[from] LogError),
    /// A column that must be there.
    #[error("no column holds the {what}: head it \"{head}\", or name it in a [[visits.column]]")]
    Missing {
        /// What it holds.
        what: &'static str,
        /// What its header would be.
        head: &'static str,
    },
    /// A column whose numbers have no sense.
    #[error("column \"{name}\": {message}")]
    Column {
        /// Its header.
        name: String,
        /// What is wrong, and what would be right.
        message: String,
    },
}

/// What a column holds.
#[derive(Debug, Clone, Copy)]
enum Holds {
    Date,
    Water,
    Ph,
    Conductivity(&'static Unit),
    /// With the factor to mg/L in the basis that it is shown as.
    Constituent(Constituent, f64),
}

/// pH that a water can have.
const PH: std::ops::RangeInclusive<f64> = 2.0..=13.0;

/// Reads a sheet. Comma, semicolon or tab separates.
///
/// # Errors
/// [`VisitsError`] for a file that is no such sheet.
pub fn read(reader: impl Read, layout: &VisitsLayout) -> Result<Visits, VisitsError> {
    let mut lines = Lines::new(reader)?;
    let delimiter = delimiter_of(&mut lines)?;
    let mut table = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(lines);
    let header = table.byte_headers().map_err(LogError::from)?;
    let header: Vec<String> = header.iter().map(|name| text_of(name).into_owned()).collect();
    table.get_ref().end_record()?;
    let mut visits = Visits::default();
    let mut columns: Vec<(usize, Holds)> = Vec::new();
    for (place, name) in header.iter().enumerate() {
        match column(name, layout)? {
            Some(holds) => columns.push((place, holds)),
            None if name.is_empty() => {}
            None => visits.other_columns.push(name.clone()),
        }
    }
    let named = layout.column.iter().filter_map(|column| column.name.as_ref());
    if let Some(wanted) = named.into_iter().find(|name| !header.contains(name)) {
        let found = header.iter().map(|name| format!("\"{name}\"")).collect();
        return Err(LogError::NoColumn {
            line: table.get_ref().number(),
            wanted: wanted.clone(),
            nearest: None,
            found,
        }
        .into());
    }
    let place = |is: fn(&Holds) -> bool| columns.iter().find(|(_, holds)| is(holds));
    let missing = |what, head| VisitsError::Missing { what, head };
    let date = place(|holds| matches!(holds, Holds::Date)).ok_or(missing("date", "Date"))?.0;
    let water = place(|holds| matches!(holds, Holds::Water))
        .ok_or(missing("water that was sampled, makeup or tower", "Water"))?
        .0;
    let sheet = Sheet { layout, header: &header, columns: &columns, delimiter, date, water };
    let mut record = csv::ByteRecord::new();
    loop {
        table.get_mut().begin_record();
        let is_record = table.read_byte_record(&mut record).map_err(LogError::from)?;
        table.get_ref().end_record()?;
        if !is_record {
            break;
        }
        let line = table.get_ref().number();
        if record.iter().all(<[u8]>::is_empty) {
            continue;
        }
        visits.not_used.rows += 1;
        let fields: Vec<String> = record.iter().map(|field| text_of(field).into_owned()).collect();
        match sheet.sample(line, &fields, &mut visits.not_used)? {
            Ok(sample) => visits.samples.push(sample),
            Err(reason) => visits.not_used.lose(line, reason),
        }
    }
    visits.put_in_order();
    Ok(visits)
}

impl Visits {
    /// By time, the makeup first; of two samples of a water on one day the first counts.
    fn put_in_order(&mut self) {
        let key = |sample: &Sample| (sample.day(), sample.water == Sampled::Tower, sample.line);
        self.samples.sort_by_key(key);
        let mut kept: Vec<Sample> = Vec::new();
        for sample in self.samples.drain(..) {
            match kept.last() {
                Some(last) if (last.day(), last.water) == (sample.day(), sample.water) => {
                    let what = match sample.water {
                        Sampled::Makeup => "makeup",
                        Sampled::Tower => "tower",
                    };
                    let reason = format!(
                        "the {what} of {} stands in line {} already",
                        last.day(),
                        last.line
                    );
                    self.not_used.lose(sample.line, reason);
                }
                _ => kept.push(sample),
            }
        }
        self.samples = kept;
    }
}

impl Sample {
    /// The day.
    pub fn day(&self) -> Date {
        self.time.date()
    }
}

struct Sheet<'a> {
    layout: &'a VisitsLayout,
    header: &'a [String],
    columns: &'a [(usize, Holds)],
    delimiter: u8,
    date: usize,
    water: usize,
}

impl Sheet<'_> {
    /// A row as a sample, or why it is none.
    fn sample(
        &self,
        line: u64,
        fields: &[String],
        not_used: &mut NotUsed,
    ) -> Result<Result<Sample, String>, LogError> {
        if fields.iter().skip(self.header.len()).any(|field| !field.is_empty()) {
            return Ok(Err(format!(
                "{} fields, and the header has {}: a separator inside a number or a text moves what \
                 follows it",
                fields.len(),
                self.header.len()
            )));
        }
        let field = |place: usize| fields.get(place).map_or("", String::as_str);
        let date = field(self.date);
        let Some((time, _)) = time_of(date, self.layout.dates, None) else {
            return self.no_date(line, date).map(Err);
        };
        let water = match field(self.water).to_lowercase().as_str() {
            "makeup" | "make-up" | "make up" | "mains" | "city" | "feed" | "well" | "mu" => {
                Sampled::Makeup
            }
            "tower" | "basin" | "circulating" | "circulating water" | "system" | "ct" => {
                Sampled::Tower
            }
            "" => return Ok(Err("no water: write makeup or tower".into())),
            other => return Ok(Err(format!("\"{other}\" is no water: write makeup or tower"))),
        };
        let mut sample =
            Sample { line, time, water, ph: None, conductivity: None, constituents: Vec::new() };
        for (place, holds) in self.columns {
            let (name, text) = (&self.header[*place], field(*place));
            let tested = match *holds {
                Holds::Date | Holds::Water => continue,
                _ => match self.number(text) {
                    Ok(tested) => tested,
                    Err(()) => {
                        not_used.add(line, no_number(name, text));
                        continue;
                    }
                },
            };
            let Some(tested) = tested else { continue };
            match *holds {
                Holds::Ph if PH.contains(&tested.value) => sample.ph = Some(tested.value),
                Holds::Ph => not_used.add(line, format!("{name}: {text} is no pH")),
                _ if tested.value < 0.0 => {
                    not_used.add(line, format!("{name}: {text} is below zero"));
                }
                Holds::Conductivity(unit) if tested.value > 0.0 => {
                    sample.conductivity = Some(unit.to_si(tested.value));
                }
                Holds::Constituent(constituent, factor) => {
                    let value = factor * tested.value;
                    sample.constituents.push((constituent, Tested { value, ..tested }));
                }
                _ => not_used.add(line, format!("{name}: {text} is no conductivity")),
            }
        }
        Ok(Ok(sample))
    }

    /// A number, half of what it is said to be below; `None` where nothing was tested.
    fn number(&self, text: &str) -> Result<Option<Tested>, ()> {
        let (written, is_below) = match text.strip_prefix('<') {
            Some(rest) => (rest.trim_start(), true),
            None => (text, false),
        };
        let decimal = (self.delimiter == b',').then_some(DecimalSign::Point);
        match number_of(written, decimal) {
            Number::Value(value) | Number::Either(value, _) if is_below => {
                Ok(Some(Tested { value: 0.5 * value, is_below }))
            }
            Number::Value(value) | Number::Either(value, _) => Ok(Some(Tested { value, is_below })),
            Number::Gap => Ok(None),
            Number::Text => Err(()),
        }
    }

    fn no_date(&self, line: u64, text: &str) -> Result<String, LogError> {
        if text.is_empty() {
            return Ok("no date".into());
        }
        match (meaning_of(text), self.layout.dates) {
            (Some((meaning, wanted)), None) => Err(LogError::DateOrder {
                line,
                date: date_in(text),
                meaning,
                wanted,
                table: "visits",
            }),
            _ => Ok(format!("\"{text}\" is no date")),
        }
    }
}

/// What a column holds, by the site file, else by its header; `None` for one that says nothing of the
/// water.
fn column(name: &str, layout: &VisitsLayout) -> Result<Option<Holds>, VisitsError> {
    let wrong = |message: String| VisitsError::Column { name: name.into(), message };
    let described = layout.column.iter().find(|column| column.name.as_deref() == Some(name));
    if let Some(described) = described {
        let is = described.is.as_deref().unwrap_or_default();
        let unit = described.unit.as_deref().unwrap_or_default();
        let known = subject(&is.replace('_', " ")).filter(|(_, rest)| rest.is_empty());
        let (subject, _) = known.ok_or_else(|| {
            wrong(format!(
                "nothing called \"{is}\" is tested: date, water, ph, conductivity, or a constituent such as \
                 calcium"
            ))
        })?;
        return holds(subject, unit).map(Some).map_err(wrong);
    }
    let plain: String =
        name.chars().map(|c| if "()[],;:_".contains(c) { ' ' } else { c }).collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    match subject(&words.join(" ")) {
        Some((subject, unit)) => holds(subject, &unit).map(Some).map_err(wrong),
        None => Ok(None),
    }
}

/// What a header is about.
#[derive(Clone, Copy)]
enum Subject {
    Date,
    Water,
    Ph,
    Conductivity,
    Constituent(Constituent),
}

/// What the words of a header begin with, and the rest.
fn subject(words: &str) -> Option<(Subject, String)> {
    const NAMES: [(&str, Subject); 16] = [
        ("date", Subject::Date),
        ("sampled", Subject::Date),
        ("day", Subject::Date),
        ("water", Subject::Water),
        ("sample", Subject::Water),
        ("ph", Subject::Ph),
        ("conductivity", Subject::Conductivity),
        ("total hardness", Subject::Constituent(Constituent::Hardness)),
        ("calcium hardness", Subject::Constituent(Constituent::Calcium)),
        ("magnesium hardness", Subject::Constituent(Constituent::Magnesium)),
        ("total alkalinity", Subject::Constituent(Constituent::Alkalinity)),
        ("m alkalinity", Subject::Constituent(Constituent::Alkalinity)),
        ("m-alkalinity", Subject::Constituent(Constituent::Alkalinity)),
        ("orthophosphate", Subject::Constituent(Constituent::Phosphate)),
        ("chlorides", Subject::Constituent(Constituent::Chloride)),
        ("sulphate", Subject::Constituent(Constituent::Sulfate)),
    ];
    let keys = Constituent::ALL.map(|c| (c.key(), Subject::Constituent(c)));
    NAMES.into_iter().chain(keys).find_map(|(name, subject)| {
        let begins = words.get(..name.len())?.eq_ignore_ascii_case(name);
        let rest = words.get(name.len()..)?;
        let ends = rest.is_empty() || rest.starts_with(' ');
        (begins && ends).then(|| (subject, rest.trim().to_owned()))
    })
}

fn holds(subject: Subject, unit: &str) -> Result<Holds, String> {
    Ok(match subject {
        Subject::Date => Holds::Date,
        Subject::Water => Holds::Water,
        Subject::Ph => Holds::Ph,
        Subject::Conductivity => {
            let unit = find_unit(unit, &[Quantity::Conductivity])
                .map_err(|error| format!("{} ({})", error.message, error.help))?;
            Holds::Conductivity(unit)
        }
        Subject::Constituent(constituent) => {
            let one: Concentration = format!("1 {unit}").parse().map_err(|_| {
                format!(
                    "its unit is missing or wrong: write \"{} mg/L as {}\"",
                    constituent.name(),
                    constituent.basis().formula()
                )
            })?;
            let factor =
                constituent.factor(&one).map_err(|error| error.to_string().replace('\n', ": "))?;
            Holds::Constituent(constituent, factor * one.amount.value.si())
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::description::{DateOrder, VisitColumn};
    use approx::assert_relative_eq;

    fn read_text(text: &str) -> Visits {
        read(text.as_bytes(), &VisitsLayout::default()).unwrap_or_else(|wrong| panic!("{wrong}"))
    }

    const SHEET: &str =
        "Date,Water,pH,Conductivity uS/cm,Calcium (mg/L as CaCO3),Silica mg/L as SiO2,By
2026-06-01,Tower,8.6,1500,400,<2,me
2026-06-01,Makeup,7.6,480,120,10,me
2026-06-15,tower,,1.6e3,,,me
";

    fn found(sample: &Sample, constituent: Constituent) -> Tested {
        sample.constituents.iter().find(|(known, _)| *known == constituent).unwrap().1
    }

    #[test]
    fn headers_of_the_trade_say_what_their_columns_hold() {
        let visits = read_text(SHEET);
        assert_eq!(visits.other_columns, ["By"]);
        let waters: Vec<(Sampled, u64)> =
            visits.samples.iter().map(|sample| (sample.water, sample.line)).collect();
        assert_eq!(waters, [(Sampled::Makeup, 3), (Sampled::Tower, 2), (Sampled::Tower, 4)]);
        let tower = &visits.samples[1];
        assert_relative_eq!(tower.conductivity.unwrap(), 0.15);
        // 400 mg/L as CaCO3 are 160 as Ca.
        let calcium = found(tower, Constituent::Calcium).value;
        assert_relative_eq!(calcium, 400.0 * 40.08 / 100.09, max_relative = 1e-3);
        let silica = found(tower, Constituent::Silica);
        assert_relative_eq!(silica.value, 1.0, max_relative = 1e-12);
        assert!(silica.is_below);
        assert!(visits.samples[2].ph.is_none() && visits.samples[2].constituents.is_empty());
        assert!(visits.not_used.is_empty());
    }

    #[test]
    fn other_headers_are_named_by_the_site_file_and_slashes_need_their_order() {
        let text = "Tag;Wasser;LF;Cl\n01/06/2026;makeup;480;30\n";
        let column = |name: &str, is: &str, unit: &str| VisitColumn {
            name: Some(name.into()),
            is: Some(is.into()),
            unit: Some(unit.into()),
        };
        let layout = VisitsLayout {
            dates: Some(DateOrder::DayFirst),
            column: vec![
                column("Tag", "date", ""),
                column("Wasser", "water", ""),
                column("LF", "conductivity", "uS/cm"),
                column("Cl", "chloride", "mg/L as Cl"),
            ],
        };
        let visits = read(text.as_bytes(), &layout).unwrap();
        assert_eq!(visits.samples[0].day().to_string(), "2026-06-01");
        assert_eq!(found(&visits.samples[0], Constituent::Chloride).value, 30.0);
        let unstated = VisitsLayout { dates: None, ..layout };
        let error = read(text.as_bytes(), &unstated).unwrap_err().to_string();
        assert!(error.contains("[visits]") && error.contains("day_first"), "{error}");
    }

    #[test]
    fn what_cannot_be_used_is_told_with_its_line() {
        let text = "Date,Water,pH,Chloride mg/L as Cl
2026-06-01,pond,8,20
yesterday,tower,8,20
2026-06-01,tower,86,many
2026-06-01,tower,8.6,20
";
        let told: Vec<String> = read_text(text)
            .not_used
            .listed
            .iter()
            .map(|refused| format!("{}: {}", refused.line, refused.reason))
            .collect();
        assert_eq!(
            told,
            [
                "2: \"pond\" is no water: write makeup or tower",
                "3: \"yesterday\" is no date",
                "4: pH: 86 is no pH",
                "4: Chloride mg/L as Cl: \"many\" is no number",
                "5: the tower of 2026-06-01 stands in line 4 already"
            ]
        );
        let wrong = |header: &str| {
            read(format!("{header}\n").as_bytes(), &VisitsLayout::default())
                .unwrap_err()
                .to_string()
        };
        assert!(wrong("Date,pH").contains("head it \"Water\""));
        let bare = wrong("Date,Water,Chloride mg/L");
        assert!(bare.contains("as Cl"), "{bare}");
        assert!(wrong("Date,Water,Conductivity").contains("no unit"));
        assert!(wrong("Date,Water,Silica mg/L as CaCO3").contains("as SiO2"));
    }
}
