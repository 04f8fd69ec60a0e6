use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use clap::Args;
use signal_hook::consts::SIGINT;
use signal_hook::flag;

use super::approach::{PlanArgs, unfit};
use super::common::{Common, Format, resolve_set, set_file};
use super::failure::{Done, Failure};
use super::figures::within;
use super::report::{Planned, Tried, campaign_json, campaign_text};
use crate::campaign::rows::{Of, RowsError, RowsFile};
use crate::campaign::{self, CampaignError, Coast, Habits, Row, Tally, Trial, run as make};
use crate::geodesy::Position;
use crate::paint::approach::Plan;
use crate::radar::Set;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// The most landfalls of one campaign, and threads.
const MOST: u64 = 1_000_000;
const MOST_THREADS: u64 = 1_024;

/// Where nothing is asked, a look each twentieth of the run, and no more often than this, minutes.
const LOOKS: f64 = 20.0;
const LEAST_MINUTES: f64 = 2.0;

/// The landfall of a plan tried many times on your own chart: how often it is fixed, and how often wrongly
#[derive(Debug, Clone, Args)]
pub struct CampaignArgs {
    #[command(flatten)]
    common: Common,
    #[command(flatten)]
    plan: PlanArgs,
    /// Landfalls to make, 1 to 1000000
    #[arg(long, value_name = "N", default_value = "200", allow_hyphen_values = true,
          value_parser = landfalls)]
    n: u64,
    /// Everything of chance comes from it: the same seed makes the same landfalls
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// The most echoes measured at a look, 2 to 8
    #[arg(long, value_name = "K", default_value = "6", allow_hyphen_values = true,
          value_parser = contacts)]
    contacts: usize,
    /// The chance that an echo measured is a ship, 0 to 1
    #[arg(long, value_name = "P", default_value = "0.15", allow_hyphen_values = true,
          value_parser = chance)]
    ships: f64,
    /// From one look at the set to the next, minutes, 0.5 to 120; where not given a twentieth of the
    /// run, and at least 2
    #[arg(long, value_name = "M", allow_hyphen_values = true, value_parser = every)]
    every_minutes: Option<f64>,
    /// A right fix counts only with the longer half axis of its 95 % ellipse no more than this, nautical
    /// miles, 0.1 to 100: until then the run goes on. A wrong one always counts
    #[arg(long, value_name = "NM", allow_hyphen_values = true, value_parser = half_axis)]
    within_nm: Option<f64>,
    /// Keep each landfall in this file as it comes, one row a line; a file begun before is gone on with
    #[arg(long, value_name = "FILE")]
    rows: Option<PathBuf>,
    /// Landfalls made at one time; where not given as many as the machine has processors
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = threads)]
    threads: Option<usize>,
}

/// Tries the plan and says what came of it.
///
/// # Errors
/// Bad input: a chart, a set, a plan, a file of rows that is another's; a fault of the program.
pub fn run(args: &CampaignArgs) -> Result<Done, Failure> {
    let rows = args.rows.as_deref().map(|file| ("--rows", file));
    let set = set_file("--set", args.plan.set());
    args.common.check_apart(rows.as_slice(), set.as_slice())?;
    let (set, plan, asked) = (resolve_set(args.plan.set())?, args.plan.plan()?, args.plan.asked()?);
    let conditions = args.plan.conditions()?;
    let chart = Arc::new(args.common.open_chart_about(args.plan.area(&plan, asked, &set))?);
    let landfall =
        args.plan.landfall().map(|place| plan.landfall(place)).transpose().map_err(unfit)?;
    let length = plan.run(&chart, &set, asked, landfall.as_ref()).length;
    let habits = Habits {
        every_s: 60.0 * args.every_minutes.unwrap_or_else(|| usual_minutes(&plan, length)),
        contacts: args.contacts,
        ships: args.ships,
        within_nm: args.within_nm,
    };
    let planned = campaign::Planned {
        set: &set,
        conditions: &conditions,
        plan,
        start: args.plan.time(),
        length,
        landfall,
        habits,
    };
    let coast = Coast::about(Arc::clone(&chart), &planned.area());
    let trial = Trial::new(&coast, planned);
    let of = of(args, &coast, &planned);
    let rows = made(args, &trial, &of)?;
    let tried = Tried {
        planned: Planned {
            chart: &chart,
            plan: &planned.plan,
            set: &set,
            conditions: &conditions,
            start: planned.start,
        },
        length,
        landfall,
        target: trial.target(),
        habits,
        seed: args.seed,
        asked: args.n,
        tally: Tally::of(&rows, plan.sigma_across_m(length.metres())),
        cautions: coast.cautions(),
    };
    let answer = match args.common.format {
        Format::Text => campaign_text(&tried),
        Format::Json => campaign_json(&tried)?,
    };
    args.common.deliver(&answer)?;
    Ok(Done::OK)
}

/// All landfalls, those kept before with them.
fn made(args: &CampaignArgs, trial: &Trial<'_>, of: &Of) -> Result<Vec<Row>, Failure> {
    let (mut file, before) = match &args.rows {
        Some(path) => {
            let (file, rows) = RowsFile::open(path, of).map_err(|error| unusable(&error))?;
            (Some(file), rows)
        }
        None => (None, Vec::new()),
    };
    let stop = stopped_by_the_user()?;
    let kept = before.iter().filter(|row| row.landfall <= args.n).count() as u64;
    let mut progress = Progress::new(args.n, kept);
    let told = |row: &Row| {
        if let Some(file) = &mut file {
            file.append(row)?;
        }
        progress.one_more();
        Ok(())
    };
    let threads = args.threads.unwrap_or(0);
    let rows = make(trial, args.seed, args.n, before, threads, &stop, told);
    progress.clear();
    rows.map_err(|error| match error {
        CampaignError::Told(error) => unusable(&error),
        CampaignError::Threads(error) => {
            Failure::input(format!("--threads: {error}")).with_help("ask for fewer threads")
        }
        CampaignError::Simulator(error) => Failure::Fault(error.to_string()),
    })
}

/// What is set when the user asks to stop; asked twice, the program ends there and then.
fn stopped_by_the_user() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let fault = |error: io::Error| Failure::Fault(format!("no hearing of Ctrl-C: {error}"));
    // The order counts: the first time it is not set yet.
    flag::register_conditional_shutdown(SIGINT, 130, Arc::clone(&stop)).map_err(fault)?;
    flag::register(SIGINT, Arc::clone(&stop)).map_err(fault)?;
    Ok(stop)
}

fn unusable(error: &RowsError) -> Failure {
    let help = match error {
        RowsError::Disk { .. } => "name a file in a folder that exists and may be written to",
        RowsError::NoHead { .. } => "name a file that is not there yet, or one that --rows began",
        RowsError::Other { .. } => {
            "go on with the plan, the seed and the version that it was begun with, or name another file"
        }
        RowsError::BadRow { .. } => "take that line out, and its landfall is made again",
    };
    Failure::input(format!("--rows: {error}")).with_help(help)
}

fn usual_minutes(plan: &Plan, length: GroundRange) -> f64 {
    (plan.seconds(length.metres()) / 60.0 / LOOKS).max(LEAST_MINUTES)
}

/// What rows are of: whatever a landfall comes from, but for its number.
fn of(args: &CampaignArgs, coast: &Coast, planned: &campaign::Planned<'_>) -> Of {
    let campaign::Planned { plan, set, conditions, length, landfall, habits, .. } = planned;
    let nm = |range: GroundRange| range.metres() / METRES_PER_NAUTICAL_MILE;
    let place = |at: Position| format!("{:.7},{:.7}", at.latitude(), at.longitude());
    let rain = conditions.rain;
    let sum = |bytes: &[u8]| format!("{:08x}", crc32fast::hash(bytes));
    let said: [(&str, String); 23] = [
        ("version", env!("CARGO_PKG_VERSION").to_owned()),
        ("seed", args.seed.to_string()),
        ("chart", format!("{} ({:08x})", coast.name, coast.fingerprint())),
        ("set", format!("{} ({})", set.name, sum(set.to_toml().as_bytes()))),
        ("from", place(plan.from)),
        ("track_deg", plan.track.degrees().to_string()),
        ("speed_kn", plan.speed.knots().to_string()),
        ("height_ft", plan.height.feet().to_string()),
        ("time", planned.start.to_string()),
        ("run_nm", nm(*length).to_string()),
        ("landfall", landfall.map_or_else(|| "none".to_owned(), |it| place(it.planned))),
        ("sigma_nm", nm(plan.sigma).to_string()),
        ("track_sigma_deg", plan.track_sigma.degrees().to_string()),
        ("speed_sigma_kn", plan.speed_sigma.knots().to_string()),
        ("sea_state", conditions.sea_state.to_string()),
        ("rain_mm_h", rain.mm_h.to_string()),
        ("rain_from_nm", nm(rain.from).to_string()),
        ("rain_to_nm", nm(rain.to).to_string()),
        ("k", conditions.earth.k().to_string()),
        ("contacts", habits.contacts.to_string()),
        ("ships", habits.ships.to_string()),
        ("every_minutes", (habits.every_s / 60.0).to_string()),
        ("within_nm", habits.within_nm.map_or_else(|| "any".to_owned(), |nm| nm.to_string())),
    ];
    // Rows that say nothing of it were solved by the errors of one of these two, whatever the set was.
    let by_own = !["patrol", "metric"].iter().any(|name| Set::builtin(name).as_ref() == Some(*set));
    let solved = by_own.then(|| ("solved_by", "the set's own errors".to_owned()));
    said.into_iter().chain(solved).map(|(name, value)| (name.to_owned(), value)).collect()
}

/// How far it has come, on a terminal.
struct Progress {
    asked: u64,
    before: u64,
    done: u64,
    shown: bool,
    began: Instant,
}

impl Progress {
    fn new(asked: u64, before: u64) -> Self {
        let shown = io::stderr().is_terminal();
        Self { asked, before, done: before, shown, began: Instant::now() }
    }

    fn one_more(&mut self) {
        self.done += 1;
        if self.shown {
            let made = (self.done - self.before) as f64;
            let left = self.asked.saturating_sub(self.done) as f64;
            let seconds = self.began.elapsed().as_secs_f64() * left / made;
            let left = if seconds >= 90.0 {
                format!("{:.0} min", seconds / 60.0)
            } else {
                format!("{seconds:.0} s")
            };
            // What cannot be shown is no reason to stop.
            let mut err = io::stderr().lock();
            let _ = write!(err, "\r{} of {} landfalls, {left} left  ", self.done, self.asked);
            let _ = err.flush();
        }
    }

    fn clear(&self) {
        if self.shown {
            let _ = write!(io::stderr().lock(), "\r{:60}\r", "");
        }
    }
}

fn whole(text: &str, least: u64, most: u64) -> Result<u64, String> {
    match text.trim().parse::<u64>() {
        Ok(number) if (least..=most).contains(&number) => Ok(number),
        _ => Err(format!("give a whole number from {least} to {most}")),
    }
}

fn landfalls(text: &str) -> Result<u64, String> {
    whole(text, 1, MOST)
}

fn contacts(text: &str) -> Result<usize, String> {
    whole(text, 2, 8).map(|number| number as usize)
}

fn threads(text: &str) -> Result<usize, String> {
    whole(text, 1, MOST_THREADS).map(|number| number as usize)
}

fn chance(text: &str) -> Result<f64, String> {
    within(text, 0.0..=1.0, "")
}

fn half_axis(text: &str) -> Result<f64, String> {
    within(text, 0.1..=100.0, "NM")
}

fn every(text: &str) -> Result<f64, String> {
    within(text, 0.5..=120.0, "minutes")
}
