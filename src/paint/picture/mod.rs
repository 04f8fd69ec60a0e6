//! The screen as the set would draw it: one look round, echo, clutter and noise in every cell.
//!
//! What is lit and how strongly it answers is [`super::expect`]'s own sweep. Here its pieces are
//! laid into cells of range and bearing: each answers with a phase of its own, so that what one
//! beam and one pulse hold adds up as waves do and land is mottled; the pulse draws echoes out in
//! range, the beam in bearing; the sea answers where it is in sight and not land, rain where it
//! falls; the receiver's noise is over all of it. Chance comes from a seed, one stream for each
//! ray, so that a picture is the same on any number of threads.

mod field;
mod plan;
mod trace;

use thiserror::Error;

use self::field::{Field, Point};
use super::budget::Budget;
use super::expect::all_round;
use super::fan::Fan;
use super::in_front::in_front;
use super::late::past_the_pulse;
use super::mark_echo::{own_ground_m, own_m2};
use super::relief::Relief;
use super::sweep::{RangeTable, glints};
use super::vantage::{Conditions, Vantage};
use crate::chart::{Chart, MarkKind};
use crate::geodesy::{Position, course};
use crate::radar::{Set, SetKind};
use crate::units::{Angle, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange};

pub use plan::Plan;
pub use trace::{Side as TraceSide, Trace};

/// How a picture is laid out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// The range at its edge.
    pub scale: SlantRange,
    /// Cells of range.
    pub bins: usize,
    /// Cells of bearing, the first about north; a range trace has none.
    pub bearings: usize,
    /// Right wing down, for fixed lobes.
    pub bank: Angle,
    /// Of noise and of the phases of echoes.
    pub seed: u64,
}

impl Frame {
    /// The most cells of range and of bearing.
    pub const MOST_CELLS: (usize, usize) = (4_096, 3_600);

    /// 1,024 cells of range and 720 of bearing, level, seed 1.
    pub fn to(scale: SlantRange) -> Self {
        Self { scale, bins: 1_024, bearings: 720, bank: Angle::ZERO, seed: 1 }
    }

    /// How much range a cell holds, metres.
    pub fn bin_m(&self) -> f64 {
        (self.scale.metres() / self.bins.max(1) as f64).max(1e-3)
    }

    /// The range at the middle of a cell.
    pub fn range(&self, bin: usize) -> SlantRange {
        SlantRange::clamped_metres((bin as f64 + 0.5) * self.bin_m())
    }

    /// The cell that holds a range; `None` past the scale.
    pub fn bin_at(&self, range: SlantRange) -> Option<usize> {
        let bin = (range.metres() / self.bin_m()) as usize;
        (bin < self.bins && range <= self.scale).then_some(bin)
    }

    /// The range at the edge, nautical miles.
    pub fn scale_nm(&self) -> f64 {
        self.scale.metres() / METRES_PER_NAUTICAL_MILE
    }
}

/// The screen of a set.
#[derive(Debug, Clone, PartialEq)]
pub enum Picture {
    /// Of a turning beam.
    Plan(Plan),
    /// Of two fixed lobes.
    Trace(Trace),
}

/// Why there is no picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum PictureError {
    /// Fixed lobes look where the bow points.
    #[error("a set with fixed lobes shows what lies ahead, and no heading is given")]
    NoHeading,
}

/// What the screen of a set shows from one place.
///
/// # Errors
/// A set with fixed lobes, and no heading.
pub fn picture(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
    frame: &Frame,
) -> Result<Picture, PictureError> {
    picture_with(chart, vantage, set, conditions, frame, &[])
}

/// Something that answers and stands on no chart: a ship.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Afloat {
    /// Where.
    pub position: Position,
    /// Its top above the sea.
    pub height: Height,
    /// How strongly all of it answers: its radar cross-section, square metres.
    pub m2: f64,
}

/// The same with things afloat in it that the chart does not have.
///
/// # Errors
/// A set with fixed lobes, and no heading.
pub fn picture_with(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
    frame: &Frame,
    afloat: &[Afloat],
) -> Result<Picture, PictureError> {
    let most = Frame::MOST_CELLS;
    let (bins, bearings) = (frame.bins.clamp(1, most.0), frame.bearings.clamp(1, most.1));
    let frame = Frame { bins, bearings, ..*frame };
    let budget = Budget::new(set, conditions, vantage.height);
    let rays = Rays::cast(chart, vantage, &budget, &frame, afloat);
    match (set.kind, vantage.heading) {
        (SetKind::Scan, _) => Ok(Picture::Plan(plan::draw(&rays, &frame))),
        (SetKind::Lobes, Some(heading)) => Ok(Picture::Trace(trace::draw(&rays, &frame, heading))),
        (SetKind::Lobes, None) => Err(PictureError::NoHeading),
    }
}

/// The light of what just shows.
pub const SHOWS_LIGHT: f64 = 0.35;

/// How bright a level is drawn: 0 at the noise's mean, 1 from 30 dB over what shows.
///
/// Under what shows there is a glimmer, as an operator leaves it to be sure of the gain; what shows
/// stands out from it by a step (our own figures).
///
/// - `level_db`, `threshold_db`: over the mean noise.
pub fn brightness(level_db: f64, threshold_db: f64) -> f64 {
    /// From what shows to full light, decibels.
    const SPAN_DB: f64 = 30.0;
    let threshold_db = threshold_db.max(0.1);
    if level_db < threshold_db {
        0.6 * SHOWS_LIGHT * (level_db / threshold_db).max(0.0)
    } else {
        SHOWS_LIGHT + (1.0 - SHOWS_LIGHT) * ((level_db - threshold_db) / SPAN_DB).min(1.0)
    }
}

/// Where range rings stand on a scale, nautical miles: at a round step that makes three to six of
/// them.
pub fn range_rings(scale_nm: f64) -> Vec<f64> {
    let steps = (-3..4).flat_map(|power| [1.0, 2.0, 2.5, 5.0].map(|step| step * 10f64.powi(power)));
    let step = steps.into_iter().find(|step| scale_nm / step <= 6.0).unwrap_or(scale_nm);
    let count = (scale_nm / step + 1e-9) as usize;
    // No zeros that say nothing: 0.3, not 0.30000000000000004.
    (1..=count).map(|ring| (ring as f64 * step * 1e6).round() / 1e6).collect()
}

/// What comes back along each ray, before the beam gathers it.
struct Rays<'a> {
    budget: &'a Budget,
    fan: Fan,
    fields: Vec<Field>,
    /// Rain in each cell of range, over the noise.
    rain: Vec<f32>,
}

impl<'a> Rays<'a> {
    fn cast(
        chart: &Chart,
        vantage: &Vantage,
        budget: &'a Budget,
        frame: &Frame,
        afloat: &[Afloat],
    ) -> Self {
        use rayon::prelude::*;
        let on_screen = GroundRange::clamped_metres(frame.scale.metres());
        let far = past_the_pulse(chart, vantage, budget).filter(|far| *far > on_screen);
        let fan = all_round(chart, budget, far.unwrap_or(on_screen));
        let relief = Relief::of_chart(chart, vantage.position, &fan);
        let ground = RangeTable::new(&fan, budget);
        let mut standing = standing(chart, vantage, budget, &fan, &relief);
        for thing in afloat {
            float(thing, vantage, budget, &fan, &relief, &mut standing);
        }
        let screen = field::Screen::new(budget, frame);
        let fields = relief.rays.par_iter().enumerate().map(|(ray, spans)| {
            let glints = glints(spans, &fan, budget);
            let points = standing.get(ray).map(Vec::as_slice).unwrap_or_default();
            screen.field(ray, (spans, &glints, points), &fan, &ground)
        });
        Self { budget, fields: fields.collect(), rain: screen.rain(), fan }
    }

    /// Angle between rays.
    fn spacing(&self) -> f64 {
        std::f64::consts::TAU / self.fan.len().max(1) as f64
    }
}

/// What stands by itself, on the ray nearest to it: built things, and islets that the coast's own
/// lines have missed.
fn standing(
    chart: &Chart,
    vantage: &Vantage,
    budget: &Budget,
    fan: &Fan,
    relief: &Relief,
) -> Vec<Vec<Point>> {
    let mut rays = vec![Vec::new(); fan.len()];
    let spacing = std::f64::consts::TAU / fan.len().max(1) as f64;
    let reach = GroundRange::clamped_metres(fan.reach_m());
    for id in chart.marks().within(vantage.position, reach) {
        let Some(mark) = chart.marks().get(id) else { continue };
        let line = course(vantage.position, mark.position);
        let (ray, along_m) = (fan.nearest(line.initial), line.distance.metres());
        let place = rays.get_mut(ray).zip(relief.rays.get(ray));
        let Some((points, spans)) = place.filter(|_| along_m <= fan.reach_m()) else { continue };
        let stands = match mark.kind {
            MarkKind::Headland | MarkKind::Peak => false,
            // The coast has its shore, or has missed it.
            MarkKind::Islet => !spans.iter().any(|span| {
                let (before, behind) = own_ground_m(mark);
                span.start_m < along_m + behind && span.end_m > along_m - before
            }),
            _ => true,
        };
        if !stands {
            continue;
        }
        let about = in_front(spans, fan, budget, along_m, fan.step_m);
        let shown = about.mask.standing(along_m, mark.height.metres().max(1.0));
        let m2 = own_m2(mark, shown.shown_m, along_m, budget);
        if m2 > 0.0 {
            points.push(Point { ground_m: along_m, height: mark.height, m2_per_rad: m2 / spacing });
        }
    }
    rays
}

/// Puts something afloat on the ray nearest to it, as much of it as stands over what is before it.
fn float(
    thing: &Afloat,
    vantage: &Vantage,
    budget: &Budget,
    fan: &Fan,
    relief: &Relief,
    rays: &mut [Vec<Point>],
) {
    let line = course(vantage.position, thing.position);
    let (ray, along_m) = (fan.nearest(line.initial), line.distance.metres());
    let place = rays.get_mut(ray).zip(relief.rays.get(ray));
    let Some((points, spans)) = place.filter(|_| along_m <= fan.reach_m()) else { return };
    let height_m = thing.height.metres().max(1.0);
    let about = in_front(spans, fan, budget, along_m, fan.step_m);
    let share = (about.mask.standing(along_m, height_m).shown_m / height_m).clamp(0.0, 1.0);
    let m2_per_rad = thing.m2.max(0.0) * share * fan.len() as f64 / std::f64::consts::TAU;
    if m2_per_rad > 0.0 {
        points.push(Point { ground_m: along_m, height: thing.height, m2_per_rad });
    }
}

#[cfg(test)]
mod tests;
