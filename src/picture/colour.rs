//! Colours that people who see fewer of them tell apart, each with its own dashes for grey prints.
//!
//! Okabe and Ito (2008), "Color universal design"; without yellow, which does not show on paper.

use plotters::style::RGBColor;

/// Text and axes.
pub(super) const INK: RGBColor = RGBColor(0x22, 0x22, 0x22);
/// Text beside the matter.
pub(super) const SOFT: RGBColor = RGBColor(0x59, 0x59, 0x59);
/// Lines of the mesh.
pub(super) const GRID: RGBColor = RGBColor(0xDD, 0xDD, 0xDD);
/// What everything is drawn on.
pub(super) const PAPER: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);

pub(super) const BLACK: RGBColor = RGBColor(0x00, 0x00, 0x00);
pub(super) const ORANGE: RGBColor = RGBColor(0xE6, 0x9F, 0x00);
pub(super) const SKY: RGBColor = RGBColor(0x56, 0xB4, 0xE9);
pub(super) const GREEN: RGBColor = RGBColor(0x00, 0x9E, 0x73);
pub(super) const BLUE: RGBColor = RGBColor(0x00, 0x72, 0xB2);
pub(super) const VERMILLION: RGBColor = RGBColor(0xD5, 0x5E, 0x00);
pub(super) const PURPLE: RGBColor = RGBColor(0xCC, 0x79, 0xA7);

/// Words on a colour of their own, on light and dark pages alike.
pub(super) const ALWAYS_BLACK: RGBColor = RGBColor(0x01, 0x01, 0x01);
/// The same on a dark colour.
pub(super) const ALWAYS_WHITE: RGBColor = RGBColor(0xFE, 0xFE, 0xFE);

/// In the order in which series take them.
pub(super) const SERIES: [RGBColor; 7] = [BLUE, VERMILLION, BLACK, GREEN, PURPLE, SKY, ORANGE];

/// The dashes of a colour, as SVG writes them; none for an unbroken line.
fn dashes(colour: RGBColor) -> Option<&'static str> {
    match colour {
        VERMILLION => Some("9 4"),
        BLACK => Some("2 3"),
        GREEN => Some("9 3 2 3"),
        PURPLE => Some("14 4"),
        SKY => Some("5 3"),
        ORANGE => Some("9 3 2 3 2 3"),
        _ => None,
    }
}

/// The dashes of a colour as an attribute; empty for an unbroken line.
pub(super) fn dash_attribute(colour: RGBColor) -> String {
    dashes(colour).map(|dashes| format!(" stroke-dasharray=\"{dashes}\"")).unwrap_or_default()
}

/// As SVG writes it.
pub(super) fn hex(RGBColor(red, green, blue): RGBColor) -> String {
    format!("#{red:02X}{green:02X}{blue:02X}")
}
