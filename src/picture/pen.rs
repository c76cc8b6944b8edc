//! What the chart library draws, written as SVG: with dashes, tenths of a pixel and nothing to spare.

use super::colour::{dash_attribute, hex};
use super::frame::escaped;
use plotters::style::RGBColor;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use std::convert::Infallible;
use std::fmt::Write as _;

/// The library counts in whole units; ten of them are a pixel.
pub(super) const UNITS: f64 = 10.0;

/// Writes SVG elements.
pub(super) struct Pen<'a> {
    pub svg: &'a mut String,
    /// In the library's units.
    pub size: (u32, u32),
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

/// Library units as pixels.
fn px(units: i32) -> f64 {
    f64::from(units) / UNITS
}

fn colour(color: BackendColor) -> RGBColor {
    let (red, green, blue) = color.rgb;
    RGBColor(red, green, blue)
}

fn points(path: impl IntoIterator<Item = BackendCoord>) -> String {
    let shown: Vec<String> =
        path.into_iter().map(|(x, y)| format!("{},{}", px(x), px(y))).collect();
    shown.join(" ")
}

fn fill<S: BackendStyle>(style: &S) -> String {
    let color = style.color();
    let opacity = match color.alpha {
        1.0 => String::new(),
        alpha => format!(" fill-opacity=\"{alpha}\""),
    };
    format!("fill=\"{}\"{opacity}", hex(colour(color)))
}

fn stroke<S: BackendStyle>(style: &S) -> String {
    let width = f64::from(style.stroke_width()) / UNITS;
    format!("stroke=\"{}\" stroke-width=\"{width}\"", hex(colour(style.color())))
}

impl Pen<'_> {
    fn put(&mut self, element: std::fmt::Arguments<'_>) -> Drawn {
        let _ = self.svg.write_fmt(element);
        self.svg.push('\n');
        Ok(())
    }
}

impl DrawingBackend for Pen<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, _: BackendCoord, _: BackendColor) -> Drawn {
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        (x1, y1): BackendCoord,
        (x2, y2): BackendCoord,
        style: &S,
    ) -> Drawn {
        if style.color().alpha == 0.0 {
            return Ok(());
        }
        let [x1, y1, x2, y2] = [x1, y1, x2, y2].map(px);
        let stroke = stroke(style);
        self.put(format_args!("<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" {stroke}/>"))
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        (left, top): BackendCoord,
        (right, bottom): BackendCoord,
        style: &S,
        filled: bool,
    ) -> Drawn {
        let paint = if filled { fill(style) } else { format!("fill=\"none\" {}", stroke(style)) };
        let (width, height) = (px(right - left), px(bottom - top));
        let (x, y) = (px(left), px(top));
        self.put(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {paint}/>"
        ))
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let dashes = dash_attribute(colour(style.color()));
        let (points, stroke) = (points(path), stroke(style));
        self.put(format_args!("<polyline points=\"{points}\" fill=\"none\" {stroke}{dashes}/>"))
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        vertices: I,
        style: &S,
    ) -> Drawn {
        let (points, fill) = (points(vertices), fill(style));
        self.put(format_args!("<polygon points=\"{points}\" {fill}/>"))
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        (x, y): BackendCoord,
        radius: u32,
        style: &S,
        filled: bool,
    ) -> Drawn {
        let paint = if filled { fill(style) } else { format!("fill=\"none\" {}", stroke(style)) };
        let radius = f64::from(radius) / UNITS;
        let (x, y) = (px(x), px(y));
        self.put(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {paint}/>"))
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Drawn {
        let size = style.size() / UNITS;
        let anchor = match style.anchor().h_pos {
            HPos::Left => "start",
            HPos::Center => "middle",
            HPos::Right => "end",
        };
        let down = match style.anchor().v_pos {
            VPos::Top => 0.8,
            VPos::Center => 0.35,
            VPos::Bottom => -0.2,
        };
        let y = px(y) + down * size;
        let (x, fill, text) = (px(x), hex(colour(style.color())), escaped(text));
        self.put(format_args!(
            "<text x=\"{x}\" y=\"{y:.1}\" font-size=\"{size}\" text-anchor=\"{anchor}\" \
             fill=\"{fill}\">{text}</text>"
        ))
    }
}
