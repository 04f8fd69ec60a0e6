use std::path::PathBuf;

use clap::Args;

use super::common::{Common, Format, resolve_set, set_file};
use super::failure::{Done, Failure};
use super::figures::{direction, height, position, range, within};
use super::picture::{self, Up};
use super::report::{Asked, expect_json, expect_text, explain_json, explain_text};
use super::weather::WeatherArgs;
use crate::chart::{GeoBox, Opening};
use crate::geodesy::{Position, course};
use crate::paint::{Vantage, expect, explain};
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, True};
use crate::watch::area;

/// The steps between rows of coast that may be asked for, in degrees.
const STEP_DEG: std::ops::RangeInclusive<f64> = 0.01..=10.0;

/// What should paint from one place and height.
#[derive(Debug, Clone, Args)]
pub struct ExpectArgs {
    #[command(flatten)]
    common: Common,
    /// Own position: "38 12.9 S, 21 30.5 W" or -38.2150,-21.5080
    #[arg(long, value_name = "POS", allow_hyphen_values = true, value_parser = position)]
    at: Position,
    /// Antenna above mean sea level, feet
    #[arg(long, value_name = "H", allow_hyphen_values = true, value_parser = height)]
    height_ft: Height,
    /// Radar set: metric, patrol, boat, or the path of a set file
    #[arg(long, value_name = "NAME")]
    set: String,
    /// Own heading, true: relative bearings are then given too
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = direction)]
    heading_deg: Option<Bearing<True>>,
    /// Greatest range, 0 to 500; the set's largest scale where not given
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = range)]
    max_range_nm: Option<GroundRange>,
    #[command(flatten)]
    weather: WeatherArgs,
    /// Degrees between rows of coast, 0.01 to 10
    #[arg(long, value_name = "STEP", default_value = "0.5", allow_hyphen_values = true,
          value_parser = step)]
    step_deg: f64,
    /// Print this mark's whole budget instead: why it paints, or does not
    #[arg(long, value_name = "MARK")]
    explain: Option<String>,
    /// Write what the screen shows to this file too: .png, .svg or .json by its ending; a plan
    /// picture, or of a set with fixed lobes its range trace
    #[arg(long, value_name = "FILE", conflicts_with = "explain")]
    picture: Option<PathBuf>,
    /// What lies at the top of a plan picture
    #[arg(long, value_enum, default_value_t, value_name = "UP", requires = "picture")]
    picture_up: Up,
    /// Bank, right wing down, for the picture of a set with fixed lobes, -60 to 60
    #[arg(long, value_name = "DEG", default_value = "0", allow_hyphen_values = true,
          requires = "picture", value_parser = bank)]
    bank_deg: Angle,
}

/// Asks what should paint and hands it on.
///
/// # Errors
/// A chart or a set that cannot be read.
pub fn run(args: &ExpectArgs) -> Result<Done, Failure> {
    let written = args.picture.as_deref().map(|file| ("--picture", file));
    args.common.check_apart(written.as_slice(), set_file("--set", &args.set).as_slice())?;
    if let Some(file) = &args.picture {
        picture::check(file, args.picture_up, args.heading_deg)?;
    }
    let set = resolve_set(&args.set)?;
    let reach = args
        .max_range_nm
        .unwrap_or_else(|| GroundRange::clamped_metres(set.greatest_scale().metres()));
    let chart = args.common.open_with(|opening| about(args, reach, opening))?;
    let vantage = Vantage { position: args.at, height: args.height_ft, heading: args.heading_deg };
    let conditions = args.weather.conditions()?;
    let asked = Asked {
        chart: &chart,
        vantage: &vantage,
        set: &set,
        conditions: &conditions,
        reach,
        step_deg: args.step_deg,
    };
    let answer = if let Some(name) = &args.explain {
        why(&asked, name, args.common.format)?
    } else {
        let found = expect(&chart, &vantage, &set, &conditions, reach, args.step_deg);
        match args.common.format {
            Format::Text => expect_text(&asked, &found),
            Format::Json => expect_json(&asked, &found)?,
        }
    };
    // Only now: where there is no answer, no picture is left behind either.
    if let Some(file) = &args.picture {
        picture::write(&asked, file, args.picture_up, args.bank_deg)?;
    }
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// Opens the chart as far as it is asked about. A mark asked for by name may lie anywhere near.
fn about<'a>(args: &ExpectArgs, reach: GroundRange, opening: Opening<'a>) -> Opening<'a> {
    /// Beyond the reach marks have their headlands and their names from this much more.
    const BESIDE_M: f64 = 5.0 * METRES_PER_NAUTICAL_MILE;
    let opening = match area::about(&[(args.at, reach.metres())]) {
        Some(area) => opening.around(area),
        None => opening,
    };
    if args.explain.is_some() {
        return opening;
    }
    let reach = GroundRange::clamped_metres(reach.metres() + BESIDE_M);
    opening.marks_within(GeoBox::around(args.at, reach))
}

/// The budget of the mark of this name.
fn why(asked: &Asked<'_>, name: &str, format: Format) -> Result<String, Failure> {
    let marks = asked.chart.marks();
    let Some((id, mark)) = marks.find(name).and_then(|id| Some((id, marks.get(id)?))) else {
        let near = marks.near_names(name);
        let help = if near.is_empty() {
            "`foreland chart marks` lists every mark of a chart".to_owned()
        } else {
            format!("did you mean {}?", near.join(", "))
        };
        let told = Failure::input(format!("--explain: no mark {name:?} on this chart"));
        return Err(told.with_help(help));
    };
    let Asked { chart, vantage, set, conditions, reach, .. } = *asked;
    let Some(found) = explain(chart, vantage, set, conditions, reach, id) else {
        let off = course(vantage.position, mark.position).distance.nautical_miles();
        let told = Failure::input(format!(
            "--explain: {} is {off:.1} NM off, past the greatest range of {:.1} NM",
            mark.name,
            reach.nautical_miles()
        ));
        return Err(told.with_help("--max-range-nm R asks for more, to 500"));
    };
    match format {
        Format::Text => Ok(explain_text(asked, mark, &found)),
        Format::Json => explain_json(asked, &found),
    }
}

fn bank(text: &str) -> Result<Angle, String> {
    within(text, -60.0..=60.0, "degrees").map(Angle::from_degrees)
}

fn step(text: &str) -> Result<f64, String> {
    within(text, STEP_DEG, "degrees")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_bounds_is_refused_in_words() {
        assert_eq!(step("0.005"), Err("0.005 is outside 0.01 to 10 degrees".to_owned()));
        assert!(bank("61").is_err() && bank("-60").is_ok());
    }
}
