//! The level of the basin, as people and programs read it.

use super::marks::end_of_head;
use super::text::{Style, equation, heading, page_head, paragraph, write_line};
use super::warnings::{NoticeOut, noticed, notices_out};
use crate::basin::course::Course;
use crate::basin::outflow::{Overflow, SOURCE, orifice, weir};
use crate::basin::valve::Action;
use crate::model::{LevelSheet, StuckBill, VALVE_OVER_DEMAND};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::SewerBasis;
use serde::Serialize;
use std::fmt::Write as _;

const CAUTION: &str = "Caution: a basin is a confined space, and people have drowned in them: nobody \
enters but under a permit, with the pumps and fans locked. Drained, idle and restarted towers grow \
Legionella and throw droplets: follow the water management plan before fans run again. Drain only \
where the permit allows, and keep to the local backflow rule.";

struct Page<'a> {
    units: UnitSystem,
    sheet: &'a LevelSheet,
    flow: &'static Unit,
    length: &'static Unit,
    volume: &'static Unit,
}

/// The level as text of 80 columns. `source` names the file.
pub fn text(sheet: &LevelSheet, source: &str, style: Style) -> String {
    let page = Page {
        sheet,
        units: style.units,
        flow: Quantity::VolumeFlow.shown_in(style.units),
        length: Quantity::Length.shown_in(style.units),
        volume: Quantity::Volume.shown_in(style.units),
    };
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, source), "Basin level", style.bold);
    let sections: [(&str, Vec<String>); 9] = [
        ("STEADY LEVEL", page.steady()),
        ("A PUMP STOP", page.stop()),
        ("MAKEUP LOST", page.lost()),
        ("MAKEUP VALVE STUCK OPEN", page.stuck()),
        ("DRAIN LEFT OPEN", page.drained()),
        ("RAIN", page.rained()),
        ("ALARMS AND AIR GAP", page.alarms()),
        ("BRINGING THE CYCLES DOWN", page.dilution()),
        ("DROP TEST", page.drop_test()),
    ];
    for (title, lines) in sections {
        if lines.is_empty() {
            continue;
        }
        heading(&mut text, title, style.bold);
        for line in lines {
            paragraph(&mut text, "", &line);
        }
        if title == "MAKEUP VALVE STUCK OPEN"
            && let Some(stuck) = &sheet.stuck
        {
            page.table(&mut text, stuck);
        }
    }
    if !sheet.warnings.is_empty() {
        heading(&mut text, "WARNINGS", style.bold);
        for warning in &sheet.warnings {
            noticed(&mut text, warning);
        }
    }
    text.push('\n');
    paragraph(&mut text, "", &format!("Discharge: {}.", crate::basin::outflow::SOURCE));
    paragraph(&mut text, "", CAUTION);
    super::marks::finished(text, style)
}

/// The equations with their numbers.
pub fn working(sheet: &LevelSheet, style: Style) -> String {
    let mut text = String::new();
    heading(&mut text, "WORKING (m, m3, m3/h, h)", style.bold);
    let six = |number: f64| significant(number, 6);
    let circuit = &sheet.circuit;
    if let (Some(valve), Some(level)) = (&sheet.basin.valve, sheet.settles_at)
        && let Action::Proportional { open_level, shut_level } = valve.action
    {
        let lines = [
            "level = shut_level - makeup / capacity * (shut_level - open_level)".to_owned(),
            format!(
                "= {} - {} / {} * ({} - {})",
                six(shut_level),
                six(sheet.demand),
                six(valve.capacity),
                six(shut_level),
                six(open_level)
            ),
            format!("= {} m", significant(level, 5)),
        ];
        equation(
            &mut text,
            &lines,
            "a float arm in proportion; capacity = kv * sqrt(supply pressure in bar) (IEC 60534-2-1)",
        );
    }
    if let (Some(overflow), Some(level)) = (sheet.basin.overflow, sheet.stuck_level) {
        overflow_working(&mut text, overflow, level - sheet.basin.overflow_level);
    }
    let rates = [
        "d(basin)/dt = makeup + rain - evaporation - drift - blowdown - leakage - overflow - drain + \
         run_back"
            .to_owned(),
        format!(
            "with evaporation {}, drift {}, blowdown {}, leakage {}",
            six(circuit.evaporation),
            six(circuit.drift),
            six(circuit.blowdown),
            six(circuit.leakage)
        ),
        "d(solids)/dt = makeup - cycles * (drift + blowdown + leakage + overflow + drain)".to_owned(),
        "cycles = solids / (basin + held_up + elsewhere)".to_owned(),
    ];
    equation(
        &mut text,
        &rates,
        "balances of water and solids, well mixed; integrated by Dormand and Prince (1980) to 1e-9, \
         events found within the step",
    );
    super::marks::finished(text, style)
}

/// The relation that bounds the overflow at the level of a stuck valve.
fn overflow_working(text: &mut String, overflow: Overflow, head: f64) {
    let six = |number: f64| significant(number, 6);
    let over = |length: f64, rim: &str| {
        [
            "overflow = 3600 * 2 / 3 * 0.62 * sqrt(2 * 9.80665) * length * head^1.5".to_owned(),
            format!(
                "= 3600 * 2 / 3 * 0.62 * sqrt(2 * 9.80665) * {} * {}^1.5",
                six(length),
                six(head)
            ),
            format!("= {} m3/h over the {rim}", significant(weir(length, head), 5)),
        ]
    };
    let lines = match overflow {
        Overflow::Weir(length) => over(length, "weir"),
        Overflow::Pipe(diameter) => {
            let length = std::f64::consts::PI * diameter;
            match orifice(diameter, head) < weir(length, head) {
                false => over(length, "rim of the pipe"),
                true => [
                    "overflow = 3600 * 0.6 * 3.14159265 / 4 * diameter^2 * sqrt(2 * 9.80665 * head)"
                        .to_owned(),
                    format!(
                        "= 3600 * 0.6 * 3.14159265 / 4 * {}^2 * sqrt(2 * 9.80665 * {})",
                        six(diameter),
                        six(head)
                    ),
                    format!(
                        "= {} m3/h through the full pipe",
                        significant(orifice(diameter, head), 5)
                    ),
                ],
            }
        }
    };
    equation(text, &lines, SOURCE);
}

impl Page<'_> {
    fn flow(&self, m3_per_h: f64) -> String {
        let number = self.flow.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
        format!("{} {}", significant(number, 3), self.flow.symbol)
    }

    fn level(&self, metre: f64) -> String {
        format!("{} {}", with_decimals(self.length.of_si(metre), 3), self.length.symbol)
    }

    fn volume(&self, m3: f64) -> String {
        format!("{} {}", significant(self.volume.of_si(m3), 3), self.volume.symbol)
    }

    fn steady(&self) -> Vec<String> {
        let sheet = self.sheet;
        let mut lines = vec![format!(
            "Makeup now {}; {} evaporate. The basin holds {} at its operating level of {}, {} run \
             back at a pump stop, {} are elsewhere.",
            self.flow(sheet.demand),
            self.flow(sheet.circuit.evaporation),
            self.volume(sheet.basin.shape.volume(sheet.basin.operating_level)),
            self.level(sheet.basin.operating_level),
            self.volume(sheet.basin.held_up),
            self.volume(sheet.circuit.elsewhere),
        )];
        let Some(valve) = &sheet.basin.valve else {
            lines.push(
                "No makeup valve is described; the events start at the operating level.".into(),
            );
            return lines;
        };
        let needed = VALVE_OVER_DEMAND * sheet.demand;
        lines.push(match sheet.settles_at {
            Some(level) => {
                let how = match valve.action {
                    Action::Proportional { .. } => format!(
                        "The float settles at {}, {} % open: it droops as the demand grows.",
                        self.level(level),
                        with_decimals(100.0 * sheet.demand / valve.capacity, 0)
                    ),
                    Action::OnOff { .. } => {
                        format!("The valve swings about {}.", self.level(level))
                    }
                };
                format!(
                    "{how} Fully open it passes {}, {} times the makeup.",
                    self.flow(valve.capacity),
                    significant(valve.capacity / sheet.demand, 2)
                )
            }
            None => format!(
                "The valve passes {} at the most, less than the makeup: it needs {} ({} times the \
                 makeup, common practice).",
                self.flow(valve.capacity),
                self.flow(needed),
                VALVE_OVER_DEMAND
            ),
        });
        if let Some((now, open)) = sheet.velocity {
            let speed = |metre_per_s: f64| {
                let number = self.length.of_si(metre_per_s);
                format!("{} {}/s", significant(number, 2), self.length.symbol)
            };
            lines.push(format!(
                "Velocity in the makeup pipe: {}, {} with the valve fully open.",
                speed(now),
                speed(open)
            ));
        }
        lines
    }

    fn stop(&self) -> Vec<String> {
        let sheet = self.sheet;
        let stop = &sheet.stop;
        let mut first = format!(
            "From {} the water rises to {} after {}",
            self.level(sheet.start_level),
            self.level(stop.highest.0),
            time(stop.highest.1)
        );
        if stop.overflowed > 1e-3 {
            let _ = write!(
                first,
                "; {} go over the lip at {}, with the solids of {} of makeup.",
                self.volume(stop.overflowed),
                self.level(sheet.basin.overflow_level),
                self.volume(stop.overflowed_solids)
            );
        } else {
            let _ = write!(
                first,
                ", {} below the overflow.",
                self.level(sheet.basin.overflow_level - stop.highest.0)
            );
        }
        let mut lines = vec![first];
        if let Some(stops) = sheet.stops_per_day.filter(|_| stop.overflowed > 1e-3) {
            let day = stops * stop.overflowed;
            let year = day * sheet.hours_per_year / 24.0;
            lines.push(format!(
                "At {} stops a day: {} a day, {} a year{}.",
                significant(stops, 3),
                self.volume(day),
                self.volume(year),
                self.money(year)
            ));
        }
        lines.push(format!(
            "At the restart it falls to {} after {}{}.",
            self.level(sheet.restart_lowest.0),
            time((sheet.restart_lowest.1 - 2.0).max(0.0)),
            match sheet.basin.suction_level {
                Some(least) if sheet.restart_lowest.0 < least =>
                    format!(", below the {} that the suction needs", self.level(least)),
                Some(least) => format!("; the suction needs {}", self.level(least)),
                None => String::new(),
            }
        ));
        lines
    }

    /// Water with its price.
    fn money(&self, m3: f64) -> String {
        self.sheet.price.as_ref().map_or(String::new(), |(price, currency)| {
            format!(", {} {currency} of makeup", significant(price * m3, 3)).trim_end().to_owned()
        })
    }

    fn times(&self, course: &Course) -> String {
        let named = [
            ("low alarm", course.alarms_at),
            ("suction draws air", course.starves_at),
            ("pump trip", course.trips_at),
            ("basin empty", course.empties_at),
        ];
        let told: Vec<String> = named
            .iter()
            .filter_map(|(name, at)| Some(format!("{name} after {}", time((*at)?))))
            .collect();
        if told.is_empty() {
            "none of the levels is reached in a week".into()
        } else {
            told.join(", ")
        }
    }

    fn lost(&self) -> Vec<String> {
        vec![format!("With the pumps running on: {}.", self.times(&self.sheet.lost))]
    }

    fn stuck(&self) -> Vec<String> {
        let sheet = self.sheet;
        let Some(stuck) = &sheet.stuck else { return Vec::new() };
        let open = format!(
            "Stuck at {} % it lets in {}",
            significant(100.0 * sheet.questions.stuck, 3),
            self.flow(sheet.stuck_flow)
        );
        let Some(overflows_at) = stuck.overflows_at else {
            return vec![format!("{open}: the water does not reach the overflow in a week.")];
        };
        let last = stuck.samples.last().map_or(0.0, |sample| sample.overflow);
        let day = 24.0 * last;
        let mut lines = vec![format!(
            "{open}: the overflow runs after {}, in the end {}, {} a day.",
            time(overflows_at),
            self.flow(last),
            self.volume(day),
        )];
        if sheet.basin.overflow.is_none() {
            lines.push(format!(
                "What the overflow carries is not known: if it is less than {}, the basin floods.",
                self.flow(last)
            ));
        }
        if let Some(level) = sheet.stuck_level {
            lines.push(format!(
                "The overflow carries it under a head of {}.",
                self.level(level - sheet.basin.overflow_level)
            ));
        }
        lines.push(format!(
            "In a week {} of makeup, {} over the lip.",
            self.volume(stuck.makeup),
            self.volume(stuck.overflowed),
        ));
        lines.extend(sheet.stuck_bill.as_ref().map(|bill| self.bill(bill, stuck)));
        lines
    }

    /// What the week with the stuck valve costs more than an ordinary one.
    fn bill(&self, bill: &StuckBill, stuck: &Course) -> String {
        let amount = |money: f64| format!("{} {}", significant(money, 4), bill.currency);
        let part = |money: f64, of: &str| {
            let less = if money < 0.0 { "less " } else { "" };
            format!("{} {less}of {of}", amount(money.abs()).trim_end())
        };
        let saved = -bill.metered.blowdown;
        let mut words =
            format!("Against an ordinary week {} more", self.volume(bill.metered.makeup));
        if saved > 1e-3 {
            let _ = write!(
                words,
                ", because the controller saves {} of blowdown while the water is thin",
                self.volume(saved)
            );
        }
        let _ = write!(words, ": {}", part(bill.more.water, "makeup"));
        let on = bill.basis.map(|basis| {
            let _ = write!(words, ", {}", part(bill.more.sewer, "sewer"));
            billed_on(basis)
        });
        if bill.more.energy != 0.0 {
            let _ = write!(words, ", {}", part(bill.more.energy, "energy"));
        }
        let _ = write!(words, ", {} in all.", amount(bill.more.total()).trim_end());
        if let Some(on) = on {
            let _ = write!(words, " The sewer is billed on {on}.");
        }
        if bill.basis == Some(SewerBasis::Blowdown) {
            let _ = write!(
                words,
                " What spills is not metered: the utility may ask {} for it.",
                amount(stuck.overflowed * bill.sewer_price).trim_end()
            );
        }
        words + " Chemicals are not counted."
    }

    fn table(&self, text: &mut String, course: &Course) {
        let line = |text: &mut String, cells: [&str; 4]| {
            let [time, level, cycles, overflow] = cells;
            write_line(
                text,
                &format!("{time:>10}\u{1f}{level:>12}\u{1f}{cycles:>12}\u{1f}{overflow:>16}"),
            );
        };
        line(text, ["after", "level", "cycles", "overflow"]);
        line(text, ["", self.length.symbol, "", self.flow.symbol]);
        end_of_head(text);
        for hours in [0.0, 0.25, 1.0, 6.0, 24.0, 72.0, 168.0] {
            let Some(sample) = sample_at(course, hours) else { continue };
            line(
                text,
                [
                    &time(hours),
                    &with_decimals(self.length.of_si(sample.0), 3),
                    &with_decimals(sample.1, 2),
                    &significant(self.flow.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(sample.2)), 3),
                ],
            );
        }
    }

    fn drained(&self) -> Vec<String> {
        let Some(course) = &self.sheet.drained else { return Vec::new() };
        vec![format!("With the pumps and the float running: {}.", self.times(course))]
    }

    fn rained(&self) -> Vec<String> {
        let Some(course) = &self.sheet.rained else { return Vec::new() };
        let mut words = format!(
            "An hour of {} into the basin: the water rises to {}",
            self.flow(self.sheet.rain_flow),
            self.level(course.highest.0)
        );
        if course.overflowed > 1e-3 {
            let _ = write!(words, ", {} overflow", self.volume(course.overflowed));
        }
        vec![format!("{words}; the float shuts and saves as much makeup until then.")]
    }

    fn dilution(&self) -> Vec<String> {
        let sheet = self.sheet;
        let Some(dilution) = &sheet.dilution else { return Vec::new() };
        let mut lines = vec![format!(
            "From {} to {} cycles while the makeup keeps the level, pumps on and no load: drain {} in \
             all{}{}.",
            with_decimals(sheet.circuit.cycles, 2),
            with_decimals(dilution.cycles, 2),
            self.volume(dilution.volume),
            self.money(dilution.volume),
            dilution.hours.map_or(String::new(), |hours| format!(
                ", {} as fast as drain and makeup valve go",
                time(hours)
            )),
        )];
        if let Some((steps, volume)) = dilution.steps {
            lines.push(format!(
                "Draining and refilling the basin {steps} times in place of that: {}.",
                self.volume(volume)
            ));
        }
        lines
    }

    /// A fall of the level in an hour.
    fn fall(&self, mm_per_h: f64) -> String {
        match self.units {
            UnitSystem::Si => format!("{} mm/h", significant(mm_per_h, 2)),
            UnitSystem::UsCustomary => {
                format!("{} in/h", significant(mm_per_h / (1e3 * unit::FOOT.factor / 12.0), 2))
            }
        }
    }

    fn drop_test(&self) -> Vec<String> {
        let Some(leak) = &self.sheet.leak else { return Vec::new() };
        let signal = if leak.flow.abs() > 2.0 * leak.standard_uncertainty {
            "more than the test is unsure of"
        } else {
            "not more than the test is unsure of: it says nothing"
        };
        vec![
            format!(
                "Leak {} ± {} (k=2), after {} of evaporation from the still surface: {signal}.",
                self.flow(leak.flow),
                self.flow(2.0 * leak.standard_uncertainty),
                self.fall(self.sheet.still_evaporation)
            ),
            format!("Evaporation: {}; within half of it.", crate::basin::drop_test::SOURCE),
        ]
    }

    fn alarms(&self) -> Vec<String> {
        let sheet = self.sheet;
        let act = time(sheet.questions.act_hours);
        let mut lines = Vec::new();
        if let Some(level) = sheet.low_alarm_for_act {
            let now = sheet.act_hours_now.map_or(String::new(), |hours| {
                format!("; the one that is stated leaves {}", time(hours))
            });
            lines.push(format!(
                "A low alarm at {} leaves {act} without makeup{now}.",
                self.level(level)
            ));
        }
        if let Some(level) = sheet.high_alarm_for_act {
            lines.push(if level > sheet.start_level {
                format!("A high alarm at {} leaves {act} before the stuck valve overflows.", self.level(level))
            } else {
                format!(
                    "No high alarm leaves {act}: the stuck valve overflows sooner than that from where \
                     the float settles."
                )
            });
        }
        if let Some((gap, asked)) = sheet.air_gap {
            let asked = asked.map_or(String::new(), |asked| {
                format!("; two pipe diameters are {} (common practice)", self.level(asked))
            });
            lines.push(format!(
                "Air gap between the makeup's outlet and the overflow: {}{asked}. The local backflow \
                 rule decides.",
                self.level(gap)
            ));
        }
        lines
    }
}

fn billed_on(basis: SewerBasis) -> &'static str {
    match basis {
        SewerBasis::Makeup => "all makeup",
        SewerBasis::MakeupLessEvaporation => "makeup less evaporation",
        SewerBasis::Blowdown => "metered blowdown",
        SewerBasis::Share => "a fixed part of the makeup",
    }
}

/// Level, cycles and overflow at an hour, straight between samples.
fn sample_at(course: &Course, hour: f64) -> Option<(f64, f64, f64)> {
    let samples = &course.samples;
    let after = samples.iter().position(|sample| sample.hour >= hour)?;
    let late = &samples[after];
    let Some(early) = after.checked_sub(1).map(|index| &samples[index]) else {
        return Some((late.level, late.cycles, late.overflow));
    };
    let part =
        if late.hour > early.hour { (hour - early.hour) / (late.hour - early.hour) } else { 1.0 };
    let between = |a: f64, b: f64| a + part * (b - a);
    Some((
        between(early.level, late.level),
        between(early.cycles, late.cycles),
        between(early.overflow, late.overflow),
    ))
}

fn time(hours: f64) -> String {
    if hours < 1.5 {
        format!("{} min", significant(60.0 * hours, 2))
    } else if hours < 48.0 {
        format!("{} h", significant(hours, 3))
    } else {
        format!("{} d", significant(hours / 24.0, 3))
    }
}

/// The level for programs. Levels in m, flows in m3/h, times in h.
#[derive(Debug, Serialize)]
pub struct LevelOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Makeup now.
    pub makeup_m3_per_h: f64,
    /// Where the float settles.
    pub settles_at_m: Option<f64>,
    /// Capacity of the makeup valve.
    pub valve_capacity_m3_per_h: Option<f64>,
    /// A pump stop.
    pub pump_stop: EventOut,
    /// Lowest level after the restart.
    pub restart_lowest_m: f64,
    /// No makeup.
    pub makeup_lost: EventOut,
    /// Valve stuck open.
    pub stuck_open: Option<EventOut>,
    /// What the week with the valve stuck open costs more than an ordinary one.
    pub stuck_open_bill: Option<BillOut>,
    /// Drain left open.
    pub drain_open: Option<EventOut>,
    /// Rain.
    pub rain: Option<EventOut>,
    /// Low alarm that leaves the asked time.
    pub low_alarm_m: Option<f64>,
    /// High alarm that leaves the asked time.
    pub high_alarm_m: Option<f64>,
    /// Air gap.
    pub air_gap_m: Option<f64>,
    /// Water to drain for the asked cycles.
    pub dilution_m3: Option<f64>,
    /// Leak of the drop test.
    pub leak_m3_per_h: Option<f64>,
    /// Its standard uncertainty.
    pub leak_standard_uncertainty_m3_per_h: Option<f64>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
}

/// A week's bill less an ordinary week's, in the currency of the site; below zero where it is less.
#[derive(Debug, Serialize)]
pub struct BillOut {
    /// More makeup.
    pub makeup_m3: f64,
    /// More blowdown.
    pub blowdown_m3: f64,
    /// Money for the makeup.
    pub makeup: f64,
    /// Money for the sewer, on the site's basis.
    pub sewer: f64,
    /// Money for the energy of the makeup.
    pub energy: f64,
    /// All of it; the chemicals are not counted.
    pub total: f64,
    /// Currency of the site.
    pub currency: String,
}

fn bill_out(bill: &StuckBill) -> BillOut {
    BillOut {
        makeup_m3: bill.metered.makeup,
        blowdown_m3: bill.metered.blowdown,
        makeup: bill.more.water,
        sewer: bill.more.sewer,
        energy: bill.more.energy,
        total: bill.more.total(),
        currency: bill.currency.clone(),
    }
}

/// What came of an event.
#[derive(Debug, Serialize)]
pub struct EventOut {
    /// m.
    pub highest_m: f64,
    /// m.
    pub lowest_m: f64,
    /// m3.
    pub overflowed_m3: f64,
    /// m3 of makeup that held the solids.
    pub overflowed_solids_m3: f64,
    /// m3.
    pub makeup_m3: f64,
    /// h.
    pub overflows_at_h: Option<f64>,
    /// h.
    pub alarms_at_h: Option<f64>,
    /// h.
    pub starves_at_h: Option<f64>,
    /// h.
    pub trips_at_h: Option<f64>,
    /// h.
    pub empties_at_h: Option<f64>,
    /// At the end.
    pub final_level_m: f64,
    /// At the end.
    pub final_cycles: f64,
}

fn event(course: &Course) -> EventOut {
    let last = course.samples.last();
    EventOut {
        highest_m: course.highest.0,
        lowest_m: course.lowest.0,
        overflowed_m3: course.overflowed,
        overflowed_solids_m3: course.overflowed_solids,
        makeup_m3: course.makeup,
        overflows_at_h: course.overflows_at,
        alarms_at_h: course.alarms_at,
        starves_at_h: course.starves_at,
        trips_at_h: course.trips_at,
        empties_at_h: course.empties_at,
        final_level_m: last.map_or(f64::NAN, |sample| sample.level),
        final_cycles: last.map_or(f64::NAN, |sample| sample.cycles),
    }
}

/// The level for programs; `source` names the file.
pub fn json(sheet: &LevelSheet, source: &str) -> LevelOut {
    LevelOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        makeup_m3_per_h: sheet.demand,
        settles_at_m: sheet.settles_at,
        valve_capacity_m3_per_h: sheet.basin.valve.map(|valve| valve.capacity),
        pump_stop: event(&sheet.stop),
        restart_lowest_m: sheet.restart_lowest.0,
        makeup_lost: event(&sheet.lost),
        stuck_open: sheet.stuck.as_ref().map(event),
        stuck_open_bill: sheet.stuck_bill.as_ref().map(bill_out),
        drain_open: sheet.drained.as_ref().map(event),
        rain: sheet.rained.as_ref().map(event),
        low_alarm_m: sheet.low_alarm_for_act,
        high_alarm_m: sheet.high_alarm_for_act,
        air_gap_m: sheet.air_gap.map(|(gap, _)| gap),
        dilution_m3: sheet.dilution.map(|dilution| dilution.volume),
        leak_m3_per_h: sheet.leak.map(|leak| leak.flow),
        leak_standard_uncertainty_m3_per_h: sheet.leak.map(|leak| leak.standard_uncertainty),
        warnings: notices_out(&sheet.warnings),
    }
}

/// A point of the stuck valve's course, for CSV.
#[derive(Debug, Serialize)]
pub struct PointOut {
    /// From the start.
    pub hour: f64,
    /// m.
    pub level_m: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// m3/h.
    pub overflow_m3_per_h: f64,
}

/// The course of the stuck valve, for CSV; of the lost makeup where there is no valve.
pub fn points(sheet: &LevelSheet) -> Vec<PointOut> {
    let course = sheet.stuck.as_ref().unwrap_or(&sheet.lost);
    let point = |sample: &crate::basin::course::Sample| PointOut {
        hour: sample.hour,
        level_m: sample.level,
        cycles: sample.cycles,
        overflow_m3_per_h: sample.overflow,
    };
    course.samples.iter().map(point).collect()
}
