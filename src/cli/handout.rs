//! What is handed over beside the printed result: a picture, a page.

use super::output::{self, OutputError};
use coldbasin::picture::{self, Width};
use std::error::Error;
use std::path::{Path, PathBuf};

/// Files beside the result.
#[derive(clap::Args)]
pub struct Handout {
    /// Draw the result too: FILE.svg or FILE.png
    #[arg(long, value_name = "FILE", value_parser = picture_file)]
    picture: Option<PathBuf>,
}

fn picture_file(text: &str) -> Result<PathBuf, &'static str> {
    with_extension(text, &["svg", "png"])
        .ok_or("the name says what is drawn: end it in .svg or .png")
}

/// A path that ends in one of the extensions.
fn with_extension(text: &str, extensions: &[&str]) -> Option<PathBuf> {
    let path = PathBuf::from(text);
    let extension = path.extension()?.to_str()?.to_ascii_lowercase();
    extensions.contains(&extension.as_str()).then_some(path)
}

impl Handout {
    /// A picture shows one site.
    pub fn refuse_several(&self) -> Result<(), Box<dyn Error>> {
        match self.picture {
            Some(_) => Err("--picture shows one site: give one site file".into()),
            None => Ok(()),
        }
    }

    /// Writes what is asked for; `draw` makes the picture. Nothing goes onto an input or onto the
    /// result.
    pub fn write(
        &self,
        (inputs, result): (&[PathBuf], Option<&Path>),
        draw: impl Fn(Width) -> String,
    ) -> Result<(), Box<dyn Error>> {
        let Some(path) = &self.picture else { return Ok(()) };
        if result.is_some_and(|result| result == path) {
            return Err(format!("{}: --output writes here too", path.display()).into());
        }
        let svg = draw(Width::Page);
        let is_png =
            path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("png"));
        let bytes = if is_png { picture::png(&svg)? } else { svg.into_bytes() };
        write_bytes(&bytes, path, inputs)?;
        Ok(())
    }
}

fn write_bytes(bytes: &[u8], path: &Path, inputs: &[PathBuf]) -> Result<(), OutputError> {
    output::stream(Some(path), inputs, |file| file.write_all(bytes))
}
