//! Positions as people write them.

use std::fmt;

use super::position::{Position, PositionError};
use crate::text::{plain, shortened};

/// Reads decimal degrees, or degrees and minutes (and seconds) with hemisphere letters.
pub(super) fn read(text: &str) -> Result<Position, PositionError> {
    let refused = || PositionError::Text(plain(text.trim()));
    if text.len() > 80 {
        return Err(PositionError::Text(shortened(text.trim(), 40)));
    }
    if text.chars().any(|c| c.is_ascii_alphabetic()) {
        let (latitude, rest) = hemisphere_part(text, ['N', 'S'], 2).ok_or_else(refused)?;
        let (longitude, rest) = hemisphere_part(rest, ['E', 'W'], 3).ok_or_else(refused)?;
        if rest.trim().is_empty() { Position::new(latitude, longitude) } else { Err(refused()) }
    } else {
        let mut numbers = text.split([',', ';', ' ']).map(str::trim).filter(|s| !s.is_empty());
        let mut next = || -> Option<f64> {
            numbers.next()?.trim_end_matches('°').parse::<f64>().ok().filter(|v| v.is_finite())
        };
        let (latitude, longitude) = (next().ok_or_else(refused)?, next().ok_or_else(refused)?);
        if numbers.next().is_some() {
            return Err(refused());
        }
        Position::new(latitude, longitude)
    }
}

/// The signed degrees up to the first hemisphere letter, and the text after it.
///
/// `degree_digits` is how many digits the degrees take where degrees and minutes are written
/// together (`3812.9S`, `02130.5W`).
fn hemisphere_part(text: &str, letters: [char; 2], degree_digits: usize) -> Option<(f64, &str)> {
    let at = text.find(|c: char| c.is_ascii_alphabetic())?;
    let letter = text[at..].chars().next()?.to_ascii_uppercase();
    if !letters.contains(&letter) {
        return None;
    }
    let fields: Vec<&str> = text[..at]
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter(|s| !s.is_empty())
        .collect();
    if text[..at].contains('-') {
        return None; // a sign and a letter: one of the two would be a guess
    }
    let number = |s: &str| s.parse::<f64>().ok();
    let sixtieths = |s: &str| number(s).filter(|v| *v < 60.0);
    let degrees = match fields.as_slice() {
        [together] => {
            let whole = together.split('.').next()?;
            if whole.len() == degree_digits + 2 {
                let (degrees, minutes) = together.split_at(degree_digits);
                number(degrees)? + sixtieths(minutes)? / 60.0
            } else {
                number(together)?
            }
        }
        [degrees, minutes] => number(degrees)? + sixtieths(minutes)? / 60.0,
        [degrees, minutes, seconds] => {
            number(degrees)? + sixtieths(minutes)? / 60.0 + sixtieths(seconds)? / 3600.0
        }
        _ => return None,
    };
    let signed = if letter == letters[1] { -degrees } else { degrees };
    Some((signed, &text[at + 1..]))
}

/// Writes degrees and decimal minutes, rounded once so that 60.00 minutes never shows.
pub(super) fn write(position: Position, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let part = |degrees: f64, letters: [char; 2]| {
        let hundredths = (degrees.abs() * 6000.0).round() as u64;
        let letter = if degrees < 0.0 && hundredths > 0 { letters[1] } else { letters[0] };
        (hundredths / 6000, (hundredths % 6000) as f64 / 100.0, letter)
    };
    let (lat_deg, lat_min, lat_letter) = part(position.latitude(), ['N', 'S']);
    let (lon_deg, lon_min, lon_letter) = part(position.longitude(), ['E', 'W']);
    write!(f, "{lat_deg:02}°{lat_min:05.2}'{lat_letter} {lon_deg:03}°{lon_min:05.2}'{lon_letter}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reads(text: &str, latitude: f64, longitude: f64) {
        let position = read(text).unwrap();
        assert!((position.latitude() - latitude).abs() < 1e-9, "{text}: {position:?}");
        assert!((position.longitude() - longitude).abs() < 1e-9, "{text}: {position:?}");
    }

    #[test]
    fn the_ways_people_write_a_position() {
        reads("-38.2150,-21.5080", -38.215, -21.508);
        reads("  -38.2150 -21.5080 ", -38.215, -21.508);
        reads("38 12.9 S, 21 30.5 W", -38.215, -21.0 - 30.5 / 60.0);
        reads("38°12.9'S 021°30.5'W", -38.215, -21.0 - 30.5 / 60.0);
        reads("38°12′54″S 021°30′30″W", -38.215, -21.0 - 30.5 / 60.0);
        reads("3812.9S02130.5W", -38.215, -21.0 - 30.5 / 60.0);
        reads("5012N00506W", 50.2, -5.1);
        reads("38.215S 21.508W", -38.215, -21.508);
    }

    #[test]
    fn what_is_no_position_is_refused() {
        for text in [
            "",
            ",",
            "38",
            "38,21,5",
            "38 12.9 S",
            "38 12.9 W, 21 30.5 S",
            "38 75 S 21 0 W",
            "-38 12.9 S, 21 30.5 W",
            "nan,nan",
            "inf,0",
            "38 12.9 S 21 30.5 W 7",
            "°, °",
        ] {
            assert!(matches!(read(text), Err(PositionError::Text(_))), "{text}");
        }
        assert_eq!(read("95,0"), Err(PositionError::Latitude(95.0)));
    }

    proptest! {
        #[test]
        fn written_positions_read_back(latitude in -90.0f64..90.0, longitude in -180.0f64..180.0) {
            let position = Position::wrapped(latitude, longitude);
            let back = read(&position.to_string()).unwrap();
            // Half of the last digit shown, 0.005 minutes, and rounding.
            prop_assert!((back.latitude() - latitude).abs() < 0.0051 / 60.0);
            let turn = (back.longitude() - longitude + 540.0).rem_euclid(360.0) - 180.0;
            prop_assert!(turn.abs() < 0.0051 / 60.0);
        }

        #[test]
        fn no_text_panics(text in "\\PC*") {
            let _ = read(&text);
        }
    }
}
