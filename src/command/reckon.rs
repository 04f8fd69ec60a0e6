use std::path::PathBuf;

use clap::Args;

use super::common::{Common, Format, read_text};
use super::failure::{Done, Failure};
use super::figures::within;
use super::report::{reckon_json, reckon_text};
use crate::chart::GeoBox;
use crate::geodesy::Position;
use crate::reckon::{Legs, reckon};
use crate::units::METRES_PER_NAUTICAL_MILE;
use crate::watch::area;

/// How often a position may be asked for, in minutes.
const EVERY_MIN: std::ops::RangeInclusive<f64> = 0.1..=1440.0;

/// How often the way is looked at for what part of a chart it leads through, in minutes.
const AREA_EVERY_MIN: f64 = 15.0;

/// The nearest mark is named from as far off as this, in nautical miles.
const NEAR_NM: f64 = 300.0;

/// The most positions told.
const MOST_POSITIONS: f64 = 20_000.0;

/// Legs, winds or currents in; dead-reckoned positions and their growing uncertainty out.
///
/// With --chart, the nearest mark to each position is named, and marks that position lines name are
/// looked up.
#[derive(Debug, Clone, Args)]
pub struct ReckonArgs {
    #[command(flatten)]
    common: Common,
    /// The legs, TOML or JSON; - reads standard input
    #[arg(value_name = "LEGS")]
    legs: PathBuf,
    /// A position every so many minutes too, counted from the start, 0.1 to 1440
    #[arg(long, value_name = "M", allow_hyphen_values = true, value_parser = minutes)]
    every_min: Option<f64>,
}

/// Reads legs, works them and hands the answer on.
///
/// # Errors
/// Bad input: the legs, a chart, or more positions than are told.
pub fn run(args: &ReckonArgs) -> Result<Done, Failure> {
    args.common.check_apart(&[], &[("LEGS", args.legs.as_path())])?;
    let (text, name) = read_text(&args.legs)?;
    let chart = match args.common.chart.as_slice() {
        [] => None,
        _ => Some(args.common.open_chart_about(area_of(&text, &name))?),
    };
    let legs = Legs::parse_on(&text, &name, chart.as_ref())?;
    let minutes: f64 = legs.legs.iter().map(|leg| leg.seconds / 60.0).sum();
    if let Some(every) = args.every_min.filter(|every| minutes / every > MOST_POSITIONS) {
        return Err(Failure::input(format!(
            "--every-min: {every} min over {minutes:.0} min are more than {MOST_POSITIONS} positions"
        ))
        .with_help("ask for fewer, or split the legs over several files"));
    }
    let found = reckon(&legs, args.every_min.map(|minutes| 60.0 * minutes));
    let answer = match args.common.format {
        Format::Text => reckon_text(&legs, &found, chart.as_ref()),
        Format::Json => reckon_json(&legs, &found, chart.as_ref())?,
    };
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// Where legs lead, if that can be told without a chart.
fn area_of(text: &str, name: &str) -> Option<GeoBox> {
    let legs = Legs::parse(text, name).ok()?;
    let found = reckon(&legs, Some(60.0 * AREA_EVERY_MIN));
    let places: Vec<(Position, f64)> =
        found.passed.iter().map(|it| (it.position, NEAR_NM * METRES_PER_NAUTICAL_MILE)).collect();
    area::about(&places)
}

fn minutes(text: &str) -> Result<f64, String> {
    within(text, EVERY_MIN, "minutes")
}
