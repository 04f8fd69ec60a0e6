mod in_force;

use jiff::{SignedDuration, Timestamp};
use nalgebra::Matrix2;
use thiserror::Error;

use super::flow::{self, FlowError};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, along_track};
use crate::units::{Angle, Bearing, Speed, True};

/// Where we thought we were: the dead-reckoned position and how far to believe it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reckoning {
    /// The instant that the position is for.
    pub time: Timestamp,
    /// The dead-reckoned position.
    pub position: Position,
    /// Its error at `time`.
    pub covariance: Covariance,
    /// Track made good.
    pub track: Option<Bearing<True>>,
    /// Speed made good.
    pub speed: Option<Speed>,
    /// One standard deviation of the track.
    pub track_sigma: Angle,
    /// One standard deviation of the speed.
    pub speed_sigma: Speed,
    /// What was made good before `time`, the latest leg first; none where nothing was altered.
    pub earlier: Vec<Leg>,
    /// The error of the wind or current in track and speed from `time` on, where one was stated or
    /// found: it then takes the place of the constant errors of track and speed.
    pub flow: Option<FlowError>,
}

/// A track and speed that were made good before they were altered, and the reckoning as it was from then on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// When they came to be made good; the oldest leg counts for all time before it too.
    pub from: Timestamp,
    /// Track made good.
    pub track: Bearing<True>,
    /// Speed made good.
    pub speed: Speed,
    /// The dead-reckoned position where it begins.
    pub position: Position,
    /// Its error there.
    pub covariance: Covariance,
    /// One standard deviation of the track.
    pub track_sigma: Angle,
    /// One standard deviation of the speed.
    pub speed_sigma: Speed,
    /// The error of the wind or current in track and speed, where one was stated or found.
    pub flow: Option<FlowError>,
}

/// What a wind's or current's error shares with a place found: of that error, the reckoned position's error
/// there and the found place's.
type Shares = fn(FlowError, Covariance, Covariance) -> FlowError;

/// A part of the run on one leg.
struct Piece {
    track: Bearing<True>,
    speed: Speed,
    /// Negative back in time.
    seconds: f64,
}

/// Why a reckoning is not carried to another time.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ReckoningError {
    /// Another time than the reckoning's, and nothing to carry it by.
    #[error("no track and speed to carry the reckoning of {from} to {to}")]
    NoTrack {
        /// The reckoning's time.
        from: Timestamp,
        /// The time asked for.
        to: Timestamp,
    },
    /// So far off that the reckoning says nothing any more.
    #[error("{to} is more than {most} h from the reckoning's {from}")]
    TooFar {
        /// The reckoning's time.
        from: Timestamp,
        /// The time asked for.
        to: Timestamp,
        /// The most hours it is carried.
        most: i64,
    },
}

impl Reckoning {
    /// One standard deviation of the track where none is stated, in degrees.
    pub const TRACK_SIGMA_DEG: f64 = 2.0;

    /// One standard deviation of the speed where none is stated, as a share of the speed.
    pub const SPEED_SIGMA_SHARE: f64 = 0.03;

    /// Alterations that are kept: far more than are made in the time of one set of contacts.
    pub const MOST_LEGS: usize = 200;

    /// The most hours that a reckoning is carried over, either way.
    pub const MOST_HOURS: i64 = 24;

    /// Position and error at another time, before or after the reckoning's own.
    ///
    /// The track is a rhumb line: what is held is a direction. The error grows by the track's and
    /// the speed's own, along and across, in proportion to the run: both are taken as steady, so
    /// that they do not average out. (Gusts and helm, which do, are far below either.) After its time,
    /// and where a wind or current is in track and speed, it grows by that one's error instead, which
    /// changes as the flow does: [`FlowError::carried`].
    ///
    /// # Errors
    /// Another time than the reckoning's without track and speed, or more than
    /// [`Reckoning::MOST_HOURS`] away.
    ///
    /// Half an hour at 165 kn, sigma 5 kn and 3°: 82.5 NM run, 2.5 NM along, 4.32 NM across
    /// (computed).
    pub fn carried_to(&self, time: Timestamp) -> Result<(Position, Covariance), ReckoningError> {
        self.run_to(time).map(|(position, covariance, _)| (position, covariance))
    }

    /// The same with the flow's error there.
    fn run_to(
        &self,
        time: Timestamp,
    ) -> Result<(Position, Covariance, Option<FlowError>), ReckoningError> {
        let (from, to) = (self.time, time);
        if from == to {
            return Ok((self.position, self.covariance, self.flow));
        }
        let seconds = self.seconds_to(time);
        if seconds.abs() > (Self::MOST_HOURS * 3600) as f64 {
            return Err(ReckoningError::TooFar { from, to, most: Self::MOST_HOURS });
        }
        if self.track.is_none() || self.speed.is_none() {
            return Err(ReckoningError::NoTrack { from, to });
        }
        let (position, growth) = self.laid_off(self.position, &self.pieces_to(time));
        Ok(match self.flow.filter(|_| seconds > 0.0) {
            Some(flow) => {
                let (covariance, flow) = flow.carried(self.covariance, seconds);
                (position, covariance, Some(flow))
            }
            None => (position, self.covariance.plus(growth), self.flow),
        })
    }

    /// The place at another time: without track or speed the reckoning's own, as every time then is.
    /// None more than [`Reckoning::MOST_HOURS`] away.
    pub fn place_at(&self, time: Timestamp) -> Option<Position> {
        match self.carried_to(time) {
            Ok((position, _)) => Some(position),
            Err(ReckoningError::NoTrack { .. }) => Some(self.position),
            Err(ReckoningError::TooFar { .. }) => None,
        }
    }

    /// The error of the velocity made good at a time, along the track and across it, metres per second;
    /// noughts without track and speed.
    pub fn velocity_sigmas(&self, time: Timestamp) -> (f64, f64) {
        let (Some(track), Some(speed)) = (self.track, self.speed) else { return (0.0, 0.0) };
        let flow = self.run_to(time).ok().and_then(|(.., flow)| flow);
        match flow.filter(|_| time >= self.time) {
            Some(flow) => {
                let (along, across) = flow.sigmas(track);
                (along.metres_per_second(), across.metres_per_second())
            }
            None => (
                self.speed_sigma.metres_per_second(),
                self.track_sigma.radians().abs() * speed.metres_per_second(),
            ),
        }
    }

    /// Errors of track and speed that, held constant, come to what this run's own error does in so many
    /// seconds from its time on.
    pub fn sigmas_over(&self, seconds: f64) -> (Angle, Speed) {
        let stated = (self.track_sigma, self.speed_sigma);
        let (Some(track), Some(speed), Some(flow)) = (self.track, self.speed, self.flow) else {
            return stated;
        };
        let (turn, along) = flow.mean_over(seconds, track, speed);
        (turn.unwrap_or(self.track_sigma), along)
    }

    /// Takes up a wind or current that is in track and speed from its own time on.
    ///
    /// The constant errors become those of that moment: they are what stands where one leg's errors are
    /// asked for, and back in time.
    pub fn with_flow(&mut self, flow: FlowError) {
        self.flow = Some(flow);
        if let (Some(track), Some(speed)) = (self.track, self.speed) {
            let (along, across) = flow.sigmas(track);
            self.speed_sigma = along;
            self.track_sigma = flow::angle_of(across, speed).unwrap_or(self.track_sigma);
        }
    }

    /// Where a run ends that starts at a place, and what its own errors come to there.
    fn laid_off(&self, from: Position, pieces: &[Piece]) -> (Position, Covariance) {
        let (mut position, mut along, mut across) =
            (from, PlanePoint::default(), PlanePoint::default());
        for piece in pieces {
            let run = piece.speed.metres_per_second() * piece.seconds;
            position = along_track(position, piece.track, run);
            let (sin, cos) = piece.track.sin_cos();
            let by_speed = self.speed_sigma.metres_per_second() * piece.seconds;
            let by_track = self.track_sigma.radians() * run;
            along = PlanePoint {
                east: along.east + by_speed * sin,
                north: along.north + by_speed * cos,
            };
            across = PlanePoint {
                east: across.east + by_track * cos,
                north: across.north - by_track * sin,
            };
        }
        let grown = |f: fn(PlanePoint) -> f64| f(along) + f(across);
        let shared = grown(|p| p.east * p.north);
        let (east, north) = (grown(|p| p.east * p.east), grown(|p| p.north * p.north));
        (position, flow::covariance(Matrix2::new(east, shared, shared, north)))
    }

    /// The same run from another place, found without it: at its time we were there, with that error.
    ///
    /// A place of before the last alteration is carried on through the legs since, with the growth of
    /// its error: what was altered stays so, in whatever order it became known.
    ///
    /// # Errors
    /// As [`Reckoning::carried_to`].
    pub fn restarted(
        &self,
        time: Timestamp,
        position: Position,
        covariance: Covariance,
    ) -> Result<Self, ReckoningError> {
        self.taken_to(time, position, covariance, |flow, _, _| flow.apart())
    }

    /// The same run from a fix that has this reckoning in it: what the position shares with the wind
    /// or current in track and speed is put right with it.
    ///
    /// # Errors
    /// As [`Reckoning::carried_to`].
    pub fn put_right(
        &self,
        time: Timestamp,
        position: Position,
        covariance: Covariance,
    ) -> Result<Self, ReckoningError> {
        self.taken_to(time, position, covariance, FlowError::after_fix)
    }

    fn taken_to(
        &self,
        time: Timestamp,
        position: Position,
        covariance: Covariance,
        shares: Shares,
    ) -> Result<Self, ReckoningError> {
        let flow = |at: &Self| at.flow.map(|flow| shares(flow, at.covariance, covariance));
        let (Some(track), Some(speed)) = (self.track, self.speed) else {
            return Ok(Self { time, position, covariance, flow: flow(self), ..self.clone() });
        };
        if time >= self.time {
            let altered = self.altered(time, track, speed)?;
            return Ok(Self { position, covariance, flow: flow(&altered), ..altered });
        }
        let through = self.run_through((time, position, covariance), shares);
        // With a wind or current the error runs on as that does, from the place on.
        if let Some(run) = through.as_ref().filter(|run| run.flow.is_some()) {
            return Ok(run.clone());
        }
        // The way back to that time, taken forward.
        let mut pieces = self.pieces_to(time);
        pieces.reverse();
        for piece in &mut pieces {
            piece.seconds = -piece.seconds;
        }
        // The earlier legs stay as they are where they cannot be carried so far.
        let earlier = through.map_or_else(|| self.earlier.clone(), |run| run.earlier);
        let (position, growth) = self.laid_off(position, &pieces);
        let covariance = covariance.plus(growth);
        let flow = self.flow.map(|flow| shares(flow, self.covariance, covariance));
        Ok(Self { position, covariance, earlier, flow, ..self.clone() })
    }

    /// The run from its own time to another, leg by leg.
    fn pieces_to(&self, time: Timestamp) -> Vec<Piece> {
        let (Some(track), Some(speed)) = (self.track, self.speed) else { return Vec::new() };
        let seconds = self.seconds_to(time);
        if seconds >= 0.0 || self.earlier.is_empty() {
            return vec![Piece { track, speed, seconds }];
        }
        let mut pieces = Vec::new();
        let mut at = 0.0;
        for (number, leg) in self.earlier.iter().enumerate() {
            let oldest = number + 1 == self.earlier.len();
            let until = if oldest { seconds } else { self.seconds_to(leg.from).max(seconds) };
            if until < at {
                pieces.push(Piece { track: leg.track, speed: leg.speed, seconds: until - at });
                at = until;
            }
        }
        pieces
    }

    /// The same reckoning carried to the time of an alteration, and from then on with another track
    /// and speed made good; what was made good before stays so. The errors of track and speed before
    /// it and after it are taken for independent. What is not known of a wind or current in use goes on
    /// with it: that error belongs to the air or water, not to the track.
    ///
    /// # Errors
    /// As [`Reckoning::carried_to`].
    pub fn altered(
        &self,
        time: Timestamp,
        track: Bearing<True>,
        speed: Speed,
    ) -> Result<Self, ReckoningError> {
        let (position, covariance, flow) = self.run_to(time)?;
        let mut altered = self.clone();
        if let (Some(track), Some(speed)) = (self.track, self.speed)
            && time > self.time
        {
            altered.earlier.insert(0, self.leg(track, speed));
            altered.earlier.truncate(Self::MOST_LEGS);
        }
        (altered.time, altered.position, altered.covariance) = (time, position, covariance);
        (altered.track, altered.speed, altered.flow) = (Some(track), Some(speed), flow);
        Ok(altered)
    }

    /// The run made good from one time to another, laid flat about where it starts.
    ///
    /// No run where track or speed is not known: every time is then the reckoning's.
    pub fn displacement(&self, from: Timestamp, to: Timestamp) -> PlanePoint {
        if from == to || self.track.is_none() || self.speed.is_none() {
            return PlanePoint::default();
        }
        let at = |time| {
            self.pieces_to(time).iter().fold(self.position, |position, piece| {
                along_track(position, piece.track, piece.speed.metres_per_second() * piece.seconds)
            })
        };
        LocalPlane::new(at(from)).to_plane(at(to))
    }

    /// Seconds from the reckoning's time to another.
    fn seconds_to(&self, time: Timestamp) -> f64 {
        let span: SignedDuration = time.duration_since(self.time);
        span.as_secs_f64()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::course;
    use crate::units::GroundRange;

    fn miles(value: f64) -> GroundRange {
        GroundRange::from_nautical_miles(value).unwrap()
    }

    fn reckoning() -> Reckoning {
        Reckoning {
            time: "2031-03-09T03:40:00Z".parse().unwrap(),
            position: Position::new(-38.215, -21.508).unwrap(),
            covariance: Covariance::circular(miles(4.0)),
            track: Some(Bearing::from_degrees(74.0).unwrap()),
            speed: Some(Speed::from_knots(165.0).unwrap()),
            track_sigma: Angle::from_degrees(3.0),
            speed_sigma: Speed::from_knots(5.0).unwrap(),
            earlier: Vec::new(),
            flow: None,
        }
    }

    #[test]
    fn it_goes_along_its_track_and_its_error_grows() {
        let reckoning = reckoning();
        for (time, sense) in [("2031-03-09T04:10:00Z", 0.0), ("2031-03-09T03:10:00Z", 180.0)] {
            let (position, covariance) = reckoning.carried_to(time.parse().unwrap()).unwrap();
            let line = course(reckoning.position, position);
            // A rhumb line of 82.5 NM is within a few metres as long as the geodesic, and leaves
            // it by half the convergence: 0.46° here (geographiclib is the reference).
            assert!((line.distance.nautical_miles() - 82.5).abs() < 0.01, "{line:?}");
            let middle = line
                .initial
                .turned(Angle::from_radians(line.arrival.minus(line.initial).radians() / 2.0));
            assert!(middle.minus(Bearing::wrapped_degrees(74.0 + sense)).degrees().abs() < 0.01);
            let along = covariance.sigma_towards(Bearing::wrapped_degrees(74.0)) / 1852.0;
            let across = covariance.sigma_towards(Bearing::wrapped_degrees(164.0)) / 1852.0;
            assert!((along - 4.0f64.hypot(2.5)).abs() < 1e-6, "{along}");
            assert!(
                (across - 4.0f64.hypot(82.5 * 3.0f64 * std::f64::consts::PI / 180.0)).abs() < 1e-6
            );
        }
    }

    #[test]
    fn without_track_it_stays_at_its_own_time() {
        let still = Reckoning { track: None, ..reckoning() };
        assert!(still.carried_to(still.time).is_ok());
        let later = "2031-03-09T03:41:00Z".parse().unwrap();
        assert!(matches!(still.carried_to(later), Err(ReckoningError::NoTrack { .. })));
        assert_eq!(still.displacement(still.time, later), PlanePoint::default());
        let far = "2031-04-09T03:41:00Z".parse().unwrap();
        assert!(matches!(reckoning().carried_to(far), Err(ReckoningError::TooFar { .. })));
    }

    #[test]
    fn displacement_is_the_run() {
        let reckoning = reckoning();
        let early = "2031-03-09T03:41:00Z".parse().unwrap();
        let late = "2031-03-09T03:43:00Z".parse().unwrap();
        let (range, bearing) = reckoning.displacement(early, late).polar();
        assert!((range.nautical_miles() - 5.5).abs() < 1e-4); // two minutes at 165 kn
        assert!(bearing.minus(Bearing::wrapped_degrees(74.0)).degrees().abs() < 0.05);
        let back = reckoning.displacement(late, early);
        assert!((back.polar().0.nautical_miles() - 5.5).abs() < 1e-4 && back.east < 0.0);
    }

    #[test]
    fn an_alteration_leaves_what_was_made_good_before() {
        let time = |text: &str| -> Timestamp { text.parse().unwrap() };
        let (turn, later) = (time("2031-03-09T03:46:00Z"), time("2031-03-09T03:52:00Z"));
        let north = Bearing::from_degrees(0.0).unwrap();
        let slow = Speed::from_knots(100.0).unwrap();
        let altered = reckoning().altered(turn, north, slow).unwrap();
        // Six minutes at 165 kn on 074° and six at 100 kn due north: 16.5 and 10 NM.
        let run = altered.displacement(time("2031-03-09T03:40:00Z"), later);
        let (sin, cos) = Angle::from_degrees(74.0).radians().sin_cos();
        // (Ten miles up a meridian 16 NM to the east lean by 0.04 NM.)
        assert!((run.east / 1852.0 - 16.5 * sin).abs() < 0.06, "{run:?}");
        assert!((run.north / 1852.0 - (16.5 * cos + 10.0)).abs() < 0.03, "{run:?}");
        // Back at the start it is where it was, with the error it had, and the error grows each way.
        let (back, error) = altered.carried_to(reckoning().time).unwrap();
        assert!(course(back, reckoning().position).distance.metres() < 1.0);
        assert!(error.sigma_towards(north) >= reckoning().covariance.sigma_towards(north));
        // Before that it ran as the first leg did.
        // A place found afterwards for a time before the turn goes round it all the same.
        let (start, sure) = (reckoning().time, Covariance::circular(miles(0.2)));
        let found = Position::new(-38.3, -21.4).unwrap();
        let after = altered.restarted(start, found, sure).unwrap();
        let before = reckoning().restarted(start, found, sure).unwrap();
        let before = before.altered(turn, north, slow).unwrap();
        let ends = [after, before].map(|r| r.carried_to(later).unwrap());
        assert!(course(ends[0].0, ends[1].0).distance.metres() < 1.0);
        assert_eq!(ends[0].1, ends[1].1);
        let early = time("2031-03-09T03:34:00Z");
        let (then, _) = altered.carried_to(early).unwrap();
        let (without, _) = reckoning().carried_to(early).unwrap();
        assert!(course(then, without).distance.metres() < 1.0);
    }
}
