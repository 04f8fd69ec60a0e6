//! Figures in an operator's words.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::debrief::{DrError, Naming};
use crate::fix::Estimate;
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// The most letters of a name in a table.
const MOST_LETTERS: usize = 120;

/// `2031-03-09`.
pub fn day(time: Timestamp) -> String {
    TimeZone::UTC.to_datetime(time).strftime("%Y-%m-%d").to_string()
}

/// A name, cleaned and held to a length.
pub fn name(text: &str) -> String {
    let text = super::clean(text);
    if text.chars().count() <= MOST_LETTERS {
        return text;
    }
    let mut short: String = text.chars().take(MOST_LETTERS - 1).collect();
    short.push('…');
    short
}

/// `4.53 NM`.
pub fn far(distance: GroundRange) -> String {
    format!("{:.2} NM", distance.nautical_miles())
}

/// Nautical miles with their sign: `+0.03`.
pub fn signed(metres: f64) -> String {
    format!("{:+.2}", metres / METRES_PER_NAUTICAL_MILE)
}

/// Three digits and the degree sign.
pub fn toward(bearing: Bearing<True>) -> String {
    format!("{}°", bearing.whole_degrees())
}

/// `0.35 by 0.24`: half axes of the 95 % ellipse, nautical miles.
pub fn ellipse(place: &Estimate) -> String {
    let ellipse = place.ellipse();
    format!(
        "{:.2} by {:.2}",
        ellipse.semi_major.nautical_miles(),
        ellipse.semi_minor.nautical_miles()
    )
}

/// How far the reckoning was off: `4.53 NM 123°`.
pub fn off(error: &DrError) -> String {
    format!("{} {}", far(error.distance), toward(error.bearing))
}

/// Minutes and seconds: `2:05`.
pub fn took(seconds: f64) -> String {
    let whole = seconds.abs().round() as u64;
    let sign = if seconds < -0.5 { "-" } else { "" };
    format!("{sign}{}:{:02}", whole / 60, whole % 60)
}

/// `12 kn 143°`, of a velocity in knots: east, north.
pub fn velocity([east, north]: [f64; 2]) -> String {
    format!("{:.0} kn {}", east.hypot(north), toward(Bearing::wrapped(east.atan2(north))))
}

/// A chance in words, never quite none and never quite all.
pub fn chance(probability: f64) -> String {
    let hundredths = probability * 100.0;
    if hundredths > 99.99 {
        "over 99.99 %".to_owned()
    } else if hundredths < 0.01 {
        "under 0.01 %".to_owned()
    } else {
        format!("{hundredths:.2} %")
    }
}

/// A chance in whole hundredths, never quite none and never quite all.
pub fn percent(probability: f64) -> String {
    let hundredths = probability * 100.0;
    if hundredths > 99.0 {
        "over 99 %".to_owned()
    } else if hundredths < 1.0 {
        "under 1 %".to_owned()
    } else {
        format!("{hundredths:.0} %")
    }
}

/// Who gave a name.
pub fn by(naming: &Naming) -> &'static str {
    if naming.by_operator { "operator" } else { "program" }
}
