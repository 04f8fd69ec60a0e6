//! Radar landfall: which coast should paint, which headland an echo is, and the position it fixes.
//!
//! The person this is for has been hours over water, on a reckoning no longer quite trusted, and
//! sees the first echoes of a coast. The modules are that person's questions, in the order in which
//! they are asked; each uses only those before it.
//!
//! | module | its question |
//! | --- | --- |
//! | [`text`], [`units`], [`geodesy`] | in what terms, and where on the Earth? |
//! | [`chart`] | what is there: coast, ground, marks? |
//! | [`radar`] | what can the set do? |
//! | [`paint`] | what should show from here? |
//! | [`contact`] | what was measured, and how well? |
//! | [`identity`] | which mark is which echo? |
//! | [`fix`] | where does that put us, and how far is it to be believed? |
//! | [`reckon`] | where did we think we were, and how fast does that decay? |
//! | [`watch`] | what was entered, and is it kept? |
//! | [`drill`] | could I read this coast? |
//! | [`campaign`] | would this plan be read, and how often wrongly? |
//! | [`debrief`] | where were we really, and when did we know it? |
//! | [`screen`], [`command`] | how is it shown? |
//!
//! # A landfall, worked
//!
//! The sample coast is built in. Two echoes are measured from an aircraft at 2,000 ft, and the
//! operator thinks that one of them is Gannet Head:
//!
//! ```
//! use std::path::Path;
//!
//! use foreland::chart::Chart;
//! use foreland::contact::Sightings;
//! use foreland::fix::{self, Options, Verdict};
//!
//! let chart = Chart::sample()?;
//! let sightings = Sightings::parse(
//!     r#"
//!     [reckoning]
//!     time = "2031-03-09T03:40:00Z"
//!     position = "38 12.9 S, 21 30.5 W"
//!     sigma_nm = 4.0
//!     [own]
//!     height_ft = 2000
//!     [radar]
//!     set = "patrol"
//!     [[contact]]
//!     label = "A"
//!     range_nm = 22.1
//!     bearing_deg = 47.8
//!     mark = "Gannet Head"
//!     [[contact]]
//!     label = "B"
//!     range_nm = 12.5
//!     bearing_deg = 99.6
//!     part = "centre"
//!     mark = "Little Ember"
//!     "#,
//!     "evening.toml",
//!     Path::new(""),
//! )?;
//! sightings.check_marks(&chart)?;
//!
//! let answer = fix::fix(&chart, &sightings, &Options::default());
//!
//! assert_eq!(answer.verdict, Verdict::Fixed);
//! let ellipse = answer.ellipse.ok_or("a fix has its ellipse")?;
//! assert!(ellipse.semi_major.nautical_miles() < 1.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A set of contacts that two places explain has the verdict `Ambiguous` and both places; one that
//! none explains, `AtOdds`. No position is stated that the program does not stand behind.
//!
//! # What the types do not catch
//!
//! A contact on the wrong headland, a name given with too much confidence, an error stated too
//! small: these are weighed, never excluded, and every figure of uncertainty rests on them.
//!
//! An aid only, never the sole means of navigation: official charts, local rules, licensed crew
//! and published safety altitudes rule.

pub mod campaign;
pub mod chart;
pub mod command;
pub mod contact;
pub mod debrief;
pub mod drill;
pub mod fix;
pub mod geodesy;
pub mod identity;
pub mod paint;
pub mod radar;
pub mod reckon;
pub mod screen;
pub mod text;
pub mod units;
pub mod watch;

/// The documents that go with the program, as they stand in its `docs` folder.
#[cfg(doc)]
pub mod documents {
    #[doc = include_str!("../docs/tutorial.md")]
    pub mod tutorial {}
    #[doc = include_str!("../docs/how-to/read-an-answer.md")]
    pub mod read_an_answer {}
    #[doc = include_str!("../docs/how-to/plan-a-landfall.md")]
    pub mod plan_a_landfall {}
    #[doc = include_str!("../docs/how-to/keep-a-reckoning.md")]
    pub mod keep_a_reckoning {}
    #[doc = include_str!("../docs/explanation/reckoning.md")]
    pub mod reckoning {}
    #[doc = include_str!("../docs/how-to/debrief-a-sortie.md")]
    pub mod debrief_a_sortie {}
    #[doc = include_str!("../docs/explanation/debrief.md")]
    pub mod debrief {}
    #[doc = include_str!("../docs/explanation/identification-and-fix.md")]
    pub mod identification_and_fix {}
    #[doc = include_str!("../docs/explanation/two-lobes.md")]
    pub mod two_lobes {}
    #[doc = include_str!("../docs/explanation/paint.md")]
    pub mod paint {}
    #[doc = include_str!("../docs/explanation/marks.md")]
    pub mod marks {}
    #[doc = include_str!("../docs/explanation/display.md")]
    pub mod display {}
}
