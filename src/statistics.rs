//! The few distributions that tests on measurements need.

use crate::root;
use libm::{erfc, tgamma};
use std::f64::consts::SQRT_2;

/// Chance that a chi-square of so many degrees of freedom exceeds a value; 1 for a value below 0.
///
/// Exact, by the recurrence in the degrees of freedom from those of 1 and 2 (Abramowitz and Stegun
/// 1964, 26.4.4 and 26.4.5).
pub fn chi_square_exceeds(value: f64, degrees_of_freedom: usize) -> f64 {
    if !(value > 0.0) {
        return 1.0;
    }
    let half = 0.5 * value;
    let (mut chance, mut degrees) = match degrees_of_freedom % 2 {
        0 => ((-half).exp(), 2),
        _ => (erfc(half.sqrt()), 1),
    };
    while degrees < degrees_of_freedom {
        let order = 0.5 * degrees as f64;
        chance += half.powf(order) * (-half).exp() / tgamma(order + 1.0);
        degrees += 2;
    }
    chance.clamp(0.0, 1.0)
}

/// The value that a chi-square exceeds with this chance, above 0 and below 1.
pub fn chi_square_limit(chance: f64, degrees_of_freedom: usize) -> f64 {
    let most = 100.0 + 20.0 * degrees_of_freedom as f64;
    let above = |value: f64| chi_square_exceeds(value, degrees_of_freedom) - chance;
    root::of_falling(above, 0.0, most).unwrap_or(most)
}

/// Chance that a standard normal variable exceeds a value.
pub fn normal_exceeds(value: f64) -> f64 {
    0.5 * erfc(value / SQRT_2)
}

/// The value that a standard normal variable exceeds with this chance, above 0 and below 1.
pub fn normal_limit(chance: f64) -> f64 {
    root::of_falling(|value| normal_exceeds(value) - chance, -10.0, 10.0).unwrap_or(f64::NAN)
}

/// The value below which a standard normal variable lies with this chance, above 0 and below 1; NaN
/// outside. Algorithm AS 241 (Wichura 1988, Applied Statistics 37, 477), PPND16: about 1 part in
/// 1e16; its coefficients from memory, so that a test holds it against `erfc`.
pub fn normal_quantile(chance: f64) -> f64 {
    const CENTRE: [[f64; 8]; 2] = [
        [
            3.387_132_872_796_366_608_0,
            133.141_667_891_784_377_45,
            1_971.590_950_306_551_442_7,
            13_731.693_765_509_461_125,
            45_921.953_931_549_871_457,
            67_265.770_927_008_700_853,
            33_430.575_583_588_128_105,
            2_509.080_928_730_122_672_7,
        ],
        [
            1.0,
            42.313_330_701_600_911_252,
            687.187_007_492_057_908_30,
            5_394.196_021_424_751_107_7,
            21_213.794_301_586_595_867,
            39_307.895_800_092_710_610,
            28_729.085_735_721_942_674,
            5_226.495_278_852_854_561_0,
        ],
    ];
    const NEAR: [[f64; 8]; 2] = [
        [
            1.423_437_110_749_683_577_34,
            4.630_337_846_156_545_295_90,
            5.769_497_221_460_691_405_50,
            3.647_848_324_763_204_605_04,
            1.270_458_252_452_368_382_58,
            2.417_807_251_774_506_117_70e-1,
            2.272_384_498_926_918_458_33e-2,
            7.745_450_142_783_414_076_40e-4,
        ],
        [
            1.0,
            2.053_191_626_637_758_821_87,
            1.676_384_830_183_803_849_40,
            6.897_673_349_851_000_045_50e-1,
            1.481_039_764_274_800_745_90e-1,
            1.519_866_656_361_645_719_66e-2,
            5.475_938_084_995_344_946_00e-4,
            1.050_750_071_644_416_843_24e-9,
        ],
    ];
    const FAR: [[f64; 8]; 2] = [
        [
            6.657_904_643_501_103_777_20,
            5.463_784_911_164_114_369_90,
            1.784_826_539_917_291_335_80,
            2.965_605_718_285_048_912_30e-1,
            2.653_218_952_657_612_309_30e-2,
            1.242_660_947_388_078_438_60e-3,
            2.711_555_568_743_487_578_15e-5,
            2.010_334_399_292_288_132_65e-7,
        ],
        [
            1.0,
            5.998_322_065_558_879_376_90e-1,
            1.369_298_809_227_358_053_10e-1,
            1.487_536_129_085_061_485_25e-2,
            7.868_691_311_456_132_591_00e-4,
            1.846_318_317_510_054_681_80e-5,
            1.421_511_758_316_445_888_70e-7,
            2.044_263_103_389_939_785_64e-15,
        ],
    ];
    let quotient = |[above, below]: &[[f64; 8]; 2], at: f64| {
        let value = |terms: &[f64; 8]| terms.iter().rev().fold(0.0, |sum, term| sum * at + term);
        value(above) / value(below)
    };
    let from_middle = chance - 0.5;
    if from_middle.abs() <= 0.425 {
        return from_middle * quotient(&CENTRE, 0.180_625 - from_middle * from_middle);
    }
    let tail = if from_middle < 0.0 { chance } else { 1.0 - chance };
    let depth = (-tail.ln()).sqrt();
    let size = match depth <= 5.0 {
        true => quotient(&NEAR, depth - 1.6),
        false => quotient(&FAR, depth - 5.0),
    };
    size.copysign(from_middle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Abramowitz and Stegun (1964), tables 26.1 and 26.8.
    #[test]
    fn limits_of_a_handbook() {
        for (degrees, chance, printed) in [
            (1, 0.05, 3.841_46),
            (2, 0.05, 5.991_47),
            (3, 0.05, 7.814_73),
            (4, 0.01, 13.276_7),
            (5, 0.05, 11.070_5),
            (10, 0.05, 18.307_0),
        ] {
            assert_relative_eq!(chi_square_limit(chance, degrees), printed, max_relative = 1e-5);
        }
        assert_relative_eq!(normal_limit(0.05), 1.644_854, max_relative = 1e-6);
        assert_relative_eq!(normal_limit(0.025), 1.959_964, max_relative = 1e-6);
        assert_relative_eq!(normal_exceeds(1.0), 0.158_655_3, max_relative = 1e-6);
        assert_eq!(chi_square_exceeds(f64::NAN, 2), 1.0);
    }

    #[test]
    fn the_quantile_turns_the_distribution_round() {
        assert_eq!(normal_quantile(0.5), 0.0);
        for step in -370..370 {
            let value = f64::from(step) * 0.1;
            // In the upper half the chance is so near to 1 that its digits are lost.
            let chance = normal_exceeds(value.abs());
            let found = -normal_quantile(chance);
            assert!((found - value.abs()).abs() < 4e-15 * value.abs().max(0.1), "{value}: {found}");
            assert_eq!(normal_quantile(1.0 - 0.25), -normal_quantile(0.25));
        }
        assert!(normal_quantile(f64::NAN).is_nan());
    }
}
