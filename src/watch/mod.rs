//! The watch: one sitting, what was entered in it, and the log that keeps it.
//!
//! In: lines as an operator types them ([`entry`]), and a log left by an earlier sitting
//! ([`log`]). Out: the sightings as they stand, for `fix` ([`Watch::sightings`]); what each change was,
//! in words ([`words`]); what must not be overlooked ([`alarm`]); how the planned run stands
//! ([`along`]). It knows no terminal and no clock: time comes in with each entry.

mod ahead;
pub mod alarm;
pub mod along;
pub mod area;
pub mod entry;
mod held;
mod keeper;
pub mod log;
mod names;
mod off_chart;
mod resume;
mod say;
mod sitting;
mod told;
pub mod words;

pub use held::Held;
pub use keeper::{Keeper, Tally};
pub use off_chart::off_chart;
pub use resume::{Resumed, make_so, resume, start_record};
pub use sitting::{
    ASSUMED_SIGMA_NM, DOUBTFUL_CONFIDENCE, Echo, Known, KnownBy, LeftOut, Offer, Stretch, Watch,
};
pub use told::{Is, Told};
