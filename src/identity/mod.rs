//! Which charted mark each contact is, and how sure.
//!
//! In: a [`Problem`] in plain numbers (the marks that may have answered, what was measured, the
//! reckoning, the errors that all contacts share). Out: a posterior over whole sets of identities,
//! each with the position it leads to, gathered by place, and the probability that none of them is
//! right. It knows no screen, no file and no verdict.
//!
//! A traced outline is a contact of another kind: the places it fits ([`register`]) stand for the
//! marks it may be.
//!
//! The way it goes:
//!
//! 1. `proposal`: one contact after the other, partial sets of identities with a normal estimate of
//!    own place in closed form. The first contact makes a partial set for each mark that the
//!    reckoning allows; from the second on it is the distance between contacts that decides, which
//!    the reckoning's error does not touch.
//! 2. `estimator`: least squares for each whole set that is left, on the ellipsoid, with the errors
//!    in common as unknowns, and the evidence of the set by Laplace's approximation.
//! 3. `posterior`: priors (which mark an operator would pick, given what is in sight; what he says
//!    it is; ships), the rival "none of these", a temper and a floor; sets that put us in one
//!    place are added up.
//!
//! Sources: joint rather than nearest association follows J. Neira and J. D. Tardós, "Data
//! association in stochastic mapping using the joint compatibility test", IEEE Transactions on
//! Robotics and Automation 17 (2001) (seen second-hand); the evidence is Laplace's approximation as
//! in any text on Bayesian inference.

mod any_shore;
mod budget;
mod estimator;
mod kin;
mod laid;
mod outline;
mod posterior;
mod prior;
mod problem;
mod proposal;
mod slant;

pub(crate) use any_shore::{density_at, part_of_marks};
pub(crate) use estimator::{
    Factor, Quantity, Row, STATES, Solution, Square, State, covariance_of, rows, solve,
};
pub use outline::{Reckoned, Registered, Shoreline, Told, Trace, TracePoint, Traced, register};
pub(crate) use posterior::{
    Hypothesis, Mode, Part, Posterior, Support, error_of_run_m, identify, identify_widely,
    kept_back, mixture,
};
pub use posterior::{Sighting, Unobstructed};
pub(crate) use prior::SAME_LOOK_S;
pub use problem::{
    Answer, Answering, Belief, Candidate, Charted, Level, Prior, Problem, RatioReading, Reading,
    Shared, Sight, Targets,
};
pub(crate) use problem::{place_before, turned};
pub(crate) use slant::{ground, ground_under, slant_of};
