//! Where we are: a position with its error, or a plain statement why there is none.

mod report;

pub use report::{
    Comparison, Consistency, Estimate, Fix, Identity, Measure, NextMeasurement, Options,
    Protection, Residual, Rival, Unmatched, Verdict,
};
