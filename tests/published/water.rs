//! Liquid water and its vaporisation against IAPWS-95 as CoolProp 8.0.0 computes it, 0.01 to 99 degC
//! (tests/reference/water.json).

use super::{Largest, number, rows};
use coldbasin::water::{
    density_kg_per_m3, enthalpy_j_per_kg, latent_heat_j_per_kg, specific_heat_j_per_kg_k,
};

#[test]
fn properties_of_water_agree_with_iapws() {
    let mut density = Largest::default();
    let mut heat = Largest::default();
    let mut enthalpy = Largest::default();
    let mut latent = Largest::default();
    for row in rows(include_str!("../reference/water.json")) {
        let celsius = number(&row, "celsius");
        density.see(density_kg_per_m3(celsius) / number(&row, "density") - 1.0);
        heat.see(specific_heat_j_per_kg_k(celsius) / number(&row, "specific_heat") - 1.0);
        let zero = enthalpy_j_per_kg(0.01);
        enthalpy.see(enthalpy_j_per_kg(celsius) - zero - number(&row, "enthalpy"));
        latent.see(latent_heat_j_per_kg(celsius) / number(&row, "latent_heat") - 1.0);
    }
    // What the documentation of the functions states.
    assert!(density.0 < 1.5e-5, "{}", density.0);
    assert!(heat.0 < 1.1e-3, "{}", heat.0);
    assert!(enthalpy.0 < 60.0, "{} J/kg", enthalpy.0);
    assert!(latent.0 < 4.5e-4, "{}", latent.0);
}
