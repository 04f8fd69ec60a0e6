//! With a chart: fixes named anew from what is known afterwards, and marks that were never reported.

use jiff::{SignedDuration, Timestamp};

use super::account::{ContactAccount, FixAccount};
use super::sitting::{Sitting, Taken};
use crate::chart::Chart;
use crate::contact::FlowError;
use crate::fix::{Estimate, Fix, Options, fix};
use crate::geodesy::Position;
use crate::paint::{Conditions, Vantage, expect};
use crate::units::{Bearing, GroundRange, Height, SlantRange, True};

/// The most fixes that are named anew, and looked round from: the first and every so many more.
const MOST_ANEW: usize = 40;
/// The most places that are looked round from.
const MOST_LOOKS: usize = 12;
/// A mark is missed where it should have painted with this chance.
const SURE: f64 = 0.9;
/// Rows of coast are not told of here: as few as may be.
const STEP_DEG: f64 = 10.0;

/// A fix from the same contacts, begun from what all other fixes tell.
#[derive(Debug, Clone)]
pub struct Anew {
    /// What it comes to.
    pub fix: Fix,
}

/// A mark that should have painted and was never reported.
#[derive(Debug, Clone, PartialEq)]
pub struct Missed {
    /// Its name.
    pub mark: String,
    /// What it is.
    pub kind: &'static str,
    /// Where the chart has it.
    pub position: Position,
    /// Above mean sea level.
    pub height: Height,
    /// The first fix at which it should have painted.
    pub time: Timestamp,
    /// From the smoothed place then.
    pub range: SlantRange,
    /// From there.
    pub bearing: Bearing<True>,
    /// The greatest chance at any fix.
    pub paint_probability: f64,
    /// At how many fixes looked round from it should have painted.
    pub fixes: usize,
}

/// Each fix named anew; none where it is not.
///
/// The start is what every other fix and the reckoning tell of that instant, so that the contacts do
/// not count for themselves.
pub fn anew(chart: &Chart, sitting: &Sitting, every: SignedDuration) -> Vec<Option<Anew>> {
    let skip = sitting.fixes.len() / MOST_ANEW + 1;
    let each = sitting.fixes.iter().enumerate();
    each.map(|(number, taken)| {
        let wanted = number % skip == 0;
        wanted.then(|| named_anew(chart, sitting, (number, taken), every)).flatten()
    })
    .collect()
}

fn named_anew(
    chart: &Chart,
    sitting: &Sitting,
    (number, taken): (usize, &Taken),
    every: SignedDuration,
) -> Option<Anew> {
    let mut sightings = taken.sightings.clone()?;
    let time = taken.entry.time;
    let others = sitting.runs.iter().find_map(|run| {
        let track = run.track(every, Some(number));
        track.into_iter().find(|point| point.fix == Some(number)).map(|point| point.place)
    });
    if let Some(Estimate { position, covariance }) = others {
        let reckoning = &mut sightings.reckoning;
        if let (Some(track), Some(speed)) = (reckoning.track, reckoning.speed)
            && time > reckoning.time
        {
            *reckoning = reckoning.altered(time, track, speed).ok()?;
        }
        (reckoning.time, reckoning.position, reckoning.covariance) = (time, position, covariance);
        reckoning.flow = reckoning.flow.map(FlowError::apart);
    }
    let options = Options { time: Some(time), ..Options::default() };
    Some(Anew { fix: fix(chart, &sightings, &options) })
}

/// Marks that should have painted at the fixes and stand under no contact's name.
///
/// Weather is not in a log: sea state 2, no rain, the standard atmosphere.
pub fn missed(
    chart: &Chart,
    sitting: &Sitting,
    fixes: &[FixAccount],
    contacts: &[ContactAccount],
) -> Vec<Missed> {
    let named = |name: &str| {
        contacts.iter().any(|contact| {
            let is = |mark: &str| mark.eq_ignore_ascii_case(name);
            contact.taken_for.as_deref().is_some_and(is)
                || contact.anew.as_ref().is_some_and(|(mark, _)| is(mark))
                || contact.namings.iter().any(|naming| is(&naming.mark))
        })
    };
    let skip = fixes.len() / MOST_LOOKS + 1;
    let mut found: Vec<Missed> = Vec::new();
    for (told, taken) in fixes.iter().zip(&sitting.fixes).step_by(skip) {
        let Some(sightings) = &taken.sightings else { continue };
        let position = told.smoothed.unwrap_or(told.place).position;
        let own = &sightings.own;
        let vantage = Vantage { position, height: own.height, heading: own.heading };
        let set = &sightings.radar.set;
        let reach = GroundRange::clamped_metres(set.greatest_scale().metres());
        let conditions = Conditions::default();
        let looked = expect(chart, &vantage, set, &conditions, reach, STEP_DEG);
        for mark in looked.marks.iter().filter(|mark| mark.paint_probability >= SURE) {
            let Some(charted) = chart.marks().get(mark.mark) else { continue };
            if let Some(known) = found
                .iter_mut()
                .find(|known| known.mark == charted.name && known.position == charted.position)
            {
                known.fixes += 1;
                known.paint_probability = known.paint_probability.max(mark.paint_probability);
            } else if !named(&charted.name) {
                found.push(Missed {
                    mark: charted.name.clone(),
                    kind: charted.kind.as_str(),
                    position: charted.position,
                    height: charted.height,
                    time: told.time,
                    range: mark.range,
                    bearing: mark.bearing,
                    paint_probability: mark.paint_probability,
                    fixes: 1,
                });
            }
        }
    }
    found.sort_by(|a, b| a.range.metres().total_cmp(&b.range.metres()));
    found
}
