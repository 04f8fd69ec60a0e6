//! Figures on the command line, each read with its bounds.

use std::ops::RangeInclusive;

use crate::geodesy::Position;
use crate::units::{Bearing, GroundRange, Height, True};
use crate::watch::entry::MOST_RANGE_NM;

pub(super) fn position(text: &str) -> Result<Position, String> {
    text.parse().map_err(|error| format!("{error}"))
}

pub(super) fn height(text: &str) -> Result<Height, String> {
    let feet = number(text)?;
    if feet < 0.0 {
        return Err(format!("{feet} ft is below the sea: give the antenna's height above it"));
    }
    Height::from_feet(feet).map_err(|error| error.to_string())
}

pub(super) fn direction(text: &str) -> Result<Bearing<True>, String> {
    Bearing::from_degrees(number(text)?).map_err(|error| error.to_string())
}

pub(super) fn range(text: &str) -> Result<GroundRange, String> {
    let miles = within(text, 0.0..=MOST_RANGE_NM, "NM")?;
    GroundRange::from_nautical_miles(miles).map_err(|error| error.to_string())
}

pub(super) fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("not a number".to_owned()),
    }
}

pub(super) fn within(text: &str, right: RangeInclusive<f64>, unit: &str) -> Result<f64, String> {
    let given = number(text)?;
    if right.contains(&given) {
        Ok(given)
    } else {
        Err(format!("{given} is outside {} to {} {unit}", right.start(), right.end()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_bounds_is_refused_in_words() {
        assert_eq!(range("501"), Err("501 is outside 0 to 500 NM".to_owned()));
        assert!(range("-1").is_err() && range("nan").is_err());
        assert!(direction("361").is_err());
        assert!(height("-5").unwrap_err().contains("below the sea"));
    }
}
