use super::Asked;
use crate::chart::{Mark, MarkId, MarkKind};
use crate::fix::landfall::target::Target;
use crate::geodesy::{LocalPlane, Position, destination, rhumb_course};
use crate::paint::approach::{Corridor, LandfallPlan, Plan, corridor};
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE, True,
};

/// Standard deviations either side that hold 99 % of a normal error (normal table): what is taken
/// for the largest error expected.
pub(super) const LARGEST_SIGMAS: f64 = 2.575_829;

/// How much more than the largest error expected is aimed off: 10 miles expected, aim off 11 (a
/// navigation textbook's rule, second-hand).
pub(super) const RATHER_MORE: f64 = 1.1;

/// An error across no larger than this is made good by eye, metres.
const LEAST_M: f64 = METRES_PER_NAUTICAL_MILE;

/// A landfall no farther off the track than this is on it, metres.
const MISSED_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// Marks this far before and past the landfall, metres, make a side plain or not.
const ABOUT_M: f64 = 15.0 * METRES_PER_NAUTICAL_MILE;

/// A side whose shore does not come within this of the place aimed at has none, metres.
const SHORE_WITHIN_M: f64 = 10.0 * METRES_PER_NAUTICAL_MILE;

/// Ground this much lower decides.
const LOWER_M: f64 = 100.0 * METRES_PER_FOOT;

/// A mark nearer to the landfall than this is the landfall itself, metres.
const ITSELF_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// Whether to aim off, to which side, and by how much.
#[derive(Debug, Clone, PartialEq)]
pub struct AimOff {
    /// What is advised.
    pub advice: AimOffAdvice,
    /// The reason, in plain words.
    pub why: String,
    /// The largest error across the track to be expected at the landfall: 99 % of it.
    pub largest_error: GroundRange,
    /// How far to aim off: rather more than that.
    pub amount: GroundRange,
    /// The track straight to the landfall.
    pub direct: Bearing<True>,
    /// How far off the planned track the landfall lies, to the right positive, metres, where that is
    /// more than is made good by eye: what is advised is then a turn toward it too.
    pub missed_m: Option<f64>,
    /// The side advised.
    pub side: Option<Side>,
    /// What each side has, port first; empty where aiming off is not needed.
    pub sides: Vec<SideSeen>,
}

/// What may be advised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AimOffAdvice {
    /// The landfall is told from all about it: go straight in.
    NotNeeded,
    /// To one side.
    AimOff,
    /// It would be well, and neither side is the better.
    EitherSide,
    /// It would be well, and the coast is too short for it on both sides.
    NoSide,
}

impl AimOffAdvice {
    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::NotNeeded => "not-needed",
            Self::AimOff => "aim-off",
            Self::EitherSide => "either-side",
            Self::NoSide => "no-side",
        }
    }
}

/// A side of the track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// To the left.
    Port,
    /// To the right.
    Starboard,
}

impl Side {
    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Port => "port",
            Self::Starboard => "starboard",
        }
    }

    /// To the right positive.
    fn sign(self) -> f64 {
        match self {
            Self::Port => -1.0,
            Self::Starboard => 1.0,
        }
    }

    fn turn(self) -> Angle {
        Angle::from_degrees(90.0 * self.sign())
    }
}

/// What aiming off to one side comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct SideSeen {
    /// Which.
    pub side: Side,
    /// Where to aim: abeam of the landfall by the amount.
    pub aim_at: Position,
    /// The track to make good to there.
    pub track: Bearing<True>,
    /// How far that is turned from the planned track, to the right positive.
    pub turned: Angle,
    /// Whether there is shore to meet.
    pub shore: bool,
    /// Marks about the landfall on that side that surely paint and are taken for no other.
    pub plain: Vec<MarkId>,
    /// The highest charted ground along that track, and what is not known of it.
    pub corridor: Corridor,
}

/// Whether to aim off.
pub(super) fn aim_off(asked: &Asked<'_>) -> Option<AimOff> {
    let landfall = asked.found.landfall.as_ref()?;
    let weighing = Weighing::new(asked, landfall);
    Some(match weighing.need() {
        Need::None(why) => weighing.told(AimOffAdvice::NotNeeded, why, None, Vec::new()),
        Need::For(why) => weighing.sides(&why),
    })
}

enum Need {
    /// And why not.
    None(String),
    /// And why.
    For(String),
}

struct Weighing<'a> {
    asked: &'a Asked<'a>,
    landfall: &'a LandfallPlan,
    /// The largest error across to be expected, metres.
    largest_m: f64,
    amount_m: f64,
    target: Option<Target>,
}

impl<'a> Weighing<'a> {
    fn new(asked: &'a Asked<'a>, landfall: &'a LandfallPlan) -> Self {
        let largest_m = LARGEST_SIGMAS * asked.plan.sigma_across_m(landfall.run.metres());
        let target = Target::at(asked.chart, &[], landfall.planned);
        Self { asked, landfall, largest_m, amount_m: RATHER_MORE * largest_m, target }
    }

    fn need(&self) -> Need {
        let miles = self.largest_m / METRES_PER_NAUTICAL_MILE;
        if self.largest_m <= LEAST_M {
            return Need::None(format!(
                "the reckoning is out by no more than {miles:.1} NM across the track there"
            ));
        }
        let marks = self.asked.chart.marks();
        let Some(id) = self.target.as_ref().and_then(|target| target.mark) else {
            return Need::For(
                "no mark stands at the landfall: one piece of its shore looks like the next"
                    .to_owned(),
            );
        };
        let name = marks.get(id).map_or("the landfall", |mark| mark.name.as_str());
        let paints = self.asked.sure().any(|(event, _)| event.seen.mark == id);
        if !paints {
            return Need::For(format!("{name} does not surely paint on this run"));
        }
        let alike: Vec<&str> = self
            .asked
            .alike(id)
            .filter_map(|other| marks.get(other))
            .filter(|mark| self.is_neighbour(mark))
            .map(|mark| mark.name.as_str())
            .collect();
        if alike.is_empty() {
            return Need::None(format!(
                "{name} surely paints, and nothing like it lies within the {miles:.1} NM that the \
                 reckoning may be out across the track"
            ));
        }
        Need::For(format!(
            "{name} may be taken for {}, within what the reckoning may be out across the track",
            alike.join(" or ")
        ))
    }

    /// Within the largest error across, and not the same land.
    fn is_neighbour(&self, mark: &Mark) -> bool {
        let (along_m, across_m) = self.off_landfall(mark.position);
        along_m.hypot(across_m) > ITSELF_M && across_m.abs() <= self.largest_m
    }

    /// How far past the landfall a place lies along the track, and how far to the right, metres.
    fn off_landfall(&self, at: Position) -> (f64, f64) {
        let point = LocalPlane::new(self.landfall.planned).to_plane(at);
        let (sin, cos) = self.asked.plan.track.sin_cos();
        (point.east * sin + point.north * cos, point.east * cos - point.north * sin)
    }

    fn sides(&self, why: &str) -> AimOff {
        let sides: Vec<SideSeen> =
            [Side::Port, Side::Starboard].into_iter().map(|side| self.side(side)).collect();
        let (advice, side, reason) = match sides.as_slice() {
            [port, starboard] => choose(port, starboard),
            _ => (AimOffAdvice::NoSide, None, String::new()),
        };
        self.told(advice, format!("{why}; {reason}"), side, sides)
    }

    fn told(
        &self,
        advice: AimOffAdvice,
        why: String,
        side: Option<Side>,
        sides: Vec<SideSeen>,
    ) -> AimOff {
        AimOff {
            advice,
            why,
            largest_error: GroundRange::clamped_metres(self.largest_m),
            amount: GroundRange::clamped_metres(self.amount_m),
            direct: rhumb_course(self.asked.plan.from, self.landfall.planned).0,
            missed_m: Some(self.landfall.cross_track_m).filter(|off| off.abs() > MISSED_M),
            side,
            sides,
        }
    }

    fn side(&self, side: Side) -> SideSeen {
        let plan = self.asked.plan;
        let abeam = plan.track.turned(side.turn());
        let amount = GroundRange::clamped_metres(self.amount_m);
        let aim_at = destination(self.landfall.planned, abeam, amount);
        let (track, run_m) = rhumb_course(plan.from, aim_at);
        let aimed = Plan { track, ..*plan };
        SideSeen {
            side,
            aim_at,
            track,
            turned: track.minus(plan.track),
            shore: self.has_shore(&aimed, run_m),
            plain: self.plain(side),
            corridor: corridor(self.asked.chart, &aimed, run_m),
        }
    }

    /// Whether the track meets land not far before or past the place aimed at.
    fn has_shore(&self, aimed: &Plan, run_m: f64) -> bool {
        const STEP_M: f64 = 0.25 * METRES_PER_NAUTICAL_MILE;
        let steps = (SHORE_WITHIN_M / STEP_M) as i32;
        let ground = self.asked.chart.ground();
        (-steps..=steps)
            .map(|step| aimed.at(run_m + f64::from(step) * STEP_M))
            .any(|at| ground.is_land(at) == Some(true))
    }

    /// Marks on a side, no farther off than a reckoning out that way may put us, that are told from
    /// all others.
    fn plain(&self, side: Side) -> Vec<MarkId> {
        let reach_m = self.amount_m + self.largest_m;
        let mut found: Vec<MarkId> = self
            .asked
            .sure()
            .filter(|(event, mark)| {
                let (along_m, across_m) = self.off_landfall(mark.position);
                let aside_m = across_m * side.sign();
                mark.is_of_weight()
                    && mark.kind != MarkKind::Other
                    && (ITSELF_M..=reach_m).contains(&aside_m)
                    && along_m.abs() <= ABOUT_M
                    && self.asked.alike(event.seen.mark).next().is_none()
            })
            .map(|(event, _)| event.seen.mark)
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }
}

/// The better side, and why.
fn choose(port: &SideSeen, starboard: &SideSeen) -> (AimOffAdvice, Option<Side>, String) {
    let to = |side: &SideSeen, why: String| (AimOffAdvice::AimOff, Some(side.side), why);
    match (port.shore, starboard.shore) {
        (false, false) => {
            let why = "the coast ends before the place to aim at on both sides";
            return (AimOffAdvice::NoSide, None, why.to_owned());
        }
        (true, false) => {
            return to(port, "the coast does not reach so far to starboard".to_owned());
        }
        (false, true) => {
            return to(starboard, "the coast does not reach so far to port".to_owned());
        }
        (true, true) => {}
    }
    let ground = lower(port, starboard);
    let (more, fewer) = if port.plain.len() >= starboard.plain.len() {
        (port, starboard)
    } else {
        (starboard, port)
    };
    if more.plain.len() > fewer.plain.len() {
        let mut why = format!(
            "{} has {} that surely paint and are taken for no other, {} {}",
            more.side.as_str(),
            marks_words(more.plain.len()),
            fewer.side.as_str(),
            if fewer.plain.is_empty() { "none".to_owned() } else { fewer.plain.len().to_string() },
        );
        if ground.is_some_and(|lower| lower.side != more.side) {
            why.push_str("; the charted ground is higher there");
        }
        return to(more, why);
    }
    if let Some(lower) = ground {
        let words =
            |side: &SideSeen| format!("{:.0} ft to {}", top(side).feet(), side.side.as_str());
        let other = if lower.side == port.side { starboard } else { port };
        let why = format!(
            "marks are no plainer on one side; charted ground is lower, {} against {}",
            words(lower),
            words(other)
        );
        return to(lower, why);
    }
    let why = "neither side is the plainer, or surely has the lower ground";
    (AimOffAdvice::EitherSide, None, why.to_owned())
}

fn marks_words(count: usize) -> String {
    if count == 1 { "1 mark".to_owned() } else { format!("{count} marks") }
}

/// The side whose charted ground is lower, where all of both is known.
fn lower<'s>(port: &'s SideSeen, starboard: &'s SideSeen) -> Option<&'s SideSeen> {
    let known = |side: &SideSeen| side.corridor.untold_m2 <= 0.0 && side.corridor.voids == 0;
    let (left, right) = (top(port).metres(), top(starboard).metres());
    if !known(port) || !known(starboard) || (left - right).abs() < LOWER_M {
        return None;
    }
    Some(if left < right { port } else { starboard })
}

fn top(side: &SideSeen) -> Height {
    side.corridor.highest.map_or(Height::SEA_LEVEL, |ground| ground.at_most())
}
