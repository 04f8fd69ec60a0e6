//! Where we are: a position with its error, or a plain statement why there is none.

mod case;
mod geometry;
mod judge;
mod next;
mod protection;
mod report;
mod residuals;
mod unmatched;
mod words;

pub use report::{
    Comparison, Consistency, Estimate, Fix, Identity, Measure, NextMeasurement, Options,
    Protection, Residual, Rival, Unmatched, Verdict,
};
