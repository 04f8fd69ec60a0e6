use std::env;
use std::fs;
use std::io::{self, IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use jiff::Timestamp;

use self::given::Given;
use super::common::{Common, set_file};
use super::failure::{Done, Failure};
use super::figures::position;
use super::landfall::SIGHTINGS;
use super::look::Look;
use crate::chart::{Chart, Folders, GeoBox};
use crate::contact::{Radar, Sightings};
use crate::geodesy::Position;
use crate::radar::Set;
use crate::screen::{self, Keeping, State, Theme, Tour, now};
use crate::text::plain_lines;
use crate::units::Height;
use crate::watch::log::{Log, LogError, MOST_BYTES, Replay, What, replay};
use crate::watch::{Keeper, Watch, area, resume, start_record};

mod given;
mod plain;
mod tour;

/// The display: contacts typed as they are measured, the fix as it comes.
///
/// Entries are kept in a log. Without --log one is begun with the first entry in the state folder
/// of the system, and named on leaving.
#[derive(Debug, Clone, Args)]
pub struct WatchArgs {
    #[command(flatten)]
    common: Common,
    /// The sightings to start from, TOML or JSON. Without them, --at and --chart it is the sample's
    /// worked landfall on the sample chart; with --chart nothing but the chart
    #[arg(value_name = "SIGHTINGS")]
    sightings: Option<PathBuf>,
    /// The log to keep entries in; one that is there is taken up again
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// Without a screen: entries from standard input, one a line, each change said as a line
    #[arg(long)]
    plain: bool,
    /// The tour: on the sample's landfall, from the first echo to a fix in some three minutes
    #[arg(long, conflicts_with_all = ["plain", "chart", "sightings", "at", "landfall"])]
    tour: bool,
    #[command(flatten)]
    look: Look,
    /// Without sightings: the radar in use, a built-in name or a file
    #[arg(long, value_name = "NAME", default_value = "patrol")]
    set: String,
    /// Without sightings: own antenna above mean sea level
    #[arg(long, value_name = "H", default_value_t = 2000.0, allow_negative_numbers = true)]
    height_ft: f64,
    /// Without sightings, and with --chart: where you think you are; else the entry line asks for it
    #[arg(long, value_name = "POS", allow_hyphen_values = true)]
    at: Option<Position>,
    /// Where it is planned to make the coast; in place of the sightings' own landfall
    #[arg(long, value_name = "POS", allow_hyphen_values = true, value_parser = position)]
    landfall: Option<Position>,
}

impl WatchArgs {
    /// The record of the landfall asked for, where one is.
    fn landfall(&self) -> Option<What> {
        let landfall = self.landfall?;
        Some(What::Landfall { lat_deg: landfall.latitude(), lon_deg: landfall.longitude() })
    }
}

/// A sitting ready to begin.
struct Sitting {
    chart: Arc<Chart>,
    /// What another part of a large chart is opened from.
    folders: Folders,
    watch: Watch,
    keeper: Keeper,
    notices: Vec<String>,
    /// The tour, where this is the sample's landfall.
    tour: Tour,
}

/// Opens the display, or takes entries from standard input.
///
/// # Errors
/// Bad input: a chart, sightings or a log; no terminal to draw on.
pub fn run(args: &WatchArgs) -> Result<Done, Failure> {
    if !args.plain && !io::stdout().is_terminal() {
        return Err(Failure::input("the display needs a terminal, and standard output is none")
            .with_help("--plain does without one"));
    }
    let log = args.log.as_deref().map(|log| ("--log", log));
    let sightings = args.sightings.as_deref().map(|file| ("SIGHTINGS", file));
    let read: Vec<_> = sightings.into_iter().chain(set_file("--set", &args.set)).collect();
    args.common.check_apart(log.as_slice(), &read)?;
    let folders = args.common.folders();
    let sitting = Sitting { folders, ..begin(args)? };
    if args.plain {
        plain::run(sitting, &args.common)
    } else {
        show(sitting, &args.common.chart, args.look.theme())
    }
}

/// Opens the display on the sample chart with its worked landfall.
///
/// # Errors
/// The terminal cannot be used.
pub fn run_sample() -> Result<Done, Failure> {
    let chart = Chart::sample()?;
    let start = Start::sample()?;
    let now = now();
    let opening = start.opening(&chart);
    let keeper = Keeper::later(default_log(now), opening);
    let theme = Look::default().theme();
    let sitting = Sitting {
        chart: Arc::new(chart),
        folders: Folders::default(),
        watch: start.watch,
        keeper,
        notices: Vec::new(),
        tour: start.tour,
    };
    show(sitting, &[], theme)
}

fn show(sitting: Sitting, charts: &[PathBuf], theme: Theme) -> Result<Done, Failure> {
    let Sitting { chart, folders, watch, keeper, notices, tour } = sitting;
    let keeping = keeper.tally().into();
    let mut state = State::new(chart, watch, keeping, theme);
    state.parts.folders = Some(folders).filter(|folders| !folders.folders.is_empty());
    state.notices = notices;
    tour::note(&tour, now());
    state.tour = tour;
    let left = screen::run(state, keeper)
        .map_err(|error| Failure::input(format!("the display cannot go on: {error}")))?;
    let waiting = usize::from(left.keeping_now.is_some()) + left.waiting.len();
    println!("{}", plain_lines(&parting(&left.keeping, waiting, charts)));
    Ok(Done::OK)
}

/// Where entries were kept, said on leaving.
///
/// - `waiting`: lines that were entered and had not come back from the disk.
fn parting(keeping: &Keeping, waiting: usize, charts: &[PathBuf]) -> String {
    let told = where_kept(keeping, waiting, charts);
    let are = match waiting {
        0 => return told,
        1 => "line entered is".to_owned(),
        more => format!("{more} lines entered are"),
    };
    format!("{told}\nThe last {are} NOT known to be kept: the display was left before")
}

fn where_kept(keeping: &Keeping, waiting: usize, charts: &[PathBuf]) -> String {
    let charts: Vec<String> = charts.iter().map(|c| format!("--chart {} ", c.display())).collect();
    let charts = charts.concat();
    match keeping {
        Keeping::Ready(path) if waiting > 0 => format!("{}: not begun", path.display()),
        Keeping::Nowhere | Keeping::Ready(_) => "Nothing was entered; no log was begun.".to_owned(),
        Keeping::In(path, count) => {
            let path = path.display();
            let entries = if *count == 1 { "entry" } else { "entries" };
            format!(
                "{count} {entries} kept in {path}\nTake it up again: foreland watch {charts}--log {path}"
            )
        }
        Keeping::Failed(path, count) => {
            let are = if *count == 1 { "entry is" } else { "entries are" };
            format!("{}: the last {count} {are} NOT kept: the disk refused them", path.display())
        }
    }
}

fn begin(args: &WatchArgs) -> Result<Sitting, Failure> {
    let given = args.sightings.as_deref().map(|path| Given::new(path, args.plain));
    let chart = open_chart(args, given.as_ref())?;
    let now = now();
    let Some(path) = &args.log else {
        let start = Start::new(args, given, &chart, now)?;
        let opening = start.opening(&chart);
        let keeper = Keeper::later(default_log(now), opening);
        let Start { watch, notices, tour, .. } = start;
        return Ok(sitting(chart, watch, keeper, notices, tour));
    };
    let (log, replay) = Log::open(path).map_err(|error| bad_log(&error))?;
    if replay.records.is_empty() {
        let start = Start::new(args, given, &chart, now)?;
        let time = start.watch.own_time(now);
        let keeper = Keeper::in_log(log, &replay.records, time, start.opening(&chart))
            .map_err(|error| bad_log(&error))?;
        let Start { watch, notices, tour, .. } = start;
        let notices = replay.notices.into_iter().chain(notices).collect();
        return Ok(sitting(chart, watch, keeper, notices, tour));
    }
    if args.tour {
        return Err(Failure::input(format!(
            "{}: the tour begins a log, and this one is begun",
            path.display()
        ))
        .with_help("name a file that is not there yet, or leave --log out"));
    }
    take_up(args, chart, log, replay, now)
}

fn sitting(
    chart: Chart,
    watch: Watch,
    keeper: Keeper,
    notices: Vec<String>,
    tour: Tour,
) -> Sitting {
    let (chart, folders) = (Arc::new(chart), Folders::default());
    Sitting { chart, folders, watch, keeper, notices, tour }
}

/// Goes on with the sitting that a log holds.
fn take_up(
    args: &WatchArgs,
    chart: Chart,
    log: Log,
    replay: Replay,
    now: Timestamp,
) -> Result<Sitting, Failure> {
    let blank = Start::blank(args, now)?.watch;
    let resumed = resume(&replay.records, &blank);
    let mut notices = replay.notices;
    notices.extend(resumed.notices);
    if args.sightings.is_some() {
        notices.push("the log is taken up: the sightings named beside it are not used".to_owned());
    }
    if let Some(kept_on) = resumed.chart.filter(|name| name != chart.name()) {
        if args.common.chart.is_empty() {
            let path = log.path().display();
            return Err(Failure::input(format!("{path}: was kept on chart \"{kept_on}\""))
                .with_help("name that chart's folder: --chart DIR"));
        }
        notices.push(format!("the log was kept on chart {kept_on}; this is {}", chart.name()));
    }
    let mut watch = resumed.watch.unwrap_or(blank);
    let mut opened = vec![opened(&chart)];
    plan_landfall(args, &mut watch, &mut opened)?;
    let keeper = Keeper::in_log(log, &replay.records, watch.own_time(now), opened)
        .map_err(|error| bad_log(&error))?;
    Ok(sitting(chart, watch, keeper, notices, Tour::default()))
}

/// Plans the landfall asked for, and records it.
fn plan_landfall(
    args: &WatchArgs,
    watch: &mut Watch,
    record: &mut Vec<What>,
) -> Result<(), Failure> {
    let Some(landfall) = args.landfall() else { return Ok(()) };
    watch.apply(&landfall).map_err(|error| Failure::input(format!("--landfall: {error}")))?;
    record.push(landfall);
    Ok(())
}

fn opened(chart: &Chart) -> What {
    What::Open {
        program: concat!("foreland ", env!("CARGO_PKG_VERSION")).to_owned(),
        chart: chart.name().to_owned(),
    }
}

/// Of a place without a chart to lay it on.
const SAMPLE_HELP: &str = "name a chart folder: --chart DIR; the sample is --chart charts-sample, or \
                           opens by itself without --at";

/// The chart asked for. With neither chart nor sightings given it is the sample: a coast of our own
/// invention is never laid under somebody's sightings.
fn open_chart(args: &WatchArgs, given: Option<&Given<'_>>) -> Result<Chart, Failure> {
    let asked = !args.common.chart.is_empty() || args.sightings.is_some() || args.at.is_some();
    if !asked {
        return Ok(Chart::sample()?);
    }
    // Without a folder it is refused before anything is read.
    let area = (!args.common.chart.is_empty()).then(|| area_of(args, given));
    let opened = args.common.open_chart_about(area);
    opened.map_err(|failure| match &args.at {
        Some(_) if args.common.chart.is_empty() => failure.with_help(SAMPLE_HELP),
        _ => failure,
    })
}

/// Where a sitting starts, as far as that can be told before the chart is open. One that does not know
/// where it is has nothing of a large chart until it does.
fn area_of(args: &WatchArgs, given: Option<&Given<'_>>) -> GeoBox {
    let planned = || {
        let mut watch = sitting_before(args, given)?;
        // What is wrong with it is told once the chart is open.
        let _ = args.landfall().map(|landfall| watch.apply(&landfall));
        area::roomy(&watch.asks_about(None, watch.own_time(now())))
    };
    planned().unwrap_or(GeoBox::new(0.0, 0.0, 0.0, 0.0))
}

/// The sitting as it will begin: that of its log, else of its sightings, else blank. Where the log holds
/// one, sightings are not read.
fn sitting_before(args: &WatchArgs, given: Option<&Given<'_>>) -> Option<Watch> {
    let blank = Start::blank(args, now()).ok().map(|start| start.watch);
    if let Some(watch) = args.log.as_deref().and_then(|path| left_in(path, blank.as_ref()?)) {
        return Some(watch);
    }
    match given {
        Some(given) => given.watch(),
        None => blank,
    }
}

/// The sitting that a log holds, as it was left; none of one that is not begun or cannot be read.
fn left_in(path: &Path, blank: &Watch) -> Option<Watch> {
    if !path.is_file() {
        return None;
    }
    let mut bytes = Vec::new();
    fs::File::open(path).ok()?.take(MOST_BYTES).read_to_end(&mut bytes).ok()?;
    let records = replay(&bytes, path).ok()?.records;
    if records.is_empty() { None } else { resume(&records, blank).watch }
}

fn bad_log(error: &LogError) -> Failure {
    Failure::input(error.to_string())
}

/// What a sitting starts from.
struct Start {
    watch: Watch,
    /// The records that say it.
    record: Vec<What>,
    notices: Vec<String>,
    tour: Tour,
}

impl Start {
    fn new(
        args: &WatchArgs,
        given: Option<Given<'_>>,
        chart: &Chart,
        now: Timestamp,
    ) -> Result<Self, Failure> {
        let mut start = match given {
            Some(given) => Self::from_given(given, chart),
            None if args.tour => Self::led(),
            None if args.common.chart.is_empty() => Self::sample(),
            None => Self::blank(args, now),
        }?;
        plan_landfall(args, &mut start.watch, &mut start.record)?;
        if args.landfall.is_some() {
            start.tour = Tour::default();
        }
        Ok(start)
    }

    fn from_given(given: Given<'_>, chart: &Chart) -> Result<Self, Failure> {
        let base = given.base();
        let (text, name) = given.into_text()?;
        let sightings = Sightings::parse(&text, &name, base)?;
        sightings.check_marks(chart)?;
        Ok(Self::from_sightings(&name, &text, &sightings))
    }

    fn sample() -> Result<Self, Failure> {
        let name = "the sample's landfall";
        let sightings = Sightings::parse(SIGHTINGS, name, Path::new(""))?;
        let start = Self::from_sightings(name, SIGHTINGS, &sightings);
        Ok(Self { tour: tour::ready()?, ..start })
    }

    /// The tour's own start.
    fn led() -> Result<Self, Failure> {
        let lead = tour::lead()?;
        let (watch, record) = (lead.start.clone(), vec![lead.record.clone()]);
        Ok(Self { watch, record, notices: Vec::new(), tour: tour::begun(lead) })
    }

    fn from_sightings(name: &str, text: &str, sightings: &Sightings) -> Self {
        Self {
            watch: Watch::from_sightings(sightings),
            record: vec![start_record(name, text, sightings)],
            notices: sightings.cautions.clone(),
            tour: Tour::default(),
        }
    }

    /// A sitting that knows set and height, and the position only where it was given.
    fn blank(args: &WatchArgs, now: Timestamp) -> Result<Self, Failure> {
        let set = Set::resolve(&args.set, Path::new(""))
            .map_err(|error| Failure::input(format!("--set: {error}")))?;
        let height = Height::from_feet(args.height_ft)
            .map_err(|error| Failure::input(format!("--height-ft: {error}")))?;
        let radar = Radar {
            set,
            set_name: args.set.clone(),
            range_sigma_nm: None,
            bearing_sigma_deg: None,
        };
        let notices = vec![format!(
            "set {} and own height {:.0} ft are taken; \"h 2000\" corrects the height",
            args.set,
            height.feet()
        )];
        let start = What::Blank { set: radar.set.to_toml(), height_ft: height.feet() };
        let mut watch = Watch::blank(radar, height);
        let mut record = vec![start];
        if let Some(position) = args.at {
            let reckoning = What::Reckoning {
                time: now,
                lat_deg: position.latitude(),
                lon_deg: position.longitude(),
                covariance_nm2: assumed_covariance(),
            };
            watch.begin(&reckoning).map_err(|error| Failure::input(error.to_string()))?;
            record.push(reckoning);
        }
        Ok(Self { watch, record, notices, tour: Tour::default() })
    }

    fn opening(&self, chart: &Chart) -> Vec<What> {
        std::iter::once(opened(chart)).chain(self.record.iter().cloned()).collect()
    }
}

fn assumed_covariance() -> [[f64; 2]; 2] {
    let variance = crate::watch::ASSUMED_SIGMA_NM * crate::watch::ASSUMED_SIGMA_NM;
    [[variance, 0.0], [0.0, variance]]
}

/// A log of its own for each sitting, in the state folder of the system (XDG base directories).
fn default_log(now: Timestamp) -> PathBuf {
    let set = |name: &str| env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let state = set("XDG_STATE_HOME")
        .or_else(|| set("HOME").map(|home| home.join(".local").join("state")))
        .unwrap_or_else(env::temp_dir);
    let stamp = now.strftime("%Y%m%dT%H%M%SZ");
    state.join("foreland").join(format!("watch-{stamp}-{}.log", std::process::id()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_left_before_the_disk_had_it_is_told() {
        let (path, charts) = (PathBuf::from("watch.log"), [PathBuf::from("coast")]);
        let ready = Keeping::Ready(path.clone());
        assert_eq!(parting(&ready, 0, &charts), "Nothing was entered; no log was begun.");
        assert_eq!(
            parting(&ready, 1, &charts),
            "watch.log: not begun\n\
             The last line entered is NOT known to be kept: the display was left before"
        );
        assert_eq!(
            parting(&Keeping::In(path, 3), 2, &charts),
            "3 entries kept in watch.log\n\
             Take it up again: foreland watch --chart coast --log watch.log\n\
             The last 2 lines entered are NOT known to be kept: the display was left before"
        );
    }
}
