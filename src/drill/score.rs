use jiff::Timestamp;

use super::declared::Answer;
use super::exercise::{Declaration, Exercise};
use super::path::Path;
use super::truth::{Truth, true_mark, with_true_names};
use crate::chart::Chart;
use crate::contact::{Contact, Sightings};
use crate::fix::{self, Options};
use crate::geodesy::{Covariance, Position, distance};
use crate::units::{Angle, GroundRange, METRES_PER_NAUTICAL_MILE};

/// The most points for the position, for names, for the landfall and for time: 100 together. These
/// weights and all the figures below are the program's own.
const POSITION: f64 = 50.0;
const NAMES: f64 = 20.0;
const LANDFALL: f64 = 20.0;
const TIME: f64 = 10.0;

/// Taken off for each contact with a wrong name,
const WRONG_NAME: f64 = 10.0;
/// for a truth outside the 95 % circle stated, and outside the 99.9 % circle,
const OUTSIDE: f64 = 15.0;
const FAR_OUTSIDE: f64 = 40.0;
/// for a landfall confirmed that is not it, and for one denied that is,
const WRONGLY_CONFIRMED: f64 = 40.0;
const WRONGLY_DENIED: f64 = 20.0;
/// for an error stated so much greater than need be that it tells nothing.
const TELLS_NOTHING: f64 = 10.0;
/// For each hint taken.
pub const HINT: f64 = 5.0;
const TOO_WIDE: f64 = 6.0;

/// No fix off a coast is better than this, nautical miles: nobody is asked for more.
const BEST_NM: f64 = 0.25;

/// And no trainee is allowed more than this for contacts that fix nothing: a guess is no fix.
const MOST_NM: f64 = 1.0;

/// What an answer is worth, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// From 0 to 100.
    pub score: f64,
    /// How far the position declared is from the true one; none where none was declared.
    pub error: Option<GroundRange>,
    /// What the same contacts, all rightly named, allow: half of all such fixes are nearer than this.
    pub possible: GroundRange,
    /// Contacts that are charted marks, and carry the right name.
    pub names_right: usize,
    /// Contacts that are charted marks.
    pub names: usize,
    /// Contacts that carry a name which is not theirs.
    pub names_wrong: Vec<WrongName>,
    /// Whether the truth lies in the circle stated, at 95 %; none where none was.
    pub inside_stated: Option<bool>,
    /// Whether what was said of the landfall is right.
    pub landfall_right: bool,
    /// A landfall was confirmed that is not it, or that nobody could know.
    pub wrongly_confirmed: bool,
    /// Where the craft truly was,
    pub truth: Position,
    /// at this time.
    pub time: Timestamp,
    /// Hints taken.
    pub hints: usize,
    /// What was given and taken, in order.
    pub parts: Vec<Part>,
    path: Path,
}

impl Score {
    /// Where the craft truly was at any time: to be had of a score alone, so that nobody has it before
    /// something was declared.
    pub fn truth_at(&self, time: Timestamp) -> Position {
        self.path.at(time).position
    }
}

/// A contact that carries a name which is not its own.
#[derive(Debug, Clone, PartialEq)]
pub struct WrongName {
    /// The contact's label.
    pub contact: String,
    /// The name it was given.
    pub given: String,
    /// What it is; none where no charted mark answers there.
    pub truly: Option<String>,
}

/// Points for one thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What for, in plain words.
    pub what: String,
    /// Negative where they are taken.
    pub points: f64,
}

/// Scores an answer to an exercise.
pub fn score(chart: &Chart, exercise: &Exercise, answer: &Answer) -> Score {
    let time = answer.time();
    let truth = Truth::of(exercise);
    let place = truth.position(time);
    let declared = &answer.declared;
    let sightings = as_the_set_reads(exercise, &answer.sightings);
    let answer = &Answer { sightings, ..answer.clone() };
    let error = declared.position.map(|position| distance(position, place));
    let possible = possible(chart, exercise, answer, time);
    let named = Named::of(chart, &truth, answer);
    let inside_stated =
        error.zip(declared.sigma).map(|(error, sigma)| error <= circle(sigma, 0.95));
    let placed = error.zip(declared.sigma).is_some_and(|(error, sigma)| !is_far_out(error, sigma));
    let landfall = landfall_word(exercise, declared.landfall, placed);
    let position = position_part(exercise, error, possible, &named);
    let parts = vec![
        Some(position),
        named.part(exercise),
        Some(landfall_part(declared.landfall, landfall)),
        Some(time_part(exercise, time)),
        named.wrong_part(),
        stated_part(error, declared.sigma, possible),
        hints_part(answer.hints),
    ];
    let parts: Vec<Part> = parts.into_iter().flatten().collect();
    let sum: f64 = parts.iter().map(|part| part.points).sum();
    Score {
        score: sum.clamp(0.0, 100.0).round(),
        error,
        possible,
        names_right: named.right,
        names: named.marks,
        names_wrong: named.wrong,
        inside_stated,
        landfall_right: landfall == Word::Right,
        wrongly_confirmed: declared.landfall == Declaration::Confirmed && landfall == Word::Wrong,
        truth: place,
        time,
        hints: answer.hints,
        parts,
        path: exercise.hidden.path.clone(),
    }
}

/// The contacts with the errors of the set and the reckoning of the exercise: whoever states wider ones
/// is allowed no more for it.
fn as_the_set_reads(exercise: &Exercise, sightings: &Sightings) -> Sightings {
    let set = &exercise.set;
    let contacts = sightings.contacts.iter().cloned().map(|contact| Contact {
        range_sigma: contact
            .range
            .map_or(GroundRange::ZERO, |range| GroundRange::clamped_metres(set.range_sigma(range))),
        bearing_sigma: Angle::from_degrees(set.bearing_sigma_deg),
        ..contact
    });
    exercise.sightings().with_contacts(contacts.collect())
}

fn circle(sigma: GroundRange, probability: f64) -> GroundRange {
    Covariance::circular(sigma).circle(probability)
}

/// Half of all fixes from these contacts, rightly named, are nearer to the truth than this.
fn possible(chart: &Chart, exercise: &Exercise, answer: &Answer, time: Timestamp) -> GroundRange {
    let named = with_true_names(chart, exercise, &answer.sightings);
    let options = Options { time: Some(time), ..Options::default() };
    let found = fix::fix(chart, &named, &options);
    let likeliest = found.most_probable.map(|estimate| estimate.covariance);
    let reckoned = exercise.reckoning.covariance;
    found.covariance.or(likeliest).unwrap_or(reckoned).circle(0.5)
}

fn position_part(
    exercise: &Exercise,
    error: Option<GroundRange>,
    possible: GroundRange,
    named: &Named,
) -> Part {
    let Some(error) = error.map(GroundRange::nautical_miles) else {
        let (what, points) = if exercise.hidden.untold {
            ("no position stated, and none could be", POSITION)
        } else {
            ("no position stated", 0.0)
        };
        return Part { what: what.to_owned(), points };
    };
    if named.marks == 0 {
        let what = "position stated, and no contact is of anything charted".to_owned();
        return Part { what, points: 0.0 };
    }
    let allowed = 2.0 * possible.nautical_miles().clamp(BEST_NM, MOST_NM);
    let points = POSITION * 0.5_f64.powf((error - allowed).max(0.0) / allowed);
    let what = format!("position {error:.2} NM out, {allowed:.2} NM allowed");
    Part { what, points }
}

/// Whether the truth lies outside all that was stated.
fn is_far_out(error: GroundRange, sigma: GroundRange) -> bool {
    error > circle(sigma, 0.999)
}

/// What a word on the landfall was worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Word {
    Right,
    /// It is as was said, and nothing that was stated bears it out.
    Unfounded,
    Wrong,
}

/// A landfall is confirmed by where we are: without a position that holds, the word was a guess, which
/// is as bad as a wrong one where nobody could know.
fn landfall_word(exercise: &Exercise, said: Declaration, placed: bool) -> Word {
    let guessed = said == Declaration::Confirmed && !placed;
    match (exercise.hidden.landfall.contains(&said), guessed) {
        (false, _) => Word::Wrong,
        (true, false) => Word::Right,
        (true, true) if exercise.hidden.untold => Word::Wrong,
        (true, true) => Word::Unfounded,
    }
}

fn landfall_part(said: Declaration, word: Word) -> Part {
    let points = match (word, said) {
        (Word::Right, _) => LANDFALL,
        (Word::Unfounded, _) | (Word::Wrong, Declaration::CannotSay) => 0.0,
        (Word::Wrong, Declaration::Denied) => -WRONGLY_DENIED,
        (Word::Wrong, Declaration::Confirmed) => -WRONGLY_CONFIRMED,
    };
    let said = said.as_str();
    let what = match word {
        Word::Right => format!("landfall rightly \"{said}\""),
        Word::Unfounded => format!("landfall \"{said}\", and no position that bears it out"),
        Word::Wrong => format!("landfall wrongly \"{said}\""),
    };
    Part { what, points }
}

/// All of it at the first look, half at the last, none after as long again; and none for what is said
/// before the first look, when nothing was to be seen yet.
fn time_part(exercise: &Exercise, time: Timestamp) -> Part {
    if time < exercise.first {
        return Part { what: "said before the first look".to_owned(), points: 0.0 };
    }
    let taken = time.duration_since(exercise.first).as_secs_f64();
    let whole = exercise.last().duration_since(exercise.first).as_secs_f64().max(1.0);
    let points = TIME * (1.0 - 0.5 * taken / whole).clamp(0.0, 1.0);
    Part { what: format!("said after {taken:.0} s"), points }
}

fn stated_part(
    error: Option<GroundRange>,
    sigma: Option<GroundRange>,
    possible: GroundRange,
) -> Option<Part> {
    let (error, sigma) = error.zip(sigma)?;
    let stated = format!("stated to {:.2} NM", sigma.nautical_miles());
    if is_far_out(error, sigma) {
        return Some(Part { what: format!("{stated}: far too sure"), points: -FAR_OUTSIDE });
    }
    if error > circle(sigma, 0.95) {
        return Some(Part { what: format!("{stated}: too sure"), points: -OUTSIDE });
    }
    let best_m = possible.metres().max(BEST_NM * METRES_PER_NAUTICAL_MILE);
    let too_wide = circle(sigma, 0.5).metres() > TOO_WIDE * best_m;
    too_wide
        .then(|| Part { what: format!("{stated}: wider than it need be"), points: -TELLS_NOTHING })
}

fn hints_part(hints: usize) -> Option<Part> {
    let what = if hints == 1 { "a hint".to_owned() } else { format!("{hints} hints") };
    (hints > 0).then_some(Part { what, points: -HINT * hints as f64 })
}

/// How the contacts were named.
struct Named {
    right: usize,
    marks: usize,
    wrong: Vec<WrongName>,
}

impl Named {
    fn of(chart: &Chart, truth: &Truth<'_>, answer: &Answer) -> Self {
        let mut named = Self { right: 0, marks: 0, wrong: Vec::new() };
        for contact in &answer.sightings.contacts {
            let truly = true_mark(chart, truth, &answer.sightings, contact);
            named.marks += usize::from(truly.is_some());
            let Some(given) = contact.belief.as_ref().map(|belief| &belief.mark) else { continue };
            if truth.fits(chart, &answer.sightings, contact, given) {
                named.right += 1;
                // A name may fit where another fits better.
                named.marks += usize::from(truly.is_none());
            } else {
                let contact = contact.label.clone();
                named.wrong.push(WrongName { contact, given: given.clone(), truly });
            }
        }
        named
    }

    fn part(&self, exercise: &Exercise) -> Option<Part> {
        let (right, all) = (self.right, self.marks);
        if exercise.hidden.untold {
            let points = if self.wrong.is_empty() { NAMES } else { 0.0 };
            let what = "no name that could not be known".to_owned();
            return (points > 0.0).then_some(Part { what, points });
        }
        let share = if all > 0 { right as f64 / all as f64 } else { 0.0 };
        Some(Part { what: format!("{right} of {all} names right"), points: NAMES * share })
    }

    fn wrong_part(&self) -> Option<Part> {
        let count = self.wrong.len();
        (count > 0).then(|| Part {
            what: format!("{count} named wrongly"),
            points: -WRONG_NAME * count as f64,
        })
    }
}

#[cfg(test)]
mod tests {
    use jiff::SignedDuration;

    use super::*;
    use crate::drill::{Declared, Lesson};

    fn miles(nm: f64) -> GroundRange {
        GroundRange::from_nautical_miles(nm).unwrap()
    }

    fn exercise(number: usize) -> Exercise {
        Lesson::of_number(number).unwrap().exercise(3).unwrap()
    }

    fn named(right: usize, marks: usize, wrong: usize) -> Named {
        let wrong = (0..wrong).map(|number| WrongName {
            contact: number.to_string(),
            given: "Gannet Head".to_owned(),
            truly: None,
        });
        Named { right, marks, wrong: wrong.collect() }
    }

    fn close(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-9, "{found}, not {wanted}");
    }

    /// By hand: with 0.5 NM possible 1 NM is allowed; one more halves the points, two more quarter them.
    #[test]
    fn a_position_is_worth_all_within_what_is_allowed_and_half_so_much_for_each_as_far_again() {
        let exercise = exercise(1);
        let points = |error, possible, marks| {
            let error = Some(miles(error));
            position_part(&exercise, error, miles(possible), &named(0, marks, 0)).points
        };
        for (error, wanted) in [(0.0, 50.0), (1.0, 50.0), (2.0, 25.0), (3.0, 12.5)] {
            close(points(error, 0.5, 3), wanted);
        }
        // Nobody is asked for better than a quarter of a mile, nor allowed more than twice a mile.
        for (error, possible, wanted) in [(0.5, 0.01, 50.0), (2.0, 9.0, 50.0), (4.0, 9.0, 25.0)] {
            close(points(error, possible, 3), wanted);
        }
        close(points(0.0, 0.5, 0), 0.0);
        close(position_part(&exercise, None, miles(0.5), &named(0, 3, 0)).points, 0.0);
    }

    #[test]
    fn where_no_position_can_be_told_none_is_worth_all_and_so_is_no_name() {
        let untold = (1..=LESSON_COUNT).map(exercise).find(|exercise| exercise.hidden.untold);
        let exercise = untold.unwrap();
        close(position_part(&exercise, None, miles(0.5), &named(0, 3, 0)).points, 50.0);
        close(named(0, 3, 0).part(&exercise).unwrap().points, 20.0);
        assert_eq!(named(0, 3, 1).part(&exercise), None);
    }

    const LESSON_COUNT: usize = crate::drill::LESSONS.len();

    #[test]
    fn names_count_by_their_share_and_each_wrong_one_takes_ten() {
        let exercise = exercise(1);
        for (right, marks, wanted) in [(4, 4, 20.0), (3, 4, 15.0), (0, 4, 0.0), (0, 0, 0.0)] {
            close(named(right, marks, 0).part(&exercise).unwrap().points, wanted);
        }
        assert_eq!(named(1, 1, 0).wrong_part(), None);
        close(named(1, 3, 2).wrong_part().unwrap().points, -20.0);
    }

    #[test]
    fn a_wrong_word_on_the_landfall_costs_most_and_none_costs_its_own() {
        for (said, word, wanted) in [
            (Declaration::Confirmed, Word::Right, 20.0),
            (Declaration::Confirmed, Word::Unfounded, 0.0),
            (Declaration::CannotSay, Word::Right, 20.0),
            (Declaration::CannotSay, Word::Wrong, 0.0),
            (Declaration::Denied, Word::Wrong, -20.0),
            (Declaration::Confirmed, Word::Wrong, -40.0),
        ] {
            close(landfall_part(said, word).points, wanted);
        }
    }

    /// Lesson 6 lies off one of two pairs of heads alike, and seed 3 off the one that is the landfall.
    #[test]
    fn a_landfall_confirmed_without_the_place_is_a_guess_and_pays_nothing() {
        use Declaration::{CannotSay, Confirmed, Denied};
        let (alike, plain) = (exercise(6), exercise(1));
        assert!(alike.hidden.untold && alike.hidden.landfall.contains(&Confirmed));
        assert!(!plain.hidden.untold && plain.hidden.landfall.contains(&Confirmed));
        for (exercise, said, placed, wanted) in [
            (&alike, Confirmed, false, Word::Wrong),
            (&alike, Confirmed, true, Word::Right),
            (&alike, CannotSay, false, Word::Right),
            (&plain, Confirmed, false, Word::Unfounded),
            (&plain, Confirmed, true, Word::Right),
            (&plain, Denied, true, Word::Wrong),
        ] {
            assert_eq!(landfall_word(exercise, said, placed), wanted, "{said:?} {placed}");
        }
        // The other pair of heads, told to half a mile.
        let chart = Chart::sample().unwrap();
        let declared = Declared {
            position: Some("37 39.0 S, 21 22.0 W".parse().unwrap()),
            sigma: Some(miles(0.5)),
            landfall: Confirmed,
            time: Some(alike.first),
        };
        let answer = Answer { sightings: alike.sightings(), declared, hints: 0 };
        let score = score(&chart, &alike, &answer);
        assert!(score.error.unwrap() > miles(7.0), "{:?}", score.error);
        assert!(!score.landfall_right && score.wrongly_confirmed);
        let part = score.parts.iter().find(|part| part.what.starts_with("landfall")).unwrap();
        close(part.points, -40.0);
    }

    #[test]
    fn time_runs_from_all_at_the_first_look_to_none_a_look_round_later() {
        let exercise = exercise(1);
        let whole = exercise.last().duration_since(exercise.first);
        let later = |share: f64| {
            let seconds = (whole.as_secs_f64() * share).round() as i64;
            time_part(&exercise, exercise.first + SignedDuration::from_secs(seconds)).points
        };
        for (share, wanted) in [(0.0, 10.0), (1.0, 5.0), (2.0, 0.0), (5.0, 0.0)] {
            close(later(share), wanted);
        }
    }

    #[test]
    fn nothing_is_given_for_the_time_of_what_is_said_before_the_first_look() {
        let exercise = exercise(1);
        let at = |time| time_part(&exercise, time);
        let long_before = "1900-01-01T00:00:00Z".parse().unwrap();
        for time in [exercise.first - SignedDuration::from_secs(1), long_before] {
            let part = at(time);
            assert_eq!(part.what, "said before the first look");
            close(part.points, 0.0);
        }
        assert_eq!(at(exercise.first).what, "said after 0 s");
        close(at(exercise.first).points, 10.0);
        let long_after = at("2199-01-01T00:00:00Z".parse().unwrap());
        assert!(long_after.what.starts_with("said after "), "{long_after:?}");
        close(long_after.points, 0.0);
    }

    /// A circle's 50, 95 and 99.9 % radii are 1.177, 2.448 and 3.717 standard deviations (published
    /// table).
    #[test]
    fn what_is_stated_is_held_to_the_truth() {
        let part = |error, sigma| {
            let part = stated_part(Some(miles(error)), Some(miles(sigma)), miles(0.5));
            part.map_or(0.0, |part| part.points)
        };
        for (error, sigma, wanted) in [
            (2.44, 1.0, 0.0),
            (2.46, 1.0, -15.0),
            (3.70, 1.0, -15.0),
            (3.73, 1.0, -40.0),
            // Six times what is possible is 3 NM at 50 %: 2.549 standard deviations.
            (0.0, 2.54, 0.0),
            (0.0, 2.56, -10.0),
        ] {
            close(part(error, sigma), wanted);
        }
        assert_eq!(stated_part(Some(miles(9.0)), None, miles(0.5)), None);
    }

    #[test]
    fn each_hint_takes_five() {
        assert_eq!(hints_part(0), None);
        assert_eq!(hints_part(1).unwrap().what, "a hint");
        close(hints_part(3).unwrap().points, -15.0);
    }
}
