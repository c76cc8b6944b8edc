//! Concrete basins: sulfate by the class of the concrete.

use super::{Circumstances, Danger, Limit, Limits, Measure, Standing, least, most, on, watch};
use crate::chemistry::Constituent::{Ammonia, Magnesium, Sulfate};
use crate::quantity::Basis;
use crate::site::description::{ConcreteClass, Material};

const ACI: &str = "ACI 318-19, table 19.3.1.1";
const EN: &str = "EN 206 / DIN 1045-2, exposure classes XA, for 5 to 25 °C and nearly still water";

/// Sulfate that each class stands, mg/L.
const CLASSES: [(ConcreteClass, f64, &str, &str); 6] = [
    (ConcreteClass::S0, 150.0, "concrete S0", ACI),
    (ConcreteClass::S1, 1_500.0, "concrete S1", ACI),
    (ConcreteClass::S2, 10_000.0, "concrete S2", ACI),
    (ConcreteClass::Xa1, 600.0, "concrete XA1", EN),
    (ConcreteClass::Xa2, 3_000.0, "concrete XA2", EN),
    (ConcreteClass::Xa3, 6_000.0, "concrete XA3", EN),
];

/// Where attack begins, ibid.: mg/L as NH4, mg/L, pH.
const AMMONIUM: f64 = 15.0;
const MAGNESIUM: f64 = 300.0;
const PH: f64 = 6.5;

pub(super) fn add(all: &mut Limits, class: Option<ConcreteClass>, at: &Circumstances) {
    let standing = Standing::Material(Material::Concrete);
    let sulfate = on(Sulfate);
    let of_class = |class: ConcreteClass| -> Option<Limit> {
        let (_, value, of, source) = CLASSES.into_iter().find(|(known, ..)| *known == class)?;
        most(sulfate, value, source).limit(of, standing)
    };
    all.limits.extend(match class {
        Some(class) => of_class(class),
        None => of_class(ConcreteClass::S1).map(|limit| {
            let limit = limit.when(
                "class S1, if that is its cement; XA1 stands 600 mg/L, ordinary cement, S0, 150",
            );
            Limit { of: "concrete".into(), ..limit.warned_from(150.0, "ACI 318-19, class S0") }
        }),
    });
    // Only acid brings the pH of a tower so low.
    if at.acid.is_some() {
        all.limits.extend(least(Measure::Ph, PH, EN).limit("concrete", standing));
    }
    let ammonia = AMMONIUM * Basis::Ammonia.molar_mass() / Basis::Ammonium.molar_mass();
    for row in [watch(on(Ammonia), ammonia, EN), watch(on(Magnesium), MAGNESIUM, EN)] {
        let says = "attack on concrete begins (XA1)";
        all.watched.extend(row.watched("concrete", standing, Danger::Corrosion, says));
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;

    #[test]
    fn a_stated_class_goes_before_the_usual_cement() {
        let sulfate = |class| {
            let mut all = Limits::default();
            add(&mut all, class, &COOL);
            let limit = all.limits.remove(0);
            (limit.value, limit.warn_from.map(|from| from.value))
        };
        assert_eq!(sulfate(None), (1_500.0, Some(150.0)));
        assert_eq!(sulfate(Some(ConcreteClass::S0)), (150.0, None));
        assert_eq!(sulfate(Some(ConcreteClass::Xa2)), (3_000.0, None));
    }
}
