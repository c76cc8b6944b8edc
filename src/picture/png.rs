//! A picture as pixels, with a font that is always there.

use resvg::{tiny_skia, usvg};
use skrifa::{FontRef, MetadataProvider};
use std::sync::Arc;

const FONT: &[u8] = epaint_default_fonts::UBUNTU_LIGHT;

/// Pixels of the PNG for one of the SVG: sharp on paper of A4 width.
const SCALE: f32 = 2.0;

/// Why a picture has no pixels.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PngError {
    /// The SVG cannot be read.
    #[error("the picture cannot be drawn: {0}")]
    Svg(String),
    /// A picture without area, or one that does not fit into memory.
    #[error("the picture is too large to draw")]
    Size,
}

/// An SVG of this module as a PNG, two pixels for one.
///
/// # Errors
/// [`PngError`].
pub fn png(svg: &str) -> Result<Vec<u8>, PngError> {
    let mut options = usvg::Options::default();
    let fonts = Arc::make_mut(&mut options.fontdb);
    fonts.load_font_data(FONT.to_vec());
    fonts.set_sans_serif_family("Ubuntu");
    let tree =
        usvg::Tree::from_str(svg, &options).map_err(|error| PngError::Svg(error.to_string()))?;
    let size = tree.size();
    let pixels = |length: f32| (length * SCALE).ceil() as u32;
    let mut pixmap = tiny_skia::Pixmap::new(pixels(size.width()), pixels(size.height()))
        .ok_or(PngError::Size)?;
    let scale = tiny_skia::Transform::from_scale(SCALE, SCALE);
    resvg::render(&tree, scale, &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|error| PngError::Svg(error.to_string()))
}

/// Letters of an SVG of this module that [`png`] has no shape for and draws as boxes, each once, in
/// order: the font knows Latin, Greek and Cyrillic. An SVG is drawn with the fonts of its reader.
pub fn letters_without_shape(svg: &str) -> Vec<char> {
    let mut missing = Vec::new();
    let Ok(font) = FontRef::new(FONT) else { return missing };
    let shapes = font.charmap();
    for letter in svg.chars().filter(|letter| !letter.is_ascii()) {
        if shapes.map(letter).is_none() && !missing.contains(&letter) {
            missing.push(letter);
        }
    }
    missing
}

#[cfg(test)]
mod tests {
    use super::super::frame::{Frame, Width};
    use super::*;

    #[test]
    fn text_has_pixels_without_any_font_of_the_machine() {
        let empty = png(&Frame::new("", "", Width::Page).finish().svg()).unwrap();
        let written =
            png(&Frame::new("Evaporation, °C ± m³ …", "x", Width::Page).finish().svg()).unwrap();
        assert!(written.starts_with(b"\x89PNG"));
        assert!(written.len() > empty.len() + 1_000, "{} {}", written.len(), empty.len());
    }

    #[test]
    fn letters_that_become_boxes_are_known() {
        let frame = Frame::new("Usine d’été 塔, tour 塔 β Ж ± m³ …", "水", Width::Page);
        assert_eq!(letters_without_shape(&frame.finish().svg()), ['塔', '水']);
    }

    #[test]
    fn what_is_no_picture_is_an_error() {
        assert!(matches!(png("<svg"), Err(PngError::Svg(_))));
    }
}
