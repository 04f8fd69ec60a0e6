use jiff::Timestamp;

use super::exercise::Exercise;
use crate::chart::{Chart, Mark};
use crate::contact::{Belief, Contact, Sightings};
use crate::geodesy::{Position, course};
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Angle, Height, METRES_PER_NAUTICAL_MILE};

/// A contact is a mark that lies so many of its standard deviations off, no more,
const GATE: f64 = 3.0;
/// with so much more for the mark's own depth and breadth past its charted extent: nautical miles.
const ABOUT_NM: f64 = 0.6;

/// The trainee's own estimate of a name's chance counts for nothing here: it is the truth.
const CERTAIN: f64 = 0.999;

/// The true side of an exercise.
pub(super) struct Truth<'a> {
    exercise: &'a Exercise,
}

impl<'a> Truth<'a> {
    pub fn of(exercise: &'a Exercise) -> Self {
        Self { exercise }
    }

    /// Where the craft truly is.
    pub fn position(&self, time: Timestamp) -> Position {
        self.exercise.hidden.path.at(time).position
    }

    /// How far a contact is from what this mark would have read, in gates: at most 1 where it may be
    /// it; none where it has nothing to be held against.
    fn off(&self, sightings: &Sightings, contact: &Contact, mark: &Mark) -> Option<f64> {
        let own = self.position(contact.time);
        let line = course(own, mark.position);
        let beam = Angle::from_degrees(sightings.radar.set.beam_width_deg);
        let along_nm = line.distance.nautical_miles().max(0.5);
        let about_nm = ABOUT_NM + mark.extent.nautical_miles();
        let by_range = contact.range.map(|range| {
            let height = Height::from_metres(mark.height.metres().max(0.0)).unwrap_or_default();
            let radius = EarthRadius::towards(own, line.initial);
            let [low, high] = [Height::SEA_LEVEL, height].map(|height| {
                slant_range(self.exercise.hidden.height, height, line.distance, radius).metres()
            });
            let least = low.min(high) - range.metres();
            let most = range.metres() - low.max(high);
            let off_m = least.max(most).max(0.0);
            let gate_m = GATE * contact.range_sigma.metres() + about_nm * METRES_PER_NAUTICAL_MILE;
            off_m / gate_m
        });
        let broad = (about_nm / along_nm).atan();
        let by_bearing = contact
            .bearings()
            .into_iter()
            .map(|(bearing, sigma)| {
                let shown = line.initial.turned(self.exercise.hidden.bias);
                // A beam's half stands on either edge.
                let half =
                    if sightings.radar.set.lobes.is_some() { 0.0 } else { 0.5 * beam.radians() };
                bearing.minus(shown).radians().abs() / (GATE * sigma.radians() + broad + half)
            })
            .min_by(f64::total_cmp);
        match (by_range, by_bearing) {
            (None, None) => None,
            (range, bearing) => Some(range.unwrap_or(0.0).max(bearing.unwrap_or(0.0))),
        }
    }

    /// Whether a contact may be the mark of this name.
    pub fn fits(
        &self,
        chart: &Chart,
        sightings: &Sightings,
        contact: &Contact,
        name: &str,
    ) -> bool {
        let mark = chart.marks().find(name).and_then(|id| chart.marks().get(id));
        mark.and_then(|mark| self.off(sightings, contact, mark)).is_some_and(|off| off <= 1.0)
    }
}

/// The name of the mark that a contact is; none where no charted mark answers there.
pub(super) fn true_mark(
    chart: &Chart,
    truth: &Truth<'_>,
    sightings: &Sightings,
    contact: &Contact,
) -> Option<String> {
    let candidates = chart.marks().iter().filter_map(|(_, mark)| {
        let off = truth.off(sightings, contact, mark)?;
        (off <= 1.0).then_some((off, mark))
    });
    // Named marks before the coast's own: it is by them that an operator speaks.
    let best = candidates.min_by(|a, b| {
        (!a.1.named, a.0).partial_cmp(&(!b.1.named, b.0)).unwrap_or(std::cmp::Ordering::Equal)
    });
    best.map(|(_, mark)| mark.name.clone())
}

/// The same contacts, each under its true name; what no charted mark explains is left out.
pub(super) fn with_true_names(
    chart: &Chart,
    exercise: &Exercise,
    sightings: &Sightings,
) -> Sightings {
    let truth = Truth::of(exercise);
    let named = sightings.contacts.iter().filter_map(|contact| {
        let mark = true_mark(chart, &truth, sightings, contact)?;
        let belief = Some(Belief { mark, confidence: CERTAIN });
        Some(Contact { belief, ..contact.clone() })
    });
    sightings.with_contacts(named.collect())
}
