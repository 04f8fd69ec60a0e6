use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;

use super::common::{Common, Format, read_text};
use super::failure::{Done, Failure};
use super::figures::position;
use super::report::{fix_json, fix_text};
use crate::chart::Chart;
use crate::contact::Sightings;
use crate::fix::{Fix, Options, Verdict, fix};
use crate::geodesy::Position;
use crate::watch::area;

/// The assurances that may be asked for: it is never switched off, and never certain.
const ASSURANCE: std::ops::RangeInclusive<f64> = 0.9..=0.9999;

/// The risks that a radius may be asked for.
const RISK: std::ops::RangeInclusive<f64> = 1e-5..=0.1;

/// Sightings in, position and error ellipse out.
///
/// Exit status: 0 fixed; 3 ambiguous; 4 too few contacts; 5 contacts at odds; 2 bad input.
#[derive(Debug, Clone, Args)]
pub struct FixArgs {
    #[command(flatten)]
    common: Common,
    /// The sightings, TOML or JSON; - reads standard input
    #[arg(value_name = "SIGHTINGS")]
    sightings: PathBuf,
    /// The probability that a position must hold to be stated as the fix, from 0.9 to 0.9999
    #[arg(long, value_name = "P", default_value = "0.99", value_parser = assurance)]
    assurance: f64,
    /// The chance, for each fix, that its error exceeds the radius stated for it, from 1e-5 to 0.1
    #[arg(long, value_name = "P", default_value = "0.001", value_parser = risk)]
    risk: f64,
    /// The time that everything is carried to; the latest contact's where not given
    #[arg(long, value_name = "TIME", value_parser = time)]
    time: Option<Timestamp>,
    /// Where it is planned to make the coast; in place of the sightings' own landfall
    #[arg(long, value_name = "POS", allow_hyphen_values = true, value_parser = position)]
    landfall: Option<Position>,
}

/// Reads sightings, asks for their fix and hands it on.
///
/// # Errors
/// Bad input: a chart, a file, a mark, or a time that the reckoning cannot be carried to.
pub fn run(args: &FixArgs) -> Result<Done, Failure> {
    args.common.check_apart(&[], &[("SIGHTINGS", args.sightings.as_path())])?;
    let mut sightings = read(&args.sightings)?;
    sightings.landfall = args.landfall.or(sightings.landfall);
    if let Some(time) = args.time {
        sightings.reckoning.carried_to(time).map_err(|error| {
            Failure::input(format!("--time: {error}"))
                .with_help("ask for a time that track and speed under [reckoning] lead to")
        })?;
    }
    let times: Vec<Timestamp> = args.time.into_iter().collect();
    let chart = args.common.open_chart_about(area::of_sightings(&sightings, &times))?;
    sightings.check_marks(&chart)?;
    let options = Options { assurance: args.assurance, time: args.time, risk: args.risk };
    let found = solved(&chart, &sightings, &options);
    let answer = match args.common.format {
        Format::Text => fix_text(&chart, &sightings, &found),
        Format::Json => fix_json(&found),
    };
    args.common.deliver(&answer)?;
    Ok(Done::with_status(status(found.verdict)))
}

/// The fix of sightings on a chart, with all that the operator must know of the chart.
pub(super) fn solved(chart: &Chart, sightings: &Sightings, options: &Options) -> Fix {
    let mut found = fix(chart, sightings, options);
    for caution in chart.cautions().iter().cloned().chain(chart.late_cautions()) {
        if !found.cautions.contains(&caution) {
            found.cautions.push(caution);
        }
    }
    found
}

/// The sightings of a file, or of standard input: paths in them then count from here.
fn read(path: &Path) -> Result<Sightings, Failure> {
    if path == Path::new("-") {
        let (text, name) = read_text(path)?;
        Ok(Sightings::parse(&text, &name, Path::new(""))?)
    } else {
        Ok(Sightings::read(path)?)
    }
}

fn status(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Fixed => 0,
        Verdict::Ambiguous => 3,
        Verdict::TooFew => 4,
        Verdict::AtOdds => 5,
    }
}

fn assurance(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(assurance) if ASSURANCE.contains(&assurance) => Ok(assurance),
        _ => Err("give a probability from 0.9 to 0.9999".to_owned()),
    }
}

fn risk(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(risk) if RISK.contains(&risk) => Ok(risk),
        _ => Err("give a chance from 1e-5 to 0.1".to_owned()),
    }
}

fn time(text: &str) -> Result<Timestamp, String> {
    text.parse().map_err(|_| "write date, time and Z: 2031-03-09T03:42:30Z (RFC 3339)".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn assurance_is_never_off() {
        assert_eq!(assurance("0.99"), Ok(0.99));
        for text in ["0", "0.89", "1", "0.99999", "nan", "", "often"] {
            assert!(assurance(text).is_err(), "{text}");
        }
    }
}
