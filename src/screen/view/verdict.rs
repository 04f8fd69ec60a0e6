use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use jiff::{SignedDuration, Timestamp};

use super::{cells, put, shortened};
use crate::fix::{LandfallVerdict, Verdict};
use crate::screen::chart_panel::Ink;
use crate::screen::state::State;
use crate::screen::wording;
use crate::screen::work::Stand;
use crate::watch::words;

/// Where are we, and how sure: two lines that are always there, one between them for the place by now
/// where the clock runs, and one below where a landfall is planned.
pub(super) fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let area = draw_alarm(state, area, buffer);
    let told = told(state);
    let band = format!(" {} ", told.word);
    let width = cells(&band);
    put(buffer, area.x, area.y, &band, area.width, state.theme.band(told.style));
    let room = area.width.saturating_sub(width + 1);
    let first = to_a_word(without_axis(&told.first, room), room);
    put(buffer, area.x + width + 1, area.y, &first, room, told.style);
    let room = area.width.saturating_sub(1);
    let mut y = area.y + 1;
    if state.tells_carried() {
        draw_carried(state, Rect { y, height: 1, ..area }, buffer);
        y += 1;
    }
    let second = to_a_word(whole_clauses(&told.second, room), room);
    put(buffer, area.x + 1, y, &second, room, state.theme.text());
    if y + 1 < area.bottom() {
        draw_landfall(state, Rect { y: y + 1, height: 1, ..area }, buffer);
    }
}

/// What must not be overlooked, over all else, until it is acknowledged; returns what is left below.
fn draw_alarm(state: &State, area: Rect, buffer: &mut Buffer) -> Rect {
    let below = Rect { y: area.y + 1, height: area.height.saturating_sub(1), ..area };
    let alarms = state.alarming();
    let Some(first) = alarms.first() else {
        let Some(known) = state.ground_acknowledged() else { return area };
        let words = format!("acknowledged: {}", known.words);
        let room = area.width.saturating_sub(1);
        put(buffer, area.x + 1, area.y, &whole_words(&words, room), room, state.theme.doubt());
        return below;
    };
    let more =
        if alarms.len() > 1 { format!("  +{} more", alarms.len() - 1) } else { String::new() };
    let (band, keys) = (" ALARM ", format!("{more}  ! acknowledges "));
    let theme = state.theme;
    put(buffer, area.x, area.y, band, area.width, theme.band(theme.wrong()));
    let room = area.width.saturating_sub(cells(band) + 1 + cells(&keys));
    let words = whole_words(&first.words, room);
    put(buffer, area.x + cells(band) + 1, area.y, &words, room, theme.wrong());
    let x = area.right().saturating_sub(cells(&keys));
    put(buffer, x, area.y, &keys, cells(&keys), theme.heading());
    below
}

/// Where we are by now: a reckoning from the place above it, in a look that is no fix's.
fn draw_carried(state: &State, area: Rect, buffer: &mut Buffer) {
    let Some(carried) = state.carried() else { return };
    let room = area.width.saturating_sub(1);
    let lines = wording::carried_lines(&carried);
    let fitting = lines.iter().find(|line| cells(line) <= room).or(lines.last());
    let style = state.theme.of(Ink::Reckoning);
    put(buffer, area.x + 1, area.y, fitting.map_or("", String::as_str), room, style);
}

/// What has come of the planned landfall: one line, where one is planned.
fn draw_landfall(state: &State, area: Rect, buffer: &mut Buffer) {
    let (word, why, style) = landfall(state);
    put(buffer, area.x + 1, area.y, &word, area.width, style);
    let x = cells(&word) + 3;
    let room = area.width.saturating_sub(x);
    put(buffer, area.x + x, area.y, &whole_words(&why, room), room, state.theme.text());
}

/// What is said of it, why, and in which look.
fn landfall(state: &State) -> (String, String, Style) {
    let theme = state.theme;
    if let Some(practice) = &state.practice {
        let told = wording::drill_landfall(practice);
        return ("LANDFALL".to_owned(), told, theme.quiet());
    }
    if let Some((time, said)) = state.watch.landfall_accepted() {
        // It is of then: in no look of a verdict that holds now.
        let word = format!("LANDFALL {}", said.to_uppercase().replace('-', " "));
        return (word, words::with_the_fix(time), theme.quiet());
    }
    let Some(answer) = state.answer() else {
        return ("LANDFALL".to_owned(), String::new(), theme.quiet());
    };
    // It is the answer's, for the time of that.
    let of = as_of(state, answer.fix.time);
    let Some(landfall) = answer.fix.landfall.as_ref().filter(|_| state.is_current()) else {
        return (format!("LANDFALL{of}"), String::new(), theme.quiet());
    };
    let style = match landfall.verdict {
        LandfallVerdict::Confirmed => theme.fixed(),
        LandfallVerdict::NotUnique | LandfallVerdict::CannotSay => theme.doubt(),
        LandfallVerdict::Denied => theme.wrong(),
    };
    let word = format!("{}{of}", wording::landfall_word(landfall.verdict));
    (word, landfall.why.clone(), style)
}

/// As many clauses as there is room for; of one that is too long as much as stands before its
/// explanation, else as many words.
fn whole_words(line: &str, room: u16) -> String {
    let fitting = whole_clauses(line, room);
    match fitting.split_once(": ").filter(|(lead, _)| cells(lead) <= room) {
        Some((lead, _)) if cells(fitting) > room => lead.to_owned(),
        _ => to_a_word(fitting, room),
    }
}

/// As many words as there is room for; where some are left out, `…` stands for them.
fn to_a_word(line: &str, room: u16) -> String {
    let mut words = line;
    while cells(words) > room.saturating_sub(u16::from(words.len() < line.len())) {
        // One word too long for the line is cut within.
        let Some((fewer, _)) = words.rsplit_once(' ') else {
            return shortened(line, room).into_owned();
        };
        words = fewer;
    }
    if words.len() < line.len() { format!("{words}…") } else { line.to_owned() }
}

/// A place and its ellipse, the ellipse's direction left out where there is no room: half of it would
/// be another one.
fn without_axis(line: &str, room: u16) -> &str {
    if cells(line) <= room {
        return line;
    }
    line.rsplit_once(" on ").map_or(line, |(shorter, _)| shorter)
}

/// As many clauses as there is room for: half a figure at the edge would be another figure.
fn whole_clauses(line: &str, room: u16) -> &str {
    let mut fitting = line;
    while cells(fitting) > room {
        let Some((fewer, _)) = fitting.rsplit_once("; ") else { break };
        fitting = fewer;
    }
    fitting
}

struct Told {
    word: &'static str,
    first: String,
    second: String,
    style: Style,
}

/// Said of an answer that is older than this.
const OLD: SignedDuration = SignedDuration::from_secs(60);

/// ` · 7 min old` of an answer for a time well before now that is not carried on.
fn age(state: &State, time: Timestamp) -> String {
    let age = state.watch.own_time(state.wall).duration_since(time);
    if age < OLD { String::new() } else { format!(" · {} min old", age.as_mins()) }
}

/// ` as of 03:41` for what is told of a time well before now.
fn as_of(state: &State, time: Timestamp) -> String {
    let age = state.watch.own_time(state.wall).duration_since(time);
    if age < OLD { String::new() } else { format!(" as of {}", words::clock_minutes(time)) }
}

fn told(state: &State) -> Told {
    let theme = state.theme;
    let plain = |word, first: &str, second: &str| Told {
        word,
        first: first.to_owned(),
        second: second.to_owned(),
        style: theme.doubt(),
    };
    if let Some(practice) = &state.practice {
        let [first, second] = wording::drill_lines(practice);
        return plain("DRILL", &first, &second);
    }
    if state.watch.reckoning().is_none() {
        return plain(
            "NO RECKONING",
            "type where you think you are: dr 38 12.9 S, 21 30.5 W sigma 4",
            "then contacts, like 17.3 042; ? is help",
        );
    }
    if state.parts.owes_a_fix() {
        let [first, second] = wording::waits_for_chart(state.parts.why_not());
        return plain("CHART", &first, &second);
    }
    if state.has_failed() {
        let [first, second] = wording::WORKER_FAILED;
        return Told { style: theme.wrong(), ..plain("FAILED", first, second) };
    }
    let Some(answer) = state.answer() else {
        return plain("WORKING", "the fix is being worked out", "");
    };
    let [first, second] = wording::verdict_lines(answer);
    let told_below = state.carried().is_some();
    let age = if told_below { String::new() } else { age(state, answer.fix.time) };
    let first = if answer.stand().1 == Stand::Reckoning && state.watch.has_measured() {
        first
    } else {
        first + &age
    };
    if !state.is_current() {
        // What stands here answers an earlier set, and is shown as such.
        return Told { word: "WORKING", first, second: String::new(), style: theme.quiet() };
    }
    if !state.watch.has_measured() {
        let [reckoned, ask] = wording::no_contact_lines(&state.chart, &state.watch, answer);
        return plain("NO CONTACT", &(reckoned + &age), &ask);
    }
    let style = match answer.fix.verdict {
        Verdict::Fixed => theme.fixed(),
        Verdict::Ambiguous | Verdict::TooFew => theme.doubt(),
        Verdict::AtOdds => theme.wrong(),
    };
    Told { word: wording::verdict_word(answer.fix.verdict), first, second, style }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_loses_whole_clauses_and_never_half_a_figure() {
        let line = "fix is 5.2 NM 211° from DR; 99.9 % sure; 1.09 NM at 1 in 1000";
        assert_eq!(whole_clauses(line, 80), line);
        assert_eq!(whole_clauses(line, 60), "fix is 5.2 NM 211° from DR; 99.9 % sure");
        assert_eq!(whole_clauses(line, 30), "fix is 5.2 NM 211° from DR");
        let place = "38°14.84'S 021°24.17'W at 03:42:55Z  95 % in 0.53 × 0.36 NM on 152°";
        assert_eq!(without_axis(place, 80), place);
        assert!(without_axis(place, 62).ends_with("0.36 NM"));
    }

    #[test]
    fn a_reason_too_long_is_cut_before_its_explanation_or_between_words() {
        let line = "the contacts are at odds: contact D does not agree; landfall: Gannet Head";
        assert_eq!(whole_words(line, 60), "the contacts are at odds: contact D does not agree");
        assert_eq!(whole_words(line, 40), "the contacts are at odds");
        assert_eq!(whole_words(line, 20), "the contacts are at…");
    }

    #[test]
    fn a_line_without_clauses_is_cut_between_words_and_says_so() {
        assert_eq!(to_a_word("one two three", 13), "one two three");
        assert_eq!(to_a_word("one two three", 12), "one two…");
        assert_eq!(to_a_word("one two three", 8), "one two…");
        assert_eq!(to_a_word("one two three", 7), "one…");
        assert_eq!(to_a_word("/a/path/without/a/blank", 10), "/a/path/w…");
        let line = "the contacts agree among themselves 6.2 NM 211° from the reckoning, which its stated \
                    error does not allow: one of the two is wrong";
        let cut = to_a_word(line, 79);
        assert!(cut.ends_with("which its…") && cells(&cut) <= 79, "{cut}");
    }
}
