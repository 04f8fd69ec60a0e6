use jiff::{SignedDuration, Timestamp};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::exercise::{Declaration, Exercise, Hidden};
use super::path::{Path, Turn};
use crate::contact::{Own, Reckoning};
use crate::geodesy::{Covariance, Position, along_track};
use crate::paint::{Afloat, Conditions};
use crate::radar::Set;
use crate::reckon::Velocity;
use crate::units::{
    Angle, Bearing, GroundRange, Height, KNOT, METRES_PER_NAUTICAL_MILE, Speed, True,
};

/// One standard deviation of the error that all bearings share, degrees: as the trainee is told.
const BIAS_SIGMA_DEG: f64 = 1.0;

/// A picture is turned by whole cells: its bearings err in steps of this, degrees.
const BIAS_STEP_DEG: f64 = 0.5;

/// An altimeter errs by this share of what is told of it: well set, as in practice it is.
const HEIGHT_SHARE: f64 = 0.5;

/// What an exercise is to be, before chance has its part in it.
#[derive(Debug, Clone)]
pub(super) struct Order {
    pub lesson: Option<usize>,
    pub seed: u64,
    pub set_name: String,
    pub set: Set,
    /// Where the craft truly is as the set first looks round.
    pub from: Position,
    pub heading: Bearing<True>,
    pub through_kn: f64,
    pub height_ft: f64,
    /// The wind or stream reckoned with, and the true one: toward where they carry, and how fast.
    pub reckoned_with: Carry,
    pub truly: Carry,
    /// How long the reckoning has run since it was last sure, hours.
    pub hours: f64,
    /// One standard deviation of that wind or stream, in each direction, knots.
    pub carry_sigma_kn: f64,
    /// And of the place it started from, nautical miles.
    pub start_sigma_nm: f64,
    pub conditions: Conditions,
    pub weather: String,
    pub afloat: Vec<Afloat>,
    pub landfall: Position,
    pub accepted: Vec<Declaration>,
    pub untold: bool,
    pub turn: Option<Turn>,
    pub scans: usize,
    pub every_s: i64,
    pub scale_nm: f64,
}

/// A wind or stream by where it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Carry {
    pub toward_deg: f64,
    pub knots: f64,
}

impl Carry {
    pub const NONE: Self = Self { toward_deg: 0.0, knots: 0.0 };

    /// A wind by where it comes from.
    pub fn wind(from_deg: f64, knots: f64) -> Self {
        Self { toward_deg: from_deg + 180.0, knots }
    }

    /// The same with so many knots more to the east and to the north.
    pub fn off(self, east_kn: f64, north_kn: f64) -> Self {
        let more = Velocity { east: east_kn * KNOT, north: north_kn * KNOT };
        let sum = self.velocity().plus(more);
        Self { toward_deg: sum.direction().degrees(), knots: sum.knots() }
    }

    fn velocity(self) -> Velocity {
        let speed = Speed::from_knots(self.knots.max(0.0)).unwrap_or_default();
        Velocity::toward(Bearing::wrapped_degrees(self.toward_deg), speed)
    }
}

/// When every exercise begins: a night of no year that matters.
fn first_look() -> Timestamp {
    const SECONDS: i64 = 1_930_794_000;
    Timestamp::from_second(SECONDS).unwrap_or_default()
}

impl Order {
    /// The exercise: chance adds what no order says, from the seed alone.
    pub fn exercise(self) -> Exercise {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
        let first = first_look();
        let own_sigma = Own::at_height(height(self.height_ft)).height_sigma();
        let true_height = height(self.height_ft + HEIGHT_SHARE * own_sigma.feet() * normal());
        let bias_deg = BIAS_SIGMA_DEG * normal().clamp(-2.0, 2.0);
        let bias = Angle::from_degrees((bias_deg / BIAS_STEP_DEG).round() * BIAS_STEP_DEG);
        let start_off = [normal(), normal()].map(|off| self.start_sigma_nm * off);
        let (truly, reckoned_with) = (self.truly.velocity(), self.reckoned_with.velocity());
        let path = Path {
            from: self.from,
            time: first,
            heading: self.heading,
            through: Speed::from_knots(self.through_kn).unwrap_or_default(),
            flow: truly,
            turn: self.turn,
        };
        let reckoning = self.reckoning(&path, reckoned_with, bias, start_off);
        let mut own = Own::at_height(height(self.height_ft));
        own.heading = Some(path.at(reckoning.time).heading.turned(bias));
        own.heading_sigma = Angle::from_degrees(BIAS_SIGMA_DEG);
        Exercise {
            seed: self.seed,
            lesson: self.lesson,
            set_name: self.set_name,
            set: self.set,
            reckoning,
            own,
            landfall: self.landfall,
            weather: self.weather,
            first,
            every_s: self.every_s,
            scans: self.scans,
            scale_nm: self.scale_nm,
            hidden: Hidden {
                path,
                height: true_height,
                bias,
                conditions: self.conditions,
                afloat: self.afloat,
                landfall: self.accepted,
                untold: self.untold,
            },
        }
    }

    /// The reckoning as it stands at the first look, or as the turn is over: out by what the wind or
    /// stream that it does not know of has done since it was last sure.
    fn reckoning(
        &self,
        path: &Path,
        reckoned_with: Velocity,
        bias: Angle,
        start_off: [f64; 2],
    ) -> Reckoning {
        let after_s = self.turn.map_or(0.0, |turn| turn.until_s.ceil());
        let time = path.time + SignedDuration::from_secs(after_s as i64);
        let there = path.at(time);
        let unknown = reckoned_with.minus(path.flow);
        let seconds = self.hours * 3_600.0;
        let out = Velocity {
            east: unknown.east * seconds + start_off[0] * METRES_PER_NAUTICAL_MILE,
            north: unknown.north * seconds + start_off[1] * METRES_PER_NAUTICAL_MILE,
        };
        let position = along_track(there.position, out.direction(), out.metres_per_second());
        let steered = Velocity::toward(there.heading.turned(bias), path.through);
        let over = steered.plus(reckoned_with);
        let speed_kn = over.knots();
        let sigma_nm = (self.carry_sigma_kn * self.hours).hypot(self.start_sigma_nm);
        Reckoning {
            time,
            position,
            covariance: Covariance::circular(GroundRange::clamped_metres(
                sigma_nm * METRES_PER_NAUTICAL_MILE,
            )),
            track: Some(over.direction()),
            speed: Some(Speed::from_knots(speed_kn).unwrap_or_default()),
            track_sigma: Angle::from_radians((self.carry_sigma_kn / speed_kn.max(1.0)).atan()),
            speed_sigma: Speed::from_knots(self.carry_sigma_kn).unwrap_or_default(),
            earlier: Vec::new(),
            flow: None,
        }
    }
}

fn height(feet: f64) -> Height {
    Height::from_feet(feet.max(1.0)).unwrap_or_default()
}
