//! The table of marks that painted by the prediction and were reported late or never.

use super::sections::{Section, count};
use super::words::{name, percent};
use crate::debrief::{Debrief, Painted, WORTH};
use crate::units::Clock;

/// The most marks told of.
const MOST_MISSED: usize = 10;

/// Marks reported late or never, those that would have helped most first; or why nothing is said.
pub(super) fn missed(debrief: &Debrief, clock: Clock) -> Section {
    let mut section = Section::new("SHOULD HAVE PAINTED: REPORTED LATE, OR NEVER");
    let painted = match &debrief.painted {
        Ok(painted) => painted,
        Err(why) => {
            section.lines.push(format!("not told: {}", name(why)));
            return section;
        }
    };
    let told: Vec<&Painted> =
        painted.iter().filter(|it| it.is_never_reported() || it.is_late()).collect();
    let reported = painted.iter().filter(|it| it.reported.is_some()).count();
    let never = debrief.missed().count();
    // Those that a contact was perhaps taken for, and those that showed too shortly to count.
    let others = painted.len().saturating_sub(reported + never);
    let others = match others {
        0 => String::new(),
        some => format!("; {some} perhaps reported, or too short to count"),
    };
    section.lines.push(format!(
        "{} painted by the prediction: {reported} reported, {} of these late; {never} never{others}",
        count(painted.len(), "mark", "marks"),
        told.len() - never
    ));
    section.head = vec!["first", "range", "best", "min", "reported", "late", "mark"];
    section.rows = told.iter().take(MOST_MISSED).map(|painted| row(painted, clock)).collect();
    let more = told.len().saturating_sub(MOST_MISSED);
    if more > 0 {
        section
            .notes
            .push(format!("and {more} that would have helped less: in the JSON and the CSV"));
    }
    if !section.rows.is_empty() {
        section.notes.push(
            "first: when the chance first reached one in two, \"by\" where it had as the track begins; \
             min: minutes for which it was; late: minutes from then to the report"
                .to_owned(),
        );
        section.notes.push(WORTH.to_owned());
    }
    section
}

fn row(painted: &Painted, clock: Clock) -> Vec<String> {
    let first = clock.tell(painted.first.time);
    let by = painted.first.at_start;
    let more = if by { " or more" } else { "" };
    let reported = painted.reported.as_ref();
    vec![
        if by { format!("by {first}") } else { first },
        format!("{:.1} NM", painted.first.range.nautical_miles()),
        percent(painted.paint_probability),
        format!("{:.0}", painted.minutes),
        reported.map_or_else(|| "never".to_owned(), |reported| clock.tell(reported.time)),
        painted.late_minutes().map_or_else(|| "-".to_owned(), |late| format!("{late:.1}{more}")),
        format!("{} ({})", name(&painted.mark), painted.kind),
    ]
}
