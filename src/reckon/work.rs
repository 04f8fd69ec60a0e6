//! Legs worked from start to end.

use jiff::{SignedDuration, Timestamp};

use super::combined::{Agreement, weight_of};
use super::crossed::{self, Carried, LineTold, RunningFixTold};
use super::found::FlowFound;
use super::legs::{Legs, StatedFix, StatedLine};
use super::reckoner::{Reckoner, TakenFix};
use super::running_fix::Standing;
use super::triangle::MadeGood;
use crate::geodesy::{Covariance, LocalPlane, Position};
use crate::units::Clock;

/// Why a position is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// Where it starts.
    Start,
    /// A time that was asked for.
    OnTheWay,
    /// A fix was taken, and this is where it leaves us.
    Fix,
    /// A running fix was gone on from, and this is where it leaves us.
    RunningFix,
    /// Lines that leave a direction free were gone on from: the most probable place, and no fix.
    AfterLines,
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
            Self::RunningFix => "running-fix",
            Self::AfterLines => "after-lines",
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
    /// The weight of the fix against the reckoning, along the line between them; 1 where they are one
    /// place, 0 where it was not taken.
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
    /// Every position line on the way.
    pub lines: Vec<LineTold>,
    /// What the lines came to, after each of them.
    pub running_fixes: Vec<RunningFixTold>,
    /// What the operator must know of how it went.
    pub cautions: Vec<String>,
    /// The reckoning as it stands at the end, to go on from.
    pub end: Reckoner,
}

impl Reckoned {
    /// Where a leg ends, counted from one, if a fix or a running fix was taken before it or on it: what
    /// is made good there is no longer what the leg states.
    pub fn after_fix(&self, leg: usize) -> Option<&Passed> {
        let put_right = |passed: &Passed| {
            matches!(passed.when, When::Fix | When::RunningFix | When::AfterLines)
        };
        let first = self.passed.iter().position(put_right)?;
        self.passed
            .iter()
            .skip(first)
            .find(|passed| passed.leg == leg && passed.when == When::LegEnd)
    }

    /// The wind or current by the last fix or running fix that the reckoning goes on from.
    pub fn latest_flow(&self) -> Option<FlowFound> {
        let fixes = self.fixes.iter().map(|fix| (fix.time, fix.flow));
        let running = self.running_fixes.iter().map(|told| (told.time, told.flow));
        let flows = fixes.chain(running).filter_map(|(time, flow)| Some((time, flow?)));
        flows.max_by_key(|(time, _)| *time).map(|(_, flow)| flow)
    }
}

/// Works legs from start to end: a position at the start, at the end of each leg, at each fix taken,
/// and, where asked, after every so many seconds from the start.
pub fn reckon(legs: &Legs, every_seconds: Option<f64>) -> Reckoned {
    let reckoner = Reckoner::new(legs.time, legs.position, legs.covariance, legs.model);
    let mut working = Working::new(legs, reckoner);
    if legs.legs.is_empty() {
        return working.done();
    }
    working.tell(0, When::Start);
    let events = events(legs);
    let mut events = events.as_slice();
    for (index, leg) in legs.legs.iter().enumerate() {
        let end = leg.start.checked_add(duration(leg.seconds)).unwrap_or(leg.start);
        let last = index + 1 == legs.legs.len();
        loop {
            // What comes at the very end of the last leg is taken before that end is told.
            let due = |time: Timestamp| time < end || (last && time <= end);
            let event = events.first().filter(|event| due(event.time()));
            let asked = every_seconds.and_then(|every| next(legs.time, every, working.time()));
            let asked = asked.filter(|time| *time < end);
            match (event, asked) {
                (Some(event), asked) if asked.is_none_or(|asked| event.time() <= asked) => {
                    match event {
                        Event::Fix(fix) => working.take(index, fix),
                        Event::Line(number, line) => {
                            working.run_to(index, line.time);
                            working.cross(index, *number, line);
                        }
                    }
                    events = events.get(1..).unwrap_or_default();
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

/// What comes on the way, in the order of time; a fix before a line of the same time.
enum Event<'l> {
    Fix(&'l StatedFix),
    /// With its number, from one.
    Line(usize, &'l StatedLine),
}

impl Event<'_> {
    fn time(&self) -> Timestamp {
        match self {
            Self::Fix(fix) => fix.time,
            Self::Line(_, line) => line.time,
        }
    }
}

fn events(legs: &Legs) -> Vec<Event<'_>> {
    let fixes = legs.fixes.iter().map(Event::Fix);
    let lines = legs.lines.iter().enumerate().map(|(index, line)| Event::Line(index + 1, line));
    let mut events: Vec<_> = fixes.chain(lines).collect();
    events.sort_by_key(Event::time);
    events
}

struct Working<'l> {
    legs: &'l Legs,
    reckoner: Reckoner,
    /// The leg whose course is held.
    on: Option<usize>,
    carried: Carried,
    passed: Vec<Passed>,
    fixes: Vec<FixTold>,
    lines: Vec<LineTold>,
    running_fixes: Vec<RunningFixTold>,
    cautions: Vec<(Timestamp, String)>,
}

impl<'l> Working<'l> {
    fn new(legs: &'l Legs, reckoner: Reckoner) -> Self {
        Self {
            legs,
            reckoner,
            on: None,
            carried: Carried::default(),
            passed: Vec::new(),
            fixes: Vec::new(),
            lines: Vec::new(),
            running_fixes: Vec::new(),
            cautions: Vec::new(),
        }
    }

    fn time(&self) -> Timestamp {
        self.reckoner.time()
    }

    fn times(&self) -> Clock {
        Clock::from_first(Some(self.legs.time))
    }

    fn run_to(&mut self, leg: usize, time: Timestamp) {
        let seconds = time.duration_since(self.time()).as_secs_f64();
        self.on = Some(leg);
        if let Some(leg) = self.legs.legs.get(leg) {
            self.reckoner.advance(&leg.course, seconds);
            self.carried.advance(&leg.course, seconds);
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

    /// Takes a fix. One where a leg ends tells of the flow on that leg: it is taken before what the next
    /// states is taken up.
    fn take(&mut self, leg: usize, fix: &StatedFix) {
        if self.on.is_none() || fix.time > self.time() {
            self.run_to(leg, fix.time);
        }
        let flown = self.on.unwrap_or(leg);
        let (reckoned, reckoned_covariance) =
            (self.reckoner.position(), self.reckoner.covariance());
        let free = TakenFix {
            position: fix.position,
            covariance: fix.covariance,
            heading_share: [0.0, 0.0],
        };
        let answer = self.reckoner.take_fix(&free);
        let (Ok(agreement) | Err(agreement)) = answer;
        let course = self.legs.legs.get(flown).map(|leg| leg.course);
        let flow = course
            .filter(|course| answer.is_ok() && !course.is_over_ground() && course.is_carried())
            .map(|course| self.reckoner.flow(&course));
        self.run_to(leg, fix.time);
        let plane = LocalPlane::new(reckoned);
        let [off, moved] =
            [fix.position, self.reckoner.position()].map(|place| plane.to_plane(place));
        self.fixes.push(FixTold {
            time: fix.time,
            leg: leg + 1,
            position: fix.position,
            reckoned,
            reckoned_covariance,
            agreement,
            taken: answer.is_ok(),
            weight: weight_of(off, moved).unwrap_or(1.0),
            flow,
        });
        if answer.is_ok() {
            let gone = self.carried.let_go();
            self.lines_let_go(fix.time, &gone, "when the fix was taken");
            self.tell(leg, When::Fix);
        } else {
            let at = self.times().tell(fix.time);
            self.cautions.push((fix.time, crossed::refused(&at, agreement)));
        }
    }

    fn cross(&mut self, leg: usize, number: usize, line: &StatedLine) {
        let Some(on) = self.legs.legs.get(leg) else { return };
        self.lines.push(crossed::beside(&self.reckoner, leg + 1, line));
        let gone = self.carried.make_room(line);
        self.lines_let_go(line.time, &gone, "there being no room for more");
        let told = self.carried.take(&mut self.reckoner, (leg + 1, &on.course), (number, line));
        let went_on = told.went_on.then_some(match told.standing {
            Standing::Fixed => When::RunningFix,
            _ => When::AfterLines,
        });
        self.running_fixes.push(told);
        if let Some(when) = went_on {
            self.tell(leg, when);
        }
    }

    fn lines_let_go(&mut self, time: Timestamp, numbers: &[usize], why: &str) {
        let at = self.times().tell(time);
        self.cautions.extend(crossed::let_go(&at, numbers, why).map(|words| (time, words)));
    }

    fn done(self) -> Reckoned {
        let times = self.times();
        let mut cautions = self.cautions;
        cautions.extend(crossed::cautions(&self.running_fixes, times));
        cautions.sort_by_key(|(time, _)| *time);
        Reckoned {
            passed: self.passed,
            fixes: self.fixes,
            lines: self.lines,
            running_fixes: self.running_fixes,
            cautions: cautions.into_iter().map(|(_, words)| words).collect(),
            end: self.reckoner,
        }
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
