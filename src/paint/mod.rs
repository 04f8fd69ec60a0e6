//! What should show: the coast and its marks as a set would see them from one place.
//!
//! Comes in: a chart, a place and height, a set, the weather. Goes out: [`expect`], every mark with
//! its outcome and every bearing with its nearest painted land; [`explain`], one mark's whole
//! budget; [`Sight`], what is in plain sight by rays alone; [`Lookout`], the chance of one mark at a
//! time, coarse and quick, for trying many places; [`approach::Look`], the same as [`expect`] has it; and [`approach::approach`], what first shows when
//! along a planned track. It knows nothing of contacts.
//!
//! Inside, in the order of the work: a fan of rays, the relief of the chart under them, the
//! sweep that finds what is lit and what leaks into shadow, and the budget that holds each echo against noise and sea.

pub mod approach;
mod budget;
mod cautions;
mod crossings;
mod echo;
mod expect;
mod expectation;
mod explain;
mod fan;
mod heights;
mod in_front;
mod kind;
mod laid;
mod land;
mod late;
mod lookout;
mod mark_echo;
mod mask;
mod picture;
mod ray_line;
mod relief;
mod sight;
mod sweep;
mod vantage;
mod way;

pub use expect::expect;
pub use expectation::{Expectation, ExpectedCoast, ExpectedMark, Outcome, SecondTime};
pub use explain::{AnsweredBy, ClutterHeard, Explanation, Hides, Term, explain};
pub use heights::{Confidence, heights_of};
pub use kind::{Kind, KindBy};
pub use late::shows_past_the_pulse;
pub use lookout::Lookout;
pub use picture::{
    Afloat, Frame, Picture, PictureError, Plan, SHOWS_LIGHT, Trace, TraceSide, brightness, picture,
    picture_with, range_rings,
};
pub use sight::Sight;
pub use vantage::{Conditions, Vantage};
