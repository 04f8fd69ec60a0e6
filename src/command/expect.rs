use std::path::{Path, PathBuf};

use clap::Args;

use super::common::{Common, Format};
use super::failure::{Done, Failure};
use super::picture::{self, Up};
use super::report::{Asked, expect_json, expect_text, explain_json, explain_text};
use crate::geodesy::{Position, course};
use crate::paint::{Conditions, Vantage, expect, explain};
use crate::radar::{EffectiveEarth, MOST_SEA_STATE, Rain, Set};
use crate::units::{Angle, Bearing, GroundRange, Height, True};

/// The greatest range that may be asked for, in nautical miles.
const MOST_RANGE_NM: f64 = 500.0;

/// The steps between rows of coast that may be asked for, in degrees.
const STEP_DEG: std::ops::RangeInclusive<f64> = 0.01..=10.0;

/// The gradients of refractivity that may be asked for, N units for each kilometre up: wider than
/// any that is measured over more than a few metres.
const GRADIENT_N_KM: std::ops::RangeInclusive<f64> = -1000.0..=1000.0;

/// The heaviest rain taken, in millimetres an hour: more than falls anywhere for long.
const MOST_RAIN_MM_H: f64 = 250.0;

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
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = heading)]
    heading_deg: Option<Bearing<True>>,
    /// Greatest range, 0 to 500; the set's largest scale where not given
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = range)]
    max_range_nm: Option<GroundRange>,
    /// Sea state, 0 to 6
    #[arg(long, value_name = "S", default_value = "2", allow_hyphen_values = true,
          value_parser = sea_state)]
    sea_state: u8,
    /// Rain, millimetres an hour: over the whole path where no extent is given
    #[arg(long, value_name = "P", default_value = "0", allow_hyphen_values = true,
          value_parser = rain)]
    rain_mm_h: f64,
    /// The rain begins at this distance, nautical miles
    #[arg(long, value_name = "NM", allow_hyphen_values = true, requires = "rain_mm_h",
          value_parser = range)]
    rain_from_nm: Option<GroundRange>,
    /// The rain ends at this distance, nautical miles
    #[arg(long, value_name = "NM", allow_hyphen_values = true, requires = "rain_mm_h",
          value_parser = range)]
    rain_to_nm: Option<GroundRange>,
    /// Refraction: the Earth's radius is taken this many times as great; 4/3 where not given
    #[arg(long, value_name = "K", allow_hyphen_values = true, value_parser = k_factor)]
    k_factor: Option<EffectiveEarth>,
    /// Refraction in place of a k: how refractivity changes with height, N units for each
    /// kilometre up, -1000 to 1000; -39 is usual, from -157 on rays are ducted
    #[arg(long, value_name = "G", allow_hyphen_values = true, conflicts_with = "k_factor",
          value_parser = gradient)]
    gradient_n_km: Option<EffectiveEarth>,
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
    let set = Set::resolve(&args.set, Path::new("")).map_err(|error| {
        Failure::input(format!("--set: {error}"))
            .with_help("`foreland set list` names the built-in sets, `set show NAME` prints one")
    })?;
    let chart = args.common.open_chart()?;
    let vantage = Vantage { position: args.at, height: args.height_ft, heading: args.heading_deg };
    let conditions = Conditions {
        sea_state: args.sea_state,
        rain: rain_of(args.rain_mm_h, args.rain_from_nm, args.rain_to_nm)?,
        earth: args.k_factor.or(args.gradient_n_km).unwrap_or_default(),
    };
    let reach = args
        .max_range_nm
        .unwrap_or_else(|| GroundRange::clamped_metres(set.greatest_scale().metres()));
    let asked = Asked {
        chart: &chart,
        vantage: &vantage,
        set: &set,
        conditions: &conditions,
        reach,
        step_deg: args.step_deg,
    };
    if let Some(file) = &args.picture {
        if args.common.output.as_ref() == Some(file) {
            let told = format!("--picture and -o name the same file, {}", file.display());
            return Err(Failure::input(told).with_help("give each a file of its own"));
        }
        picture::write(&asked, file, args.picture_up, args.bank_deg)?;
    }
    let answer = if let Some(name) = &args.explain {
        why(&asked, name, args.common.format)?
    } else {
        let found = expect(&chart, &vantage, &set, &conditions, reach, args.step_deg);
        match args.common.format {
            Format::Text => expect_text(&asked, &found),
            Format::Json => expect_json(&asked, &found)?,
        }
    };
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// The rain asked for, and where it falls.
pub(super) fn rain_of(
    mm_h: f64,
    from: Option<GroundRange>,
    to: Option<GroundRange>,
) -> Result<Rain, Failure> {
    let everywhere = Rain::everywhere(mm_h);
    let asked = Rain {
        from: from.unwrap_or(everywhere.from),
        to: to.unwrap_or(everywhere.to),
        ..everywhere
    };
    if asked.to <= asked.from {
        let told = format!(
            "the rain ends at {} NM, which is not past its beginning at {} NM",
            asked.to.nautical_miles(),
            asked.from.nautical_miles()
        );
        return Err(Failure::input(told).with_help("give --rain-to-nm more than --rain-from-nm"));
    }
    Ok(asked)
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

pub(super) fn position(text: &str) -> Result<Position, String> {
    text.parse().map_err(|error| format!("{error}"))
}

pub(super) fn height(text: &str) -> Result<Height, String> {
    let feet = number(text)?;
    if feet < 0.0 {
        return Err(format!("{feet} ft is below the sea: give the antenna's height above it"));
    }
    Height::from_feet(feet).map_err(|error| error.to_string())
}

fn heading(text: &str) -> Result<Bearing<True>, String> {
    Bearing::from_degrees(number(text)?).map_err(|error| error.to_string())
}

pub(super) fn range(text: &str) -> Result<GroundRange, String> {
    let miles = within(text, 0.0..=MOST_RANGE_NM, "NM")?;
    GroundRange::from_nautical_miles(miles).map_err(|error| error.to_string())
}

pub(super) fn sea_state(text: &str) -> Result<u8, String> {
    match text.parse::<u8>() {
        Ok(state) if state <= MOST_SEA_STATE => Ok(state),
        _ => Err(format!("give a whole number from 0 to {MOST_SEA_STATE}")),
    }
}

pub(super) fn rain(text: &str) -> Result<f64, String> {
    within(text, 0.0..=MOST_RAIN_MM_H, "mm/h")
}

pub(super) fn k_factor(text: &str) -> Result<EffectiveEarth, String> {
    EffectiveEarth::with_k(number(text)?).map_err(|error| error.to_string())
}

pub(super) fn gradient(text: &str) -> Result<EffectiveEarth, String> {
    let n_per_km = within(text, GRADIENT_N_KM, "N/km")?;
    EffectiveEarth::with_gradient(n_per_km).map_err(|error| error.to_string())
}

fn bank(text: &str) -> Result<Angle, String> {
    within(text, -60.0..=60.0, "degrees").map(Angle::from_degrees)
}

fn step(text: &str) -> Result<f64, String> {
    within(text, STEP_DEG, "degrees")
}

pub(super) fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("not a number".to_owned()),
    }
}

pub(super) fn within(
    text: &str,
    right: std::ops::RangeInclusive<f64>,
    unit: &str,
) -> Result<f64, String> {
    let given = number(text)?;
    if right.contains(&given) {
        Ok(given)
    } else {
        Err(format!("{given} is outside {} to {} {unit}", right.start(), right.end()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_bounds_is_refused_in_words() {
        assert_eq!(step("0.005"), Err("0.005 is outside 0.01 to 10 degrees".to_owned()));
        assert_eq!(range("501"), Err("501 is outside 0 to 500 NM".to_owned()));
        assert!(range("-1").is_err() && range("nan").is_err());
        assert!(k_factor("0").unwrap_err().contains("is not above 0"));
        assert_eq!(gradient("-1001"), Err("-1001 is outside -1000 to 1000 N/km".to_owned()));
        assert!(gradient("-157").is_ok());
        assert!(sea_state("7").is_err() && sea_state("0") == Ok(0));
        assert!(height("-5").unwrap_err().contains("below the sea"));
        assert!(heading("361").is_err());
        assert!(rain("-1").is_err());
    }
}
