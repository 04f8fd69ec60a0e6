//! What an answer looks like: the account of a fix, for people and for scripts.
//!
//! Shared by every command that states a position. Nothing is computed here beyond turning units
//! and naming what is near.

mod fix_json;
mod fix_table;
mod fix_text;
mod words;

pub use fix_json::fix_json;
pub use fix_text::fix_text;
pub use words::{distance_words, from_nearest_mark, offset_words, percent};
