use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;

use super::common::{Common, Format, resolve_set, set_file};
use super::failure::{Done, Failure};
use super::figures::{direction, height, number, position, within};
use super::report::card::CardFile;
use super::report::{Planned, approach_json, approach_text};
use super::weather::WeatherArgs;
use crate::chart::GeoBox;
use crate::fix::prepare;
use crate::geodesy::{Position, along_track, course};
use crate::paint::Conditions;
use crate::paint::approach::{MOST_RUN_NM, Plan, PlanError, approach};
use crate::radar::Set;
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, Speed, True};
use crate::watch::area;

/// The speeds that a run may have, in knots.
const SPEED_KN: std::ops::RangeInclusive<f64> = 1.0..=Speed::MOST_KNOTS;

/// The lengths that a run may be asked to have, in nautical miles, and in minutes.
const RUN_NM: std::ops::RangeInclusive<f64> = 0.1..=MOST_RUN_NM;
const RUN_MINUTES: std::ops::RangeInclusive<f64> = 0.1..=1_440.0;

/// One standard deviation of a share of the speed where none is stated.
const SPEED_SIGMA_SHARE: f64 = 0.03;

/// How a coast appears along a planned track.
#[derive(Debug, Clone, Args)]
pub struct ApproachArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    plan: PlanArgs,
    /// Write a landfall card of one page too: .txt or .html by the ending; may be given more than once
    #[arg(long, value_name = "FILE")]
    card: Vec<PathBuf>,
}

/// A planned run in to a coast, and the set and the weather it is made with.
#[derive(Debug, Clone, Args)]
pub(super) struct PlanArgs {
    /// Where the run starts, by the reckoning: "38 12.9 S, 21 30.5 W" or -38.2150,-21.5080
    #[arg(long, value_name = "POS", allow_hyphen_values = true, value_parser = position)]
    from: Position,
    /// Track to make good, true; held as a rhumb line, and taken for the heading
    #[arg(long, value_name = "T", allow_hyphen_values = true, value_parser = direction)]
    track_deg: Bearing<True>,
    /// Speed to make good, knots, 1 to 2000
    #[arg(long, value_name = "V", allow_hyphen_values = true, value_parser = speed)]
    speed_kn: Speed,
    /// Antenna above mean sea level, feet
    #[arg(long, value_name = "H", allow_hyphen_values = true, value_parser = height)]
    height_ft: Height,
    /// Radar set: metric, patrol, boat, or the path of a set file
    #[arg(long, value_name = "NAME")]
    set: String,
    /// When the run starts: 2031-03-09T03:10:00Z
    #[arg(long, value_name = "T0", value_parser = time)]
    time: Timestamp,
    /// Where it is planned to make the coast; the run then ends at the place of the track nearest to it
    #[arg(long, value_name = "POS", allow_hyphen_values = true, value_parser = position)]
    landfall: Option<Position>,
    /// Error of the start on each axis, one standard deviation, nautical miles, 0 to 100
    #[arg(long, value_name = "S", default_value = "2", allow_hyphen_values = true,
          value_parser = sigma)]
    sigma_nm: GroundRange,
    /// Error of the track, one standard deviation, degrees, 0 to 30
    #[arg(long, value_name = "S", default_value = "2", allow_hyphen_values = true,
          value_parser = track_sigma)]
    track_sigma_deg: Angle,
    /// Error of the speed, one standard deviation, knots; 3 % of the speed where not given
    #[arg(long, value_name = "S", allow_hyphen_values = true, value_parser = number)]
    speed_sigma_kn: Option<f64>,
    /// How far the run goes, nautical miles, 0.1 to 1000; where not given to the landfall, else until
    /// the track meets land, else one and a half times the set's largest scale
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = run_nm)]
    run_nm: Option<GroundRange>,
    /// How long the run goes on, in place of --run-nm, minutes, 0.1 to 1440
    #[arg(long, value_name = "M", allow_hyphen_values = true, conflicts_with = "run_nm",
          value_parser = minutes)]
    minutes: Option<f64>,
    #[command(flatten)]
    weather: WeatherArgs,
}

impl PlanArgs {
    /// The set's name, or the path of its file.
    pub fn set(&self) -> &str {
        &self.set
    }

    /// When the run starts.
    pub fn time(&self) -> Timestamp {
        self.time
    }

    /// Where it is planned to make the coast.
    pub fn landfall(&self) -> Option<Position> {
        self.landfall
    }

    /// The weather.
    ///
    /// # Errors
    /// Rain that ends before it begins.
    pub fn conditions(&self) -> Result<Conditions, Failure> {
        self.weather.conditions()
    }

    /// The track and how far to believe it.
    ///
    /// # Errors
    /// An error of the speed that is no error any more.
    pub fn plan(&self) -> Result<Plan, Failure> {
        let speed_sigma = self.speed_sigma_kn.unwrap_or(SPEED_SIGMA_SHARE * self.speed_kn.knots());
        // A speed out by more than a third might as well be backward.
        let most = self.speed_kn.knots() / 3.0;
        if !(0.0..=most).contains(&speed_sigma) {
            return Err(Failure::input(format!(
                "--speed-sigma-kn: {speed_sigma} is outside 0 to {most:.1} kn, a third of the speed"
            ))
            .with_help("give one standard deviation of the speed made good, in knots"));
        }
        Ok(Plan {
            from: self.from,
            track: self.track_deg,
            speed: self.speed_kn,
            height: self.height_ft,
            sigma: self.sigma_nm,
            track_sigma: self.track_sigma_deg,
            speed_sigma: Speed::from_knots(speed_sigma)
                .map_err(|error| Failure::input(format!("--speed-sigma-kn: {error}")))?,
        })
    }

    /// What part of the world the run may lead through, with what its radar reaches.
    pub fn area(&self, plan: &Plan, asked: Option<GroundRange>, set: &Set) -> Option<GeoBox> {
        /// A place of the track at least so often, in metres.
        const STEP_M: f64 = 50.0 * METRES_PER_NAUTICAL_MILE;
        let scale = area::scale_of(set);
        let landfall = self.landfall.map(|place| course(plan.from, place).distance.metres());
        let run = asked.map(GroundRange::metres).or(landfall).unwrap_or(1.5 * scale);
        // Tracks displaced along are run longer at both ends, and those across lie to the sides.
        let spread = 8.0 * plan.sigma.metres() + run * (3.0 * plan.track_sigma.radians()).tan();
        let longer = run * (3.0 * plan.speed_sigma.knots() / plan.speed.knots());
        let reach = scale + spread + longer;
        let steps = (run / STEP_M).ceil() as usize;
        let along = (0..=steps).map(|step| {
            let run_m = (step as f64 * STEP_M).min(run);
            (along_track(plan.from, plan.track, run_m), reach)
        });
        let places: Vec<_> = along.chain(self.landfall.map(|place| (place, reach))).collect();
        area::about(&places)
    }

    /// The run asked for, if any.
    ///
    /// # Errors
    /// A run in minutes that is too short or too long in miles.
    pub fn asked(&self) -> Result<Option<GroundRange>, Failure> {
        let Some(minutes) = self.minutes else { return Ok(self.run_nm) };
        let miles = minutes / 60.0 * self.speed_kn.knots();
        if !RUN_NM.contains(&miles) {
            let (least, most) = (RUN_NM.start(), RUN_NM.end());
            return Err(Failure::input(format!(
                "--minutes: {minutes} min at {:.0} kn are {miles:.2} NM, outside {least} to {most} NM",
                self.speed_kn.knots()
            ))
            .with_help("ask for a run of a length in these bounds"));
        }
        Ok(Some(GroundRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE)))
    }
}

/// Asks what first paints when and hands it on.
///
/// # Errors
/// A chart or a set that cannot be read; a plan that cannot be run.
pub fn run(args: &ApproachArgs) -> Result<Done, Failure> {
    let written: Vec<_> = args.card.iter().map(|file| ("--card", file.as_path())).collect();
    args.common.check_apart(&written, set_file("--set", args.plan.set()).as_slice())?;
    // Before anything is worked out: an ending that is none of ours.
    let cards = args.card.iter().map(|file| CardFile::of(file)).collect::<Result<Vec<_>, _>>()?;
    let (set, plan, asked) = (resolve_set(args.plan.set())?, args.plan.plan()?, args.plan.asked()?);
    let conditions = args.plan.conditions()?;
    let chart = args.common.open_chart_about(args.plan.area(&plan, asked, &set))?;
    let found =
        approach(&chart, &plan, &set, &conditions, asked, args.plan.landfall).map_err(unfit)?;
    let planned = Planned {
        chart: &chart,
        plan: &plan,
        set: &set,
        conditions: &conditions,
        start: args.plan.time,
    };
    let prepared = prepare(&chart, &plan, &set, &conditions, args.plan.time, &found);
    let answer = match args.common.format {
        Format::Text => approach_text(&planned, &found, &prepared),
        Format::Json => approach_json(&planned, &found, &prepared)?,
    };
    for card in &cards {
        card.write(&planned, &found, &prepared)?;
    }
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// A landfall that the plan does not lead to.
pub(super) fn unfit(error: PlanError) -> Failure {
    Failure::input(format!("--landfall: {error}"))
        .with_help("give a landfall ahead of --from on the track, or mend --track-deg")
}

fn speed(text: &str) -> Result<Speed, String> {
    let knots = within(text, SPEED_KN, "kn")?;
    Speed::from_knots(knots).map_err(|error| error.to_string())
}

fn time(text: &str) -> Result<Timestamp, String> {
    text.parse().map_err(|_| "write date, time and Z: 2031-03-09T03:10:00Z (RFC 3339)".to_owned())
}

fn sigma(text: &str) -> Result<GroundRange, String> {
    let miles = within(text, 0.0..=100.0, "NM")?;
    GroundRange::from_nautical_miles(miles).map_err(|error| error.to_string())
}

fn track_sigma(text: &str) -> Result<Angle, String> {
    within(text, 0.0..=30.0, "degrees").map(Angle::from_degrees)
}

fn run_nm(text: &str) -> Result<GroundRange, String> {
    let miles = within(text, RUN_NM, "NM")?;
    GroundRange::from_nautical_miles(miles).map_err(|error| error.to_string())
}

fn minutes(text: &str) -> Result<f64, String> {
    within(text, RUN_MINUTES, "minutes")
}
