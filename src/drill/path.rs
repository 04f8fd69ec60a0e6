use jiff::Timestamp;

use crate::geodesy::{PlanePoint, Position, along_track};
use crate::reckon::Velocity;
use crate::units::{Angle, Bearing, Speed, True};

/// What pulls a body down, metres per second squared (standard value, exact by definition).
const GRAVITY: f64 = 9.806_65;

/// A turn is followed in steps of so many seconds.
const STEP_S: f64 = 1.0;

/// How the craft truly moves: on one heading, but for one turn at most, through air or water that
/// carries it along.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Path {
    pub from: Position,
    pub time: Timestamp,
    pub heading: Bearing<True>,
    pub through: Speed,
    /// What the air or water adds.
    pub flow: Velocity,
    pub turn: Option<Turn>,
}

/// A turn at one bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turn {
    /// It begins so many seconds after the path's time,
    pub from_s: f64,
    /// and ends so many after it.
    pub until_s: f64,
    /// Right wing down positive.
    pub bank: Angle,
}

impl Turn {
    /// Radians a second of a turn without slip, to starboard positive: g tan(bank) / V.
    fn rate(self, through: Speed) -> f64 {
        GRAVITY * self.bank.radians().tan() / through.metres_per_second().max(1.0)
    }
}

/// The craft at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Moment {
    pub position: Position,
    pub heading: Bearing<True>,
    pub bank: Angle,
}

impl Path {
    /// Where it is and how it lies at a time; before the path's own it ran straight.
    pub fn at(&self, time: Timestamp) -> Moment {
        let seconds = time.duration_since(self.time).as_secs_f64();
        let heading = self.heading.turned(Angle::from_radians(self.turned_by(seconds)));
        let run = self.run_after(seconds);
        let (metres, direction) = run.polar();
        let in_turn = self.turn.filter(|turn| seconds >= turn.from_s && seconds < turn.until_s);
        Moment {
            position: along_track(self.from, direction, metres.metres()),
            heading,
            bank: in_turn.map_or(Angle::ZERO, |turn| turn.bank),
        }
    }

    fn turned_by(&self, seconds: f64) -> f64 {
        self.turn.map_or(0.0, |turn| {
            turn.rate(self.through) * (seconds.min(turn.until_s) - turn.from_s).max(0.0)
        })
    }

    /// East and north of where it was at the path's own time, metres.
    fn run_after(&self, seconds: f64) -> PlanePoint {
        let straight = |heading: Bearing<True>, seconds: f64| {
            let over = Velocity::toward(heading, self.through).plus(self.flow);
            PlanePoint { east: over.east * seconds, north: over.north * seconds }
        };
        let Some(turn) = self.turn.filter(|turn| seconds > turn.from_s) else {
            return straight(self.heading, seconds);
        };
        let mut run = straight(self.heading, turn.from_s);
        let mut at = turn.from_s;
        while at < seconds {
            let step =
                if at < turn.until_s { STEP_S.min(turn.until_s - at) } else { f64::INFINITY };
            let step = step.min(seconds - at);
            let middle = Angle::from_radians(self.turned_by(at + 0.5 * step));
            let more = straight(self.heading.turned(middle), step);
            run = PlanePoint { east: run.east + more.east, north: run.north + more.north };
            at += step;
        }
        run
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::distance;

    fn path(turn: Option<Turn>) -> Path {
        Path {
            from: Position::new(-38.0, -21.5).unwrap(),
            time: "2031-03-09T03:40:00Z".parse().unwrap(),
            heading: Bearing::wrapped_degrees(0.0),
            through: Speed::from_knots(140.0).unwrap(),
            flow: Velocity { east: 0.0, north: 0.0 },
            turn,
        }
    }

    #[test]
    fn a_turn_takes_the_time_and_the_room_that_its_bank_says() {
        // 140 kn at 30°: rate 1091 tan 30° / 140 = 4.50 degrees a second, radius V²/(11.26 tan 30°)
        // = 3,015 ft (FAA-H-8083-25, aerodynamics of flight, constants from memory).
        let bank = Angle::from_degrees(30.0);
        let half = 180.0 / 4.4993;
        let path = path(Some(Turn { from_s: 10.0, until_s: 10.0 + half, bank }));
        let after =
            |seconds: f64| path.at(path.time + jiff::SignedDuration::from_secs_f64(seconds));
        let (begun, ended) = (after(10.0), after(10.0 + half));
        assert!((ended.heading.degrees() - 180.0).abs() < 0.2, "{ended:?}");
        let across_ft = distance(begun.position, ended.position).metres() / 0.3048;
        assert!((across_ft / 2.0 / 3_015.0 - 1.0).abs() < 0.01, "{across_ft}");
        assert!((after(20.0).bank.degrees() - 30.0).abs() < 1e-9);
        assert!(after(60.0).bank.degrees().abs() < 1e-9);
    }

    #[test]
    fn air_that_moves_carries_it_along() {
        let flow = Velocity { east: 10.0, north: 0.0 };
        let path = Path { flow, ..path(None) };
        let then = path.at(path.time + jiff::SignedDuration::from_secs(100));
        let still = Path { flow: Velocity { east: 0.0, north: 0.0 }, ..path.clone() };
        let apart = distance(
            then.position,
            still.at(path.time + jiff::SignedDuration::from_secs(100)).position,
        );
        assert!((apart.metres() - 1_000.0).abs() < 1.0);
    }
}
