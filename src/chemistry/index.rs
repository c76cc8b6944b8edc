//! Indices of the trade: published approximations of scaling and corrosion.
//!
//! They stand beside the saturation indices of a solved water, never in their place: the simple
//! forms take all alkalinity for bicarbonate and leave ion pairs out, and read up to 1.2 too high in
//! concentrated water. A band published for one of them says nothing about the others.

/// Where the scaling indices are published.
pub const SCALING_SOURCE: &str = "UFC 3-240-13FN (US Department of Defense, 2005), appendix B; Ryznar (1944, J. AWWA 36, 472, citation from memory); Puckorius and Brooke (1991, Corrosion 47, 280)";

/// Where the corrosion ratio is published.
pub const LARSON_SOURCE: &str = "Larson and Skold (1958, citation from memory); bands after Roberge (2006), fitted on Great Lakes water";

/// The water as the simple forms see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimpleWater {
    /// Degrees Celsius.
    pub celsius: f64,
    /// pH.
    pub ph: f64,
    /// Calcium, mg/L as CaCO3.
    pub calcium: f64,
    /// Total alkalinity, mg/L as CaCO3.
    pub alkalinity: f64,
    /// Dissolved solids, mg/L.
    pub dissolved_solids: f64,
}

impl SimpleWater {
    /// pH at which calcite would be saturated: (9.3 + A + B) - (C + D) with B as the logarithmic fit
    /// -13.12 log10(T) + 34.55, which lies 0.04 to 0.12 above the table of UFC 3-240-13FN. NaN
    /// without calcium or alkalinity.
    pub fn saturation_ph(&self) -> f64 {
        let a = (self.dissolved_solids.log10() - 1.0) / 10.0;
        let b = -13.12 * (self.celsius + 273.0).log10() + 34.55;
        let c = self.calcium.log10() - 0.4;
        let d = self.alkalinity.log10();
        9.3 + a + b - c - d
    }

    /// Langelier's index, simple form: pH less saturation pH. Published band for towers: 0 to 2.5.
    pub fn langelier(&self) -> f64 {
        self.ph - self.saturation_ph()
    }

    /// Ryznar's index: 2 pHs - pH. Below 6.2 scale forms, above 6.8 the water is aggressive (Ryznar,
    /// after Rafferty, US DOE 1999).
    pub fn ryznar(&self) -> f64 {
        2.0 * self.saturation_ph() - self.ph
    }

    /// Puckorius' index: 2 pHs less the pH of equilibrium, 1.465 log10(alkalinity) + 4.54 (the 1.485
    /// that UFC 3-240-13FN prints is a misprint: its own example needs 1.465). Below 6 scale forms.
    pub fn puckorius(&self) -> f64 {
        2.0 * self.saturation_ph() - (1.465 * self.alkalinity.log10() + 4.54)
    }
}

/// Larson and Skold's ratio: equivalents of chloride and sulfate over those of alkalinity. Above 0.8
/// the corrosion of mild steel may rise, above 1.2 it is high; not for water of very low or very high
/// alkalinity.
pub fn larson_skold(chloride_eq: f64, sulfate_eq: f64, alkalinity_eq: f64) -> f64 {
    (chloride_eq + sulfate_eq) / alkalinity_eq
}

/// pH of a tower's water from its alkalinity, mg/L as CaCO3: the field line of Kunz (as compared by Vanderpool
/// 2004, AWT Analyst). It lies 0.4 to 1 below equilibrium with air.
pub fn ph_of_alkalinity(milligram_per_litre: f64) -> f64 {
    1.6 * milligram_per_litre.log10() + 4.4
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn indices_are_built_on_one_saturation_ph() {
        let water = SimpleWater {
            celsius: 35.0,
            ph: 8.4,
            calcium: 400.0,
            alkalinity: 250.0,
            dissolved_solids: 1_200.0,
        };
        let saturation = water.saturation_ph();
        assert_abs_diff_eq!(water.langelier() + saturation, water.ph, epsilon = 1e-12);
        assert_abs_diff_eq!(water.ryznar(), saturation - water.langelier(), epsilon = 1e-12);
        assert_abs_diff_eq!(larson_skold(1.0, 2.0, 3.0), 1.0, epsilon = 1e-12);
    }

    #[test]
    fn the_line_of_alkalinity_rises_by_its_slope_a_decade() {
        assert_abs_diff_eq!(ph_of_alkalinity(100.0), 7.6, epsilon = 1e-12);
        assert_abs_diff_eq!(ph_of_alkalinity(1_000.0), 9.2, epsilon = 1e-12);
    }
}
