//! Where own ship or aircraft was, known afterwards: fixes before and after count for each instant.
//!
//! In: a [`Run`], which is a start, what was reckoned with, and the fixes. Out: a [`TrackPoint`] for
//! each fix and for each minute between. Everything is told against the reckoned path, so that the
//! work is on small differences in a plane about it, and neither a long run nor the ellipsoid matters.

mod filter;
mod model;
mod run;

pub use filter::{Known, Measured, Step, Vector, smoothed};
pub use model::Model;
pub use run::{Event, Flow, Going, Kind, Run, TrackPoint};
