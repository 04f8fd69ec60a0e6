use thiserror::Error;

/// A value that is no value of its kind: not finite, or outside what it can be.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{quantity} {value} {unit} is outside {least} to {most} {unit}")]
pub struct UnitError {
    /// What was being made: "height", "bearing".
    pub quantity: &'static str,
    /// The value given, in `unit`.
    pub value: f64,
    /// The unit of the three figures.
    pub unit: &'static str,
    /// The least value allowed.
    pub least: f64,
    /// The greatest value allowed.
    pub most: f64,
}

/// `value` itself where it lies in the closed interval; not a number never does.
pub(super) fn within(
    quantity: &'static str,
    unit: &'static str,
    value: f64,
    least: f64,
    most: f64,
) -> Result<f64, UnitError> {
    if value >= least && value <= most {
        Ok(value)
    } else {
        Err(UnitError { quantity, value, unit, least, most })
    }
}
