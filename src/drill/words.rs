//! What is said of a score, the same on the display and in a report.

use super::exercise::Exercise;
use super::score::Score;
use crate::geodesy::course;

/// `SCORE 83 of 100`, and what was given and taken for what.
pub fn points(score: &Score) -> Vec<String> {
    let mut lines = vec![format!("SCORE {:.0} of 100", score.score), String::new()];
    lines.extend(score.parts.iter().map(|part| format!("  {:>+6.1}  {}", part.points, part.what)));
    lines
}

/// Where the craft truly was, what was named wrongly, and how far out the reckoning was.
pub fn truth(exercise: &Exercise, score: &Score) -> Vec<String> {
    let mut lines = vec![format!("you were at {} at {}", score.truth, score.time)];
    for wrong in &score.names_wrong {
        let truly = wrong.truly.as_deref().unwrap_or("nothing that is charted");
        lines.push(format!("{} is not {}: it is {truly}", wrong.contact, wrong.given));
    }
    let reckoned = exercise.reckoning.carried_to(score.time);
    let reckoned = reckoned.map_or(exercise.reckoning.position, |(position, _)| position);
    let offset = course(reckoned, score.truth);
    lines.push(format!(
        "the reckoning was {:.1} NM out: you were {}° from it",
        offset.distance.nautical_miles(),
        offset.initial.whole_degrees()
    ));
    lines
}
