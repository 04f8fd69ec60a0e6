//! How the variation changes along a leg that is steered by a magnetic compass.

use jiff::SignedDuration;

use super::super::legs::Leg;
use crate::geodesy::{MagneticField, Position, magnetic_variation};
use crate::units::{Angle, Height, Variation};

/// One heading by compass is no one true heading where the variation changes by more than this, degrees:
/// as much as a turn that is told (this program's choice).
pub(super) const MOST_CHANGE_DEG: f64 = 2.0;

/// A lesser change is lost beside the model's own error, of some 0.4°.
const LEAST_CHANGE_DEG: f64 = 0.5;

/// Where the model is asked along a leg, as shares of its time: the greatest change may be on the way.
const ASKED_AT: [f64; 4] = [0.25, 0.5, 0.75, 1.0];

/// The greatest change of the variation on a leg, against where it starts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    first: Variation,
    last: Variation,
    place: Position,
    /// The model's error there and the change itself together, one standard deviation.
    pub sigma: Angle,
}

impl Change {
    /// How far it goes either way, degrees.
    pub fn degrees(&self) -> f64 {
        turn(self.first, self.last)
    }

    /// From what to what, in words.
    pub fn words(&self) -> String {
        let Self { first, last, place, .. } = self;
        format!("the variation goes from {first} where it starts to {last} at {place}")
    }
}

/// The change on a leg, by the World Magnetic Model; none where it is too small to be told.
pub(super) fn change_on(leg: &Leg) -> Option<Change> {
    let first = asked(leg, 0.0).1.variation;
    let changes = ASKED_AT.into_iter().map(|share| {
        let (place, MagneticField { variation: last, sigma, .. }) = asked(leg, share);
        let sigma = Angle::from_degrees(sigma.degrees().hypot(turn(first, last)));
        Change { first, last, place, sigma }
    });
    changes
        .max_by(|one, other| one.degrees().total_cmp(&other.degrees()))
        .filter(|change| change.degrees() > LEAST_CHANGE_DEG)
}

/// From one variation to another, degrees: the shorter way round, as near a magnetic pole they are.
fn turn(first: Variation, last: Variation) -> f64 {
    Angle::from_degrees(last.east().degrees() - first.east().degrees()).degrees().abs()
}

fn asked(leg: &Leg, share: f64) -> (Position, MagneticField) {
    let seconds = share * leg.seconds;
    let place = leg.place_after(seconds);
    let gone = SignedDuration::try_from_secs_f64(seconds).unwrap_or_default();
    let time = leg.start.checked_add(gone).unwrap_or(leg.start);
    (place, magnetic_variation(place, Height::SEA_LEVEL, time))
}
