//! What the blowdown is set to, by whatever opens its valve, and whether the valve can do it.

use super::{Balance, Inputs, Model};
use crate::balance::WaterBalance;
use crate::blowdown::control::{HALF_LOAD, SHIFT_MINUTES};
use crate::blowdown::set_point::{ValveDuty, ValveState, ValveWork};
use crate::quantity::{significant, with_decimals};
use crate::site::Control;
use crate::warnings::Noticed;
use crate::warnings::blowdown::VALVE_TOO_SMALL;

/// What the blowdown is set to for the target, at this hour's load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// What opens the valve; a conductivity controller where nobody says.
    pub control: Control,
    /// What it does.
    pub duty: ValveDuty,
    /// What is left of the cycles at [`HALF_LOAD`]; a controller holds them.
    pub cycles_at_half_load: f64,
    /// Blowdown that holds the target at this hour's load, m3/h.
    pub blowdown: f64,
    /// Minutes an hour that a clock opens the valve, where its flow is stated and large enough.
    pub minutes_an_hour: Option<f64>,
    /// Minutes of a shift that somebody opens the valve.
    pub minutes_a_shift: Option<f64>,
    /// Cycles that the water gains while the valve is shut for the rest of the shift.
    pub rise_in_shift: Option<f64>,
    /// The part of the makeup that is bled.
    pub bled_part: f64,
    /// Makeup of a pulse, m3.
    pub pulse: Option<f64>,
    /// Seconds that a pulse opens the valve.
    pub seconds_a_pulse: Option<f64>,
}

impl Setting {
    /// Blowdown for a pulse of the makeup meter, m3.
    pub fn bled_a_pulse(&self) -> Option<f64> {
        self.pulse.map(|pulse| self.bled_part * pulse)
    }
}

impl Model {
    /// What the valve has to do for these cycles; nothing where no water evaporates.
    pub(super) fn valve_duty(
        &self,
        inputs: &Inputs,
        water: &WaterBalance,
        cycles: f64,
    ) -> Option<ValveDuty> {
        let hourly = Balance::reference_m3_per_h;
        let evaporation = hourly(water.evaporation_kg_per_s);
        (evaporation > 0.0 && cycles.is_finite()).then(|| ValveDuty {
            evaporation,
            other_losses: hourly(water.losses().liquid_kg_per_s()),
            volume: self.volume_m3(inputs),
            cycles,
            dead_band: inputs.get(self.site.chemistry.dead_band),
        })
    }

    /// Flow of the open valve, m3/h, where it is stated.
    fn stated_valve_flow(&self, inputs: &Inputs, balance: &Balance) -> Option<f64> {
        let slot = self.site.chemistry.valve_flow?;
        Some(self.hourly_volume(inputs, slot, balance.state.cold_water_celsius))
    }

    /// What the stated valve does for these cycles.
    pub(super) fn valve_work(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        cycles: f64,
    ) -> Option<ValveWork> {
        let flow = self.stated_valve_flow(inputs, balance)?;
        Some(self.valve_duty(inputs, &balance.water, cycles)?.with_valve(flow))
    }

    /// What is to be said of a valve that cannot hold these cycles.
    pub(super) fn valve_too_small(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        cycles: f64,
    ) -> Option<Noticed> {
        told(&self.valve_work(inputs, balance, cycles)?, cycles)
    }

    /// What the blowdown is set to for these cycles.
    pub(super) fn setting(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        cycles: f64,
    ) -> Option<Setting> {
        let control = self.site.control.unwrap_or(Control::Conductivity);
        let duty = self.valve_duty(inputs, &balance.water, cycles)?;
        let flow = self.stated_valve_flow(inputs, balance);
        let open_part = flow.map(|flow| duty.open_part(flow)).filter(|part| *part <= 1.0);
        let bled_part = duty.bled_part();
        let pulse = self.site.chemistry.makeup_pulse.map(|slot| inputs.get(slot));
        let minutes_a_shift = open_part.map(|part| SHIFT_MINUTES * part);
        let shut_hours = minutes_a_shift.map(|minutes| (SHIFT_MINUTES - minutes) / 60.0);
        Some(Setting {
            control,
            duty,
            cycles_at_half_load: match control {
                Control::Conductivity => cycles,
                Control::MakeupPaced => duty.cycles_of_paced(HALF_LOAD),
                Control::Timer | Control::Continuous | Control::Manual => {
                    duty.cycles_of_fixed_flow(HALF_LOAD)
                }
            },
            blowdown: duty.mean_flow(),
            minutes_an_hour: open_part.map(|part| 60.0 * part),
            minutes_a_shift,
            rise_in_shift: duty
                .volume
                .zip(shut_hours)
                .map(|(volume, hours)| hours * duty.evaporation / volume),
            bled_part,
            pulse,
            seconds_a_pulse: pulse
                .zip(flow)
                .map(|(pulse, flow)| 3_600.0 * bled_part * pulse / flow),
        })
    }
}

/// What is to be said of a valve that is too small for these cycles.
pub(super) fn told(valve: &ValveWork, cycles: f64) -> Option<Noticed> {
    (valve.state == ValveState::TooSmall).then(|| {
        let part = with_decimals(100.0 * valve.valve_flow / valve.mean_flow, 0);
        let holds = match valve.open_holds < 10.0 {
            true => with_decimals(valve.open_holds, 2),
            false => significant(valve.open_holds, 3),
        };
        VALVE_TOO_SMALL.with(format!(
            "Open all the time, the valve passes {part} % of what {} cycles ask for at this load, and the \
             water goes to {holds} cycles.",
            with_decimals(cycles, 2)
        ))
    })
}
