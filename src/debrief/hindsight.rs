//! With a chart: fixes named anew from what is known afterwards.

use jiff::SignedDuration;

use super::sitting::{Sitting, Taken};
use crate::chart::Chart;
use crate::contact::FlowError;
use crate::fix::{Estimate, Fix, Options, fix};

/// The most fixes that are named anew, and looked round from: the first and every so many more.
const MOST_ANEW: usize = 40;

/// A fix from the same contacts, begun from what all other fixes tell.
#[derive(Debug, Clone)]
pub struct Anew {
    /// What it comes to.
    pub fix: Fix,
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
