//! What the tour says. Figures to type come from its lead alone.

use super::seen::{Line, Seen};
use super::{Reading, Step};
use crate::fix::Verdict;
use crate::screen::state::Keeping;
use crate::screen::wording;

/// The offer, in the line under the entry line.
pub const OFFER: &str = "new here? tour: first echo to fix in 3 minutes; no tour: not asked again";

/// Said once it was refused.
pub const REFUSED: &str = "not offered again; the word tour has it, and foreland watch --tour";

/// Said where it cannot be had on this watch.
pub const ELSEWHERE: &str = "the tour is on the sample chart: q leaves, then foreland watch --tour";

/// Said where something was entered already.
pub const ENTERED: &str =
    "the tour starts before any entry, and these stay: q leaves, then foreland watch --tour";

/// Said while it is under way.
pub const UNDER_WAY: &str = "the tour is under way: tour next, tour back, tour off";

/// Said of its words while it is not.
pub const NOT_UNDER_WAY: &str = "no tour is under way: tour begins it";

/// A blank at which no line ends; shown as a blank.
pub const UNBROKEN: &str = "\u{a0}";

/// Said first, before anything is measured.
const VERDICT: &str = "The top lines say where you are and how sure. NO CONTACT yet: a reckoning (DR) and \
                       its 95 % ellipse.";

/// Said of a contact that stands in the entry line.
const BEFORE_ENTER: &str = "Before Enter read the line under ENTRY: how it was understood. As you meant it? \
                            Enter. Not? Esc.";

/// Said last.
const END: &str = "That is all. ? is help, : lists all that can be done, / is the radar's picture, q leaves. \
                   What you entered stays.";

/// Said while an entry is kept and answered.
const WAIT: &str = "One moment: it is kept on disk, then worked out.";

/// What is to be done now.
pub fn of(seen: &Seen<'_>) -> String {
    let step = seen.course.at;
    if seen.waits() && step != Step::Verdict {
        return WAIT.to_owned();
    }
    said(step, seen)
}

fn said(step: Step, seen: &Seen<'_>) -> String {
    match step {
        Step::Verdict => VERDICT.to_owned(),
        Step::First | Step::Second => contact(step, seen),
        Step::Echo => echo(seen),
        Step::Unsettled => unsettled(seen),
        Step::Take => wrong(seen).unwrap_or_else(|| take(seen)),
        Step::Fix => fix(seen),
        Step::Mend => mend(seen),
        Step::End => END.to_owned(),
    }
}

/// What to type instead, where what stands in the line or among the contacts is not what the radar shows.
fn wrong(seen: &Seen<'_>) -> Option<String> {
    let typed = seen.wanted().map_or_else(String::new, |(reading, _)| figures(reading));
    match seen.line() {
        Line::Refused => {
            return Some(format!(
                "The line under ENTRY says why not. Type on, it starts anew: range, a space, bearing: {typed}"
            ));
        }
        Line::Other => {
            return Some(format!(
                "Understood, but your radar shows {typed}. Mend it before Enter, or Esc drops it."
            ));
        }
        Line::Empty | Line::Typing | Line::Good => {}
    }
    let label = wording::label_as_typed(&seen.stray()?.entry.label);
    Some(format!(
        "Your radar shows no echo like {label}. Correct it: {label}{UNBROKEN}{typed}, or ^Z takes it back."
    ))
}

/// A reading as it is typed, on one line whatever the width.
fn figures(reading: &Reading) -> String {
    reading.typed().replace(' ', UNBROKEN)
}

fn contact(step: Step, seen: &Seen<'_>) -> String {
    if let Some(wrong) = wrong(seen) {
        return wrong;
    }
    let Some((reading, _)) = seen.wanted() else { return all_in() };
    let (typed, bearing) = (figures(reading), reading.bearing());
    if step == Step::First {
        return format!(
            "Your radar shows an echo, {:.1} NM on {bearing} true. Type it, range then bearing: {typed}",
            reading.range_nm
        );
    }
    let kept = match seen.state.keeping {
        Keeping::Failed(..) => "It counts, but the disk refused it.",
        _ => "KEPT: on disk, in the log named below.",
    };
    format!("{kept} One echo fits many places: no fix yet. Another: {typed}")
}

fn echo(seen: &Seen<'_>) -> String {
    match seen.line() {
        Line::Empty | Line::Typing | Line::Good => BEFORE_ENTER.to_owned(),
        Line::Refused | Line::Other => wrong(seen).unwrap_or_default(),
    }
}

fn unsettled(seen: &Seen<'_>) -> String {
    let stands = match seen.verdict() {
        Some(Verdict::AtOdds) => "AT ODDS: they do not agree, so no place is stated.",
        Some(Verdict::TooFew) => "TOO FEW: a direction is free, so no place is stated.",
        _ => "AMBIGUOUS: squares 1, 2 … still fit, so no place is stated.",
    };
    let look = if seen.shows_all_panels() {
        "What would settle it? WHAT NEXT says."
    } else {
        "What settles it? Space, to WHAT NEXT."
    };
    format!("{stands} {look}")
}

fn take(seen: &Seen<'_>) -> String {
    match seen.wanted() {
        Some((reading, true)) => asked(reading),
        Some((reading, false)) => format!(
            "Not settled yet. Your radar shows another echo, on {}. Take it: {}",
            reading.bearing(),
            figures(reading)
        ),
        None => all_in(),
    }
}

fn asked(reading: &Reading) -> String {
    format!(
        "It asks for {}. Your radar shows an echo near there: {:.1} NM on {}. Type it: {}",
        reading.mark,
        reading.range_nm,
        reading.bearing(),
        figures(reading)
    )
}

fn all_in() -> String {
    "Every echo of the radar is in. Is one wrong? Tab selects it, Enter corrects it, Del takes it out."
        .to_owned()
}

fn fix(seen: &Seen<'_>) -> String {
    let assured = seen.fix().is_some_and(|fix| fix.protection.assured);
    let radius = if assured {
        "in the radius all but 1 in 1000"
    } else {
        "for a 1 in 1000 radius take more"
    };
    format!("FIXED: 95 times in 100 you are in that ellipse; {radius}. Cautions: WHAT TO KNOW.")
}

fn mend(seen: &Seen<'_>) -> String {
    if seen.has_taken_back() {
        return "Taken back, and the fix is worked out without it. ^Y puts it back; the log keeps both."
            .to_owned();
    }
    if let Some(wrong) = wrong(seen).filter(|_| !seen.is_fixed()) {
        return wrong;
    }
    if !seen.is_fixed() {
        return take(seen);
    }
    let last = seen.state.watch.contacts().last();
    let last =
        last.and_then(|held| Some((held.entry.label.as_str(), figures(seen.lead.of(held)?))));
    let corrects = last.map_or_else(String::new, |(label, typed)| {
        format!(" {label}{UNBROKEN}{typed} would correct contact {label}.")
    });
    format!("A slip? ^Z takes the last entry back: try it.{corrects}")
}
