//! Marks that painted by the prediction along the track, and when each was first reported.

mod along;
mod reports;

use jiff::{SignedDuration, Timestamp};

use super::account::ContactAccount;
use super::sitting::Sitting;
use super::smooth::TrackPoint;
use crate::chart::Chart;
use crate::geodesy::Position;
use crate::units::{GroundRange, Height, SlantRange};
use crate::watch::Echo;

pub use along::First;
pub use reports::Report;

use along::{Paints, Place, along};

/// A place of the track known no better than this says nothing of what painted there: half the long
/// axis of its 95 % ellipse, in nautical miles.
const KNOWN_NM: f64 = 10.0;

/// A mark that painted for less than this may well not have been looked at, in minutes.
const FEW_MINUTES: f64 = 3.0;

/// A report this long after the first paint is late, in minutes.
const LATE_MINUTES: f64 = 1.0;

/// What the table is worth, in one sentence for every form.
pub const WORTH: &str = "predicted by the chart and the smoothed track, in sea state 2 without rain: a \
                         prediction is a chance, and an operator looks elsewhere; not a reproach. Not \
                         reported is not the same as not seen";

/// A mark that painted by the prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Painted {
    /// Its name.
    pub mark: String,
    /// What it is.
    pub kind: &'static str,
    /// Where the chart has it.
    pub position: Position,
    /// Above mean sea level.
    pub height: Height,
    /// How much it stands out among its neighbours, 0 to 1.
    pub salience: f64,
    /// When its chance first reached one in two.
    pub first: First,
    /// For how long it was one in two or more, in minutes.
    pub minutes: f64,
    /// The best chance found on the way.
    pub paint_probability: f64,
    /// Where the track came closest while it painted.
    pub nearest: (Timestamp, SlantRange),
    /// How well own place was known at the first paint: half the long axis of the 95 % ellipse.
    pub place_known: GroundRange,
    /// At how many fixes it painted.
    pub fixes: usize,
    /// Found by the careful prediction; else by the quick look, to some miles.
    pub careful: bool,
    /// The first contact that hindsight takes for it.
    pub reported: Option<Report>,
    /// Where there is none: a contact without a name that may have been it, or one that bore its name
    /// and is taken for another mark in the end.
    pub perhaps: Option<String>,
}

impl Painted {
    /// Minutes from the first paint to the first report; negative where it was reported before.
    pub fn late_minutes(&self) -> Option<f64> {
        let reported = self.reported.as_ref()?;
        Some(reported.time.duration_since(self.first.time).as_secs_f64() / 60.0)
    }

    /// It painted for some minutes, and no contact was or may have been it.
    pub fn is_never_reported(&self) -> bool {
        self.reported.is_none() && self.perhaps.is_none() && self.minutes >= FEW_MINUTES
    }

    /// It was reported, a minute or more after it first painted.
    pub fn is_late(&self) -> bool {
        self.late_minutes().is_some_and(|minutes| minutes >= LATE_MINUTES)
    }
}

/// Every mark that painted along the track, those that would have helped most first.
///
/// # Errors
/// Why nothing can be said.
pub fn painted(
    chart: &Chart,
    sitting: &Sitting,
    (track, every): (&[TrackPoint], SignedDuration),
    contacts: &[ContactAccount],
    echoes: &[Echo],
) -> Result<Vec<Painted>, String> {
    let places = places(sitting, track, every);
    if places.is_empty() {
        return Err(format!(
            "at no time is own place known to {KNOWN_NM:.0} NM: what should have painted is not told"
        ));
    }
    let sights = reports::Sights { track, sitting, contacts, echoes };
    let told = |paints: Paints| {
        let mark = chart.marks().get(paints.mark)?;
        let reported = sights.first_of(&mark.name);
        let perhaps = if reported.is_none() { sights.perhaps(mark) } else { None };
        let known = track.iter().rfind(|point| point.time <= paints.first.time);
        Some(Painted {
            mark: mark.name.clone(),
            kind: mark.kind.as_str(),
            position: mark.position,
            height: mark.height,
            salience: mark.salience,
            first: paints.first,
            minutes: paints.minutes,
            paint_probability: paints.best,
            nearest: paints.nearest,
            place_known: known.map_or(GroundRange::ZERO, known_to),
            fixes: paints.fixes,
            careful: paints.careful,
            reported,
            perhaps,
        })
    };
    Ok(along(chart, &places).into_iter().filter_map(told).collect())
}

/// Half the long axis of the 95 % ellipse.
fn known_to(point: &TrackPoint) -> GroundRange {
    point.place.ellipse().semi_major
}

/// The places at which own position is known, with what was aboard then.
fn places<'a>(sitting: &'a Sitting, track: &[TrackPoint], every: SignedDuration) -> Vec<Place<'a>> {
    let mut places: Vec<Place<'a>> = Vec::new();
    for point in track.iter().filter(|point| known_to(point).nautical_miles() <= KNOWN_NM) {
        let Some(aboard) = sitting.aboard_at(point.time) else { continue };
        // A fix, or a new start, is told of the place that it moved to.
        let same = places.pop_if(|last| last.time == point.time);
        let gap = places.last().map(|last| point.time.duration_since(last.time).as_secs_f64());
        places.push(Place {
            time: point.time,
            position: point.place.position,
            aboard,
            fresh: gap.is_none_or(|gap| gap > 1.5 * every.as_secs_f64()),
            fix: point.fix.is_some() || same.is_some_and(|same| same.fix),
        });
    }
    places
}
