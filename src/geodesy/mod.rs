//! Where things are on the Earth: positions, the lines between them, and magnetic north.
//!
//! Comes in: latitudes and longitudes, also as they are written; lengths and directions. Goes out: a
//! [`Position`], the [`course()`] and [`distance`] to another, the place that lies so far off
//! ([`destination`]), rhumb lines, the [`magnetic_variation`]. It knows no chart.
//!
//! Everything is on the WGS84 ellipsoid. A line between two positions is a geodesic, by a library
//! that follows C. F. F. Karney, "Algorithms for geodesics", Journal of Geodesy 87 (2013). The
//! [`LocalPlane`] is for work in bulk around one place, where a few centimetres are let go.
//!
//! A position is never handed on as exact where it is not: [`Covariance`] and [`Ellipse`] say how
//! far to believe it.

mod circle;
mod covariance;
mod geodesic;
mod plane;
mod position;
mod position_text;
mod rhumb;
mod variation;

pub(crate) use circle::{radii_about, radius_between};
pub use covariance::{Covariance, CovarianceError, Ellipse, circle_scale};
pub use geodesic::{Course, course, destination, distance};
pub(crate) use plane::degree_m;
pub use plane::{LocalPlane, PlanePoint};
pub use position::{Position, PositionError};
pub use rhumb::{along_track, rhumb_course};
pub use variation::{MagneticField, magnetic_variation};

/// Equatorial radius of the WGS84 ellipsoid in metres (defining constant, NIMA TR8350.2).
pub const WGS84_EQUATORIAL_RADIUS_M: f64 = 6_378_137.0;

/// Flattening of the WGS84 ellipsoid (defining constant, NIMA TR8350.2).
pub const WGS84_FLATTENING: f64 = 1.0 / 298.257_223_563;

/// Square of the first eccentricity of the ellipsoid: f (2 - f).
pub const WGS84_ECCENTRICITY_SQUARED: f64 = WGS84_FLATTENING * (2.0 - WGS84_FLATTENING);

/// Mean radius of the Earth in metres: the one that radar horizons are reckoned on.
pub const MEAN_EARTH_RADIUS_M: f64 = 6_371_000.0;
