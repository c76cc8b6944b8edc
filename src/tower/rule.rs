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
