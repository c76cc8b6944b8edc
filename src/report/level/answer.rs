//! What a person acts on: what was asked, how the basin stands, what goes wrong and what that costs.

use super::{CAUTION, NOTHING, Of, hours, time};
use crate::basin::course::Course;
use crate::cost::StreamPrice;
use crate::model::{STOP_HOURS, StopLoss, StuckBill, VALVE_OVER_DEMAND};
use crate::quantity::unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::report::page::{Block, Column, Piece, Table, Words, constant, number, words};
use crate::report::{shown, uncertain, warnings};
use crate::site::Value;

/// The keys of an event's times: low alarm, air in the suction, trip, empty, overflow.
macro_rules! keys_of {
    ($event:literal) => {
        [
            concat!($event, ".alarms_at_h"),
            concat!($event, ".starves_at_h"),
            concat!($event, ".trips_at_h"),
            concat!($event, ".empties_at_h"),
            concat!($event, ".overflows_at_h"),
        ]
    };
}

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let asked = [self.leak(), self.dilution()];
        let stands = [
            Some(self.float()),
            Some(self.stops()),
            self.stuck_costs(),
            self.open_bleed(),
            Some(self.runs_dry()),
        ];
        let said = asked.into_iter().chain(stands).flatten().map(Block::paragraph);
        [Block::heading("ANSWER")]
            .into_iter()
            .chain(said)
            .chain([Block::Gap, Block::Table(self.times()), Block::paragraph(self.table_note())])
            .chain(warnings::blocks(&self.sheet.warnings))
            .chain(self.assumed())
            .chain([Block::Caution(CAUTION.into())])
            .collect()
    }

    /// A number with the ± that the inputs make of it, where that is worth telling.
    fn sure(&self, key: &'static str, result: &str, plain: String) -> Words {
        let sure = uncertain::notable(self.beside.uncertain, result);
        let currency = &self.sheet.currency;
        let shown = sure.map_or(plain, |sure| uncertain::shown(sure, currency, self.units));
        words![number(key, shown), sure.and_then(uncertain::assumed)]
    }

    /// What the drop test says.
    fn leak(&self) -> Option<Words> {
        let leak = self.sheet.leak.as_ref()?;
        let expanded = shown::COVERAGE * leak.standard_uncertainty;
        let shown = |sign: f64| {
            let [flow, half] = [sign * leak.flow, expanded].map(|flow| self.flow_number(flow));
            let symbol = self.flow_unit().symbol;
            let shown = format!("{} {symbol}", shown::with_uncertainty(flow, half));
            number("leak_m3_per_h", shown)
        };
        let surface = words![
            number("still_evaporation_mm_per_h", self.fall(self.sheet.still_evaporation)),
            " that the still surface gives off"
        ];
        Some(if leak.flow > expanded {
            words![
                "The basin leaks ",
                shown(1.0),
                " beyond the ",
                surface,
                ": ",
                number("leak_m3_per_day", self.volume(24.0 * leak.flow)),
                " a day. Look at the drain, the overflow's joint, pump glands and wet walls."
            ]
        } else if leak.flow < -expanded {
            words![
                "The level fell by less than the ",
                surface,
                ": ",
                shown(-1.0),
                " come in. See whether the makeup valve shuts tight, and whether it rained."
            ]
        } else {
            words![
                "The drop test does not tell a leak from none: ",
                shown(1.0),
                " beyond the ",
                surface,
                ". A longer test tells more."
            ]
        })
    }

    /// What brings the cycles down.
    fn dilution(&self) -> Option<Words> {
        let sheet = self.sheet;
        let dilution = sheet.dilution.as_ref()?;
        let cost = sheet.price.map(|price| {
            let cost = self.money("dilution.makeup_cost", price * dilution.volume);
            words![", ", cost, " of makeup"]
        });
        let lasts = dilution.hours.map(|lasts| {
            words![", ", hours("dilution.hours", lasts), " as fast as drain and makeup valve go"]
        });
        Some(words![
            "To bring the water from ",
            number("cycles", with_decimals(sheet.circuit.cycles, 2)),
            " to ",
            number("dilution.cycles", with_decimals(dilution.cycles, 2)),
            " cycles of concentration, drain ",
            number("dilution_m3", self.volume(dilution.volume)),
            " while the makeup keeps the level, pumps on and no load",
            cost,
            lasts,
            "."
        ])
    }

    /// Where the float settles, and what it can deliver against the need.
    fn float(&self) -> Words {
        let sheet = self.sheet;
        let need = self.sure("makeup_m3_per_h", "makeup_m3_per_h", self.flow(sheet.demand));
        let Some(valve) = &sheet.basin.valve else {
            return words![
                "No makeup valve is described, so that the events start at the operating level; the \
                 tower needs ",
                need,
                " of makeup now."
            ];
        };
        let capacity = number("valve_capacity_m3_per_h", self.flow(valve.capacity));
        let usual = constant(VALVE_OVER_DEMAND.to_string());
        let Some(level) = sheet.settles_at else {
            return words![
                "The makeup valve passes ",
                capacity,
                " at the most, less than the makeup of ",
                need,
                ": the basin runs dry. It should pass ",
                number("valve_needed_m3_per_h", self.flow(sheet.valve_needed())),
                " (",
                usual,
                " times the makeup, common practice)."
            ];
        };
        words![
            "The float settles at ",
            self.sure("settles_at_m", "settles_at_m", self.level(level)),
            ", ",
            number("settles_below_overflow_m", self.level(sheet.basin.overflow_level - level)),
            " under the overflow. Fully open the makeup valve passes ",
            capacity,
            ", ",
            number("valve_over_makeup", significant(valve.capacity / sheet.demand, 2)),
            " times the makeup of ",
            need,
            " (common practice: ",
            usual,
            " times or more)."
        ]
    }

    /// What a pump stop loses.
    fn stops(&self) -> Words {
        let sheet = self.sheet;
        let stop = &sheet.stop;
        if self.runs_back_is_assumed() {
            return "What runs back at a pump stop is not stated (basin.held_up): whether a stop overflows is not \
                    known."
                .into();
        }
        if stop.overflowed <= NOTHING {
            return words![
                "A pump stop raises the water to ",
                number("pump_stop.highest_m", self.level(stop.highest.0)),
                ", ",
                number(
                    "pump_stop.below_overflow_m",
                    self.level(sheet.basin.overflow_level - stop.highest.0)
                ),
                " under the overflow: nothing is lost."
            ];
        }
        let volume = self.sure(
            "pump_stop.overflowed_m3",
            "overflowed_at_a_stop_m3",
            self.volume(stop.overflowed),
        );
        let room = sheet.lower_for_stops().map(|by| {
            let by = number("lower_for_stops_m", self.level(by));
            words![" A float set ", by, " lower gives the stop its room."]
        });
        words![
            "Every pump stop sends ",
            volume,
            " of treated water over the lip",
            sheet.stop_loss.as_ref().map(|loss| self.lost_by_stops(loss)),
            ".",
            sheet.stop_loss.as_ref().map(|loss| self.cost_of_stops(loss)),
            room
        ]
    }

    fn lost_by_stops(&self, loss: &StopLoss) -> Words {
        words![
            "; at ",
            number("pump_stops.per_day", significant(loss.stops_per_day, 3)),
            " stops a day ",
            number("pump_stops.overflowed_m3_per_day", self.volume(loss.per_day)),
            " a day, ",
            number("pump_stops.overflowed_m3_per_year", self.volume(loss.per_year)),
            " a year"
        ]
    }

    /// What the stops change in the year's makeup and bill, and what is lost besides.
    fn cost_of_stops(&self, loss: &StopLoss) -> Words {
        let more = &loss.more;
        let saves = (more.blowdown < 0.0).then(|| {
            let less = self.volume(-more.blowdown);
            let less = number("pump_stops.blowdown_m3_per_year", less);
            words!["It carries solids out, so the controller bleeds ", less, " less a year: "]
        });
        let lead = if saves.is_some() { saves } else { Some("In a year ".into()) };
        let grows = more.makeup > NOTHING;
        let makeup = match (grows, more.money) {
            (true, _) => {
                let more = number("pump_stops.makeup_m3_per_year", self.volume(more.makeup));
                words!["the makeup grows by ", more]
            }
            (false, Some(0.0)) => "neither makeup nor bill grows".into(),
            (false, _) => "the makeup does not grow".into(),
        };
        let cost = |amount| self.money("pump_stops.cost_per_year", amount);
        let bill = more.money.filter(|amount| *amount != 0.0).map(|amount| match amount > 0.0 {
            true => words![if grows { ", " } else { ", but " }, "the bill by ", cost(amount)],
            false => words![
                ", and the bill falls by ",
                cost(-amount),
                ", for what spills passes no meter"
            ],
        });
        words![" ", lead, makeup, bill, ". A dose just fed is lost with it."]
    }

    /// What a week with the stuck valve costs.
    fn stuck_costs(&self) -> Option<Words> {
        let sheet = self.sheet;
        let stuck = sheet.stuck.as_ref()?;
        let part = (sheet.questions.stuck < 1.0).then(|| {
            let part = shown::percent(sheet.questions.stuck, 2);
            words![number("stuck_open_flow.valve_open_part", part), " "]
        });
        let valve = words!["A makeup valve stuck ", part, "open "];
        let Some(overflows_at) = stuck.overflows_at else {
            return Some(match stuck.empties_at {
                Some(at) => words![
                    valve,
                    "lets in less than the tower loses: the basin is empty after ",
                    hours("stuck_open.empties_at_h", at),
                    "."
                ],
                None => words![valve, "does not bring the water to the overflow in a week."],
            });
        };
        Some(words![
            valve,
            "runs over after ",
            hours("stuck_open.overflows_at_h", overflows_at),
            match &sheet.stuck_bill {
                Some(bill) => words![" and costs ", self.bill(bill)],
                None => words![
                    " and loses ",
                    number("stuck_open.overflowed_m3", self.volume(stuck.overflowed)),
                    " in a week."
                ],
            }
        ])
    }

    /// What a week with the bleed valve left open costs.
    fn open_bleed(&self) -> Option<Words> {
        let open = self.sheet.open_bleed.as_ref()?;
        let lead = words![
            "A bleed valve left open (",
            number("bleed_open.flow_m3_per_h", self.flow(open.flow)),
            ") "
        ];
        if open.outruns_makeup {
            return Some(words![
                lead,
                "takes more than the makeup valve passes: the basin runs dry."
            ]);
        }
        let thins = words![
            "takes ",
            number("bleed_open.makeup_m3", self.volume(open.metered.makeup)),
            " more makeup a week and thins the water to ",
            number("bleed_open.cycles", with_decimals(open.cycles, 2)),
            " cycles"
        ];
        let costs = open.more.map(|more| {
            let total = self.money("bleed_open.total", more.total());
            let [water, sewer, energy] =
                ["bleed_open.makeup", "bleed_open.sewer", "bleed_open.energy"];
            words![": ", total, " (", parts_of(more, [water, sewer, energy]), ")"]
        });
        Some(words![lead, thins, costs, "."])
    }

    fn bill(&self, bill: &StuckBill) -> Words {
        let parts = parts_of(
            bill.more,
            ["stuck_open_bill.makeup", "stuck_open_bill.sewer", "stuck_open_bill.energy"],
        );
        words![
            self.sure(
                "stuck_open_bill.total",
                "stuck_open_bill_total",
                self.amount(bill.more.total())
            ),
            " a week (",
            parts,
            "; chemicals not counted)."
        ]
    }

    /// How long the basin lasts without makeup, and what the low alarm leaves of that.
    fn runs_dry(&self) -> Words {
        let sheet = self.sheet;
        let lost = &sheet.lost;
        let dry = match lost.empties_at {
            Some(at) => words![
                "Without makeup, the pumps running on, the basin is empty after ",
                hours("makeup_lost.empties_at_h", at)
            ],
            None => "Without makeup the basin does not run empty in a week".into(),
        };
        let first = match (lost.starves_at, lost.trips_at) {
            (Some(air), trip) if trip.is_none_or(|trip| air <= trip) => "the suction draws air",
            _ => "the pumps trip",
        };
        let leaves = sheet.act_hours_now.map(|leaves| {
            words!["; the low alarm leaves ", hours("low_alarm_leaves_h", leaves), " until ", first]
        });
        let is_late = sheet.act_hours_now.is_none_or(|leaves| leaves < sheet.questions.act_hours);
        let better = sheet.low_alarm_for_act.filter(|_| is_late).map(|level| {
            words![
                "; one at ",
                number("low_alarm_m", self.level(level)),
                " leaves the ",
                hours("act_h", sheet.questions.act_hours),
                " that ",
                constant("--act"),
                " asks for"
            ]
        });
        words![dry, leaves, better, "."]
    }

    /// When what happens after each event.
    fn times(&self) -> Table {
        const NOT: &str = "-";
        const RAIN: &str = "an hour of rain";
        let mut columns = vec![Column::left(24)];
        columns.extend([11; 5].map(Column::right));
        let mut table = Table::new(columns);
        table.head(["after", "low alarm", "draws air", "pump trip", "empty", "overflow"]);
        let events: [(&str, Option<&Course>, [&'static str; 5]); 5] = [
            ("pump stop", Some(&self.sheet.stop), keys_of!("pump_stop")),
            ("makeup lost", Some(&self.sheet.lost), keys_of!("makeup_lost")),
            ("makeup valve stuck open", self.sheet.stuck.as_ref(), keys_of!("stuck_open")),
            ("drain left open", self.sheet.drained.as_ref(), keys_of!("drain_open")),
            (RAIN, self.sheet.rained.as_ref(), keys_of!("rain")),
        ];
        for (event, course, keys) in events {
            let Some(course) = course else { continue };
            // Rain that does nothing is told under `--full`.
            if event == RAIN && course.overflows_at.is_none() {
                continue;
            }
            let times = [
                course.alarms_at,
                course.starves_at,
                course.trips_at,
                course.empties_at,
                course.overflows_at,
            ];
            let cell = |(key, at): (&'static str, Option<f64>)| match at {
                Some(at) => words![hours(key, at)],
                None => NOT.into(),
            };
            let cells = keys.into_iter().zip(times).map(cell);
            table.row([Words::from(event)].into_iter().chain(cells));
        }
        table
    }

    fn table_note(&self) -> Words {
        let has_plus_minus = self
            .beside
            .uncertain
            .iter()
            .any(|result| uncertain::notable(self.beside.uncertain, &result.key).is_some());
        words![
            "The pumps run on, but for the stop of ",
            constant(format!("{} h", with_decimals(STOP_HOURS, 0))),
            "; - is not within a week",
            has_plus_minus.then(|| words!["; ± about ", constant("95 %")]),
            "."
        ]
    }

    /// Whether nobody stated what runs back at a pump stop.
    pub(super) fn runs_back_is_assumed(&self) -> bool {
        self.beside
            .slots
            .iter()
            .any(|value| value.path == "basin.held_up" && value.assumed.is_some())
    }

    /// What nobody stated and the level rests on.
    fn assumed(&self) -> Vec<Block> {
        let slots = self
            .beside
            .assumed()
            .map(|(value, _)| words![Words::given(&value.path), " ", self.assumed_value(value)]);
        let all = Words::joined(slots, ", ");
        let assumed = (!all.is_empty()).then(|| words!["Assumed: ", all, "."]);
        let unstated = uncertain::unstated_line(self.beside.uncertain, self.units);
        match Words::joined(assumed.into_iter().chain(unstated), " ") {
            none if none.is_empty() => Vec::new(),
            said => vec![Block::Gap, Block::paragraph(said)],
        }
    }

    pub(super) fn assumed_value(&self, value: &Value) -> Piece {
        let shown = match value.quantity {
            Quantity::Duration => time(value.si / 3_600.0),
            _ => shown::assumed_text(value, self.units),
        };
        number("assumptions.si", shown)
    }

    /// A fall of the level in an hour.
    pub(super) fn fall(&self, mm_per_h: f64) -> String {
        match self.units {
            UnitSystem::Si => format!("{} mm/h", significant(mm_per_h, 2)),
            UnitSystem::UsCustomary => {
                format!("{} in/h", significant(mm_per_h / (1e3 * unit::FOOT.factor / 12.0), 2))
            }
        }
    }
}

/// The parts of a bill that are not nothing, under their keys: makeup, sewer, energy.
fn parts_of(price: StreamPrice, keys: [&'static str; 3]) -> Words {
    let StreamPrice { water, sewer, energy } = price;
    let parts = [("makeup ", water), ("sewer ", sewer), ("energy ", energy)];
    let parts = parts
        .into_iter()
        .zip(keys)
        .filter(|((_, part), _)| *part != 0.0)
        .map(|((name, part), key)| words![name, number(key, significant(part, 3))]);
    Words::joined(parts, ", ")
}
