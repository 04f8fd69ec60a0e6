//! Pictures of the screen as files: PNG, SVG and JSON, by the ending of the name.
//!
//! A picture is laid out once, as shapes on a sheet ([`sheet`]); each kind of file then draws the
//! same sheet.

mod json;
mod plan_sheet;
mod png;
mod sheet;
mod svg;
mod trace_sheet;

use std::fs;
use std::path::Path;

use clap::ValueEnum;

use super::failure::Failure;
use super::report::Asked;
use crate::paint::{Frame, Picture, picture};
use crate::text::{plain_json, plain_lines};
use crate::units::{Angle, Bearing, SlantRange, True};

/// What lies at the top of a plan picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub enum Up {
    /// True north.
    #[default]
    North,
    /// Own heading.
    Heading,
}

/// The kinds of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Png,
    Svg,
    Json,
}

impl Kind {
    fn of(file: &Path) -> Result<Self, Failure> {
        let ending = file.extension().map(std::ffi::OsStr::to_ascii_lowercase);
        match ending.as_deref().and_then(|ending| ending.to_str()) {
            Some("png") => Ok(Self::Png),
            Some("svg") => Ok(Self::Svg),
            Some("json") => Ok(Self::Json),
            _ => Err(Failure::input(format!(
                "--picture: {} ends in none of .png, .svg and .json",
                file.display()
            ))
            .with_help("the ending says what is written: --picture look.png")),
        }
    }
}

/// What of a picture can be refused before anything is read.
///
/// # Errors
/// An ending that is none of ours; heading up without a heading.
pub fn check(file: &Path, up: Up, heading: Option<Bearing<True>>) -> Result<(), Failure> {
    Kind::of(file)?;
    if up == Up::Heading && heading.is_none() {
        return Err(Failure::input("--picture-up heading: no heading is given")
            .with_help("give --heading-deg D, or leave it out for north up"));
    }
    Ok(())
}

/// Draws what the screen shows and writes it to a file.
///
/// # Errors
/// As [`check`]; fixed lobes without a heading; a file that cannot be written.
pub fn write(asked: &Asked<'_>, file: &Path, up: Up, bank: Angle) -> Result<(), Failure> {
    check(file, up, asked.vantage.heading)?;
    let kind = Kind::of(file)?;
    let frame = Frame { bank, ..Frame::to(SlantRange::clamped_metres(asked.reach.metres())) };
    if frame.scale.metres() < 1.0 {
        return Err(Failure::input("--picture: a range of nothing has no picture")
            .with_help("give --max-range-nm a scale of the set"));
    }
    let drawn = picture(asked.chart, asked.vantage, asked.set, asked.conditions, &frame);
    let drawn = drawn.map_err(|error| {
        Failure::input(format!("--picture: {error}")).with_help("give --heading-deg D")
    })?;
    let sheet = || match &drawn {
        Picture::Plan(plan) => plan_sheet::lay_out(asked, plan, up),
        Picture::Trace(trace) => trace_sheet::lay_out(asked, trace),
    };
    let bytes = match kind {
        Kind::Png => png::draw(&sheet())?,
        Kind::Svg => plain_lines(&svg::draw(&sheet())?).into_bytes(),
        Kind::Json => plain_json(&json::write(asked, &drawn)?).into_bytes(),
    };
    fs::write(file, bytes).map_err(|error| {
        Failure::input(format!("--picture: {} cannot be written: {error}", file.display()))
            .with_help("name a file in a folder that exists and may be written to")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_says_what_is_written() {
        assert_eq!(Kind::of(Path::new("a.PNG")).unwrap(), Kind::Png);
        assert_eq!(Kind::of(Path::new("b/c.svg")).unwrap(), Kind::Svg);
        assert_eq!(Kind::of(Path::new("look.json")).unwrap(), Kind::Json);
        for wrong in ["look.bmp", "look", ".png/look"] {
            assert!(Kind::of(Path::new(wrong)).is_err(), "{wrong}");
        }
    }
}
