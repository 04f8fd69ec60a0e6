//! Where two polygons meet along a meridian or a parallel, and land goes on beyond it.

use rayon::prelude::*;

use super::run::Edge;
use super::straight::{Part, SAME_DEG, Straight};

/// Polygons that lie staggered on each other along one meridian make as many parts as the square of their
/// number: ten thousand take gigabytes. No more are looked at than this for each straight edge: those of
/// polygons that meet have two or three.
const PARTS_FOR_EACH_EDGE: usize = 16;
/// So many are always looked at.
const PARTS_ALWAYS: usize = 200_000;

/// Where land lies on both sides of a straight edge, and whether that was looked at everywhere.
pub(super) fn seams(straights: &[Straight]) -> (Vec<Part>, bool) {
    let mut sorted: Vec<Straight> =
        straights.iter().filter(|edge| edge.land_beyond.is_some()).copied().collect();
    // No two have the same segment: the order is the same on any number of threads.
    sorted.par_sort_unstable_by(|a, b| {
        (a.meridian, a.at)
            .cmp(&(b.meridian, b.at))
            .then(a.low.total_cmp(&b.low))
            .then(a.segment.cmp(&b.segment))
    });
    let left = PARTS_ALWAYS + PARTS_FOR_EACH_EDGE * sorted.len();
    let mut found = Found { parts: Vec::new(), left, all: true };
    let mut first = 0;
    while let Some(edge) = sorted.get(first) {
        // Edges of one line that overlap, one after another.
        let mut high = edge.high;
        let mut end = first + 1;
        while let Some(next) = sorted.get(end) {
            let same = (next.meridian, next.at) == (edge.meridian, edge.at);
            if !same || next.low > high - SAME_DEG {
                break;
            }
            high = high.max(next.high);
            end += 1;
        }
        let together = sorted.get(first..end).unwrap_or_default();
        if together.iter().any(|other| other.land_beyond != edge.land_beyond) {
            found.seek(together);
        }
        first = end;
    }
    (found.parts, found.all)
}

/// The seams found so far.
struct Found {
    parts: Vec<Part>,
    /// How many more parts are looked at.
    left: usize,
    /// None was left out.
    all: bool,
}

impl Found {
    /// Those among overlapping edges, from end to end of them. The edges come by their lower ends.
    fn seek(&mut self, together: &[Straight]) {
        let mut ends: Vec<f64> = together.iter().flat_map(|edge| [edge.low, edge.high]).collect();
        ends.sort_by(f64::total_cmp);
        ends.dedup_by(|a, b| (*a - *b).abs() < SAME_DEG);
        let mut ahead = together.iter().peekable();
        let mut here: Vec<&Straight> = Vec::new();
        for pair in ends.windows(2) {
            let [low, high] = *pair else { continue };
            while let Some(edge) = ahead.next_if(|edge| edge.low < low + SAME_DEG) {
                here.push(edge);
            }
            here.retain(|edge| edge.high > high - SAME_DEG);
            let Some(left) = self.left.checked_sub(here.len()) else {
                self.all = false;
                return;
            };
            self.left = left;
            for edge in land_on_both_sides(&here) {
                self.parts.push(Part::of(edge, low, high, Edge::Seam));
            }
        }
    }
}

/// Those of edges in one place that have land on both sides: all, where different polygons lie on
/// the two sides; else those of one polygon that take each other away.
fn land_on_both_sides<'a>(here: &[&'a Straight]) -> Vec<&'a Straight> {
    let mut by_polygon = here.to_vec();
    by_polygon.sort_by_key(|edge| edge.group);
    let (mut beyond, mut short, mut pairs) = (false, false, Vec::new());
    for polygon in by_polygon.chunk_by(|a, b| a.group == b.group) {
        let of = |beyond: bool| {
            polygon.iter().copied().filter(move |edge| edge.land_beyond == Some(beyond))
        };
        let net = of(true).count().cmp(&of(false).count());
        beyond |= net.is_gt();
        short |= net.is_lt();
        for (one, other) in of(true).zip(of(false)) {
            pairs.extend([one, other]);
        }
    }
    if beyond && short { here.to_vec() } else { pairs }
}

#[cfg(test)]
mod tests {
    use super::super::{LandSide, LonLat};
    use super::*;

    /// An edge up the meridian of 10 E, of a polygon of its own, its land to the west or the east.
    fn edge(number: usize, low: f64, high: f64, west: bool) -> Straight {
        let ends = [low, high].map(|lat| LonLat { lon: 10.0, lat });
        let side = if west { LandSide::Left } else { LandSide::Right };
        Straight::new(number as u32, number as u32, 10 * number, ends, side).unwrap()
    }

    #[test]
    fn where_polygons_lie_on_both_sides_there_is_a_seam() {
        // By hand: the one to the west reaches from 0 to 3, those to the east from 1 to 2 and on to 4.
        let edges = [edge(0, 0.0, 3.0, true), edge(1, 1.0, 2.0, false), edge(2, 2.0, 4.0, false)];
        let mut found: Vec<(usize, f64, f64)> =
            seams(&edges).0.iter().map(|part| (part.segment, part.low, part.high)).collect();
        found.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        assert_eq!(found, [(0, 1.0, 2.0), (0, 2.0, 3.0), (10, 1.0, 2.0), (20, 2.0, 3.0)]);
        assert!(seams(&edges).1);
        assert!(seams(&[edge(0, 0.0, 3.0, true), edge(1, 1.0, 2.0, true)]).0.is_empty());
    }

    #[test]
    fn polygons_staggered_on_each_other_take_neither_hours_nor_all_memory() {
        let count = 20_000;
        let staggered = |number: usize| {
            let low = 1e-5 * number as f64;
            edge(number, low, low + 1.0, number < count - 1)
        };
        let edges: Vec<Straight> = (0..count).map(staggered).collect();
        let (found, all) = seams(&edges);
        assert!(found.len() <= PARTS_ALWAYS + PARTS_FOR_EACH_EDGE * count, "{}", found.len());
        assert!(!all, "what was left out is told");
    }
}
