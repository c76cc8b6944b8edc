//! Rules of thumb.
/// Perry's rule: kg evaporated per kg of circulation.
pub fn perry(_range_kelvin: f64) -> f64 {
    todo!()
}
/// 1 % per 10 degF.
pub fn one_percent(_range_kelvin: f64) -> f64 {
    todo!()
}
/// All heat by evaporation: kg evaporated per kg of circulation.
pub fn latent(_range_kelvin: f64, _mean_water_celsius: f64) -> f64 {
    todo!()
}
/// stand-in
pub const RULE_FACTOR_PER_KELVIN: f64 = 0.00153;
/// stand-in
pub fn latent_heat_j_per_kg(t: f64) -> f64 {
    2501e3 + 1860.0 * t - 4186.0 * t
}
