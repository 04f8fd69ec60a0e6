//! The proving ground: simulated landfalls on real coasts, solved through the public interface alone.
//!
//! What shows and what is measured is worked out by [`foreland::campaign`], by rays cast at the shore:
//! nothing of the estimator's own geometry, and none of the chart's own list of headlands, is used.
//! The two front ends are `tests/proving_ground.rs`, a small slice for every run of the tests, and
//! `tests/benches/proving.rs`, the campaign.
//!
//! - [`coasts`]: the charts, some to fit the estimator on, some to check it on;
//! - [`case`]: the conditions;
//! - [`made`]: coasts that are nowhere;
//! - [`score`], [`campaign`], [`rows`], [`tables`], [`compared`]: what came of it;
//! - [`stress`]: what must be refused;
//! - [`ideal`]: what could have been made of the same contacts.

#![allow(dead_code, reason = "each front end uses its own part")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a simulator that cannot go on has failed")]

pub use foreland::campaign::{features, landfall, operator, picture, random, shore};

pub mod campaign;
pub mod case;
pub mod coasts;
pub mod compared;
pub mod ideal;
pub mod made;
pub mod rows;
pub mod score;
pub mod stress;
pub mod tables;
