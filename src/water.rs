//! Liquid water: density, specific heat, enthalpy, latent heat.
/// Density of air-free liquid water at atmospheric pressure, kg/m3.
pub fn density_kg_per_m3(_temperature_celsius: f64) -> f64 {
    todo!()
}
/// Specific heat of liquid water at atmospheric pressure, J/(kg K).
pub fn specific_heat_j_per_kg_k(_temperature_celsius: f64) -> f64 {
    todo!()
}
/// Enthalpy of liquid water above 0 degC, J/kg.
pub fn enthalpy_j_per_kg(_temperature_celsius: f64) -> f64 {
    todo!()
}
/// Latent heat of vaporisation, J/kg.
pub fn latent_heat_j_per_kg(_temperature_celsius: f64) -> f64 {
    todo!()
}
