use crate::drill::{Declaration, Declared};
use crate::geodesy::Position;
use crate::units::GroundRange;
use crate::watch::entry::MOST_RANGE_NM;

/// A line that only a drill takes.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// The next hint.
    Hint,
    /// The task and the hints taken, to be read again.
    Task,
    /// The score, to be read again.
    Score,
    /// Where we are, and what has come of the landfall: it ends the exercise.
    Declare(Declared),
}

/// How to declare, for whoever did not.
pub const HOW: &str = "write it like \"declare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed\", or \"denied\", \
                       \"cannot-say\"; \"declare cannot-say\" states no position";

/// Reads a line of a drill's own; none where it is none, and may be an entry of the watch.
///
/// # Errors
/// What is wrong with a declaration, and what would be right.
pub fn read(line: &str) -> Option<Result<Line, String>> {
    let line = line.trim();
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let word = word.to_lowercase();
    match (word.as_str(), rest.trim()) {
        ("hint", "") => Some(Ok(Line::Hint)),
        ("task", "") => Some(Ok(Line::Task)),
        ("score", "") => Some(Ok(Line::Score)),
        ("declare", rest) => Some(declaration(rest).map(Line::Declare)),
        // Half typed, or a slip: no contact begins like that.
        (part, _) if part.len() > 2 && (strsim::jaro_winkler(part, "declare") > 0.85) => {
            Some(Err(format!("\"{part}\": did you mean declare? {HOW}")))
        }
        _ => None,
    }
}

fn declaration(rest: &str) -> Result<Declared, String> {
    let rest = rest.to_lowercase().replace("cannot say", "cannot-say");
    let (before, last) = rest.rsplit_once([' ', ',']).unwrap_or(("", rest.as_str()));
    let Some(landfall) = Declaration::parse(last) else {
        return Err(format!("no word on the landfall at the end; {HOW}"));
    };
    let before = before.trim().trim_end_matches(',');
    if before.is_empty() {
        return Ok(Declared { position: None, sigma: None, landfall, time: None });
    }
    let Some((place, sigma)) = before.split_once("sigma") else {
        return Err(format!("how far is the position to be believed? {HOW}"));
    };
    let place = place.trim().trim_end_matches(',');
    if place.is_empty() {
        return Err(format!("a sigma, and no position; {HOW}"));
    }
    let position: Position = place.parse().map_err(|error| format!("{error}; {HOW}"))?;
    let figures = sigma.trim().trim_end_matches("nm").trim();
    let miles = figures.parse().ok().filter(|miles| (0.01..=MOST_RANGE_NM).contains(miles));
    let sigma = miles.and_then(|miles| GroundRange::from_nautical_miles(miles).ok());
    let Some(sigma) = sigma else {
        return Err(format!(
            "sigma \"{figures}\": one standard deviation is taken from 0.01 to {MOST_RANGE_NM} NM"
        ));
    };
    Ok(Declared { position: Some(position), sigma: Some(sigma), landfall, time: None })
}

/// `38°12.90'S 021°30.50'W, sigma 0.5 NM, landfall confirmed`.
pub fn said(declared: &Declared) -> String {
    let place = declared.position.zip(declared.sigma).map_or_else(
        || "no position".to_owned(),
        |(position, sigma)| format!("{position}, sigma {} NM", figures(sigma)),
    );
    format!("{place}, landfall {}", declared.landfall.as_str())
}

fn figures(sigma: GroundRange) -> f64 {
    (sigma.nautical_miles() * 1e3).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(line: &str) -> String {
        match read(line).unwrap() {
            Ok(Line::Declare(declared)) => said(&declared),
            Ok(other) => panic!("{other:?}"),
            Err(why) => why,
        }
    }

    #[test]
    fn a_declaration_is_a_position_with_its_error_and_a_word_on_the_landfall() {
        let whole = "38°12.90'S 021°30.50'W, sigma 0.5 NM, landfall confirmed";
        for line in [
            "declare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed",
            " Declare 38 12.9 s, 21 30.5 w, sigma 0.5 nm, Confirmed",
            "declare -38.215,-21.508333 sigma 0.5nm confirmed",
        ] {
            assert_eq!(told(line), whole, "{line}");
        }
        assert_eq!(told("declare denied"), "no position, landfall denied");
        assert_eq!(told("declare cannot say"), "no position, landfall cannot-say");
    }

    #[test]
    fn what_is_no_declaration_is_refused_with_what_would_be_right() {
        for (line, why) in [
            ("declare", "no word on the landfall"),
            ("declare 38 12.9 S, 21 30.5 W sigma 0.5", "no word on the landfall"),
            ("declare 38 12.9 S, 21 30.5 W confirmed", "how far is the position to be believed"),
            ("declare sigma 0.5 denied", "no position"),
            ("declare somewhere sigma 0.5 denied", "sigma 0.5 confirmed\""),
            ("declare 38 12.9 S, 21 30.5 W sigma 0 denied", "from 0.01 to 500 NM"),
            ("declare 38 12.9 S, 21 30.5 W sigma nan denied", "from 0.01 to 500 NM"),
            ("declar confirmed", "did you mean declare?"),
        ] {
            assert!(told(line).contains(why), "{line}: {}", told(line));
        }
    }

    #[test]
    fn entries_of_the_watch_are_left_to_it() {
        for line in ["17.3 042", "del A", "# hint", "hint A", "drift", "dr 38 12.9 S, 21 30.5 W"] {
            assert_eq!(read(line), None, "{line}");
        }
    }
}
