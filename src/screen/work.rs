use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};

use jiff::{SignedDuration, Timestamp};

use super::scope::{Ask, Drawn};
use super::state::Message;
use crate::chart::Chart;
use crate::contact::{Reckoning, Sightings};
use crate::drill::{self, Exercise};
use crate::fix::{self, Fix, Options};
use crate::geodesy::{Covariance, Position};
use crate::paint::{self, Conditions, Expectation, Vantage};
use crate::radar::Set;
use crate::units::{GroundRange, Height};
use crate::watch::alarm::{GroundAhead, ground_along};
use crate::watch::{Known, KnownBy, Stretch, Watch};

/// Between bearings at which the coast is looked at for the table, in degrees.
const STEP_DEG: f64 = 1.0;

/// What the sightings come to.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The fix, or why there is none.
    pub fix: Fix,
    /// The reckoning carried to the time of the fix.
    pub reckoned: (Position, Covariance),
    /// What should paint from where we most probably are.
    pub expected: Expectation,
}

impl Answer {
    /// Where we most probably are, and what that rests on: the fix, contacts and reckoning
    /// together, or the reckoning alone.
    pub fn stand(&self) -> (Position, Stand) {
        let fix = self.fix.position.map(|p| (p, Stand::Fix));
        // With nothing measured the likeliest place is the reckoning's own.
        let probable = self.fix.most_probable.filter(|e| e.position != self.reckoned.0);
        let probable = probable.map(|e| (e.position, Stand::MostProbable));
        fix.or(probable).unwrap_or((self.reckoned.0, Stand::Reckoning))
    }

    /// The place that contacts gave, with its error and time: the fix, or the most probable one.
    pub fn estimate(&self) -> Option<(Timestamp, Position, Covariance)> {
        let fix = self.fix.position.zip(self.fix.covariance);
        let probable = self.fix.most_probable.map(|e| (e.position, e.covariance));
        let (position, covariance) = fix.or(probable)?;
        Some((self.fix.time, position, covariance))
    }
}

/// Where we are by now: a place carried on by track and speed, an estimated position and never a fix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// Where it comes to.
    pub position: Position,
    /// Its error there, grown by the run.
    pub covariance: Covariance,
    /// By now.
    pub time: Timestamp,
    /// When the place that it starts from was ours.
    pub from: Timestamp,
    /// What that place rests on.
    pub stand: Stand,
    /// When own place was last known by now, where it rests on the reckoning.
    pub known: Known,
}

impl Carried {
    /// The reckoning alone, carried to now.
    pub fn reckoned(watch: &Watch, now: Timestamp) -> Option<Self> {
        Self::of_place(watch, now, None)
    }

    /// A place that stands, or the reckoning, carried to now; none of a time when neither was known.
    fn of_place(
        watch: &Watch,
        now: Timestamp,
        stands: Option<(Stand, (Timestamp, Position, Covariance))>,
    ) -> Option<Self> {
        let (stand, place) = stands.unzip();
        let from = match place {
            Some((time, ..)) => time,
            None => watch.in_force(now)?.time,
        };
        let (position, covariance) = watch.carried(place, now)?;
        let stand = stand.unwrap_or(Stand::Reckoning);
        let known = watch.last_known(now).unwrap_or(Known { time: from, by: KnownBy::Reckoning });
        let carried = Self { position, covariance, time: now, from, stand, known };
        watch.is_known_by(from, now).then_some(carried)
    }

    /// How long it was carried.
    pub fn age(&self) -> SignedDuration {
        self.time.duration_since(self.from)
    }
}

impl Answer {
    /// The place that stands carried on to now; none without track and speed.
    pub fn carried(&self, watch: &Watch, now: Timestamp) -> Option<Carried> {
        watch.over(now)?;
        let (_, stand) = self.stand();
        let stands = self.estimate().filter(|_| stand != Stand::Reckoning);
        // Of a place of later than now nothing is known yet: the reckoning alone has us.
        let stands = stands.filter(|(time, ..)| watch.is_known_by(*time, now));
        Carried::of_place(watch, now, stands.map(|place| (stand, place)))
    }

    /// Why the place that stands is not carried to now, and what would mend it.
    pub fn why_not_carried(&self, watch: &Watch, now: Timestamp) -> String {
        let reckoning = watch.in_force(now).filter(|r| r.track.is_some() && r.speed.is_some());
        let Some(reckoning) = reckoning else {
            return "no track and speed to carry it by: type them, like trk 074 165".to_owned();
        };
        let from = self.estimate().map_or(reckoning.time, |(time, ..)| time).max(reckoning.time);
        if now < from {
            return format!("it is of {from}, later than {now}: it is carried on, never back");
        }
        format!(
            "it is of {from}, more than {} h ago: type where you think you are, dr 38 12.9 S, 21 30.5 W",
            Reckoning::MOST_HOURS
        )
    }
}

/// From where it is asked what should show, and at which answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The number of the question that the place was the answer to.
    pub asked: u64,
    /// The place carried on.
    pub from: Carried,
    /// The same as the radar's own place, with height and heading.
    pub vantage: Vantage,
    /// The radar in use.
    pub set: Set,
    /// The run of the next minutes from there.
    pub run: Vec<Stretch>,
    /// Own height less what the altimeter errs.
    pub least_height: Height,
}

impl Outlook {
    /// From a place carried on, on a watch.
    pub fn new(from: Carried, watch: &Watch, asked: u64) -> Self {
        let (own, set) = (watch.own(), watch.radar().set.clone());
        let vantage = Vantage { position: from.position, height: own.height, heading: own.heading };
        let run = watch.run_for_ground((from.position, from.covariance), from.time);
        let least_height = own.least_height();
        Self { asked, from, vantage, set, run, least_height }
    }
}

/// What the place we work from rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stand {
    /// The fix.
    Fix,
    /// Contacts and reckoning together, no fix.
    MostProbable,
    /// The reckoning alone.
    Reckoning,
}

/// Works out a set of sightings: the fix, then what should paint from there.
pub fn solve(chart: &Chart, sightings: &Sightings) -> Answer {
    let fix = fix::fix(chart, sightings, &Options::default());
    let reckoning = &sightings.reckoning;
    let reckoned =
        reckoning.carried_to(fix.time).unwrap_or((reckoning.position, reckoning.covariance));
    let nothing = Expectation {
        horizon: GroundRange::ZERO,
        marks: Vec::new(),
        coast: Vec::new(),
        second_time: Vec::new(),
        cautions: Vec::new(),
    };
    let mut answer = Answer { fix, reckoned, expected: nothing };
    let (position, _) = answer.stand();
    let own = &sightings.own;
    let vantage = Vantage { position, height: own.height, heading: own.heading };
    answer.expected = expected(chart, &vantage, &sightings.radar.set);
    answer
}

/// What should show from a place, in the weather of [`Conditions::default`].
pub fn expected(chart: &Chart, vantage: &Vantage, set: &Set) -> Expectation {
    let reach = GroundRange::clamped_metres(set.greatest_scale().metres());
    paint::expect(chart, vantage, set, &Conditions::default(), reach, STEP_DEG)
}

/// What the worker is asked for.
pub(super) enum Question {
    /// The fix of sightings.
    Solve { asked: u64, sightings: Box<Sightings> },
    /// The picture of the radar's screen.
    Draw(Box<Ask>),
    /// What should show from a place carried on.
    Expect(Box<Outlook>),
    /// What was declared in a drill.
    Score(Box<drill::Answer>),
}

/// Draws what the screen of the radar should show, in the weather of [`Conditions::default`]; in a drill
/// what it does show.
fn draw(chart: &Chart, exercise: Option<&Exercise>, ask: &Ask) -> Drawn {
    if let Some((exercise, look)) = exercise.zip(ask.look) {
        let scale_nm = ask.frame.scale.nautical_miles();
        let scan = exercise.look(chart, look.time, scale_nm, look.number);
        return scan.map(|scan| Arc::new(scan.picture));
    }
    let picture = paint::picture(chart, &ask.vantage, &ask.set, &Conditions::default(), &ask.frame);
    picture.map(Arc::new)
}

/// Answers questions until nobody asks, each on the chart that it came with; only the latest of each kind
/// that wait is worked out, the fix first.
pub(super) fn worker(
    exercise: Option<&Exercise>,
    questions: &Receiver<(Arc<Chart>, Question)>,
    answers: &Sender<Message>,
) {
    while let Ok(first) = questions.recv() {
        let (mut fix, mut picture, mut outlook, mut declared) = (None, None, None, None);
        for (chart, question) in std::iter::once(first).chain(questions.try_iter()) {
            match question {
                Question::Solve { asked, sightings } => fix = Some((chart, asked, sightings)),
                Question::Draw(ask) => picture = Some((chart, ask)),
                Question::Expect(ask) => outlook = Some((chart, ask)),
                Question::Score(answer) => declared = Some((chart, answer)),
            }
        }
        let fixed = fix.map(|(chart, asked, sightings)| {
            match catch_unwind(AssertUnwindSafe(|| solve(&chart, &sightings))) {
                Ok(answer) => Message::Answered { asked, answer: Box::new(answer) },
                Err(_) => Message::Failed { asked },
            }
        });
        let sent = fixed.is_none_or(|message| answers.send(message).is_ok());
        let scored = declared.zip(exercise).map(|((chart, answer), exercise)| {
            let score = || drill::score(&chart, exercise, &answer);
            let scored = catch_unwind(AssertUnwindSafe(score));
            scored.map_or(Message::NotScored, |score| Message::Scored(Box::new(score)))
        });
        let sent = sent && scored.is_none_or(|message| answers.send(message).is_ok());
        // A picture that cannot be drawn leaves the one before, marked as being drawn.
        let drawn = picture.and_then(|(chart, ask)| {
            let drawn = catch_unwind(AssertUnwindSafe(|| draw(&chart, exercise, &ask))).ok()?;
            Some(Message::Drawn(ask, drawn))
        });
        let sent = sent && drawn.is_none_or(|message| answers.send(message).is_ok());
        let looked = outlook.map(|(chart, ask)| {
            // What should show may fail, and the ground ahead is told all the same.
            let look = || Box::new(expected(&chart, &ask.vantage, &ask.set));
            let shows = catch_unwind(AssertUnwindSafe(look)).ok();
            let ahead = || ground_along(&chart, &ask.run, ask.least_height);
            // Where it fails that is told: no alarm would pass for no ground.
            let ground = catch_unwind(AssertUnwindSafe(ahead)).unwrap_or(Some(GroundAhead::FAILED));
            Message::Shows(ask, shows, ground)
        });
        let sent = sent && looked.is_none_or(|message| answers.send(message).is_ok());
        if !sent {
            return;
        }
    }
}
