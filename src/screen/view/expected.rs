use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{cells, heading, put, shortened};
use crate::chart::Mark;
use crate::paint::{Expectation, ExpectedMark, Outcome};
use crate::screen::chart_panel::Ink;
use crate::screen::state::State;
use crate::screen::wording;
use crate::screen::work::{Answer, Stand};

/// From this width on outcomes are written out.
const WIDE: u16 = 50;

/// What should show from here: what paints, nearest first, then what hides and why.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let Some(answer) = state.answer() else {
        let area = heading(state, area, buffer, "WHAT SHOULD SHOW", "");
        if state.practice.is_some() && area.height > 0 {
            let told = "in a drill that is for you to say";
            put(buffer, area.x, area.y, told, area.width, state.theme.quiet());
        }
        return;
    };
    let by_now = state.shown_from();
    let from = match (by_now, answer.stand().1) {
        // Never "the fix": it is where that was carried to.
        (Some((outlook, _)), _) => {
            let sign = if outlook.from.stand == Stand::Reckoning { "DR" } else { "EP" };
            format!("from {sign} {}", wording::hours_minutes(outlook.from.time))
        }
        (None, stand) => from_the(stand, state, answer),
    };
    let expected = by_now.map_or(&answer.expected, |(_, expected)| expected.as_ref());
    let area = heading(state, area, buffer, "WHAT SHOULD SHOW", &from);
    put(buffer, area.x, area.y, &nearest_land(expected), area.width, state.theme.quiet());
    let figures =
        if area.width >= WIDE { "   NM   °T                 " } else { "   NM   °T chance" };
    let x = area.right().saturating_sub(cells(figures));
    put(buffer, x, area.y, figures, cells(figures), state.theme.quiet());
    let below = Rect { y: area.y + 1, height: area.height.saturating_sub(1), ..area };
    draw_rows(state, answer, &rows(state, expected), below, buffer);
}

/// The marks as far as there is room for them, and how many are left out.
fn draw_rows(
    state: &State,
    answer: &Answer,
    rows: &[(&ExpectedMark, &Mark)],
    area: Rect,
    buffer: &mut Buffer,
) {
    let heights: Vec<u16> = rows.iter().map(|(_, mark)| lines_of(mark, area.width)).collect();
    let shown = fitting(&heights, area.height);
    let mut y = area.y;
    for ((looked, mark), height) in rows.iter().zip(&heights).take(shown) {
        draw_row(state, answer, looked, mark, Rect { y, height: *height, ..area }, buffer);
        y += height;
    }
    if rows.len() > shown {
        let more = rows.len() - shown;
        let painting = rows.iter().skip(shown).filter(|(e, _)| paints(e.outcome)).count();
        let told = format!("… {more} more, {painting} of them painting");
        put(buffer, area.x, y, &told, area.width, state.theme.quiet());
    } else if rows.is_empty() {
        let reach = state.watch.radar().set.greatest_scale().nautical_miles();
        let told = format!("no mark within {reach:.0} NM");
        put(buffer, area.x, y, &told, area.width, state.theme.text());
    }
}

/// Cells of the figures at the right of a row.
fn figures_width(width: u16) -> u16 {
    if width >= WIDE { 26 } else { 17 }
}

/// Cells for a name beside its figures.
fn name_room(width: u16) -> u16 {
    width.saturating_sub(figures_width(width) + 3)
}

/// A name that does not fit beside its figures has a line of its own over them: it can be typed only whole.
fn lines_of(mark: &Mark, width: u16) -> u16 {
    if cells(&mark.name) > name_room(width) { 2 } else { 1 }
}

/// How many rows of such heights there is room for; where not for all, a line is left to say so.
fn fitting(heights: &[u16], room: u16) -> usize {
    let room = usize::from(room);
    let ends = heights.iter().scan(0, |end, height| {
        *end += usize::from(*height);
        Some(*end)
    });
    if ends.clone().last().is_none_or(|end| end <= room) {
        return heights.len();
    }
    ends.take_while(|end| *end < room).count()
}

/// Where it is shown from that was not carried on; with its time once that is a minute ago.
fn from_the(stand: Stand, state: &State, answer: &Answer) -> String {
    let sign = match stand {
        Stand::Fix => "fix",
        Stand::MostProbable => "EP",
        Stand::Reckoning => "DR",
    };
    let (now, time) = (state.watch.own_time(state.wall), answer.fix.time);
    if now.duration_since(time).as_secs() < 60 {
        format!("from the {sign}")
    } else {
        format!("from {sign} {}", wording::hours_minutes(time))
    }
}

/// The nearest land that should paint, all round.
fn nearest_land(expected: &Expectation) -> String {
    match expected.nearest_land() {
        Some(coast) => format!(
            "land {:.1} NM {}°",
            coast.range.nautical_miles(),
            coast.bearing.whole_degrees()
        ),
        None => "no land paints".to_owned(),
    }
}

fn paints(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Paints | Outcome::Doubtful)
}

/// Named marks that paint, named marks that hide, then what paints without a name of its own; each
/// nearest first. On a chart without names everything that paints is in the last.
fn rows<'a>(state: &'a State, expected: &'a Expectation) -> Vec<(&'a ExpectedMark, &'a Mark)> {
    let marks = state.chart.marks();
    let mut rows: Vec<(&ExpectedMark, &Mark)> = expected
        .marks
        .iter()
        .filter_map(|expected| Some((expected, marks.get(expected.mark)?)))
        .filter(|(expected, mark)| mark.named || paints(expected.outcome))
        .filter(|(expected, _)| expected.outcome != Outcome::OutOfRange)
        .collect();
    rows.sort_by(|a, b| {
        let nearer = a.0.range.metres().total_cmp(&b.0.range.metres());
        let rank = |(e, mark): (&ExpectedMark, &Mark)| (!mark.named, !paints(e.outcome));
        rank(*a).cmp(&rank(*b)).then(nearer)
    });
    rows
}

/// The contact it was measured as, its name, range, bearing, and whether it paints: in one line or two.
fn draw_row(
    state: &State,
    answer: &Answer,
    expected: &ExpectedMark,
    mark: &Mark,
    area: Rect,
    buffer: &mut Buffer,
) {
    let theme = state.theme;
    let wide = area.width >= WIDE;
    let identity = answer.fix.identities.iter().find(|i| i.mark == mark.name);
    let label = shortened(identity.map_or("", |i| i.contact.as_str()), 2);
    put(buffer, area.x, area.y, &label, 2, theme.of(Ink::Contact));
    let style = match expected.outcome {
        Outcome::Paints => theme.text(),
        Outcome::Doubtful => theme.doubt(),
        _ => theme.quiet(),
    };
    let figures = format!(
        "{:>5.1} {}° {}",
        expected.range.nautical_miles(),
        expected.bearing.whole_degrees(),
        outcome(expected, wide)
    );
    let has_own_line = area.height > 1;
    let room = if has_own_line { area.width.saturating_sub(2) } else { name_room(area.width) };
    put(buffer, area.x + 2, area.y, &shortened(&mark.name, room), room, style);
    let (right, y) = (figures_width(area.width), area.bottom().saturating_sub(1));
    put(buffer, area.right().saturating_sub(right), y, &figures, right, style);
}

fn outcome(expected: &ExpectedMark, wide: bool) -> String {
    let chance = expected.paint_probability * 100.0;
    match (expected.outcome, wide) {
        (Outcome::Paints | Outcome::Doubtful, true) => {
            format!("{} {chance:.0} %", expected.outcome.as_str())
        }
        (Outcome::Paints | Outcome::Doubtful, false) => format!("{chance:>3.0} %"),
        (Outcome::BelowHorizon, false) => "under".to_owned(),
        (Outcome::Shadowed, false) => "shadow".to_owned(),
        (Outcome::TooWeak, false) => "weak".to_owned(),
        (Outcome::InClutter, false) => "sea".to_owned(),
        (Outcome::OutOfRange, false) => "far".to_owned(),
        (other, true) => other.as_str().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_one_line_and_of_two_fill_the_room_and_leave_a_line_for_the_rest() {
        assert_eq!(fitting(&[1, 1, 1], 3), 3);
        assert_eq!(fitting(&[1, 1, 1, 1], 3), 2);
        assert_eq!(fitting(&[1, 2, 2], 5), 3);
        assert_eq!(fitting(&[1, 2, 2], 4), 2);
        assert_eq!(fitting(&[1, 2, 2], 3), 1);
        assert_eq!((fitting(&[2], 0), fitting(&[2], 1), fitting(&[], 0)), (0, 0, 0));
    }
}
