//! Legs worked from start to end.

use jiff::{SignedDuration, Timestamp};

use super::combined::Agreement;
use super::found::FlowFound;
use super::legs::{Legs, StatedFix};
use super::reckoner::{Reckoner, TakenFix};
use super::triangle::MadeGood;
use crate::geodesy::{Covariance, Position};

/// Why a position is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// Where it starts.
    Start,
    /// A time that was asked for.
    OnTheWay,
    /// A fix was taken, and this is where it leaves us.
    Fix,
    /// The end of a leg.
    LegEnd,
}

impl When {
    /// As reports write it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::OnTheWay => "on-the-way",
            Self::Fix => "fix",
            Self::LegEnd => "leg-end",
        }
    }
}

/// One reckoned position.
#[derive(Debug, Clone, PartialEq)]
pub struct Passed {
    /// When.
    pub time: Timestamp,
    /// The leg it is on, from one; at the end of one that one.
    pub leg: usize,
    /// Why it is told.
    pub when: When,
    /// Where.
    pub position: Position,
    /// How well that is known.
    pub covariance: Covariance,
    /// What is made good there, with what fixes have shown.
    pub made: MadeGood,
}

/// What a fix on the way came to.
#[derive(Debug, Clone, PartialEq)]
pub struct FixTold {
    /// When.
    pub time: Timestamp,
    /// The leg it is on, from one.
    pub leg: usize,
    /// Where it puts us, by itself.
    pub position: Position,
    /// The reckoning just before it.
    pub reckoned: Position,
    /// The error of that.
    pub reckoned_covariance: Covariance,
    /// The two against each other.
    pub agreement: Agreement,
    /// Whether it was taken; at odds it is not, and the reckoning goes on as it was.
    pub taken: bool,
    /// The weight of the fix against the reckoning, along the line between them; 1 where it was not
    /// weighed.
    pub weight: f64,
    /// The flow that it leaves; none where it was not taken, or the leg states what is made good.
    pub flow: Option<FlowFound>,
}

/// Legs as reckoned.
#[derive(Debug, Clone, PartialEq)]
pub struct Reckoned {
    /// Every position, in the order of time.
    pub passed: Vec<Passed>,
    /// Every fix on the way.
    pub fixes: Vec<FixTold>,
    /// The reckoning as it stands at the end, to go on from.
    pub end: Reckoner,
}

/// Works legs from start to end: a position at the start, at the end of each leg, at each fix taken,
/// and, where asked, after every so many seconds from the start.
pub fn reckon(legs: &Legs, every_seconds: Option<f64>) -> Reckoned {
    let reckoner = Reckoner::new(legs.time, legs.position, legs.covariance, legs.model);
    let mut working = Working { legs, reckoner, passed: Vec::new(), fixes: Vec::new() };
    if legs.legs.is_empty() {
        return working.done();
    }
    working.tell(0, When::Start);
    let mut fixes = legs.fixes.as_slice();
    for (index, leg) in legs.legs.iter().enumerate() {
        let end = leg.start.checked_add(duration(leg.seconds)).unwrap_or(leg.start);
        let last = index + 1 == legs.legs.len();
        loop {
            // A fix at the very end of the last leg is taken before that end is told.
            let fix = fixes.first().filter(|fix| fix.time < end || (last && fix.time <= end));
            let asked = every_seconds.and_then(|every| next(legs.time, every, working.time()));
            let asked = asked.filter(|time| *time < end);
            match (fix, asked) {
                (Some(fix), asked) if asked.is_none_or(|asked| fix.time <= asked) => {
                    working.run_to(index, fix.time);
                    working.take(index, fix);
                    fixes = fixes.get(1..).unwrap_or_default();
                }
                (_, Some(asked)) => {
                    working.run_to(index, asked);
                    working.tell(index, When::OnTheWay);
                }
                (_, None) => break,
            }
        }
        working.run_to(index, end);
        working.tell(index, When::LegEnd);
    }
    working.done()
}

struct Working<'l> {
    legs: &'l Legs,
    reckoner: Reckoner,
    passed: Vec<Passed>,
    fixes: Vec<FixTold>,
}

impl Working<'_> {
    fn time(&self) -> Timestamp {
        self.reckoner.time()
    }

    fn run_to(&mut self, leg: usize, time: Timestamp) {
        let seconds = time.duration_since(self.time()).as_secs_f64();
        if let Some(leg) = self.legs.legs.get(leg) {
            self.reckoner.advance(&leg.course, seconds);
        }
    }

    fn tell(&mut self, leg: usize, when: When) {
        let Some(on) = self.legs.legs.get(leg) else { return };
        // Heading and drift are those of the leg where the course is stated over the ground.
        let told = self.reckoner.made_good(&on.course);
        let made = MadeGood { heading: on.made.heading, through: on.made.through, ..told };
        self.passed.push(Passed {
            time: self.time(),
            leg: leg + 1,
            when,
            position: self.reckoner.position(),
            covariance: self.reckoner.covariance(),
            made,
        });
    }

    fn take(&mut self, leg: usize, fix: &StatedFix) {
        let (reckoned, reckoned_covariance) =
            (self.reckoner.position(), self.reckoner.covariance());
        let free = TakenFix {
            position: fix.position,
            covariance: fix.covariance,
            heading_share: [0.0, 0.0],
        };
        let answer = self.reckoner.take_fix(&free);
        let (Ok(agreement) | Err(agreement)) = answer;
        let course = self.legs.legs.get(leg).map(|leg| leg.course);
        let flow = course
            .filter(|course| answer.is_ok() && !course.is_over_ground() && course.is_carried())
            .map(|course| self.reckoner.flow(&course));
        let moved = crate::geodesy::distance(reckoned, self.reckoner.position());
        let offset = agreement.offset.metres();
        self.fixes.push(FixTold {
            time: fix.time,
            leg: leg + 1,
            position: fix.position,
            reckoned,
            reckoned_covariance,
            agreement,
            taken: answer.is_ok(),
            weight: if offset > 0.0 { moved.metres() / offset } else { 1.0 },
            flow,
        });
        if answer.is_ok() {
            self.tell(leg, When::Fix);
        }
    }

    fn done(self) -> Reckoned {
        Reckoned { passed: self.passed, fixes: self.fixes, end: self.reckoner }
    }
}

/// The first whole multiple of a time from the start that is after now.
fn next(start: Timestamp, every: f64, now: Timestamp) -> Option<Timestamp> {
    if !every.is_finite() || every <= 0.0 {
        return None;
    }
    let gone = now.duration_since(start).as_secs_f64();
    let mut count = (gone / every).floor() + 1.0;
    let at = |count: f64| start.checked_add(duration(count * every)).ok();
    let mut time = at(count)?;
    // Rounding may leave it where we are.
    if time <= now {
        count += 1.0;
        time = at(count)?;
    }
    Some(time)
}

fn duration(seconds: f64) -> SignedDuration {
    SignedDuration::try_from_secs_f64(seconds).unwrap_or_default()
}
