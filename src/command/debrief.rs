use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use clap::Args;

use super::common::{CAUTION, Common, Format};
use super::failure::{Done, Failure};
use super::report::{debrief_json, debrief_text};
use crate::chart::Chart;
use crate::debrief::export::{Told, csv, geojson, gpx, html, markdown};
use crate::debrief::{asks_about, debrief};
use crate::watch::area::about;
use crate::watch::log::{MOST_BYTES, Record, Replay, What, replay};

/// After the sortie: what was entered, what the reckoning was worth, where we really were.
///
/// The log is read and left as it is, in use or not. With the chart that it was kept on (--chart, or
/// the sample built in) marks are named anew, and it is said what should have painted when.
#[derive(Debug, Clone, Args)]
pub struct DebriefArgs {
    #[command(flatten)]
    common: Common,
    /// The watch log; - reads standard input
    #[arg(value_name = "LOG")]
    log: PathBuf,
    /// Write the track, fixes, contacts and echoes as GPX 1.1
    #[arg(long, value_name = "FILE")]
    gpx: Option<PathBuf>,
    /// Write them with their ellipses as GeoJSON
    #[arg(long, value_name = "FILE")]
    geojson: Option<PathBuf>,
    /// Write places of the track, fixes, contacts and echoes as one table
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write the account as a page that stands by itself
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write the account as Markdown
    #[arg(long, value_name = "FILE")]
    markdown: Option<PathBuf>,
}

/// Reads a log, gives its account and writes the files asked for.
///
/// # Errors
/// A log that cannot be read or holds nothing; a chart that cannot be read; files that cannot be
/// written, all others being written first.
pub fn run(args: &DebriefArgs) -> Result<Done, Failure> {
    let exports = args.exports();
    let written: Vec<_> = exports.iter().map(|(option, path, _)| (*option, *path)).collect();
    args.common.check_apart(&written, &[("LOG", args.log.as_path())])?;
    let (log, found) = read(&args.log)?;
    let mut notices = found.notices;
    let chart = match args.common.chart.as_slice() {
        [] => sample(&found.records)?,
        _ => Some(args.common.open_chart_about(about(&asks_about(&found.records)))?),
    };
    if chart.is_some() && args.common.chart.is_empty() {
        notices.push(
            "the log was kept on the sample chart: the one built in is taken; --chart takes another"
                .to_owned(),
        );
    }
    let account = debrief(&found.records, notices, chart.as_ref());
    let told = Told { debrief: &account, log: &log, chart: chart.as_ref(), caution: CAUTION };
    let mut refused = Vec::new();
    for (_, path, form) in exports {
        if let Err(error) = fs::write(path, form(&told)) {
            refused.push(format!("{}: cannot be written: {error}", path.display()));
        }
    }
    let answer = match args.common.format {
        Format::Text => debrief_text(&told),
        Format::Json => debrief_json(&told),
    };
    args.common.deliver(&answer)?;
    if refused.is_empty() {
        return Ok(Done::OK);
    }
    Err(Failure::input(refused.join("\n"))
        .with_help("name a file in a folder that exists and may be written to"))
}

/// The built-in sample, where the log says that it was kept on it.
fn sample(records: &[Record]) -> Result<Option<Chart>, Failure> {
    let kept_on = records.iter().rev().find_map(|record| match &record.what {
        What::Open { chart, .. } => Some(chart.as_str()),
        _ => None,
    });
    let sample = Chart::sample()?;
    Ok((kept_on == Some(sample.name())).then_some(sample))
}

/// How one file is made.
type Form = fn(&Told<'_>) -> String;

impl DebriefArgs {
    /// The files asked for, each by its option.
    fn exports(&self) -> Vec<(&'static str, &Path, Form)> {
        let all: [(&'static str, &Option<PathBuf>, Form); 5] = [
            ("--gpx", &self.gpx, gpx),
            ("--geojson", &self.geojson, geojson),
            ("--csv", &self.csv, csv),
            ("--html", &self.html, html),
            ("--markdown", &self.markdown, markdown),
        ];
        let asked = all.into_iter();
        asked.filter_map(|(option, path, form)| Some((option, path.as_deref()?, form))).collect()
    }
}

/// What a log holds, and the name to call it by. No lock is taken: it may be in use.
fn read(path: &Path) -> Result<(String, Replay), Failure> {
    let standard_input = path == Path::new("-");
    let name =
        if standard_input { "standard input".to_owned() } else { path.display().to_string() };
    let mut bytes = Vec::new();
    if standard_input {
        io::stdin().lock().take(MOST_BYTES + 1).read_to_end(&mut bytes)
    } else {
        fs::File::open(path).and_then(|file| file.take(MOST_BYTES + 1).read_to_end(&mut bytes))
    }
    .map_err(|error| Failure::input(format!("{name}: cannot be read: {error}")))?;
    if bytes.len() as u64 > MOST_BYTES {
        return Err(Failure::input(format!("{name}: is larger than any watch log")));
    }
    let found =
        replay(&bytes, Path::new(&name)).map_err(|error| Failure::input(error.to_string()))?;
    if found.records.is_empty() {
        let told = format!("{name}: holds no record that can be read");
        let help = if found.notices.is_empty() {
            "a watch log has a record a line; `foreland watch --log FILE` keeps one".to_owned()
        } else {
            found.notices.join("; ")
        };
        return Err(Failure::input(told).with_help(help));
    }
    Ok((name, found))
}
