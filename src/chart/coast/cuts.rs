//! Puts seams and clips into the lines.

use super::clip::Found;
use super::run::{Cut, Edge};
use super::straight::{Part, SAME_DEG};
use super::{Coast, LonLat, ShoreLine};
use crate::chart::geobox::turns_to_usual;

/// Clips are broken into pieces no longer than this, in degrees: a straight line of a plane strays
/// less than half a metre from a parallel over it.
const PIECE_DEG: f64 = 0.05;

/// Marks what was found. Returns whether that was anything.
pub(super) fn mark(coast: &mut Coast, found: Found) -> bool {
    coast.layers.extend(found.layers);
    coast.has_seams_unsought = !found.all;
    if found.parts.is_empty() {
        return false;
    }
    rebuild(coast, &found.parts);
    true
}

/// Puts the parts into the lines, with points where a part begins or ends within an edge. `parts`
/// sorted by segment and place.
fn rebuild(coast: &mut Coast, parts: &[Part]) {
    let (old_points, old_cuts) =
        (std::mem::take(&mut coast.points), std::mem::take(&mut coast.cuts));
    let mut points = Vec::with_capacity(old_points.len() + 2 * parts.len());
    let mut cuts: Vec<Cut> = Vec::with_capacity(old_cuts.len() + parts.len());
    let mut next = parts.iter().copied().peekable();
    for entry in &mut coast.lines {
        let line = ShoreLine {
            points: old_points.get(entry.points.clone()).unwrap_or_default(),
            first: entry.points.start,
            cuts: old_cuts.get(entry.cuts.clone()).unwrap_or_default(),
            ..ShoreLine::EMPTY
        };
        let (start, first_cut) = (points.len(), cuts.len());
        for (i, pair) in line.points.windows(2).enumerate() {
            let [a, b] = *pair else { continue };
            points.push(a);
            let mut mine: Vec<Part> = Vec::new();
            while let Some(part) = next.next_if(|part| part.segment == line.first + i) {
                mine.push(part);
            }
            if mine.is_empty() {
                let segment = points.len() - 1;
                Cut::add(&mut cuts, first_cut, segment..segment + 1, line.edge(i));
            } else {
                for (edge, inner) in pieces(a, b, &mine) {
                    let segment = points.len() - 1;
                    Cut::add(&mut cuts, first_cut, segment..segment + 1, edge);
                    points.extend(inner);
                }
            }
        }
        points.extend(line.points.last());
        entry.points = start..points.len();
        entry.cuts = first_cut..cuts.len();
    }
    (coast.points, coast.cuts) = (points, cuts);
}

/// An edge from `a` to `b` in pieces: what each is, and its end where that is not `b`.
fn pieces(a: LonLat, b: LonLat, parts: &[Part]) -> Vec<(Edge, Option<LonLat>)> {
    let mut parts = parts.to_vec();
    let Some(first) = parts.first() else { return vec![(Edge::Shore, None)] };
    let (upward, meridian) = (first.upward, first.meridian);
    if !upward {
        parts.reverse();
    }
    let along = |point: LonLat| if meridian { point.lat } else { point.lon };
    // Parts have their longitudes in the usual turn; the line may not.
    let shift = if meridian { 0.0 } else { 360.0 * turns_to_usual(a.lon.min(b.lon)) };
    let (from, to) = (along(a) + shift, along(b) + shift);
    let place = |value: f64| {
        let share = (value - from) / (to - from);
        LonLat { lon: a.lon + share * (b.lon - a.lon), lat: a.lat + share * (b.lat - a.lat) }
    };
    let mut found: Vec<(Edge, f64)> = Vec::new();
    let mut here = from;
    for part in &parts {
        let (start, end) = if upward { (part.low, part.high) } else { (part.high, part.low) };
        if (start - here).abs() > SAME_DEG {
            found.push((Edge::Shore, start));
            here = start;
        }
        let steps = if part.edge == Edge::Clip {
            ((end - here).abs() / PIECE_DEG).ceil().clamp(1.0, 7_200.0) as usize
        } else {
            1
        };
        for step in 1..=steps {
            found.push((part.edge, here + (end - here) * step as f64 / steps as f64));
        }
        here = end;
    }
    if (to - here).abs() > SAME_DEG {
        found.push((Edge::Shore, to));
    }
    let last = found.len().saturating_sub(1);
    let end = |(i, (edge, at)): (usize, (Edge, f64))| (edge, (i < last).then(|| place(at)));
    found.into_iter().enumerate().map(end).collect()
}
