//! Checks what a description says of water chemistry.

use super::analysis::Role;
use super::{Check, SOME, WATER_TEMPERATURE};
use crate::blowdown::limit::{self, Bound, Limit, Measure, StatedLimits};
use crate::chemistry::{Constituent, Mineral};
use crate::quantity::{Fraction, Measured, Ratio, Stated, Temperature, Uncertainty};
use crate::site::description::{Analysis, Circuit, Control, Description, Material, OwnLimit, Ph};
use crate::site::{GasGiven, Limits, PhGiven, Problem, SiteAnalysis, SiteChemistry, SlotId};

const LOG10_CARBON_DIOXIDE: Limits = Limits::between(-6.0, 0.0);
/// Controllers' dead bands.
const DEAD_BAND: Limits = Limits::above(0.0, 0.5);

/// Between the published line with the most carbon dioxide and equilibrium with air.
const TOWARD_AIR: Limits = Limits::between(-1.0, 1.0);
const ASSUMED_TOWARD_AIR: &str = "no pH was measured in the tower; 0 is the field line pH = 1.6 log10(alkalinity) + 4.4 (Kunz), 1 equilibrium with air, -1 the line 1.465 log10(alkalinity) + 4.54 (Puckorius), all after Vanderpool (2004, AWT Analyst)";
const ASSUMED_DEAD_BAND: &str = "not stated; 5 % of the set point, common practice";

impl Check {
    pub(super) fn chemistry(
        &mut self,
        description: &Description,
        circuit: &Circuit,
    ) -> Option<SiteChemistry> {
        let hottest_surface = self.value(
            "circuit.hottest_surface",
            &circuit.hottest_surface,
            Limits::above(WATER_TEMPERATURE.least, crate::water::ZERO_CELSIUS + 90.0),
        );
        let circulating_water = self.circulating_water(description);
        let ph = self.ph(description, circulating_water.as_ref().and_then(Option::as_ref));
        let blowdown = description.blowdown.clone().unwrap_or_default();
        let dead_band = self.value_or(
            "blowdown.dead_band",
            &blowdown.dead_band,
            DEAD_BAND,
            (Fraction::percent(5.0).into(), ASSUMED_DEAD_BAND),
        );
        let longest_half_life =
            self.value("blowdown.longest_half_life", &blowdown.longest_half_life, SOME);
        if longest_half_life.is_some() && circuit.volume.is_none() && description.basin.is_none() {
            self.problem(
                Problem::new(
                    "blowdown.longest_half_life",
                    "a half-life needs the water in the system",
                )
                .with_help("write volume = \"60 m3\" in [circuit]: basin, pipes and equipment"),
            );
        }
        let valve_flow = self.value("blowdown.valve_flow", &blowdown.valve_flow, SOME);
        let valve_pressure_drop =
            self.value("blowdown.valve_pressure_drop", &blowdown.valve_pressure_drop, SOME);
        let makeup_pulse = self.value("blowdown.makeup_pulse", &blowdown.makeup_pulse, SOME);
        if makeup_pulse.is_some() && blowdown.control != Some(Control::MakeupPaced) {
            self.problem(
                Problem::new("blowdown.makeup_pulse", "no makeup meter paces the blowdown")
                    .with_help("write control = \"makeup_paced\" beside it"),
            );
        }
        Some(SiteChemistry {
            ph: ph?,
            circulating_water: circulating_water?,
            limits: self.limits(description),
            hottest_surface,
            coldest_basin: self.coldest_basin(circuit),
            dead_band: dead_band?,
            longest_half_life,
            valve_flow,
            valve_pressure_drop,
            makeup_pulse,
        })
    }

    fn coldest_basin(&mut self, circuit: &Circuit) -> Option<SlotId> {
        let path = "circuit.coldest_basin";
        let slot = self.value(path, &circuit.coldest_basin, WATER_TEMPERATURE)?;
        if circuit.cold_water.is_some_and(|cold| cold.value.si() < self.slots[slot.0].si) {
            self.problem(
                Problem::new(path, "the coldest basin is warmer than the cold water")
                    .with_related("circuit.cold_water"),
            );
        }
        Some(slot)
    }

    /// The outer `None` is a problem, the inner one a site without an analysis.
    fn circulating_water(&mut self, description: &Description) -> Option<Option<SiteAnalysis>> {
        let Some(described) = &description.circulating_water else { return Some(None) };
        let circuit = description.circuit.clone().unwrap_or_default();
        // The sample is taken from the basin.
        let (celsius, basis) = match circuit.cold_water {
            Some(cold) => (cold.value, "not stated; that of the cold water"),
            None => (Temperature::celsius(25.0), "not stated; 25 °C"),
        };
        let temperature = self.value_or(
            "circulating_water.temperature",
            &described.temperature,
            WATER_TEMPERATURE,
            (celsius.into(), basis),
        )?;
        let described = Analysis { temperature: None, ..described.clone() };
        self.analysis("circulating_water", &described, temperature, Role::Circulating).map(Some)
    }

    fn ph(
        &mut self,
        description: &Description,
        circulating: Option<&SiteAnalysis>,
    ) -> Option<PhGiven> {
        let described = description.ph.clone().unwrap_or_default();
        let held = self.value("ph.held", &described.held, Limits::between(5.0, 10.0));
        if described.acid.is_some() && described.held.is_none() {
            self.problem(
                Problem::new("ph.acid", "an acid without the pH that it holds")
                    .with_help("write held = 8.0 beside it"),
            );
            return None;
        }
        if described.held.is_some() && held.is_none() {
            return None;
        }
        let gas = self.gas(&described, held, circulating)?;
        Some(PhGiven { held: held.map(|ph| (ph, described.acid.unwrap_or_default())), gas })
    }

    /// What fixes the carbon dioxide: what is stated, else what the tower's own analysis implies, else the
    /// field lines.
    fn gas(
        &mut self,
        described: &Ph,
        held: Option<SlotId>,
        circulating: Option<&SiteAnalysis>,
    ) -> Option<GasGiven> {
        const PRESSURE: &str = "ph.log10_carbon_dioxide";
        const LINE: &str = "ph.alkalinity_line";
        const TOWARD: &str = "ph.toward_air";
        let on_line = described.alkalinity_line == Some(true);
        let stated: Vec<&str> = [
            (PRESSURE, described.log10_carbon_dioxide.is_some()),
            (LINE, on_line),
            (TOWARD, described.toward_air.is_some() && !on_line),
        ]
        .into_iter()
        .filter_map(|(path, is_stated)| is_stated.then_some(path))
        .collect();
        if stated.len() > 1 {
            self.over_determined(
                &stated,
                "the carbon dioxide is fixed twice",
                "keep log10_carbon_dioxide, or the field lines with alkalinity_line and toward_air",
            );
            return None;
        }
        let has_alkalinity = |analysis: &&SiteAnalysis| {
            analysis.constituents.iter().any(|(known, _)| *known == Constituent::Alkalinity)
        };
        // Acid holds the pH that the tower's alkalinity was measured at.
        let implied = circulating.and_then(|analysis| {
            analysis.ph.or_else(|| Some(analysis).filter(has_alkalinity).and(held))
        });
        match (stated.first(), implied) {
            (Some(&PRESSURE), _) => self
                .value(PRESSURE, &described.log10_carbon_dioxide, LOG10_CARBON_DIOXIDE)
                .map(GasGiven::Pressure),
            (None, Some(ph)) => Some(GasGiven::TowerPh(ph)),
            _ => {
                let assumed = Stated::with(Ratio::number(0.0), Uncertainty::limit(1.0));
                self.value_or(
                    TOWARD,
                    &described.toward_air,
                    TOWARD_AIR,
                    (assumed, ASSUMED_TOWARD_AIR),
                )
                .map(GasGiven::FieldLine)
            }
        }
    }

    fn limits(&mut self, description: &Description) -> StatedLimits {
        let described = description.limits.clone().unwrap_or_default();
        let treatment = description.treatment.clone().unwrap_or_default();
        let stated = &described.saturation_index;
        let saturation = [
            (Mineral::Calcite, stated.calcite),
            (Mineral::Gypsum, stated.gypsum),
            (Mineral::AmorphousSilica, stated.amorphous_silica),
            (Mineral::Brucite, stated.brucite),
            (Mineral::MagnesiumSilicate, stated.magnesium_silicate),
            (Mineral::Fluorite, stated.fluorite),
            (Mineral::TricalciumPhosphate, stated.tricalcium_phosphate),
        ];
        for (mineral, index) in saturation {
            if index.is_some_and(|index| !(-5.0..=5.0).contains(&index)) {
                self.problem(Problem::new(
                    format!("limits.saturation_index.{}", mineral.key()),
                    "a saturation index that a treatment carries lies between -5 and 5",
                ));
            }
        }
        if described.concrete_class.is_some() && !described.materials.contains(&Material::Concrete)
        {
            self.problem(
                Problem::new(
                    "limits.concrete_class",
                    "the class of a concrete that the water does not touch",
                )
                .with_help("add \"concrete\" to limits.materials, or leave the class out"),
            );
        }
        let mut own = Vec::new();
        for (index, described) in description.limit.iter().enumerate() {
            self.own_limit(&format!("limit.{}", index + 1), described, &mut own);
        }
        StatedLimits {
            materials: described.materials,
            codes: described.codes,
            concrete_class: described.concrete_class,
            scale_inhibitor: treatment.scale_inhibitor,
            corrosion_inhibitor: treatment.corrosion_inhibitor == Some(true),
            saturation_index: described.saturation_index,
            own,
        }
    }

    /// A limit of one's own stands beside the others, or in their place where it says so.
    fn own_limit(&mut self, path: &str, own: &OwnLimit, limits: &mut Vec<(Limit, bool)>) {
        let known = own.of.as_deref().and_then(Measure::of_key);
        let Some(measure) = known else {
            let nearest = own.of.as_deref().and_then(Measure::nearest_key);
            let help = nearest.map_or_else(
                || format!("one of {}", Measure::keys().collect::<Vec<_>>().join(", ")),
                |nearest| format!("did you mean \"{nearest}\"?"),
            );
            let message = match &own.of {
                Some(of) => format!("nothing called \"{of}\" is limited"),
                None => "the limit does not say of what".to_owned(),
            };
            let at = if own.of.is_some() { format!("{path}.of") } else { path.to_owned() };
            self.problem(Problem::new(at, message).with_help(help));
            return;
        };
        if own.most.is_none() && own.least.is_none() {
            self.problem(
                Problem::new(path, "the limit has no value")
                    .with_help("write most = ..., or least = ..."),
            );
        }
        for (key, bound, stated) in
            [("most", Bound::Most, &own.most), ("least", Bound::Least, &own.least)]
        {
            let Some(stated) = stated else { continue };
            if bound == Bound::Least && measure.falls_with_cycles() {
                let message = "nobody asks for a least discharge";
                self.problem(
                    Problem::new(format!("{path}.{key}"), message).with_help("write most = ..."),
                );
                continue;
            }
            match limit::value_of(measure, stated) {
                Ok(value) => {
                    let limit = Limit::stated(measure, bound, value, own.source.as_deref());
                    limits.push((limit, own.replaces == Some(true)));
                }
                Err(wrong) => {
                    let (message, help) = wrong.split_once('\n').unwrap_or((&wrong, ""));
                    let problem = Problem::new(format!("{path}.{key}"), message);
                    self.problem(if help.is_empty() { problem } else { problem.with_help(help) });
                }
            }
        }
    }
}
