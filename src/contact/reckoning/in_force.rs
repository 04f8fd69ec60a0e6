//! The reckoning as it is at a time before what was altered for later: of two legs the one in force.

use std::borrow::Cow;

use jiff::Timestamp;

use super::{Leg, Reckoning, Shares};
use crate::geodesy::{Covariance, Position};
use crate::units::{Bearing, Speed, True};

impl Reckoning {
    /// The reckoning without what was altered for later than a time: the latest leg that had begun by then,
    /// from where it began and with the error it had there. It is this one from its own time on; where no
    /// leg had begun it is the first, which counts for all time before it.
    ///
    /// Carried back from a later alteration, the error would have grown there and back.
    pub fn in_force(&self, time: Timestamp) -> Cow<'_, Self> {
        if time >= self.time {
            return Cow::Borrowed(self);
        }
        let first = self.earlier.len().checked_sub(1);
        let at = self.earlier.iter().position(|leg| leg.from <= time).or(first);
        at.and_then(|at| self.on_leg(at)).map_or(Cow::Borrowed(self), Cow::Owned)
    }

    /// When track and speed are altered after a time, and to what, the earliest first.
    pub fn altered_after(&self, time: Timestamp) -> Vec<(Timestamp, Bearing<True>, Speed)> {
        let own = self.track.zip(self.speed).map(|(track, speed)| (self.time, track, speed));
        let legs = self.earlier.iter().map(|leg| (leg.from, leg.track, leg.speed));
        let mut later: Vec<_> =
            own.into_iter().chain(legs).take_while(|(from, ..)| *from > time).collect();
        later.reverse();
        later
    }

    /// What stands so far, as an earlier leg.
    pub(super) fn leg(&self, track: Bearing<True>, speed: Speed) -> Leg {
        Leg {
            from: self.time,
            track,
            speed,
            position: self.position,
            covariance: self.covariance,
            track_sigma: self.track_sigma,
            speed_sigma: self.speed_sigma,
            flow: self.flow,
        }
    }

    /// The reckoning on an earlier leg.
    fn on_leg(&self, at: usize) -> Option<Self> {
        let leg = self.earlier.get(at)?;
        let earlier = self.earlier.iter().skip(at + 1).copied().collect();
        Some(Self {
            time: leg.from,
            position: leg.position,
            covariance: leg.covariance,
            track: Some(leg.track),
            speed: Some(leg.speed),
            track_sigma: leg.track_sigma,
            speed_sigma: leg.speed_sigma,
            earlier,
            flow: leg.flow,
        })
    }

    /// The reckoning from a place found for a time on one of its earlier legs: that leg begins anew there,
    /// and each later one where the run from there has come to. None where it cannot be carried so far.
    pub(super) fn run_through(
        &self,
        (time, position, covariance): (Timestamp, Position, Covariance),
        shares: Shares,
    ) -> Option<Self> {
        let oldest = self.earlier.len().checked_sub(1)?;
        let at = self.earlier.iter().position(|leg| leg.from <= time).unwrap_or(oldest);
        let begun = self.on_leg(at)?;
        let mut run = match (begun.track, begun.speed) {
            (Some(track), Some(speed)) if begun.time < time => {
                begun.altered(time, track, speed).ok()?
            }
            _ => Self { time, ..begun },
        };
        run.flow = run.flow.map(|flow| shares(flow, run.covariance, covariance));
        (run.position, run.covariance) = (position, covariance);
        let own = self.leg(self.track?, self.speed?);
        for leg in self.earlier.iter().take(at).rev().chain([&own]) {
            run = run.altered(leg.from, leg.track, leg.speed).ok()?;
            (run.track_sigma, run.speed_sigma) = (leg.track_sigma, leg.speed_sigma);
            run.flow = match (leg.flow, run.flow) {
                (Some(stated), Some(gone_on)) => Some(stated.sharing(gone_on, run.covariance)),
                (stated, _) => stated.map(|flow| shares(flow, leg.covariance, run.covariance)),
            };
        }
        Some(run)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::flow::{FlowChange, FlowError};
    use crate::geodesy::distance;
    use crate::units::{Angle, GroundRange, KNOT};

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn over(degrees: f64, knots: f64) -> (Bearing<True>, Speed) {
        (Bearing::from_degrees(degrees).unwrap(), Speed::from_knots(knots).unwrap())
    }

    fn circle(nm: f64) -> Covariance {
        Covariance::circular(GroundRange::from_nautical_miles(nm).unwrap())
    }

    fn reckoning() -> Reckoning {
        let (track, speed) = over(74.0, 165.0);
        Reckoning {
            time: at("2031-03-09T03:40:00Z"),
            position: Position::new(-38.215, -21.508).unwrap(),
            covariance: circle(2.0),
            track: Some(track),
            speed: Some(speed),
            track_sigma: Angle::from_degrees(2.0),
            speed_sigma: Speed::from_knots(5.0).unwrap(),
            earlier: Vec::new(),
            flow: None,
        }
    }

    #[test]
    fn before_an_alteration_the_leg_of_then_is_in_force_as_it_was() {
        let first = reckoning();
        let (turn, again) = (at("2031-03-09T03:50:00Z"), at("2031-03-09T04:50:00Z"));
        let ((north, slow), (east, fast)) = (over(0.0, 100.0), over(90.0, 200.0));
        let second = first.altered(turn, north, slow).unwrap();
        let third = second.altered(again, east, fast).unwrap();
        for (time, then) in [
            ("2031-03-09T03:40:00Z", &first),
            ("2031-03-09T03:49:59Z", &first),
            ("2031-03-09T03:50:00Z", &second),
            ("2031-03-09T04:49:59Z", &second),
            ("2031-03-09T04:50:00Z", &third),
            // No leg had begun: the first is carried back.
            ("2031-03-09T03:30:00Z", &first),
        ] {
            assert_eq!(third.in_force(at(time)).as_ref(), then, "{time}");
        }
        assert_eq!(third.altered_after(first.time), [(turn, north, slow), (again, east, fast)]);
        assert_eq!(third.altered_after(turn), [(again, east, fast)]);
        assert_eq!(third.altered_after(again), []);
    }

    #[test]
    fn a_place_found_on_an_earlier_leg_is_in_force_from_then_on() {
        let (turn, fixed) = (at("2031-03-09T04:00:00Z"), at("2031-03-09T03:46:00Z"));
        let (north, slow) = over(0.0, 100.0);
        let found = Position::new(-38.3, -21.2).unwrap();
        let after = reckoning().altered(turn, north, slow).unwrap();
        let after = after.restarted(fixed, found, circle(0.2)).unwrap();
        let before = reckoning().restarted(fixed, found, circle(0.2)).unwrap();
        // In whatever order they became known.
        assert_eq!(after.in_force(fixed).as_ref(), &before);
        assert_eq!(after.earlier, before.altered(turn, north, slow).unwrap().earlier);
        let now = at("2031-03-09T03:52:00Z");
        let (place, error) = after.in_force(now).carried_to(now).unwrap();
        // Six minutes at 165 kn: 16.5 NM from there, and no way there and back in the error.
        assert!((distance(found, place).nautical_miles() - 16.5).abs() < 0.01);
        let back = after.carried_to(now).unwrap();
        assert!(distance(back.0, place).metres() < 1.0);
        assert!(error.axes().0 < back.1.axes().0, "{error:?}");
        // Of before the fix it stays as it was.
        let earlier = at("2031-03-09T03:44:00Z");
        assert_eq!(after.in_force(earlier).as_ref(), &reckoning());
    }

    #[test]
    fn a_place_of_before_the_first_leg_begins_it() {
        let (turn, fixed) = (at("2031-03-09T03:50:00Z"), at("2031-03-09T03:30:00Z"));
        let (north, slow) = over(0.0, 100.0);
        let found = Position::new(-38.3, -21.8).unwrap();
        let altered = reckoning().altered(turn, north, slow).unwrap();
        let after = altered.restarted(fixed, found, circle(0.2)).unwrap();
        let in_force = after.in_force(at("2031-03-09T03:45:00Z")).into_owned();
        assert_eq!((in_force.time, in_force.position), (fixed, found));
        assert!(in_force.earlier.is_empty());
    }

    type Take = fn(&Reckoning, Timestamp, Position, Covariance) -> Reckoning;

    #[test]
    fn with_a_wind_in_use_a_place_and_turns_come_to_the_same_in_whatever_order() {
        let mut first = reckoning();
        let change = FlowChange { spread: 6.0 * KNOT, seconds: 5400.0, wander: 3.0 };
        let (velocity, shared) = ([9.0, 1.0, 4.0], [[6000.0, 500.0], [0.0, 3000.0]]);
        first.with_flow(FlowError::found(velocity, 600.0, shared, first.covariance, change));
        let (turn, again) = (at("2031-03-09T03:58:00Z"), at("2031-03-09T04:10:00Z"));
        let ((north, slow), (east, fast)) = (over(0.0, 100.0), over(90.0, 200.0));
        let turned = |of: &Reckoning| {
            of.altered(turn, north, slow).unwrap().altered(again, east, fast).unwrap()
        };
        let (fixed, found) = (at("2031-03-09T03:46:00Z"), Position::new(-38.3, -21.2).unwrap());
        let largest = |of: &Reckoning, time| {
            let (place, error) = of.in_force(at(time)).carried_to(at(time)).unwrap();
            (place, error.axes().0.sqrt())
        };
        let ways: [Take; 2] = [
            |of, time, place, error| of.restarted(time, place, error).unwrap(),
            |of, time, place, error| of.put_right(time, place, error).unwrap(),
        ];
        let times = ["2031-03-09T03:52:00Z", "2031-03-09T04:04:00Z", "2031-03-09T04:30:00Z"];
        let mut ends = Vec::new();
        for take in ways {
            let before = turned(&take(&first, fixed, found, circle(1.5)));
            let after = take(&turned(&first), fixed, found, circle(1.5));
            for time in times {
                let (a, b) = (largest(&before, time), largest(&after, time));
                assert!(distance(a.0, b.0).metres() < 1.0, "{time}");
                assert!((a.1 / b.1 - 1.0).abs() < 1e-6, "{time}: {} {}", a.1, b.1);
            }
            ends.push(largest(&after, times[2]).1);
        }
        // What the place shares with the wind is no small thing: a fix with the reckoning in it knows less.
        assert!(ends[1] > 1.02 * ends[0], "{ends:?}");
    }
}
