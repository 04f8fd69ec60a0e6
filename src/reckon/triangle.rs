//! The triangle of velocities: through the air or water, the wind or current, over the ground.

use thiserror::Error;

use crate::units::{Angle, Bearing, KNOT, METRES_PER_NAUTICAL_MILE, Speed, True};

/// Slower than this over the ground no track is made, metres per second: a hundredth of a knot.
const STANDING: f64 = 0.01 * KNOT;

/// A speed with its direction: metres per second east and north.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Velocity {
    /// Metres per second east.
    pub east: f64,
    /// Metres per second north.
    pub north: f64,
}

impl Velocity {
    /// Moving toward a direction.
    pub fn toward(direction: Bearing<True>, speed: Speed) -> Self {
        let (sin, cos) = direction.sin_cos();
        Self { east: speed.metres_per_second() * sin, north: speed.metres_per_second() * cos }
    }

    /// The sum of two.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self { east: self.east + other.east, north: self.north + other.north }
    }

    /// This less another.
    #[must_use]
    pub fn minus(self, other: Self) -> Self {
        Self { east: self.east - other.east, north: self.north - other.north }
    }

    /// Turned clockwise by `turn` and made `times` as long.
    #[must_use]
    pub fn turned(self, turn: f64, times: f64) -> Self {
        let (sin, cos) = turn.sin_cos();
        Self {
            east: times * (self.east * cos + self.north * sin),
            north: times * (self.north * cos - self.east * sin),
        }
    }

    /// How fast, in metres per second.
    pub fn metres_per_second(self) -> f64 {
        self.east.hypot(self.north)
    }

    /// How fast, in knots.
    pub fn knots(self) -> f64 {
        knots(self.metres_per_second())
    }

    /// Toward where; 000 where it stands still.
    pub fn direction(self) -> Bearing<True> {
        Bearing::wrapped(self.east.atan2(self.north))
    }
}

/// A wind: spoken by the direction that it blows *from*.
///
/// It is no current, which is spoken by the direction that it sets *toward*:
/// ```compile_fail,E0308
/// # use foreland::reckon::{Current, Wind};
/// # use foreland::units::{Bearing, Speed};
/// fn drift_of(_: Current) {}
/// drift_of(Wind { from: Bearing::ZERO, speed: Speed::ZERO });
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wind {
    /// The direction that it blows from.
    pub from: Bearing<True>,
    /// How hard.
    pub speed: Speed,
}

/// A current: spoken by its set, the direction that it goes *toward*, and its drift, its speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Current {
    /// The direction that it goes toward.
    pub set: Bearing<True>,
    /// How fast.
    pub drift: Speed,
}

/// What carries the craft along: moving air, moving water, or neither that is known of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flow {
    /// None is stated.
    Still,
    /// Moving air.
    Wind(Wind),
    /// Moving water.
    Current(Current),
}

impl From<Wind> for Flow {
    fn from(wind: Wind) -> Self {
        Self::Wind(wind)
    }
}

impl From<Current> for Flow {
    fn from(current: Current) -> Self {
        Self::Current(current)
    }
}

impl Flow {
    /// Where it carries to, and how fast.
    pub fn velocity(self) -> Velocity {
        match self {
            Self::Still => Velocity::default(),
            Self::Wind(wind) => Velocity::toward(wind.from.reciprocal(), wind.speed),
            Self::Current(current) => Velocity::toward(current.set, current.drift),
        }
    }

    /// What it is called.
    pub fn word(self) -> &'static str {
        match self {
            Self::Current(_) => "current",
            Self::Still | Self::Wind(_) => "wind",
        }
    }
}

/// What comes of a heading, a speed and a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MadeGood {
    /// Where the bow points; none where it is not known.
    pub heading: Option<Bearing<True>>,
    /// Speed through the air or the water; none where it is not known.
    pub through: Option<Speed>,
    /// The direction made good; none where it stands still.
    pub track: Option<Bearing<True>>,
    /// Speed over the ground.
    pub speed: Speed,
}

impl MadeGood {
    /// The turn from heading to track, right positive; none where either is not known.
    pub fn drift(self) -> Option<Angle> {
        Some(self.track?.minus(self.heading?))
    }
}

/// Why a triangle does not close.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TriangleError {
    /// The flow across the track is stronger than the craft.
    #[error(
        "{across:.1} kn of {flow} across the track are more than the {through:.1} kn it makes: no heading holds this track"
    )]
    TooMuchAcross {
        /// Wind or current.
        flow: &'static str,
        /// Its part across the track, knots.
        across: f64,
        /// Speed through the air or the water, knots.
        through: f64,
    },
    /// The heading that holds the track makes good nothing forward along it.
    #[error(
        "against the {flow} it makes {speed:.1} kn along the track, not forward: it never arrives"
    )]
    NeverForward {
        /// Wind or current.
        flow: &'static str,
        /// Along the track over the ground, knots: none or negative.
        speed: f64,
    },
    /// No speed through the air or water on this heading gives that speed over the ground.
    #[error("no speed on this heading makes good {speed:.1} kn in a {flow} of {flow_kn:.1} kn")]
    NoSpeed {
        /// Wind or current.
        flow: &'static str,
        /// Its speed, knots.
        flow_kn: f64,
        /// The speed over the ground asked for, knots.
        speed: f64,
    },
}

/// The track and speed over the ground that a heading and a speed make good.
///
/// True heading 045, 75 kn, wind 135 at 20 kn: track 030.07, 77.62 kn (computed; the exercise it is
/// from, seen second-hand, says "about 15° left, 40 NM north-west of the still-air place in 2 h"):
/// ```
/// # use foreland::reckon::{Wind, made_good};
/// # use foreland::units::{Bearing, Speed};
/// let wind = Wind { from: Bearing::from_degrees(135.0)?, speed: Speed::from_knots(20.0)? };
/// let made = made_good(Bearing::from_degrees(45.0)?, Speed::from_knots(75.0)?, wind);
/// assert!((made.track.ok_or("it moves")?.degrees() - 30.069).abs() < 1e-3);
/// assert!((made.speed.knots() - 77.621).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn made_good(heading: Bearing<True>, through: Speed, flow: impl Into<Flow>) -> MadeGood {
    let over = Velocity::toward(heading, through).plus(flow.into().velocity());
    MadeGood {
        heading: Some(heading),
        through: Some(through),
        track: track(over),
        speed: speed(over),
    }
}

/// The heading that makes good a track.
///
/// sin(correction) = W sin(wind − track) / TAS, the wind by the direction that it comes from; speed over
/// the ground TAS cos(correction) − W cos(wind − track). The sine rule in the triangle of velocities.
///
/// # Errors
/// More flow across the track than speed; or nothing made good forward along it.
pub fn to_make_good(
    wanted: Bearing<True>,
    through: Speed,
    flow: impl Into<Flow>,
) -> Result<MadeGood, TriangleError> {
    let flow = flow.into();
    let carried = flow.velocity();
    let (sin, cos) = wanted.sin_cos();
    let along = carried.east * sin + carried.north * cos;
    let right = carried.east * cos - carried.north * sin;
    let own = through.metres_per_second();
    if right.abs() > own {
        let (across, through) = (knots(right.abs()), through.knots());
        return Err(TriangleError::TooMuchAcross { flow: flow.word(), across, through });
    }
    let correction = if own > 0.0 { (-right / own).asin() } else { 0.0 };
    let forward = own * correction.cos() + along;
    if forward < STANDING {
        return Err(TriangleError::NeverForward { flow: flow.word(), speed: knots(forward) });
    }
    Ok(MadeGood {
        heading: Some(wanted.turned(Angle::from_radians(correction))),
        through: Some(through),
        track: Some(wanted),
        speed: Speed::clamped_metres_per_second(forward),
    })
}

/// The speed through the air or water that, on a heading, makes good a speed over the ground.
///
/// From |T·h + w| = V, the greater root: T = −w·h + √((w·h)² − w² + V²).
///
/// # Errors
/// No such speed: the flow alone carries it faster, or across.
pub fn along_heading(
    heading: Bearing<True>,
    over_ground: Speed,
    flow: impl Into<Flow>,
) -> Result<MadeGood, TriangleError> {
    let flow = flow.into();
    let carried = flow.velocity();
    let (sin, cos) = heading.sin_cos();
    let along = carried.east * sin + carried.north * cos;
    let square = along * along - carried.metres_per_second().powi(2)
        + over_ground.metres_per_second().powi(2);
    let through = -along + square.max(0.0).sqrt();
    if square < 0.0 || through < 0.0 {
        let (flow_kn, speed) = (carried.knots(), over_ground.knots());
        return Err(TriangleError::NoSpeed { flow: flow.word(), flow_kn, speed });
    }
    let through = Speed::clamped_metres_per_second(through);
    Ok(MadeGood { speed: over_ground, ..made_good(heading, through, flow) })
}

/// What must have been held through the air or water to make good a track and speed.
pub(super) fn behind(wanted: Bearing<True>, over_ground: Speed, flow: Flow) -> MadeGood {
    let held = Velocity::toward(wanted, over_ground).minus(flow.velocity());
    MadeGood {
        heading: track(held),
        through: Some(speed(held)),
        track: Some(wanted),
        speed: over_ground,
    }
}

/// The direction of a velocity that is worth the name.
pub(super) fn track(over: Velocity) -> Option<Bearing<True>> {
    (over.metres_per_second() >= STANDING).then(|| over.direction())
}

/// The speed of a velocity, held to what is taken.
pub(super) fn speed(over: Velocity) -> Speed {
    Speed::clamped_metres_per_second(over.metres_per_second())
}

fn knots(metres_per_second: f64) -> f64 {
    metres_per_second * 3600.0 / METRES_PER_NAUTICAL_MILE
}

#[cfg(test)]
mod tests;
