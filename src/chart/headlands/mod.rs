//! Marks found from the shape of the coast and the ground: headlands, islets and peaks.
//!
//! A headland is a place with little land about it. Around each place of the shore stands a disc;
//! the share of it that is land (the integral area invariant of Manay, Cremers, Hong, Yezzi and
//! Soatto, "Integral invariants for shape matching", IEEE PAMI 2006) is one half on a straight
//! coast, `w/2π` at the apex of a wedge of opening `w`, and small where land runs out to sea. Along
//! each line the lows of that share which persist are headlands, at radii of 0.75, 1.5, 3 and 6 NM;
//! the same headland at several radii is one, its tip where the finest puts it.
//!
//! - The share is exact for the charted line, so that its vertices may lie as they will; all shore
//!   within the disc counts, whatever line it is on.
//! - No disc is smaller than ten times the stated error of a charted point: under that, noise makes
//!   headlands.
//! - Where the chart was cut out of a larger one, land is not known: no headland is found within a
//!   radius of that edge, and what it bounds is no islet. Seams between polygons, as along the date
//!   line, take each other away, and hide nothing.
//! - Everything is worked out in space, in a frame of its own for each disc, so that the date line
//!   and the poles are nothing special.
//! - Shorelines that do not tell on which side their land lies are left out.
//!
//! An island smaller than the smallest disc is one mark, an islet; so is a larger one, up to 6 NM
//! across, on which no headland stands out or which the chart names as an island (the unnamed points
//! of one up to 4 NM across are then no marks beside it). Peaks are found
//! by prominence from the elevation grids; contours alone make none. A
//! named point of the chart lends its name, and what it says of kind and height, to what was found
//! where it stands; the rest are called by the nearest named mark, or by position.
//!
//! Time goes with the number of vertices: 104,136 at four radii took 1.2 s on two busy cores in a
//! build for tests. Of a coast of more than 200,000 points marks are sought about the place they are
//! asked for ([`Scope::Within`]), where one is told; else only the discs of 3 and 6 NM are tried, on a
//! line thinned to their measure, and of more than three million points none. A chart that is
//! prepared has all of them ([`Scope::Everywhere`]).

mod crowd;
mod disc;
mod heads;
mod islets;
mod names;
mod peaks;
mod persistence;
mod scope;
mod shore;
mod space;

use std::collections::HashSet;

use rayon::prelude::*;

use self::heads::{Head, headlands, inland, scales};
use self::islets::{Island, island};
pub(in crate::chart) use self::names::may_be;
use self::names::{Namer, lenders};
use self::peaks::peak_features;
use self::scope::{Effort, Length, in_batches};
pub(super) use self::scope::{MANY_POINTS, Scope};
use self::shore::{Outline, Shore};
use self::space::{Frame, Space, apart, position, space};
use super::{Accuracy, Coast, GeoBox, Ground, LandSide, Mark, MarkKind, ShoreLine};
use crate::geodesy::{Position, course};
use crate::units::{GroundRange, Height, METRES_PER_NAUTICAL_MILE};

const MILE: f64 = METRES_PER_NAUTICAL_MILE;

/// Discs for a coast of many points are no smaller than this, in metres.
const COARSE_M: f64 = 3.0 * MILE;
/// Its lines are thinned to this part of the smallest disc.
const THIN_SHARE: f64 = 1.0 / 30.0;
/// The diameter up to which an island is one mark whatever is found on it, where the chart bears
/// no smaller discs: that of the smallest of all.
const SMALLEST_SCALE_M: f64 = 0.75 * MILE;

/// An island of no greater radius than this that the chart names is one mark: the points of its
/// shore are not told apart from it on a screen unless they are named too.
const ONE_MARK_M: f64 = 2.0 * MILE;

/// Peaks are sought as far beside an area whose tiles alone are read, in metres: farther than one lends
/// or takes a name, and than two peaks are one.
const BESIDE_M: f64 = 2.0 * MILE;

/// Something found, before it has a name.
#[derive(Debug, Clone)]
struct Feature {
    kind: MarkKind,
    /// The line of shore it is on or bounds; none for a peak.
    line: Option<usize>,
    position: Position,
    height: f64,
    extent: f64,
    sigma: f64,
    salience: f64,
    /// A named point within so many metres lends it its name.
    lends_within: f64,
    /// It is a mark only if the chart names it.
    only_named: bool,
}

/// What the shape of a chart gives.
pub(super) struct Found {
    /// Headlands along the lines first, then islets, then peaks; the same on any number of threads.
    pub(super) marks: Vec<Mark>,
    /// The area about which alone they were sought; none where they were not bound to one.
    pub(super) about: Option<GeoBox>,
    /// What the operator must know of how they were sought.
    pub(super) cautions: Vec<String>,
}

/// The headlands, islets and peaks of a chart, with the names that its marks lend them.
pub(super) fn found_marks(
    coast: &Coast,
    ground: &mut Ground,
    accuracy: &Accuracy,
    charted: &[Mark],
    scope: &Scope,
) -> Found {
    let sigma = accuracy.point_sigma.metres();
    let length = length(coast);
    let effort = scope.effort(length);
    let mut cautions: Vec<String> = effort_caution(&effort, length).into_iter().collect();
    let mut features = shore_features(coast, ground, sigma, &effort).unwrap_or_else(|| {
        cautions.push(
            "so much shore lies on itself that neither headlands nor islets are sought; the layer \
             holds the same land many times, or no coast"
                .to_owned(),
        );
        Vec::new()
    });
    let islets: Vec<(Position, f64)> = features
        .iter()
        .filter(|feature| feature.kind == MarkKind::Islet)
        .map(|feature| (feature.position, feature.extent))
        .collect();
    // Where heights are read as they are asked for, no more tiles than may hold a mark of the area, or
    // lend one that a mark beside it would else take.
    let beside = GroundRange::clamped_metres(BESIDE_M);
    let near = effort.asked().filter(|_| ground.is_fetched()).map(|area| area.grown(beside));
    features.extend(peak_features(ground, &islets, near.as_ref()));
    let mut marks = named(features, charted);
    if let Some(area) = effort.asked() {
        marks.retain(|mark| area.contains(mark.position));
    }
    Found { marks, about: effort.asked().copied(), cautions }
}

/// The points of all lines that tell where their land lies, and how far they lead as the crow flies from
/// vertex to vertex.
fn length(coast: &Coast) -> Length {
    let lines: Vec<ShoreLine<'_>> =
        coast.lines().map(|(_, line)| line).filter(|l| l.land_side != LandSide::Unknown).collect();
    // In their order, whatever the number of threads: a sum of parts added in another order is another.
    let lengths: Vec<f64> = lines
        .par_iter()
        .map(|line| {
            let mut places = line.points.iter().map(|point| space(point.lon, point.lat));
            let Some(mut from) = places.next() else { return 0.0 };
            places.map(|to| apart(std::mem::replace(&mut from, to), to)).sum()
        })
        .collect();
    Length {
        points: lines.iter().map(|line| line.points.len()).sum(),
        metres: lengths.iter().sum(),
    }
}

/// What the operator must know of how much of this coast was looked through.
fn effort_caution(effort: &Effort, length: Length) -> Option<String> {
    let points = length.points;
    match effort {
        Effort::NoCoast => Some(format!(
            "the coast has {:.0} NM of shore, more than the Earth: no headlands and no islets are \
             sought; the layer is damaged, or no coast",
            length.metres / MILE
        )),
        Effort::None => Some(format!(
            "the coast has {points} points: no marks are sought from its shape; \
             `foreland chart prepare` finds them all once"
        )),
        Effort::Coarse => Some(format!(
            "the coast has {points} points: only headlands of {:.0} NM and more are sought; \
             `foreland chart prepare` finds them all once",
            COARSE_M / MILE
        )),
        Effort::All | Effort::InBatches | Effort::Within(_) => None,
    }
}

/// What the operator must know of where this coast was cut.
pub(super) fn cut_caution(coast: &Coast) -> Option<String> {
    let cut_m: f64 = coast.lines().map(|(_, line)| clip_m(&line)).sum();
    coast.has_clips().then(|| {
        format!(
            "the chart was cut out of a larger one through land, along {:.0} NM: that edge is no \
             shore, and what lies beyond it is not known",
            cut_m / MILE
        )
    })
}

/// How much of a line is edge where the chart was cut, in metres.
fn clip_m(line: &ShoreLine<'_>) -> f64 {
    if !line.has_cuts() {
        return 0.0;
    }
    let edges = line.points.iter().zip(line.points.iter().skip(1)).enumerate();
    edges
        .filter(|(edge, _)| line.is_clip(*edge))
        .map(|(_, (a, b))| course(a.position(), b.position()).distance.metres())
        .sum()
}

/// What the shape of the shore gives.
struct Shaped {
    heads: Vec<Head>,
    islands: Vec<Island>,
    /// Lines that bound a single mark, however they are shaped.
    islets: HashSet<usize>,
    /// Lines on which a headland stands out.
    headed: HashSet<usize>,
}

/// Headlands and islets; `None` where the shore lies on itself as no coast does.
fn shore_features(
    coast: &Coast,
    ground: &mut Ground,
    sigma: f64,
    effort: &Effort,
) -> Option<Vec<Feature>> {
    if matches!(effort, Effort::None | Effort::NoCoast) {
        return Some(Vec::new());
    }
    let Shaped { heads, islands, islets, headed } = shaped(coast, sigma, effort)?;
    let in_parts = *effort == Effort::InBatches;
    // What lies outside the area is dropped in the end, and its height is not asked for.
    let is_far = |at: &Space| effort.asked().is_some_and(|area| !area.contains(position(*at)));
    let mut features = in_batches(
        &heads,
        |head| head.tip,
        in_parts,
        ground,
        |head, ground| head_feature(head, ground, sigma, is_far(&head.tip)),
    );
    features.extend(in_batches(
        &islands,
        |i| i.middle,
        in_parts,
        ground,
        |island, ground| {
            let many = !islets.contains(&island.line) && headed.contains(&island.line);
            island_feature(island, ground, sigma, (many, is_far(&island.middle)))
        },
    ));
    Some(features)
}

/// Headlands and islands by the line of the shore alone.
fn shaped(coast: &Coast, sigma: f64, effort: &Effort) -> Option<Shaped> {
    let area = effort.sampled();
    let mut lines = outlines(coast, effort.lines().as_ref());
    let islands: Vec<Island> =
        lines.par_iter().enumerate().filter_map(|(number, line)| island(number, line)).collect();
    let mut scales = scales(sigma);
    if *effort == Effort::Coarse {
        scales.retain(|scale| *scale >= COARSE_M);
        lines = lines.par_iter().map(|line| line.thinned(COARSE_M * THIN_SHARE)).collect();
    }
    let smallest = scales.last().copied().unwrap_or(SMALLEST_SCALE_M);
    let heads = headlands(&Shore::new(lines), &scales, area.as_ref())?;
    let islets: HashSet<usize> =
        islands.iter().filter(|i| i.diameter < 2.0 * smallest).map(|i| i.line).collect();
    let headed = heads.iter().map(|head| head.line).collect();
    let inside = |at: &Space| area.is_none_or(|area| area.contains(position(*at)));
    let heads = heads
        .into_iter()
        .filter(|head| !islets.contains(&head.line) && inside(&head.tip))
        .collect();
    let islands = islands.into_iter().filter(|island| inside(&island.middle)).collect();
    Some(Shaped { heads, islands, islets, headed })
}

/// Every line that tells where its land is, turned to have it on the left.
/// With an area, only those that reach into it.
fn outlines(coast: &Coast, area: Option<&GeoBox>) -> Vec<Outline> {
    let lines: Vec<ShoreLine<'_>> = coast
        .lines()
        .map(|(_, line)| line)
        .filter(|line| line.land_side != LandSide::Unknown)
        .filter(|line| area.is_none_or(|area| line.extent().is_some_and(|own| own.touches(area))))
        .collect();
    lines
        .par_iter()
        .map(|line| {
            let points: Vec<(f64, f64)> = line.points.iter().map(|p| (p.lon, p.lat)).collect();
            Outline::new(
                &points,
                |edge| line.is_cut(edge),
                line.closed,
                line.land_side == LandSide::Left,
            )
        })
        .collect()
}

fn head_feature(head: &Head, ground: &Ground, sigma: f64, is_far: bool) -> Feature {
    // The tip itself is at the water: what stands behind it is what shows.
    let steps = [0.1, 0.2, 0.3, 0.4, 0.5].map(|step| step * MILE);
    let behind = steps
        .iter()
        .filter(|_| !is_far)
        .flat_map(|&back| [-0.3, 0.0, 0.3].map(|aside| inland(head, back, aside * back)));
    let height = std::iter::once(head.tip)
        .filter(|_| !is_far)
        .chain(behind)
        .map(|at| ground.at(position(at)).height.metres())
        .fold(0.0, f64::max);
    Feature {
        kind: MarkKind::Headland,
        line: Some(head.line),
        position: position(head.tip),
        height,
        extent: head.scale,
        // Where the discs put the tip apart, an eye may too; but not by more than a part of it.
        sigma: sigma.max(0.1 * head.finest).max(head.spread.min(0.2 * head.finest)),
        salience: told_salience(head.salience),
        lends_within: (0.35 * head.scale).clamp(0.3 * MILE, 1.2 * MILE),
        only_named: false,
    }
}

/// Salience on the marks' scale of 0 to 1: in proportion to the size.
fn told_salience(salience: f64) -> f64 {
    (salience.max(0.0) / 100.0).sqrt().min(1.0)
}

fn island_feature(
    island: &Island,
    ground: &Ground,
    sigma: f64,
    (only_named, is_far): (bool, bool),
) -> Feature {
    let frame = Frame::at(island.middle);
    let about = [0.3, 0.6, 0.85].iter().flat_map(|share| {
        let (r, h) = (share * island.radius, share * island.radius * 0.5f64.sqrt());
        [[r, 0.0], [h, h], [0.0, r], [-h, h], [-r, 0.0], [-h, -h], [0.0, -r], [h, -h]]
    });
    let height = std::iter::once([0.0, 0.0])
        .chain(about)
        .filter(|_| !is_far)
        .map(|at| ground.at(position(frame.raise(at))).height.metres())
        .fold(0.0, f64::max);
    // As a headland of its own size that has the sea all round it.
    let size = island.diameter / SMALLEST_SCALE_M;
    Feature {
        kind: MarkKind::Islet,
        line: Some(island.line),
        position: position(island.middle),
        height,
        extent: island.radius,
        sigma: sigma.max(0.1 * island.radius),
        salience: told_salience((size * size * 0.5 / 0.12).clamp(0.3, 100.0)),
        lends_within: 0.5 * island.diameter + 0.25 * MILE,
        only_named,
    }
}

fn named(features: Vec<Feature>, charted: &[Mark]) -> Vec<Mark> {
    let lenders = lenders(&features, charted);
    let one_mark: HashSet<usize> = features
        .iter()
        .zip(&lenders)
        .filter(|(feature, lender)| {
            feature.kind == MarkKind::Islet && feature.extent <= ONE_MARK_M && lender.is_some()
        })
        .filter_map(|(feature, _)| feature.line)
        .collect();
    let mut namer = Namer::new(charted);
    let mut marks = Vec::with_capacity(features.len());
    for (feature, lender) in features.into_iter().zip(lenders) {
        let lender = lender.and_then(|number| charted.get(number));
        let part_of_one = feature.kind == MarkKind::Headland
            && feature.line.is_some_and(|line| one_mark.contains(&line));
        if lender.is_none() && (feature.only_named || part_of_one) {
            continue;
        }
        let found = Height::from_metres(feature.height).unwrap_or_default();
        let mut mark = Mark {
            name: String::new(),
            named: lender.is_some(),
            kind: feature.kind,
            position: feature.position,
            height: found,
            extent: GroundRange::clamped_metres(feature.extent),
            sigma: GroundRange::clamped_metres(feature.sigma),
            salience: feature.salience,
        };
        if let Some(lender) = lender {
            mark.name.clone_from(&lender.name);
            mark.height = if lender.height > Height::SEA_LEVEL { lender.height } else { found };
            if mark.kind == MarkKind::Peak {
                // A surveyed summit is better placed than a cell of a grid.
                mark.position = lender.position;
                mark.sigma = lender.sigma;
            }
        } else {
            mark.name = namer.name(mark.kind, mark.position);
        }
        marks.push(mark);
    }
    marks
}
