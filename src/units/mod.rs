//! Lengths, angles and speeds that cannot be mixed by accident.
//!
//! Inside: metres, radians, metres per second. At the edges: feet, nautical miles, degrees, knots,
//! by constructors and accessors that say so. A value that exists is finite and in its range. It knows
//! nothing of what is measured in them.
//!
//! What the types tell apart, because people have died of mixing them:
//!
//! - a [`SlantRange`] (straight line to the target, what a radar measures) from a [`GroundRange`]
//!   (along the surface, what a chart shows);
//! - a [`Bearing`] from true north, from magnetic north, by compass, by gyro, and from own bow:
//!   going from one to another needs the [`Variation`], the [`Deviation`], the [`GyroError`] or
//!   the heading, and there is no other way;
//! - a direction ([`Bearing`]) from a turn or an error ([`Angle`]).
//!
//! A [`Clock`] tells the times of one run, with the day where it is another.
//!
//! What they do not tell apart: a height above the sea from a height above the ground. Every
//! [`Height`] here is above mean sea level.

mod angle;
mod clock;
mod error;
mod length;
mod speed;

pub use angle::{
    Angle, Bearing, Compass, Deviation, EastWest, Gyro, GyroError, Magnetic, Relative, True,
    Variation,
};
pub use clock::Clock;
pub use error::UnitError;
pub use length::{GroundRange, Height, METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE, SlantRange};
pub use speed::{KNOT, Speed};
