//! Where we thought we were: legs laid off with wind or current, and how fast the answer decays.
//!
//! In: a start with its error, legs, winds or currents, and fixes on the way. Out: dead-reckoned
//! positions, each with its covariance, and the wind or current that the fixes show. It does not know
//! what was entered, nor by whom.
//!
//! - [`Wind`], [`Current`], [`made_good`], [`to_make_good`]: the triangle of velocities.
//! - [`DeviationTable`], [`Compasses`]: from what is read to true, and from true to what to steer.
//! - [`Legs`]: a file of legs, settled; [`reckon`]: the same worked.
//! - [`ErrorModel`]: what is taken to be uncertain, and by how much.
//! - [`Reckoner`]: the reckoning as it runs: position, flow, heading bias and speed scale with their
//!   joint covariance, carried along a [`Course`], put right by fixes.
//! - [`flow_between`]: the wind or current found between two fixes.
//! - [`RunningFix`]: position lines taken at different times, crossed.
//! - [`most_probable`], [`most_probable_with_line`]: reckoning and a fix or a position line as one.

mod combined;
mod course;
mod crossed;
mod directions;
mod file;
mod found;
mod growth;
mod legs;
mod reckoner;
mod running_fix;
mod triangle;
mod turns;
mod work;

pub use crate::contact::GaussMarkov;
pub use crate::contact::SightingsError as LegsError;
pub use combined::{
    Agreement, Combined, PositionLine, agreement, most_probable, most_probable_with_line,
};
pub use course::Course;
pub use crossed::{LineTold, RunningFixTold};
pub use directions::{Compasses, DeviationTable, Steering, TableError};
pub use found::{AirRun, FlowFound, flow_between};
pub use growth::{Craft, ErrorModel};
pub use legs::{Leg, Legs, StatedFix, StatedLine};
pub use reckoner::{Reckoner, TakenFix};
pub use running_fix::{Charted, Crossing, FLAT_DEG, MOST_LINES, RunningFix, Seen, Standing};
pub use triangle::{Current, Flow, MadeGood, TriangleError, Velocity, Wind};
pub use triangle::{along_heading, made_good, to_make_good};
pub use work::{FixTold, Passed, Reckoned, When, reckon};
