//! What an answer looks like: the account of a fix, for people and for scripts.
//!
//! Shared by every command that states a position. Nothing is computed here beyond turning units
//! and naming what is near.

mod approach_json;
mod approach_text;
mod approach_traps;
mod campaign_json;
mod campaign_text;
pub(super) mod card;
mod debrief_json;
mod debrief_text;
mod drill;
mod expect_json;
mod expect_text;
mod explain_json;
mod explain_text;
mod fix_json;
mod fix_table;
mod fix_text;
mod page;
mod plan_json;
mod plan_text;
mod planned;
mod pretty;
mod reckon_crossed_json;
mod reckon_crossed_text;
mod reckon_json;
mod reckon_text;
mod rounding;
mod sectors;
pub(super) mod words;

pub use approach_json::approach_json;
pub use approach_text::approach_text;
pub use campaign_json::campaign_json;
pub use campaign_text::{Tried, campaign_text};
pub use debrief_json::debrief_json;
pub use debrief_text::debrief_text;
pub use drill::{drill_json, drill_text, score_json, score_text};
pub use expect_json::expect_json;
pub use expect_text::{Asked, expect_text};
pub use explain_json::explain_json;
pub use explain_text::explain_text;
pub use fix_json::fix_json;
pub use fix_text::fix_text;
pub use planned::Planned;
pub(super) use pretty::pretty;
pub use reckon_json::reckon_json;
pub use reckon_text::reckon_text;
pub(super) use rounding::rounded;
pub use words::{distance_words, from_nearest_mark, offset_words, percent};
