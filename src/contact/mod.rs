//! What was really measured: sightings files, bearings turned to true, errors, and the geometry
//! that says what a contact should have read.
//!
//! In: a sightings file, or one reading typed at the display. Out: [`Sightings`], every bearing
//! from true north, every time on one clock, every error one standard deviation. It knows the
//! chart's shapes and the set's figures; it does not know which mark a contact is.
//!
//! - [`Reckoning`]: where we thought we were, carried along its track with its growing error.
//! - [`FlowError`]: what is not known of a wind or current in its track and speed, and how that grows.
//! - [`Own`]: own height and heading, and the chain from compass to true.
//! - [`Contact`]: one echo, as measured; [`Reading`]: the same as a person gives it.
//! - [`Contact::turned_again`]: a bearing by the variation of a place known better since.
//! - [`Outline`]: an edge of painted coast, traced point by point.
//! - [`LobeReading`]: what the two deflections of a set with fixed lobes tell, every bearing kept.
//! - [`measure`]: what a contact should have read from an assumed place, with derivatives;
//!   [`shore`]: which point of a coast it answers from.

mod attitude;
mod deflection;
pub(crate) mod file;
mod flow;
mod kinds;
pub mod measure;
mod outline;
mod own;
mod plot;
mod process;
mod reading;
mod reckoning;
pub mod shore;
mod sightings;
mod turned;

pub(crate) use attitude::Attitude;
pub use deflection::{Deflections, LobeReading};
pub use file::{Fault, SightingsError, Wrong};
pub use flow::{FlowChange, FlowError};
pub use kinds::{BearingKind, Part};
pub use outline::{Outline, TracedPoint};
pub(crate) use own::MOST_BEARING_SIGMA_DEG;
pub use own::{MOST_BANK_DEG, Own, OwnError, ReadBearing};
pub use plot::plot;
pub use process::GaussMarkov;
pub use reading::{Belief, Contact, Reading, ReadingError};
pub use reckoning::{Leg, Reckoning, ReckoningError};
pub(crate) use sightings::Among;
pub use sightings::{Radar, Sightings, StatedAccuracy};
