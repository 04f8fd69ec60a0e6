use super::line::said;
use super::{Outcome, Practice};
use crate::drill::{HINT, words};
use crate::units::{Bearing, METRES_PER_NAUTICAL_MILE};
use crate::watch::entry::spoken_bearing;
use crate::watch::words::clock;

/// A page over the display.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Page {
    /// What is to be done, and what is known.
    Task,
    /// The hints taken.
    Hints,
    /// What the declaration came to.
    Score,
}

/// A line of a page, cut to its width.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// It heads what is below.
    pub heads: bool,
    /// As it stands.
    pub text: String,
}

/// What stands on a page, before it is cut into lines.
#[derive(Default)]
struct Text {
    paragraphs: Vec<(bool, String)>,
}

impl Text {
    fn head(&mut self, text: impl Into<String>) {
        self.paragraphs.push((true, text.into()));
    }

    fn say(&mut self, text: impl Into<String>) {
        self.paragraphs.push((false, text.into()));
    }

    fn gap(&mut self) {
        self.say("");
    }
}

/// The lines of a page of so many columns.
pub fn rows(practice: &Practice, page: Page, columns: u16) -> Vec<Row> {
    let text = match page {
        Page::Task => task(practice),
        Page::Hints => hints(practice),
        Page::Score => score(practice),
    };
    let room = usize::from(columns.saturating_sub(2)).max(20);
    let cut = |(heads, text): (bool, String)| {
        wrapped(&text, room).into_iter().map(move |text| Row { heads, text })
    };
    text.paragraphs.into_iter().flat_map(cut).collect()
}

/// A paragraph in lines of at most `room` characters; lines after the first stand under its text.
fn wrapped(text: &str, room: usize) -> Vec<String> {
    let indent: String = text.chars().take_while(|c| *c == ' ').collect();
    let mut lines = vec![indent.clone()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let Some(last) = lines.last_mut() else { break };
        let bare = last.trim().is_empty();
        if !bare && last.chars().count() + 1 + word.chars().count() > room {
            lines.push(format!("{indent}{word}"));
        } else {
            last.push_str(if bare { "" } else { " " });
            last.push_str(word);
        }
    }
    lines
}

fn heading(practice: &Practice) -> String {
    let title = practice.title();
    format!("DRILL  {title}")
}

fn task(practice: &Practice) -> Text {
    let mut text = Text::default();
    text.head(heading(practice));
    text.say(practice.lesson().map_or(LANDFALL, |lesson| lesson.text.before));
    text.gap();
    text.say(known(practice));
    text.gap();
    text.say(DECLARE);
    if practice.lesson().is_some() {
        text.say(format!(
            "hint gives a hint, and takes {HINT:.0} points; task reads this page again."
        ));
    }
    text.gap();
    text.say(if practice.begun.is_none() { BEGIN } else { "Any key: back to the display." });
    if practice.hints > 0 {
        text.gap();
        say_hints(practice, &mut text);
    }
    text
}

const LANDFALL: &str = "You come in from the sea. Take what echoes you need, say which marks they are, \
                        where you are, and what has come of the landfall.";

const DECLARE: &str = "Type contacts as on a watch: what is typed without a time was read off the picture \
                       that shows. In the end say where you are, one standard deviation of it in NM, and \
                       what has come of the landfall (confirmed, denied, cannot-say): \
                       declare 38 12.9 S, 21 30.5 W sigma 0.5 confirmed";

const BEGIN: &str = "Any key: the clock starts.";

/// What the trainee is told of own craft.
fn known(practice: &Practice) -> String {
    let exercise = &practice.exercise;
    let reckoning = &exercise.reckoning;
    let sigma_m = reckoning.covariance.sigma_towards(Bearing::ZERO);
    let made_good =
        reckoning.track.zip(reckoning.speed).map_or_else(String::new, |(track, speed)| {
            let track = spoken_bearing(track.degrees().round() % 360.0);
            format!(", making good {track} at {:.0} kn", speed.knots())
        });
    let heading = exercise.own.heading.map_or_else(String::new, |heading| {
        let heading = spoken_bearing(heading.degrees().round() % 360.0);
        format!(
            ", heading {heading} true by compass (sigma {:.0}°)",
            exercise.own.heading_sigma.degrees()
        )
    });
    format!(
        "Known: {}. Radar {}, {:.0} ft{heading}. DR {} at {}Z, sigma {:.1} NM{made_good}.",
        exercise.weather,
        exercise.set_name,
        exercise.own.height.feet(),
        reckoning.position,
        clock(reckoning.time),
        sigma_m / METRES_PER_NAUTICAL_MILE,
    )
}

fn hints(practice: &Practice) -> Text {
    let mut text = Text::default();
    text.head(heading(practice));
    text.gap();
    say_hints(practice, &mut text);
    text.say("Any key: back to the display.");
    text
}

fn say_hints(practice: &Practice, text: &mut Text) {
    let Some(lesson) = practice.lesson() else { return };
    let all = lesson.text.hints.len();
    for (number, hint) in lesson.text.hints.iter().take(practice.hints).enumerate() {
        text.head(format!("Hint {} of {all}", number + 1));
        text.say(*hint);
        text.gap();
    }
}

fn score(practice: &Practice) -> Text {
    let mut text = Text::default();
    text.head(heading(practice));
    let Some((score, declared)) = practice.score().zip(practice.ended) else {
        text.say(match practice.outcome {
            Outcome::Failed => "The program failed on it: there is no score.",
            _ => "It is being scored.",
        });
        return text;
    };
    let mut points = words::points(score).into_iter();
    text.head(points.next().unwrap_or_default());
    points.filter(|line| !line.is_empty()).for_each(|line| text.say(line));
    text.gap();
    text.say(format!("you declared {}", said(&declared)));
    for line in words::truth(&practice.exercise, score) {
        text.say(line);
    }
    if score.wrongly_confirmed {
        text.say("to confirm a landfall that is not it, or that nobody can know, is the costliest");
        text.say("mistake there is");
    }
    text.say("An exercise: a good score is no qualification.");
    text.gap();
    if let Some(lesson) = practice.lesson() {
        text.head(lesson.text.teaches);
        text.say(lesson.text.after);
        text.say(format!("Who goes wrong here {}.", lesson.text.trap));
        text.gap();
    }
    text.say(kept(practice));
    text.say("Any key: the chart, with TRUE where you were; score reads this again; q leaves.");
    text
}

fn kept(practice: &Practice) -> String {
    let path: String =
        practice.scores.display().to_string().chars().filter(|c| !c.is_control()).collect();
    match &practice.kept {
        None => "The score is being kept …".to_owned(),
        Some(Ok(())) => format!("Kept in {path}; foreland drill --progress tells how scores went."),
        Some(Err(why)) => format!("NOT kept: {why}. It stands here, and nowhere else."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_cut_between_and_nothing_is_lost() {
        let text = "  one two three four five";
        let lines = wrapped(text, 10);
        assert_eq!(lines, ["  one two", "  three", "  four", "  five"]);
        assert_eq!(wrapped("", 10), [""]);
        assert_eq!(wrapped("a-word-longer-than-the-room", 10), ["a-word-longer-than-the-room"]);
    }
}
