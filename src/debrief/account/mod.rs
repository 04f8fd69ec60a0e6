//! The whole account of a sitting.

mod contacts;
mod echoes;
mod fixes;
mod shared;

use jiff::{SignedDuration, Timestamp};

use super::hindsight::{Anew, anew};
use super::history::{Entry, history};
use super::painted::{Painted, painted};
use super::sitting::{Sitting, Taken, played};
use super::smooth::TrackPoint;
use crate::chart::Chart;
use crate::fix::Estimate;
use crate::geodesy::Position;
use crate::watch::Echo;
use crate::watch::area::{Asked, scale_of, spread};
use crate::watch::log::Record;

pub use contacts::ContactAccount;
pub use fixes::{DrError, DriftAccount, FixAccount};

/// The most places of a track: with more minutes than that, every second or third is told.
const MOST_POINTS: i64 = 2000;

/// What the program said when, each time that it changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// By the watch's own clock.
    pub at: Timestamp,
    /// The time it is for.
    pub time: Timestamp,
    /// Its word.
    pub verdict: String,
    /// How sure the place was.
    pub probability: Option<f64>,
    /// The word of the landfall planned, where one was.
    pub landfall: Option<String>,
    /// The lines that stood on the screen.
    pub lines: Vec<String>,
    /// Seconds since the first contact after the fix before, by the watch's own clock.
    pub after_s: Option<f64>,
}

/// The account of a sitting.
#[derive(Debug, Clone, PartialEq)]
pub struct Debrief {
    /// The chart it was last kept on, where the log says.
    pub chart: Option<String>,
    /// What could not be read, taken up or used.
    pub notices: Vec<String>,
    /// What was entered, in order.
    pub entries: Vec<Entry>,
    /// Fixes accepted.
    pub fixes: Vec<FixAccount>,
    /// The track, in order of time.
    pub track: Vec<TrackPoint>,
    /// Every contact.
    pub contacts: Vec<ContactAccount>,
    /// Echoes that no chart explains.
    pub echoes: Vec<Echo>,
    /// Winds and streams found.
    pub drift: Vec<DriftAccount>,
    /// What was said on the screen.
    pub verdicts: Vec<Verdict>,
    /// Marks that painted by the prediction along the track, those that would have helped most first,
    /// and when each was reported; or why nothing can be said.
    pub painted: Result<Vec<Painted>, String>,
    /// The landfall planned last.
    pub landfall: Option<Position>,
    /// Whether marks were named anew.
    pub named_anew: bool,
    /// What a reader must know of it.
    pub cautions: Vec<String>,
}

/// The account of a log's records.
///
/// - `notices`: what the reading of the log had to tell.
/// - `chart`: to name marks anew; not used, and that is said, where the log was kept on another.
pub fn debrief(records: &[Record], notices: Vec<String>, chart: Option<&Chart>) -> Debrief {
    let told = history(records);
    let mut notices = notices;
    notices.extend(told.notices);
    let Some(sitting) = played(&told.standing) else { return empty(notices, told.entries) };
    notices.extend(sitting.notices.iter().cloned());
    let other = chart.is_some();
    let chart = chart.filter(|chart| {
        let same = sitting.chart.as_deref().is_none_or(|kept_on| kept_on == chart.name());
        if !same {
            let kept_on = sitting.chart.as_deref().unwrap_or_default();
            notices.push(format!(
                "the log was kept on chart {kept_on}; this is {}: marks are not named anew, nor is it \
                 said what should have painted",
                chart.name()
            ));
        }
        same
    });
    let every = step(&sitting);
    let track = track(&sitting, every);
    let anew: Vec<Option<Anew>> = match chart {
        Some(chart) => anew(chart, &sitting, every),
        None => Vec::new(),
    };
    let fixes = fixes::fixes(&sitting, &track, &anew);
    let contacts = contacts::contacts(&sitting, &fixes, &anew);
    let drift = fixes::drift(&sitting, &track);
    let echoes = echoes::echoes(&sitting);
    let painted = chart
        .ok_or_else(|| without_chart(&sitting, other))
        .and_then(|chart| painted(chart, &sitting, (&track, every), &contacts, &echoes));
    Debrief {
        chart: sitting.chart.clone(),
        notices,
        entries: told.entries,
        track,
        contacts,
        echoes,
        drift,
        verdicts: verdicts(&sitting),
        painted,
        landfall: sitting.watch.landfall(),
        named_anew: chart.is_some(),
        cautions: cautions(&sitting, &fixes, chart),
        fixes,
    }
}

/// Where the records ask about the chart that they were kept on: all along the track, as far as the radar
/// reached, and about the landfall planned last.
pub fn asks_about(records: &[Record]) -> Vec<Asked> {
    let Some(sitting) = played(&history(records).standing) else { return Vec::new() };
    let reach = sitting.aboard.iter().map(|aboard| scale_of(&aboard.set));
    let reach = reach.fold(scale_of(&sitting.watch.radar().set), f64::max);
    let known = |place: &Estimate| (place.position, reach + spread(&place.covariance));
    let track = track(&sitting, step(&sitting));
    let landfall = sitting.watch.landfall().map(|place| (place, reach));
    track.iter().map(|point| known(&point.place)).chain(landfall).collect()
}

fn empty(notices: Vec<String>, entries: Vec<Entry>) -> Debrief {
    Debrief {
        chart: None,
        notices,
        entries,
        fixes: Vec::new(),
        track: Vec::new(),
        contacts: Vec::new(),
        echoes: Vec::new(),
        drift: Vec::new(),
        verdicts: Vec::new(),
        painted: Err("the log holds nothing that can be played".to_owned()),
        landfall: None,
        named_anew: false,
        cautions: Vec::new(),
    }
}

/// Why nothing is said of what should have painted.
fn without_chart(sitting: &Sitting, other: bool) -> String {
    let kept_on = sitting.chart.as_deref().map_or_else(String::new, |name| format!(", {name}"));
    if other {
        return format!("the chart given is not the one that the log was kept on{kept_on}");
    }
    format!("no chart is given: --chart DIR, with the one that the log was kept on{kept_on}")
}

/// A minute, or as many as keep the track under its greatest length.
fn step(sitting: &Sitting) -> SignedDuration {
    let minutes =
        sitting.runs.iter().map(|run| run.until.duration_since(run.start).as_mins().max(0));
    let minutes = minutes.fold(0_i64, i64::saturating_add);
    SignedDuration::from_mins(minutes / MOST_POINTS + 1)
}

/// The track of every run, in order of time.
fn track(sitting: &Sitting, every: SignedDuration) -> Vec<TrackPoint> {
    let mut track: Vec<TrackPoint> =
        sitting.runs.iter().flat_map(|run| run.track(every, None)).collect();
    track.sort_by_key(|point| point.time);
    track
}

fn verdicts(sitting: &Sitting) -> Vec<Verdict> {
    let moments = Moments::of(sitting);
    sitting
        .said
        .iter()
        .map(|(at, said)| Verdict {
            at: *at,
            time: said.time,
            verdict: said.verdict.clone(),
            probability: said.probability,
            landfall: said.landfall.clone(),
            lines: said.lines.clone(),
            after_s: moments.after(*at),
        })
        .collect()
}

/// When fixes were accepted and contacts put in, each in order of time.
struct Moments {
    fixes: Vec<Timestamp>,
    entered: Vec<Timestamp>,
}

impl Moments {
    fn of(sitting: &Sitting) -> Self {
        let mut fixes: Vec<Timestamp> = sitting.fixes.iter().map(|fix| fix.at).collect();
        let mut entered: Vec<Timestamp> =
            sitting.contacts.iter().map(|seen| seen.entered).collect();
        fixes.sort_unstable();
        entered.sort_unstable();
        Self { fixes, entered }
    }

    /// Seconds since the first contact that was put in after the fix before.
    fn after(&self, at: Timestamp) -> Option<f64> {
        let earlier = self.fixes.partition_point(|fix| *fix < at);
        let before = earlier.checked_sub(1).and_then(|last| self.fixes.get(last));
        let first = self.entered.partition_point(|time| before.is_some_and(|fix| time <= fix));
        let first = self.entered.get(first).filter(|time| **time <= at)?;
        Some(at.duration_since(*first).as_secs_f64())
    }
}

/// How long a fix took, from its first contact put in to its being accepted.
fn took(sitting: &Sitting, fix: &Taken) -> Option<f64> {
    let entered = fix.contacts.iter().filter_map(|at| sitting.contacts.get(*at));
    let first = entered.map(|seen| seen.entered).min()?;
    Some(fix.at.duration_since(first).as_secs_f64())
}

fn cautions(sitting: &Sitting, fixes: &[FixAccount], chart: Option<&Chart>) -> Vec<String> {
    let mut told = Vec::new();
    if fixes.is_empty() {
        told.push(
            "no fix was accepted: the track is the reckoning alone, and no wind or stream is found"
                .to_owned(),
        );
    } else {
        told.push(
            "the smoothed track is known afterwards: nobody could have known it at the time"
                .to_owned(),
        );
        if fixes.len() > 1 {
            told.push(shared::words(fixes, sitting, chart));
        }
        let leaned = fixes.iter().filter(|fix| fix.alone.is_none()).count();
        if leaned > 0 {
            let (are, their) =
                if leaned == 1 { ("1 fix is", "its") } else { ("some fixes are", "their") };
            told.push(format!(
                "{are} known with the reckoning in it only: {their} DR error is told too small"
            ));
        }
        told.push(
            "a wrong identity that was accepted is wrong here too: nothing in a log can show it"
                .to_owned(),
        );
    }
    if let Some(chart) = chart {
        told.extend(chart.cautions().iter().cloned());
        told.extend(chart.late_cautions());
    }
    // Those of contacts that a fix is done with were told while they stood.
    let last = sitting.watch.sightings();
    for sightings in sitting.fixes.iter().filter_map(|fix| fix.sightings.as_ref()).chain(&last) {
        for caution in &sightings.cautions {
            if !told.contains(caution) {
                told.push(caution.clone());
            }
        }
    }
    told
}

impl Debrief {
    /// Marks that painted for some minutes by the prediction, and that no contact was.
    pub fn missed(&self) -> impl Iterator<Item = &Painted> {
        self.painted.iter().flatten().filter(|painted| painted.is_never_reported())
    }
}
