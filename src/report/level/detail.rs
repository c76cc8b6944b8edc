//! All about the level: what the basin holds, each event, alarms, what was asked besides.

use super::{COURSE_HOURS, NOTHING, Of, hours, last_overflow, sample_at};
use crate::basin::course::{CONTROL_BAND, Course};
use crate::basin::drop_test::EVAPORATION_LIMIT;
use crate::basin::valve::Action;
use crate::basin::{drop_test, outflow};
use crate::model::{AIR_GAP_DIAMETERS, DropReading, StuckBill};
use crate::quantity::{Quantity, significant, with_decimals};
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::report::shown;
use crate::site::{DROP_READING_LIMITS, SewerBasis};

impl Of<'_> {
    pub(super) fn detail(&self) -> Vec<Block> {
        let section = |title: &str, lines: Vec<Words>| {
            let heading = (!lines.is_empty()).then(|| Block::heading(title));
            heading.into_iter().chain(lines.into_iter().map(Block::paragraph)).collect::<Vec<_>>()
        };
        let discharge = words!["Discharge: ", constant(outflow::SOURCE), "."];
        [
            section("STEADY LEVEL", self.steady()),
            section("A PUMP STOP", self.stop()),
            section("MAKEUP VALVE STUCK OPEN", self.stuck()),
            self.course().map(Block::Table).into_iter().collect(),
            section("RAIN", self.rained().into_iter().collect()),
            section("ALARMS AND AIR GAP", self.alarms()),
            section("BRINGING THE CYCLES DOWN", self.refills().into_iter().collect()),
            section("DROP TEST", self.drop_test()),
            section("WHAT IT RESTS ON", self.basis().chain([discharge]).collect()),
        ]
        .concat()
    }

    /// What is taken for granted, and what nobody stated.
    fn basis(&self) -> impl Iterator<Item = Words> {
        let band = shown::whole_percent(CONTROL_BAND);
        let granted = words![
            "Taken for granted: the water is well mixed; a controller shuts the blowdown over ",
            constant(band),
            " of the cycles below those that it holds; ",
            constant("95 %"),
            " of what is held up has run back in the stated time."
        ];
        let assumed = self.beside.assumed().map(|(value, basis)| {
            let shown = self.assumed_value(value);
            words![Words::given(&value.path), " ", shown, ": ", constant(basis), "."]
        });
        [granted].into_iter().chain(assumed)
    }

    fn steady(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let basin = &sheet.basin;
        let holds = words![
            "Makeup now ",
            number("makeup_m3_per_h", self.flow(sheet.demand)),
            "; ",
            number("evaporation_m3_per_h", self.flow(sheet.circuit.evaporation)),
            " evaporate. The basin holds ",
            number("operating_volume_m3", self.volume(basin.shape.volume(basin.operating_level))),
            " at its operating level of ",
            number("operating_level_m", self.level(basin.operating_level)),
            ", ",
            number("runs_back_m3", self.volume(basin.held_up)),
            " run back at a pump stop, ",
            number("elsewhere_m3", self.volume(sheet.circuit.elsewhere)),
            " are elsewhere."
        ];
        [holds].into_iter().chain(self.valve()).chain(self.velocity()).collect()
    }

    /// How the valve stands.
    fn valve(&self) -> Option<Words> {
        let valve = self.sheet.basin.valve?;
        let level = number("settles_at_m", self.level(self.sheet.settles_at?));
        Some(match valve.action {
            Action::Proportional { .. } => {
                let open = with_decimals(100.0 * self.sheet.demand / valve.capacity, 0);
                words![
                    "The float settles at ",
                    level,
                    ", ",
                    number("valve_open_part", format!("{open} %")),
                    " open: it droops as the demand grows."
                ]
            }
            Action::OnOff { .. } => words!["The valve swings about ", level, "."],
        })
    }

    fn velocity(&self) -> Option<Words> {
        let unit = self.unit(Quantity::Length);
        let speed = |key, metre_per_s: f64| {
            let shown = significant(unit.of_si(metre_per_s), 2);
            number(key, format!("{shown} {}/s", unit.symbol))
        };
        let (now, open) = self.sheet.velocity?;
        Some(words![
            "Velocity in the makeup pipe: ",
            speed("makeup_velocity_m_per_s", now),
            ", ",
            speed("makeup_velocity_valve_open_m_per_s", open),
            " with the valve fully open."
        ])
    }

    fn stop(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let stop = &sheet.stop;
        if self.runs_back_is_assumed() {
            return vec![words![
                "What runs back at a pump stop is not stated (",
                constant("basin.held_up"),
                "): it is taken as nothing, so that a stop changes no level here. Pipes, distribution basins and \
                 fill above the water do run back."
            ]];
        }
        let rises = words![
            "From ",
            number("start_level_m", self.level(sheet.start_level)),
            " the water rises to ",
            number("pump_stop.highest_m", self.level(stop.highest.0)),
            " after ",
            hours("pump_stop.highest_at_h", stop.highest.1),
            match stop.overflowed > NOTHING {
                true => words![
                    "; ",
                    number("pump_stop.overflowed_m3", self.volume(stop.overflowed)),
                    " go over the lip at ",
                    number("overflow_level_m", self.level(sheet.basin.overflow_level)),
                    ", with the solids of ",
                    number("pump_stop.overflowed_solids_m3", self.volume(stop.overflowed_solids)),
                    " of makeup."
                ],
                false => words![
                    ", ",
                    number(
                        "pump_stop.below_overflow_m",
                        self.level(sheet.basin.overflow_level - stop.highest.0)
                    ),
                    " below the overflow."
                ],
            }
        ];
        let (lowest, after) = sheet.restart_lowest;
        let needs = sheet.basin.suction_level.map(|least| {
            let needed = number("suction_level_m", self.level(least));
            match lowest < least {
                true => words![", below the ", needed, " that the suction needs"],
                false => words!["; the suction needs ", needed],
            }
        });
        let restart = words![
            "At the restart it falls to ",
            number("restart_lowest_m", self.level(lowest)),
            " after ",
            hours("restart_lowest_at_h", after),
            needs,
            "."
        ];
        vec![rises, restart]
    }

    fn stuck(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let Some(stuck) = &sheet.stuck else { return Vec::new() };
        let percent = shown::percent(sheet.questions.stuck, 3);
        let open = words![
            "Stuck at ",
            number("stuck_open_flow.valve_open_part", percent),
            " it lets in ",
            number("stuck_open_flow.makeup_m3_per_h", self.flow(sheet.stuck_flow))
        ];
        let Some(overflows_at) = stuck.overflows_at else {
            return vec![match stuck.empties_at {
                Some(at) => words![
                    open,
                    ", less than is lost: the basin is empty after ",
                    hours("stuck_open.empties_at_h", at),
                    "."
                ],
                None => words![open, ": the water does not reach the overflow in a week."],
            }];
        };
        let last = last_overflow(stuck);
        let in_the_end = || number("stuck_open_flow.overflow_m3_per_h", self.flow(last));
        let runs = words![
            open,
            ": the overflow runs after ",
            hours("stuck_open.overflows_at_h", overflows_at),
            ", in the end ",
            in_the_end(),
            ", ",
            number("stuck_open_flow.overflow_m3_per_day", self.volume(24.0 * last)),
            " a day."
        ];
        let floods = sheet.basin.overflow.is_none().then(|| {
            words![
                "What the overflow carries is not known: if it is less than ",
                in_the_end(),
                ", the basin floods."
            ]
        });
        let head = sheet.stuck_level.map(|level| {
            let head = self.level(level - sheet.basin.overflow_level);
            let head = number("stuck_open_flow.head_m", head);
            words!["The overflow carries it under a head of ", head, "."]
        });
        let week = words![
            "In a week ",
            number("stuck_open.makeup_m3", self.volume(stuck.makeup)),
            " of makeup, ",
            number("stuck_open.overflowed_m3", self.volume(stuck.overflowed)),
            " over the lip."
        ];
        let bill = sheet.stuck_bill.as_ref().map(|bill| self.bill_in_full(bill, stuck));
        [Some(runs), floods, head, Some(week), bill].into_iter().flatten().collect()
    }

    /// What the week with the stuck valve costs more than an ordinary one.
    fn bill_in_full(&self, bill: &StuckBill, stuck: &Course) -> Words {
        let amount = |key, amount| self.money(key, amount);
        let part = |key, money: f64, of: &str| {
            let less = (money < 0.0).then_some("less ");
            words![amount(key, money.abs()), " ", less, "of ", of]
        };
        let saved = -bill.metered.blowdown;
        let saves = (saved > NOTHING).then(|| {
            words![
                ", because the controller saves ",
                number("stuck_open_bill.blowdown_m3", self.volume(saved)),
                " of blowdown while the water is thin"
            ]
        });
        let sewer = bill
            .basis
            .map(|_| words![", ", part("stuck_open_bill.sewer", bill.more.sewer, "sewer")]);
        let energy = (bill.more.energy != 0.0)
            .then(|| words![", ", part("stuck_open_bill.energy", bill.more.energy, "energy")]);
        let basis =
            bill.basis.map(|basis| words![" The sewer is billed on ", billed_on(basis), "."]);
        let spilled = (bill.basis == Some(SewerBasis::Blowdown)).then(|| {
            words![
                " What spills is not metered: the utility may ask ",
                amount("stuck_open_bill.spilled_sewer", stuck.overflowed * bill.sewer_price),
                " for it."
            ]
        });
        words![
            "Against an ordinary week ",
            number("stuck_open_bill.makeup_m3", self.volume(bill.metered.makeup)),
            " more",
            saves,
            ": ",
            part("stuck_open_bill.makeup", bill.more.water, "makeup"),
            sewer,
            energy,
            ", ",
            amount("stuck_open_bill.total", bill.more.total()),
            " in all.",
            basis,
            spilled,
            " Chemicals are not counted."
        ]
    }

    /// The stuck valve's course.
    fn course(&self) -> Option<Table> {
        let stuck = self.sheet.stuck.as_ref()?;
        let mut table = Table::new([10, 12, 12, 16].map(Column::right));
        table.head(["after", "level", "cycles", "overflow"]);
        let [length, flow] =
            [Quantity::Length, Quantity::VolumeFlow].map(|quantity| self.unit(quantity).symbol);
        table.head(["", length, "", flow]);
        for sample in COURSE_HOURS.iter().filter_map(|hour| sample_at(stuck, *hour)) {
            table.row([
                hours("stuck_open_flow.course.hour", sample.hour),
                number("stuck_open_flow.course.level_m", self.plain_level(sample.level)),
                number("stuck_open_flow.course.cycles", with_decimals(sample.cycles, 2)),
                number(
                    "stuck_open_flow.course.overflow_m3_per_h",
                    self.plain_flow(sample.overflow),
                ),
            ]);
        }
        Some(table)
    }

    fn rained(&self) -> Option<Words> {
        let course = self.sheet.rained.as_ref()?;
        let spills = (course.overflowed > NOTHING).then(|| {
            words![", ", number("rain.overflowed_m3", self.volume(course.overflowed)), " overflow"]
        });
        Some(words![
            "An hour of ",
            number("rain_m3_per_h", self.flow(self.sheet.rain_flow)),
            " into the basin: the water rises to ",
            number("rain.highest_m", self.level(course.highest.0)),
            spills,
            "; the float shuts and saves as much makeup until then."
        ])
    }

    fn refills(&self) -> Option<Words> {
        let (steps, volume) = self.sheet.dilution?.steps?;
        Some(words![
            "Draining and refilling the basin ",
            number("dilution.refills", steps.to_string()),
            " times in place of a steady drain: ",
            number("dilution.refills_m3", self.volume(volume)),
            "."
        ])
    }

    fn drop_test(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let Some(leak) = &sheet.leak else { return Vec::new() };
        let half = with_decimals(100.0 * EVAPORATION_LIMIT, 0);
        let assumed = sheet.questions.drop_test.map(|read| self.assumed_of_drop(&read));
        let standard = self.flow(leak.standard_uncertainty);
        vec![
            words![
                "Standard uncertainty of the leak ",
                number("leak_standard_uncertainty_m3_per_h", standard),
                ", from level, time, area and evaporation.",
                assumed
            ],
            words![
                "Evaporation ",
                number("still_evaporation_mm_per_h", self.fall(self.sheet.still_evaporation)),
                " within ",
                constant(format!("{half} %")),
                ": ",
                constant(drop_test::SOURCE),
                "."
            ],
        ]
    }

    /// The uncertainties of the readings that nobody stated.
    fn assumed_of_drop(&self, read: &DropReading) -> Option<Words> {
        let (level, seconds) = DROP_READING_LIMITS;
        let limits =
            [format!("{} mm of level", 1e3 * level), format!("{} min of time", seconds / 60.0)];
        let assumed = limits.into_iter().zip(read.is_assumed).filter(|(_, is_assumed)| *is_assumed);
        let assumed = Words::joined(assumed.map(|(limit, _)| words![constant(limit)]), " and ");
        (!assumed.is_empty()).then(|| {
            words![
                " No ± was given for the readings: ",
                assumed,
                " are taken as limits (common practice)."
            ]
        })
    }

    fn alarms(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let act = || hours("act_h", sheet.questions.act_hours);
        let low = sheet.low_alarm_for_act.map(|level| {
            let now = sheet.act_hours_now.map(|leaves| {
                let leaves = hours("low_alarm_leaves_h", leaves);
                words!["; the one that is stated leaves ", leaves]
            });
            let level = number("low_alarm_m", self.level(level));
            words!["A low alarm at ", level, " leaves ", act(), " without makeup", now, "."]
        });
        let overflows = sheet.stuck.as_ref().is_some_and(|stuck| stuck.overflows_at.is_some());
        let high = overflows.then(|| match sheet.high_alarm_for_act {
            Some(level) => words![
                "A high alarm at ",
                number("high_alarm_m", self.level(level)),
                " leaves ",
                act(),
                " before the stuck valve overflows."
            ],
            None => words![
                "No high alarm leaves ",
                act(),
                ": the stuck valve overflows sooner than that from where the float settles."
            ],
        });
        let gap = sheet.air_gap.map(|(gap, needed)| {
            let needed = needed.map(|needed| {
                words![
                    "; ",
                    constant(AIR_GAP_DIAMETERS.to_string()),
                    " pipe diameters are ",
                    number("air_gap_needed_m", self.level(needed)),
                    " (common practice)"
                ]
            });
            words![
                "Air gap between the makeup's outlet and the overflow: ",
                number("air_gap_m", self.level(gap)),
                needed,
                ". The local backflow rule decides."
            ]
        });
        [low, high, gap].into_iter().flatten().collect()
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
