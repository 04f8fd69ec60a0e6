use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;

use super::common::{Common, Format, read_text, set_file};
use super::failure::{Done, Failure};
use super::report::pretty;
use crate::radar::Set;

/// The built-in sets, and files of one's own.
#[derive(Debug, Clone, Args)]
pub struct SetArgs {
    #[command(subcommand)]
    what: What,
}

/// What is asked about sets.
#[derive(Debug, Clone, Subcommand)]
enum What {
    /// The built-in sets
    List(ListArgs),
    /// A built-in set as a file to start one's own from
    Show(ShowArgs),
    /// Whether a file is a set, and what it comes to
    Check(CheckArgs),
}

#[derive(Debug, Clone, Args)]
struct ListArgs {
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Clone, Args)]
struct ShowArgs {
    #[command(flatten)]
    common: Common,
    /// metric, patrol or boat, or the path of a set file
    #[arg(value_name = "NAME")]
    name: String,
}

#[derive(Debug, Clone, Args)]
struct CheckArgs {
    #[command(flatten)]
    common: Common,
    /// The set file; - reads standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Lists, shows or checks sets.
///
/// # Errors
/// A set that is none: every fault of its file.
pub fn run(args: &SetArgs) -> Result<Done, Failure> {
    match &args.what {
        What::List(args) => list(&args.common),
        What::Show(args) => show(args),
        What::Check(args) => check(args),
    }
}

fn list(common: &Common) -> Result<Done, Failure> {
    let sets: Vec<Set> = Set::NAMES.into_iter().filter_map(Set::builtin).collect();
    let answer = match common.format {
        Format::Text => sets.iter().fold(String::new(), |text, set| text + &in_words(set)),
        Format::Json => {
            let sets = sets.iter().map(Figures::of).collect();
            pretty(&Listed { schema: "foreland.sets/1", sets })?
        }
    };
    common.deliver(&answer)?;
    Ok(Done::OK)
}

fn show(args: &ShowArgs) -> Result<Done, Failure> {
    args.common.check_apart(&[], set_file("NAME", &args.name).as_slice())?;
    let set = Set::resolve(&args.name, Path::new("")).map_err(|error| {
        Failure::input(error.to_string()).with_help("`foreland set list` names the built-in sets")
    })?;
    let answer = match args.common.format {
        // A built-in set keeps the sources of its figures.
        Format::Text => match Set::builtin_text(&args.name) {
            Some(text) => text.to_owned(),
            None => set.to_toml(),
        },
        Format::Json => pretty(&Shown { schema: "foreland.set/1", set: Figures::of(&set) })?,
    };
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

fn check(args: &CheckArgs) -> Result<Done, Failure> {
    args.common.check_apart(&[], &[("FILE", args.file.as_path())])?;
    let (text, name) = read_text(&args.file)?;
    let set = Set::parse(&text, &name).map_err(|error| {
        Failure::input(error.to_string())
            .with_help("`foreland set show boat` prints a set to start from")
    })?;
    let answer = match args.common.format {
        Format::Text => format!("{name}: a sound set\n{}", in_words(&set)),
        Format::Json => pretty(&Shown { schema: "foreland.set/1", set: Figures::of(&set) })?,
    };
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// A set in two lines, with what its figures come to.
fn in_words(set: &Set) -> String {
    let mut text = String::new();
    let scales: Vec<String> = set.scales_nm.iter().map(ToString::to_string).collect();
    let look = match (set.scan_rpm, set.lobes) {
        (Some(rpm), _) => format!("a beam of {}° turning at {rpm} rpm", set.beam_width_deg),
        (None, Some(lobes)) => {
            format!("two lobes {}° off the bow, {}° wide", lobes.squint_deg, lobes.width_deg)
        }
        (None, None) => format!("a beam of {}°", set.beam_width_deg),
    };
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "{:<10} {} MHz, {} kW, {look}, {} pulses on target",
        set.name,
        set.frequency_mhz,
        set.peak_power_kw,
        set.pulses_on_target()
    );
    let _ = writeln!(
        text,
        "{:<10} scales {} NM; pulse {:.0} m long; echoes unambiguous to {:.1} NM",
        "",
        scales.join(" "),
        set.pulse_length_m(),
        set.unambiguous_range().nautical_miles()
    );
    text
}

#[derive(Serialize)]
struct Listed<'a> {
    schema: &'static str,
    sets: Vec<Figures<'a>>,
}

#[derive(Serialize)]
struct Shown<'a> {
    schema: &'static str,
    set: Figures<'a>,
}

/// The keys of a set file, and what they come to.
#[derive(Serialize)]
struct Figures<'a> {
    name: &'a str,
    kind: &'static str,
    frequency_mhz: f64,
    polarisation: &'static str,
    peak_power_kw: f64,
    antenna_gain_dbi: f64,
    beam_width_deg: f64,
    elevation_beam_deg: f64,
    cosecant_to_deg: Option<f64>,
    pulse_us: f64,
    pulse_rate_hz: f64,
    scan_rpm: Option<f64>,
    noise_figure_db: f64,
    losses_db: f64,
    scales_nm: &'a [f64],
    min_range_nm: f64,
    range_sigma_nm: f64,
    range_sigma_share: f64,
    bearing_sigma_deg: f64,
    usable_height_ft: Option<(f64, f64)>,
    lobes: Option<LobeFigures>,
    unambiguous_nm: f64,
    pulses_on_target: u32,
}

#[derive(Serialize)]
struct LobeFigures {
    squint_deg: f64,
    width_deg: f64,
    ratio_sigma_db: f64,
    back_db: f64,
}

impl<'a> Figures<'a> {
    fn of(set: &'a Set) -> Self {
        Self {
            name: &set.name,
            kind: set.kind.as_str(),
            frequency_mhz: set.frequency_mhz,
            polarisation: set.polarisation.as_str(),
            peak_power_kw: set.peak_power_kw,
            antenna_gain_dbi: set.antenna_gain_dbi,
            beam_width_deg: set.beam_width_deg,
            elevation_beam_deg: set.elevation_beam_deg,
            cosecant_to_deg: set.cosecant_to_deg,
            pulse_us: set.pulse_us,
            pulse_rate_hz: set.pulse_rate_hz,
            scan_rpm: set.scan_rpm,
            noise_figure_db: set.noise_figure_db,
            losses_db: set.losses_db,
            scales_nm: &set.scales_nm,
            min_range_nm: set.min_range_nm,
            range_sigma_nm: set.range_sigma_nm,
            range_sigma_share: set.range_sigma_share,
            bearing_sigma_deg: set.bearing_sigma_deg,
            usable_height_ft: set.usable_height_ft,
            lobes: set.lobes.map(|lobes| LobeFigures {
                squint_deg: lobes.squint_deg,
                width_deg: lobes.width_deg,
                ratio_sigma_db: lobes.ratio_sigma_db,
                back_db: lobes.back_db,
            }),
            unambiguous_nm: (set.unambiguous_range().nautical_miles() * 100.0).round() / 100.0,
            pulses_on_target: set.pulses_on_target(),
        }
    }
}
