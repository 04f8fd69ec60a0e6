//! The proving ground: simulated landfalls on real coasts, solved through the public interface alone.
//!
//! What shows and what is measured is worked out here, by rays cast at the shore: nothing of the
//! estimator's own geometry, and none of the chart's own list of headlands, is used. The two front
//! ends are `tests/proving_ground.rs`, a small slice for every run of the tests, and
//! `tests/benches/proving.rs`, the campaign.
//!
//! - [`coasts`]: the charts, some to fit the estimator on, some to check it on;
//! - [`case`]: the conditions;
//! - [`shore`], [`relief`]: the charted coast, and where it truly lies;
//! - [`made`]: coasts that are nowhere;
//! - [`picture`], [`features`]: what shows, and what stands out of it;
//! - [`operator`], [`trace`], [`landfall`]: what is measured, and the file that tells it;
//! - [`score`], [`campaign`], [`rows`], [`tables`], [`compared`]: what came of it;
//! - [`stress`]: what must be refused;
//! - [`ideal`]: what could have been made of the same contacts.

#![allow(dead_code, reason = "each front end uses its own part")]
#![allow(clippy::cast_possible_wrap, reason = "rays are counted in thousands")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a simulator that cannot go on has failed")]

pub mod campaign;
pub mod case;
pub mod coasts;
pub mod compared;
pub mod features;
pub mod ideal;
pub mod landfall;
pub mod made;
pub mod operator;
pub mod picture;
pub mod random;
pub mod relief;
pub mod rows;
pub mod score;
pub mod shore;
pub mod stress;
pub mod tables;
pub mod trace;
