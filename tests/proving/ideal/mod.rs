//! An ideal reader: what could have been made of the same contacts by one who knows how they are drawn.
//!
//! It knows what the simulator's operator may put the cursor on from any place and how likely, the
//! size of every error and the share of ships, and has all the time there is. What it does not know
//! is the truth: where we are, the bearing bias, the chart's error, which echo each contact is. It
//! weighs place × bias by Bayes, and fixes where the place that holds most, by the same measure of
//! right that the judge uses, holds the assurance asked. It uses nothing of the estimator.
//!
//! Where it is less than ideal, or more than can be had:
//!
//! - each contact is drawn by itself among all that shows: that none is measured twice is left out;
//! - what shows is drawn for two charts wrong in other ways than the true one, no more, and one
//!   contact in fifty may lie anywhere on the painted edge, for what those two do not show;
//! - places are weighed every eighth of a mile, bias every half degree, out to 3.7 deviations of
//!   the reckoning. Cells of two and of one mile are weighed first, what shows from their middle
//!   taken to be off by a third and a fifth of a mile elsewhere in them; those that together hold
//!   less than a thousandth by that are dropped, and where no place holds two fifths by it, the
//!   contacts are refused without a finer look;
//! - it does not know that landfalls are begun some miles off a coast: any sea will do.
//!
//! - [`world`]: what shows from where;
//! - [`weigh`]: how likely the readings are from there;
//! - [`search`]: from coarse cells to fine;
//! - [`settle`]: the answer.

pub mod search;
pub mod settle;
#[cfg(test)]
mod twins;
pub mod weigh;
pub mod world;

pub use search::Reckoned;
pub use settle::Reader;
pub use weigh::{Model, Part, Reading};
pub use world::Looks;

use world::World;

/// Reads the contacts; `None` where nothing explains them.
pub fn read(
    world: &dyn World,
    reckoned: Reckoned,
    readings: &[Reading],
    model: &Model,
) -> Option<Reader> {
    let found = search::search(world, reckoned, readings, model, settle::share_of_best);
    settle::settle(world, &found)
}
