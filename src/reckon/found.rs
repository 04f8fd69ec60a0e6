//! The wind or current that two fixes and the run between them show.

use super::growth::{Craft, ErrorModel};
use super::triangle::{Current, Velocity, Wind, speed};
use crate::geodesy::{Covariance, LocalPlane, Position};
use crate::units::{Angle, KNOT, Speed};

/// A flow as it was found, with its error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowFound {
    /// Where it carries to.
    pub velocity: Velocity,
    /// Variances and covariance of its east and north parts, (m/s)²: ee, en, nn.
    pub covariance: [f64; 3],
}

/// What was flown or steamed between two fixes, as if nothing had carried it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirRun {
    /// Metres east.
    pub east: f64,
    /// Metres north.
    pub north: f64,
    /// The seconds it took; above nought.
    pub seconds: f64,
}

impl FlowFound {
    /// As a wind: where it comes from.
    pub fn wind(&self) -> Wind {
        Wind { from: self.velocity.direction().reciprocal(), speed: speed(self.velocity) }
    }

    /// As a current: its set and drift.
    pub fn current(&self) -> Current {
        Current { set: self.velocity.direction(), drift: speed(self.velocity) }
    }

    /// In words: `wind from 092.3, 41.5 kn`.
    pub fn words(&self, craft: Craft) -> String {
        match craft {
            Craft::Aircraft => {
                let wind = self.wind();
                format!("wind from {}, {:.1} kn", wind.from, wind.speed.knots())
            }
            Craft::Vessel => {
                let current = self.current();
                format!("current setting {}, {:.1} kn", current.set, current.drift.knots())
            }
        }
    }

    /// One standard deviation of its speed.
    pub fn speed_sigma(&self) -> Speed {
        let (sin, cos) = self.velocity.direction().sin_cos();
        sigma(self.covariance, sin, cos)
    }

    /// One standard deviation of its direction; none where it is too weak to have one, its speed being
    /// below its error.
    pub fn direction_sigma(&self) -> Option<Angle> {
        let (sin, cos) = self.velocity.direction().sin_cos();
        let across = sigma(self.covariance, cos, -sin).metres_per_second();
        let strong = self.velocity.metres_per_second();
        (strong > across).then(|| Angle::from_radians((across / strong).atan()))
    }

    /// `[[ee, en], [en, nn]]` in square knots.
    pub fn square_knots(&self) -> [[f64; 2]; 2] {
        let [ee, en, nn] = self.covariance.map(|value| value / (KNOT * KNOT));
        [[ee, en], [en, nn]]
    }
}

fn sigma([ee, en, nn]: [f64; 3], east: f64, north: f64) -> Speed {
    let variance = ee * east * east + 2.0 * en * east * north + nn * north * north;
    Speed::clamped_metres_per_second(variance.max(0.0).sqrt())
}

/// The mean flow between two fixes whose errors are independent.
///
/// (fix₂ − fix₁ − air run) / t; covariance (C₁ + C₂)/t², with the errors of heading and speed over the
/// run. Fixes by one sensor share its bearing bias: the joint filter ([`super::Reckoner`]) keeps it,
/// this does not. What the flow may have changed meanwhile is not in it: it is the mean of that time.
/// `None` where no time passed.
///
/// True heading 052 at 250 kn for 15 min, and a fix 55 NM from the last on 045: wind 092.28, 41.47 kn
/// (the run and its ground speed of 220 kn published, a US Navy training manual; the wind computed).
pub fn flow_between(
    first: (Position, Covariance),
    second: (Position, Covariance),
    run: AirRun,
    model: &ErrorModel,
) -> Option<FlowFound> {
    if run.seconds.is_nan() || run.seconds <= 0.0 {
        return None;
    }
    let t = run.seconds;
    let over = LocalPlane::new(first.0).to_plane(second.0);
    let velocity =
        Velocity { east: (over.east - run.east) / t, north: (over.north - run.north) / t };
    let [ee, en, nn] = first.1.plus(second.1).square_metres();
    let (turn, stretch) = (model.heading_sigma.radians().powi(2), model.speed_share.powi(2));
    let (east, north) = (run.east, run.north);
    let shared = [
        north * north * turn + east * east * stretch,
        east * north * (stretch - turn),
        east * east * turn + north * north * stretch,
    ];
    let wander = model.wander * model.wander * t;
    let [se, sc, sn] = shared;
    let covariance = [ee + se + wander, en + sc, nn + sn + wander].map(|value| value / (t * t));
    Some(FlowFound { velocity, covariance })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::PlanePoint;
    use crate::reckon::{made_good, to_make_good};
    use crate::units::{Bearing, GroundRange, True};

    fn bearing(degrees: f64) -> Bearing<True> {
        Bearing::from_degrees(degrees).unwrap()
    }

    fn knots(value: f64) -> Speed {
        Speed::from_knots(value).unwrap()
    }

    fn miles(value: f64) -> GroundRange {
        GroundRange::from_nautical_miles(value).unwrap()
    }

    fn run(heading: f64, tas: f64, seconds: f64) -> AirRun {
        let v = Velocity::toward(bearing(heading), knots(tas));
        AirRun { east: v.east * seconds, north: v.north * seconds, seconds }
    }

    #[test]
    fn a_wind_found_from_a_fix_after_a_quarter_of_an_hour() {
        // Heading 052, 250 kn, 15 min: a fix on track 045, 55 NM, 220 kn over the ground; planned were
        // track 055, 255 kn, a leg of 120 NM. US Navy training manual (page seen); what follows of it
        // computed.
        let start = Position::new(-36.0, -28.0).unwrap();
        let plane = LocalPlane::new(start);
        let fixed = plane.to_position(PlanePoint::at(miles(55.0), bearing(45.0)));
        let close = Covariance::circular(miles(0.2));
        let model = ErrorModel::of(Craft::Aircraft);
        let found =
            flow_between((start, close), (fixed, close), run(52.0, 250.0, 900.0), &model).unwrap();
        assert!((found.wind().from.degrees() - 92.28).abs() < 6e-3, "{:?}", found.wind());
        assert!((found.wind().speed.knots() - 41.47).abs() < 6e-3, "{:?}", found.wind());
        let made = made_good(bearing(52.0), knots(250.0), found.wind());
        assert!((made.speed.knots() - 220.0).abs() < 0.01);
        // 9.55 NM left of the planned track after 54.16 NM along it.
        let off = bearing(45.0).minus(bearing(55.0));
        assert!((55.0 * off.radians().cos() - 54.16).abs() < 6e-3);
        assert!((55.0 * off.radians().sin() - -9.55).abs() < 6e-3);
        // On to the end of the leg with that wind: 063.254, 66.525 NM, heading 067.871, 212.925 kn,
        // 18.75 min.
        let end = PlanePoint::at(miles(120.0), bearing(55.0));
        let here = PlanePoint::at(miles(55.0), bearing(45.0));
        let (left, track) =
            PlanePoint { east: end.east - here.east, north: end.north - here.north }.polar();
        assert!((left.nautical_miles() - 66.525).abs() < 6e-4);
        assert!((track.degrees() - 63.254).abs() < 6e-4);
        let made = to_make_good(track, knots(250.0), found.wind()).unwrap();
        assert!((made.heading.unwrap().degrees() - 67.871).abs() < 2e-3);
        assert!((made.speed.knots() - 212.925).abs() < 3e-3);
        assert!((60.0 * left.nautical_miles() / made.speed.knots() - 18.75).abs() < 6e-3);
        // Across the heading: fixes 0.2 and 0.2, heading 1.5° of 62.5 NM 1.636, wander 0.15: 1.667 NM,
        // by a quarter of an hour 6.67 kn; along: 2 % of 62.5 NM 1.25, so 1.290 NM, 5.16 kn (computed).
        let (sin, cos) = bearing(52.0).sin_cos();
        assert!((sigma(found.covariance, sin, cos).knots() - 5.16).abs() < 0.01);
        assert!((sigma(found.covariance, cos, -sin).knots() - 6.67).abs() < 0.01);
    }

    #[test]
    fn a_wind_from_heading_track_and_speeds() {
        // Heading 104, 165, track 094, 146: wind 34 at an angle of 60 from about 154 (published, a
        // pilots' training text in miles an hour, transcription seen); 154.07, 33.06 computed.
        let over = Velocity::toward(bearing(94.0), knots(146.0));
        let air = Velocity::toward(bearing(104.0), knots(165.0));
        let found = FlowFound { velocity: over.minus(air), covariance: [0.0; 3] };
        assert!((found.wind().from.degrees() - 154.07).abs() < 6e-3);
        assert!((found.wind().speed.knots() - 33.06).abs() < 6e-3);
        assert!((found.wind().speed.knots() - 34.0).abs() < 2.0);
    }

    #[test]
    fn what_a_second_tells_of_the_wind_is_nothing_and_not_all() {
        // Two fixes good to 2 NM a second apart: √8 NM in a second, 10,182 kn, more than any speed held.
        let here = Position::new(-36.0, -28.0).unwrap();
        let (rough, model) = (Covariance::circular(miles(2.0)), ErrorModel::of(Craft::Aircraft));
        let found = flow_between((here, rough), (here, rough), run(52.0, 250.0, 1.0), &model);
        let found = found.unwrap();
        assert!((found.speed_sigma().knots() - Speed::MOST_KNOTS).abs() < 1e-6, "{found:?}");
        assert_eq!(found.direction_sigma(), None);
    }

    #[test]
    fn a_set_and_drift_from_two_fixes() {
        // Course 000, 6 kn; fixes an hour apart 4.5 NM north and 2.0 NM east: set 126.9, drift 2.50 kn.
        // A published exercise, seen second-hand; answer computed.
        let start = Position::new(10.5 / 60.0, 10.0 / 60.0).unwrap();
        let point = PlanePoint { east: 2.0 * 1852.0, north: 4.5 * 1852.0 };
        let end = LocalPlane::new(start).to_position(point);
        let close = Covariance::circular(miles(0.1));
        let model = ErrorModel::of(Craft::Vessel);
        let found =
            flow_between((start, close), (end, close), run(0.0, 6.0, 3600.0), &model).unwrap();
        assert!((found.current().set.degrees() - 126.87).abs() < 0.05);
        assert!((found.current().drift.knots() - 2.50).abs() < 5e-3);
        assert_eq!(found.words(Craft::Vessel), "current setting 126.9, 2.5 kn");
    }
}
