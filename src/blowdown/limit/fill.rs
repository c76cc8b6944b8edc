//! Film fill, which solids and growth clog.

use super::{Danger, Limits, Measure, Standing, watch};
use crate::site::description::Material;

/// Suspended solids from which film fill fouls, mg/L: makers' sheets; an engineers' forum goes to 50.
const FROM: f64 = 25.0;

const SOURCE: &str =
    "water-quality sheet of a maker of towers (25 mg/L); 50 on an engineers' forum";

pub(super) fn add(all: &mut Limits) {
    let says = "film fill fouls from 25 to 50 mg/L on; solids settle and blow in, so measure them in the basin";
    let row = watch(Measure::SuspendedSolids, FROM, SOURCE);
    let standing = Standing::Material(Material::FilmFill);
    all.watched.extend(row.watched("film fill", standing, Danger::Fouling, says));
}
