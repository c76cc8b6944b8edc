//! What each half-hour asks of the plant.

use super::calendar::weekday;
use super::plant::{Habit, Works};
use super::random::{Random, Wander};
use super::weather::Weather;

/// What is done with the basin at a cleaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basin {
    InUse,
    /// The makeup is shut off and the drain is open.
    Drained,
    /// Empty as far as it is to be, brushed and hosed out.
    Brushed,
}

/// Half an hour.
#[derive(Clone, Copy, Debug)]
pub struct Half {
    /// Part of the full heat.
    pub load: f64,
    /// Cells, with their pumps, that run.
    pub running: usize,
    /// The first of them; the others follow in turn.
    pub first: usize,
    pub basin: Basin,
}

const IDLE: Half = Half { load: 0.0, running: 0, first: 0, basin: Basin::InUse };

/// The plan of all half-hours.
pub fn plan(works: &Works, weather: &Weather) -> Vec<Half> {
    let mut random = Random::stream(works.seed, "load");
    let mut halves = match works.habit {
        Habit::Comfort { inside, outside, moisture, balance } => {
            comfort(works, weather, &mut random, [inside, outside, moisture, balance])
        }
        Habit::Vessels { count, hours, shifts, pumps_at_weekend } => {
            vessels(works, &mut random, count, hours, shifts, pumps_at_weekend)
        }
        Habit::Machines { from, to, pumps_at_night } => {
            machines(works, &mut random, from, to, pumps_at_night)
        }
    };
    clean(works, &mut random, &mut halves);
    halves
}

/// Chillers: they start where there is some heat to reject, and the second tower comes when one is not enough. The
/// towers change their turn every week.
fn comfort(works: &Works, weather: &Weather, random: &mut Random, parts: [f64; 4]) -> Vec<Half> {
    let [inside, outside, moisture, balance] = parts;
    let design = works.plates.dry_bulb;
    let holidays: Vec<bool> = (0..works.days).map(|_| random.chance(0.015)).collect();
    let mut people = Wander::new(random, 0.95, 0.06);
    let (mut on, mut both) = (false, false);
    let opens = random.between(6.0, 8.0);
    let closes = random.between(18.0, 21.0);
    let night = random.between(0.15, 0.4);
    (0..works.days * 48)
        .map(|k| {
            let time = k as f64 / 2.0;
            let day = k / 48;
            let hour = time % 24.0;
            let workday = weekday(works.start + day as i64) < 5 && !holidays[day];
            let open = hour > opens && hour < closes;
            let occupied = match (workday, open) {
                (true, true) => 1.0,
                (true, false) => night,
                (false, true) => night + 0.15,
                (false, false) => night,
            };
            let air = weather.air(time);
            let warm = ((air.dry_bulb - balance) / (design - balance)).max(0.0);
            let moist = ((air.humidity - 0.0085) / 0.008).max(0.0);
            let free = ((air.dry_bulb - (balance - 3.0)) / 3.0).clamp(0.0, 1.0);
            let wanted = free * inside * occupied
                + outside * warm * (0.5 + 0.5 * occupied)
                + moisture * moist * (0.3 + 0.7 * occupied);
            let load = (wanted * (1.0 + people.step(random))).clamp(0.0, 1.05);
            on = if on { load > 0.02 } else { load > 0.05 };
            both = if both { load > 0.38 } else { load > 0.47 };
            if !on {
                return IDLE;
            }
            Half {
                load,
                running: if both { 2 } else { 1 },
                first: (works.start as usize + day) / 7 % 2,
                basin: Basin::InUse,
            }
        })
        .collect()
}

/// Batches: most heat in the first third, little while a vessel is emptied; between batches it waits for the next.
fn vessels(
    works: &Works,
    random: &mut Random,
    count: usize,
    hours: f64,
    shifts: usize,
    pumps_at_weekend: bool,
) -> Vec<Half> {
    let total = works.days * 48;
    let mut load = vec![0.0; total];
    let mut works_on: Vec<bool> = vec![false; total];
    let holidays: Vec<bool> = (0..works.days).map(|_| random.chance(0.02)).collect();
    for (k, on) in works_on.iter_mut().enumerate() {
        let day = k / 48;
        let hour = (k % 48) as f64 / 2.0;
        *on = !holidays[day]
            && match weekday(works.start + day as i64) {
                0 => hour >= 5.5,
                1..=4 => shifts == 3 || (6.0..22.0).contains(&hour),
                5 => shifts == 3 && hour < 13.5,
                _ => false,
            };
    }
    let mut orders = Wander::new(random, 0.97, 0.5);
    for _ in 0..count {
        let mut k = random.whole(0, 20);
        while k < total {
            let busy = 0.8 + 0.3 * orders.step(random);
            if !works_on[k] || !random.chance(busy.clamp(0.25, 1.0)) {
                k += 2;
                continue;
            }
            let length =
                (2.0 * hours * random.normal_within(1.0, 0.12, 0.3)).round().max(4.0) as usize;
            let strength = random.normal_within(1.0, 0.08, 0.2);
            for step in 0..length.min(total - k) {
                let part = step as f64 / length as f64;
                let course = if part < 0.35 { 1.0 } else { 1.0 - 0.8 * (part - 0.35) / 0.65 };
                load[k + step] += strength * course / count as f64;
            }
            k += length + random.whole(1, 5);
        }
    }
    (0..total)
        .map(|k| {
            let running = works_on[k] || pumps_at_weekend || load[k] > 0.0;
            Half {
                load: load[k],
                running: if running { works.cells.len() } else { 0 },
                first: 0,
                basin: Basin::InUse,
            }
        })
        .collect()
}

/// Machines of one shift, with a dip at noon; now and then somebody works on a Saturday.
fn machines(
    works: &Works,
    random: &mut Random,
    from: f64,
    to: f64,
    pumps_at_night: bool,
) -> Vec<Half> {
    let mut use_of_day = Wander::new(random, 0.7, 0.14);
    let mut halves = Vec::with_capacity(works.days * 48);
    for day in 0..works.days {
        let share = (0.72 + use_of_day.step(random)).clamp(0.3, 1.0);
        let works_today = match weekday(works.start + day as i64) {
            0..=4 => !random.chance(0.02),
            5 => random.chance(0.08),
            _ => false,
        };
        for k in 0..48 {
            let hour = k as f64 / 2.0;
            let on = works_today && hour >= from && hour < to;
            let noon = if (12.0..13.0).contains(&hour) { 0.4 } else { 1.0 };
            halves.push(if on {
                let load = share * noon * random.normal_within(1.0, 0.1, 0.25);
                Half { load, running: 1, ..IDLE }
            } else {
                Half { running: usize::from(pumps_at_night), ..IDLE }
            });
        }
    }
    halves
}

/// Puts the cleanings in: nothing runs from the drain's opening to the end of the brushing.
fn clean(works: &Works, random: &mut Random, halves: &mut [Half]) {
    let Some(cleaning) = works.cleaning else { return };
    let first =
        (0..7).find(|day| weekday(works.start + day) == cleaning.weekday).unwrap_or(0) as usize;
    let mut day = first + 7 * random.whole(0, cleaning.every / 7 - 1);
    while day < works.days {
        // Now and then there is no time for it, or it comes a week late.
        let late = if random.chance(0.05) { 7 } else { 0 };
        if !random.chance(0.05) {
            let from =
                (day + late) * 48 + (2.0 * (cleaning.hour + random.between(-1.0, 1.0))) as usize;
            for k in from..(from + 6).min(halves.len()) {
                halves[k] = Half {
                    basin: if k < from + 4 { Basin::Drained } else { Basin::Brushed },
                    ..IDLE
                };
            }
        }
        day += cleaning.every;
    }
}
