//! What the radar should show of the landfall, and what may show in its place.

use super::against::{Spot, bearing_of, miss};
use super::target::Target;
use super::{Asked, when_measured};
use crate::chart::MarkKind;
use crate::fix::Verdict;
use crate::geodesy::{Course, Covariance, Position, course, destination, distance};
use crate::paint::Conditions;
use crate::paint::approach::{Inland, Landward};
use crate::radar::geometry::{EarthRadius, ground_range, slant_range};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// What shows at this chance or better should paint.
pub(super) const EVEN: f64 = 0.5;
/// What shows at less than this should not.
const SELDOM: f64 = 0.2;
/// Places tried from here to the landfall for the range at which it begins to paint, and halvings
/// after that.
const STEPS: u32 = 12;
const HALVINGS: u32 = 6;
/// Contacts within so much of the landfall's bearing are held against the ground behind it.
const ASIDE_DEG: f64 = 15.0;
/// An echo is that of ground behind the shore up to this squared statistical distance, which is
/// three standard deviations.
const IS_GROUND: f64 = 9.0;
/// A mark so near to that ground is called after it.
const SAME_GROUND_M: f64 = 4.0 * METRES_PER_NAUTICAL_MILE;

/// Where we take ourselves to be for looking at the landfall.
pub(super) struct Stand {
    pub position: Position,
    pub error: Covariance,
    /// `by the fix`.
    pub by: &'static str,
}

/// The landfall as the set should show it.
pub(super) struct View<'a> {
    asked: &'a Asked<'a>,
    target: &'a Target,
    /// None on a chart without land, where nothing hides anything.
    landward: Option<Landward<'a>>,
    pub stand: Stand,
}

/// How something is seen from a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub range: SlantRange,
    pub line: Course,
}

impl<'a> View<'a> {
    pub fn new(asked: &'a Asked<'a>, target: &'a Target) -> Self {
        let stand = stand(asked);
        let own = &asked.sightings.own;
        let towards = course(stand.position, target.place).initial;
        let landward = (!asked.bare).then(|| {
            let set = &asked.sightings.radar.set;
            Landward::new(
                asked.chart,
                own.height,
                own.heading,
                towards,
                set,
                &Conditions::default(),
            )
        });
        Self { asked, target, landward, stand }
    }

    /// The chance that the landfall paints from a place.
    pub fn chance(&self, from: Position) -> f64 {
        let reach = self.asked.sightings.radar.set.greatest_scale().metres();
        match (&self.landward, self.target.mark) {
            (None, _) => f64::from(distance(from, self.target.place).metres() <= reach),
            (Some(landward), Some(mark)) => landward.mark(from, mark),
            (Some(landward), None) => landward.shore(from, self.target.place),
        }
    }

    /// Ground inland that shows on the landfall's bearing before the shore in front of it.
    pub fn inland(&self, from: Position) -> Option<Inland> {
        self.landward.as_ref()?.inland(from, self.target.place)
    }

    /// How the landfall lies from a place.
    pub fn seen(&self, from: Position) -> Seen {
        let line = course(from, self.target.place);
        let own = self.asked.sightings.own.height;
        let range = slant_range(own, self.target.height, line.distance, EarthRadius::MEAN);
        Seen { range, line }
    }

    /// The range from which the landfall should paint, coming to it straight from a place where it
    /// does not yet.
    pub fn paints_from(&self, from: Position) -> Option<GroundRange> {
        let line = course(self.target.place, from);
        let place = |metres: f64| {
            destination(self.target.place, line.initial, GroundRange::clamped_metres(metres))
        };
        let paints = |metres: f64| self.chance(place(metres)) >= EVEN;
        let step = line.distance.metres() / f64::from(STEPS);
        let mut near = (1..STEPS).rev().map(|i| f64::from(i) * step).find(|m| paints(*m))?;
        let mut far = near + step;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (near + far);
            if paints(middle) { near = middle } else { far = middle }
        }
        Some(GroundRange::clamped_metres(near))
    }

    pub fn target(&self) -> &Target {
        self.target
    }

    pub fn asked(&self) -> &Asked<'a> {
        self.asked
    }
}

fn stand(asked: &Asked<'_>) -> Stand {
    let fix = asked.fix;
    if let Some((position, error)) = fix.position.zip(fix.covariance) {
        return Stand { position, error, by: "by the fix" };
    }
    let probable = fix.most_probable.filter(|_| fix.verdict == Verdict::TooFew);
    let reckoned = asked.case.problem.prior.position;
    match probable.filter(|estimate| estimate.position != reckoned) {
        Some(estimate) => Stand {
            position: estimate.position,
            error: estimate.covariance,
            by: "by contacts and reckoning",
        },
        None => Stand { position: reckoned, error: asked.case.reckoned(), by: "by the reckoning" },
    }
}

/// A contact that is ground inland, and may be taken for the coast.
pub(super) struct Trap {
    pub sight: usize,
    pub ground: Inland,
    /// The range at which the contact was measured, over the ground.
    pub range: GroundRange,
}

/// A contact that stands where the landfall or the ground behind it should, at a range at which the
/// landfall itself cannot paint while ground behind it does.
pub(super) fn taken_for_coast(asked: &Asked<'_>, target: &Target, view: &View<'_>) -> Option<Trap> {
    // A summit that is the landfall itself is no trap.
    let summit = target.mark.and_then(|id| asked.chart.marks().get(id));
    if summit.is_some_and(|mark| mark.kind == MarkKind::Peak) {
        return None;
    }
    (0..asked.case.labels.len()).find_map(|sight| trap(asked, target, view, sight))
}

fn trap(asked: &Asked<'_>, target: &Target, view: &View<'_>, sight: usize) -> Option<Trap> {
    let case = asked.case;
    let measured = case.problem.sights.get(sight)?;
    let own = Height::from_metres(measured.own_height_m).ok()?;
    let slant = SlantRange::clamped_metres(measured.range?.value);
    let range = ground_range(slant, own, target.height, EarthRadius::MEAN).ok()?;
    let here = when_measured(case, sight, view.stand.position);
    let towards = course(here, target.place).initial;
    let bearing = bearing_of(case, sight, towards);
    let named = case.stated(sight).is_some_and(|candidate| target.is(candidate));
    if !named && bearing.minus(towards).degrees().abs() > ASIDE_DEG {
        return None;
    }
    // Where we are if the contact is the landfall.
    let there = destination(target.place, bearing.reciprocal(), range);
    let paints = |at: Position| view.chance(at) >= SELDOM || painted_then(asked, target, sight, at);
    if paints(there) {
        return None;
    }
    let ground = view
        .inland(here)
        .or_else(|| view.inland(there))
        .or_else(|| ground_at(view, target, bearing, range))?;
    let error = view.stand.error;
    let place = destination(here, ground.echo.bearing, ground.echo.ground_range);
    let stands = |spot: Spot| miss(case, sight, spot, view.stand.position, error);
    let as_ground = stands(Spot { place, height: ground.echo.height })?;
    let as_coast = stands(Spot { place: target.place, height: target.height })?;
    if !named && !as_coast.is_within_gate() && as_ground.squared > IS_GROUND {
        return None;
    }
    (!is_some_other_mark(asked, target, sight, place)).then_some(Trap { sight, ground, range })
}

/// Whether the landfall well painted when a contact was measured, from own place then.
fn painted_then(asked: &Asked<'_>, target: &Target, sight: usize, then: Position) -> bool {
    let Some(measured) = asked.case.problem.sights.get(sight) else { return false };
    let now = measured.place_now(then);
    let candidate = target.mark.and_then(|id| asked.marks.iter().position(|mark| *mark == id));
    candidate.is_some_and(|candidate| asked.case.chance_then(sight, now, candidate) >= SELDOM)
}

/// Ground behind the landfall that would answer at just this range, from wherever on this bearing
/// that is: for a reckoning that was set right by the echo itself.
fn ground_at(
    view: &View<'_>,
    target: &Target,
    bearing: Bearing<True>,
    range: GroundRange,
) -> Option<Inland> {
    let off = |metres: f64| {
        destination(target.place, bearing.reciprocal(), GroundRange::clamped_metres(metres))
    };
    let full = range.metres();
    let seen = [0.75, 0.5, 0.25].iter().find_map(|share| view.inland(off(share * full)))?;
    // From so much nearer to the shore the ground stands at the range measured.
    view.inland(off(full - seen.echo.behind.metres()))
}

/// Whether a contact is likely a mark that should paint, and neither the landfall nor on that
/// ground.
fn is_some_other_mark(asked: &Asked<'_>, target: &Target, sight: usize, ground: Position) -> bool {
    let case = asked.case;
    let all: Vec<usize> = (0..asked.posterior.hypotheses.len()).collect();
    let Some((_, best)) = asked.posterior.best() else { return false };
    asked.posterior.marginals(sight, &all).first().is_some_and(|&(candidate, held)| {
        let mark = asked.marks.get(candidate).and_then(|id| asked.chart.marks().get(*id));
        let shore = |kind| matches!(kind, MarkKind::Headland | MarkKind::Islet | MarkKind::Buoy);
        let elsewhere = mark.is_some_and(|mark| {
            shore(mark.kind) || distance(mark.position, ground).metres() > SAME_GROUND_M
        });
        held >= EVEN
            && elsewhere
            && !target.is(candidate)
            && case.chance_then(sight, best.solution.position, candidate) >= SELDOM
    })
}
