use rayon::prelude::*;

use super::glance::{Glance, Stand};
use super::landward::MISLEADS_M;
use super::marks::{Event, EventKind, HALF};
use super::plan::Plan;
use super::shores::{LandShows, Stretch};
use crate::chart::{Mark, MarkId, MarkKind};
use crate::geodesy::{Covariance, LocalPlane, Position, distance};
use crate::units::{GroundRange, Height, METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE};

/// Ground is called after the nearest peak within this, in metres: its slope answers, not its top.
const PEAK_WITHIN_M: f64 = 4.0 * METRES_PER_NAUTICAL_MILE;

/// Else after the nearest mark within this, in metres.
const MARK_WITHIN_M: f64 = METRES_PER_NAUTICAL_MILE;

/// A low shore, in feet, whose horizon tells whether a run comes near enough for a shore to show.
const LOW_SHORE_FT: f64 = 10.0;

/// χ² of two degrees of freedom at 95 % (table).
const CHI2_95: f64 = 5.991;

/// Echoes no farther apart than this in strength are alike, in decibels.
const ALIKE_DB: f64 = 6.0;

/// Widths whose ratio is no more than this are alike.
const ALIKE_WIDTHS: f64 = 1.5;

/// What will mislead whoever looks for a coast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trap {
    /// Ground inland shows before the shore in front of it.
    GroundFirst {
        /// The place of the shore in front.
        shore_at: Position,
        /// What shows first.
        ground: LandShows,
        /// The mark it is called after, where one is near.
        mark: Option<MarkId>,
        /// When the shore in front shows; `None` where it never does on the run.
        shore: Option<LandShows>,
    },
    /// The run comes near enough, and the shore does not show.
    LowShore {
        /// The place.
        shore_at: Position,
        /// How near the run comes.
        closest: GroundRange,
        /// Ground behind it that does show; `None` where none does.
        ground: Option<LandShows>,
        /// The mark that ground is called after.
        mark: Option<MarkId>,
    },
}

/// Two marks of which one may be taken for the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alike {
    /// The one that first paints earlier.
    pub one: MarkId,
    /// The other.
    pub other: MarkId,
    /// How far apart they lie.
    pub apart: GroundRange,
    /// That distance against the reckoning's error, when both show: squared, in standard deviations.
    pub chi2: f64,
    /// How much stronger the first is then, decibels.
    pub stronger_db: f64,
}

/// What will mislead, in order of time: each ground once, at the shore where it shows earliest.
pub(super) fn traps(glance: &Glance<'_>, coast: &[Stretch]) -> Vec<Trap> {
    let mut traps: Vec<Trap> = Vec::new();
    let budget = &glance.budget;
    let low = Height::from_metres(LOW_SHORE_FT * METRES_PER_FOOT).unwrap_or_default();
    let sees_m = budget.conditions().earth.horizon(budget.own(), low).metres();
    let mut named: Vec<MarkId> = Vec::new();
    for stretch in coast {
        let ground = stretch.land.filter(|land| land.echo.behind.metres() >= MISLEADS_M);
        let mark = ground.and_then(|land| called(glance, land.place));
        let (shore_at, closest) = (stretch.at, stretch.closest);
        if stretch.shore.is_none() && closest.metres() < sees_m {
            traps.push(Trap::LowShore { shore_at, closest, ground, mark });
        } else if let Some(ground) = ground {
            let told = mark.is_some_and(|mark| named.contains(&mark));
            named.extend(mark);
            if !told {
                traps.push(Trap::GroundFirst { shore_at, ground, mark, shore: stretch.shore });
            }
        }
    }
    traps
}

/// The mark that ground is called after: the nearest peak, else the nearest mark close by.
pub(super) fn called(glance: &Glance<'_>, place: Position) -> Option<MarkId> {
    let marks = glance.chart.marks();
    let near: Vec<(MarkId, &Mark, f64)> = marks
        .within(place, GroundRange::clamped_metres(PEAK_WITHIN_M))
        .into_iter()
        .filter_map(|id| marks.get(id).map(|mark| (id, mark)))
        .map(|(id, mark)| (id, mark, distance(place, mark.position).metres()))
        .collect();
    let nearest = |serves: &dyn Fn(&Mark, f64) -> bool| {
        near.iter()
            .filter(|(_, mark, off_m)| serves(mark, *off_m))
            .min_by(|a, b| a.2.total_cmp(&b.2).then(a.0.cmp(&b.0)))
            .map(|(id, ..)| *id)
    };
    nearest(&|mark, _| mark.kind == MarkKind::Peak)
        .or_else(|| nearest(&|_, off_m| off_m <= MARK_WITHIN_M))
}

/// Pairs of marks that will look alike, the most easily taken for each other first.
///
/// The measure: of one kind; both show when the later of them first paints; their echoes are then
/// within [`ALIKE_DB`] of each other, and their widths (twice the extent, no less than the beam)
/// within the ratio [`ALIKE_WIDTHS`]; and the shift from one to the other lies inside the 95 %
/// ellipse of the reckoning carried there, so that a reckoning out by so much, as it may be, would
/// put the one where the other should be.
pub(super) fn alike(glance: &Glance<'_>, plan: &Plan, events: &[Event]) -> Vec<Alike> {
    let first: Vec<&Event> =
        events.iter().filter(|event| event.kind == EventKind::FirstPaint).collect();
    let with_earlier = |(i, later): (usize, &&Event)| -> Vec<Alike> {
        let near: Vec<Near<'_>> =
            first.iter().take(i).filter_map(|earlier| near(glance, plan, earlier, later)).collect();
        let places = near.iter().map(|near| (near.a.position, glance.behind_mark_m(near.a)));
        let stand = glance.stand_for(plan.at(later.run.metres()), places);
        near.iter().filter_map(|near| pair(glance, &stand, near, later)).collect()
    };
    let mut found: Vec<Alike> = first.par_iter().enumerate().flat_map_iter(with_earlier).collect();
    found.sort_by(|a, b| {
        a.chi2.total_cmp(&b.chi2).then(a.one.cmp(&b.one)).then(a.other.cmp(&b.other))
    });
    found
}

/// An earlier mark that lies so that it may be taken for a later one.
struct Near<'a> {
    one: MarkId,
    a: &'a Mark,
    b: &'a Mark,
    chi2: f64,
}

fn near<'a>(glance: &Glance<'a>, plan: &Plan, earlier: &Event, later: &Event) -> Option<Near<'a>> {
    let marks = glance.chart.marks();
    let one = earlier.seen.mark;
    let (a, b) = (marks.get(one)?, marks.get(later.seen.mark)?);
    if a.kind != b.kind {
        return None;
    }
    let run_m = later.run.metres();
    let covariance = Covariance::along_across(
        GroundRange::clamped_metres(plan.sigma_along_m(run_m)),
        GroundRange::clamped_metres(plan.sigma_across_m(run_m)),
        plan.track,
    );
    let shift = LocalPlane::new(a.position).to_plane(b.position);
    let chi2 = covariance.mahalanobis_squared(shift.east, shift.north);
    (chi2 <= CHI2_95).then_some(Near { one, a, b, chi2 })
}

fn pair(glance: &Glance<'_>, stand: &Stand<'_>, near: &Near<'_>, later: &Event) -> Option<Alike> {
    let Near { one, a, b, chi2 } = *near;
    let seen = glance.mark_from(stand, one, a);
    let stronger_db = seen.signal_to_noise_db? - later.seen.signal_to_noise_db?;
    let width = |mark: &Mark, off: GroundRange| {
        (2.0 * mark.extent.metres()).max(glance.budget.across_m(off.metres())).max(1.0)
    };
    let ratio = width(a, seen.ground_range) / width(b, later.seen.ground_range);
    let both = seen.paint_probability >= HALF && stronger_db.abs() <= ALIKE_DB;
    (both && (1.0 / ALIKE_WIDTHS..=ALIKE_WIDTHS).contains(&ratio)).then(|| Alike {
        one,
        other: later.seen.mark,
        apart: distance(a.position, b.position),
        chi2,
        stronger_db,
    })
}
