use rstar::{AABB, RTree, RTreeObject};

use super::disc::{Disc, Share};
use super::space::{Frame, Space, apart, between, space};

/// Edges longer than this are broken up, so that a chord stays within two metres of the ground.
const LONGEST_EDGE_M: f64 = 9_260.0;
/// Edges to a run of the index.
const RUN_EDGES: usize = 8;

/// One line of shore, turned so that its land lies to the left.
#[derive(Debug, Clone, Default)]
pub(super) struct Outline {
    /// Its vertices; those of a ring end with the first again.
    pub(super) points: Vec<Space>,
    /// For each edge, whether it only bounds the chart.
    pub(super) cuts: Vec<bool>,
    pub(super) ring: bool,
}

impl Outline {
    /// From longitudes and latitudes with no jumps, and which edges are cuts. `left`: the land
    /// lies to the left as given.
    pub(super) fn new(
        points: &[(f64, f64)],
        cut: impl Fn(usize) -> bool,
        ring: bool,
        left: bool,
    ) -> Self {
        let mut outline = Self { ring, ..Self::default() };
        let mut previous: Option<((f64, f64), Space)> = None;
        for (i, &(lon, lat)) in points.iter().enumerate() {
            let here = space(lon, lat);
            if let Some(((from_lon, from_lat), from)) = previous {
                let pieces = (apart(from, here) / LONGEST_EDGE_M).ceil().clamp(1.0, 10_000.0);
                for piece in 1..pieces as usize {
                    let share = piece as f64 / pieces;
                    outline.points.push(space(
                        from_lon + share * (lon - from_lon),
                        from_lat + share * (lat - from_lat),
                    ));
                    outline.cuts.push(cut(i - 1));
                }
                outline.cuts.push(cut(i - 1));
            }
            outline.points.push(here);
            previous = Some(((lon, lat), here));
        }
        if !left {
            outline.points.reverse();
            outline.cuts.reverse();
        }
        outline
    }

    pub(super) fn edges(&self) -> impl Iterator<Item = (Space, Space, bool)> {
        self.points
            .iter()
            .zip(self.points.iter().skip(1))
            .zip(&self.cuts)
            .map(|((a, b), cut)| (*a, *b, *cut))
    }

    /// The same line with vertices closer than `least` metres to the one before left out.
    pub(super) fn thinned(&self, least: f64) -> Self {
        let mut thin = Self { ring: self.ring, ..Self::default() };
        let last = self.points.len().saturating_sub(1);
        for (i, point) in self.points.iter().enumerate() {
            let Some(kept) = thin.points.last() else {
                thin.points.push(*point);
                continue;
            };
            let cut = self.cuts.get(i - 1).copied().unwrap_or(false);
            let changes = self.cuts.get(i).is_some_and(|next| *next != cut);
            if i == last || changes || apart(*kept, *point) >= least {
                thin.points.push(*point);
                thin.cuts.push(cut);
            }
        }
        thin
    }

    /// The length of shore in metres, and the farthest vertex from the middle of all vertices.
    pub(super) fn size(&self) -> (f64, f64) {
        let length = self.edges().map(|(a, b, _)| apart(a, b)).sum();
        let count = self.points.len().max(1) as f64;
        let middle = self.points.iter().fold([0.0; 3], |sum, point| {
            [sum[0] + point[0] / count, sum[1] + point[1] / count, sum[2] + point[2] / count]
        });
        let reach = self.points.iter().map(|point| apart(middle, *point)).fold(0.0, f64::max);
        (length, reach)
    }
}

struct Run {
    low: Space,
    high: Space,
    line: usize,
    first: usize,
}

impl RTreeObject for Run {
    type Envelope = AABB<Space>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_corners(self.low, self.high)
    }
}

/// All the shore of a chart in space, with an index of short runs.
pub(super) struct Shore {
    pub(super) lines: Vec<Outline>,
    runs: RTree<Run>,
}

impl Shore {
    pub(super) fn new(lines: Vec<Outline>) -> Self {
        let mut runs = Vec::new();
        for (number, line) in lines.iter().enumerate() {
            for first in (0..line.points.len().saturating_sub(1)).step_by(RUN_EDGES) {
                let points = line.points.iter().skip(first).take(RUN_EDGES + 1);
                let (mut low, mut high) = ([f64::MAX; 3], [f64::MIN; 3]);
                for point in points {
                    for ((low, high), value) in low.iter_mut().zip(&mut high).zip(point) {
                        (*low, *high) = (low.min(*value), high.max(*value));
                    }
                }
                runs.push(Run { low, high, line: number, first });
            }
        }
        Self { lines, runs: RTree::bulk_load(runs) }
    }

    /// The share of land within `radius` metres of a point of the shore; `None` where the chart
    /// does not tell it.
    pub(super) fn share(&self, centre: Space, radius: f64) -> Option<Share> {
        let frame = Frame::at(centre);
        let mut disc = Disc::new(radius);
        for run in self.runs_about(centre, radius) {
            let Some(line) = self.lines.get(run.line) else { continue };
            let points = line.points.get(run.first..).unwrap_or_default();
            let cuts = line.cuts.get(run.first..).unwrap_or_default();
            let mut flat = points.iter().take(RUN_EDGES + 1).map(|point| frame.lay(*point));
            let Some(mut from) = flat.next() else { continue };
            for (to, cut) in flat.zip(cuts) {
                disc.edge(from, to, *cut);
                from = to;
            }
        }
        disc.share()
    }

    /// How many edges that goes over.
    pub(super) fn edges_about(&self, centre: Space, radius: f64) -> usize {
        RUN_EDGES * self.runs_about(centre, radius).count()
    }

    fn runs_about(&self, centre: Space, radius: f64) -> impl Iterator<Item = &Run> {
        let (low, high) = (centre.map(|value| value - radius), centre.map(|value| value + radius));
        self.runs.locate_in_envelope_intersecting(AABB::from_corners(low, high))
    }
}

/// A place along a line of shore.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) at: Space,
    /// Number of the edge it lies on.
    pub(super) edge: usize,
}

/// Places every `step` metres along a line, the first vertex first; none on its cuts, but one
/// empty place for each, so that what lies beyond is not taken for a neighbour.
pub(super) fn samples(line: &Outline, step: f64) -> Vec<Option<Sample>> {
    let mut found = Vec::new();
    let mut to_go = 0.0;
    for (edge, (from, to, cut)) in line.edges().enumerate() {
        if cut {
            if !matches!(found.last(), Some(None)) {
                found.push(None);
            }
            to_go = 0.0;
            continue;
        }
        let length = apart(from, to);
        while to_go < length {
            found.push(Some(Sample { at: between(from, to, to_go / length), edge }));
            to_go += step;
        }
        to_go -= length;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_are_even_and_part_at_cuts() {
        // A mile is a minute of latitude, within half a per cent.
        let points = [(0.0, 0.0), (0.0, 0.1), (0.1, 0.1), (0.1, 0.0)];
        let line = Outline::new(&points, |edge| edge == 1, false, true);
        let found = samples(&line, 1852.0);
        assert_eq!(found.iter().filter(|sample| sample.is_none()).count(), 1);
        assert_eq!(found.iter().flatten().count(), 12);
        let pair: Vec<_> = found.iter().flatten().take(2).collect();
        assert!((apart(pair[0].at, pair[1].at) - 1852.0).abs() < 0.5);
    }

    #[test]
    fn thinning_keeps_ends_and_cuts() {
        let points: Vec<(f64, f64)> = (0..=40).map(|i| (f64::from(i) * 0.001, 0.0)).collect();
        let line = Outline::new(&points, |edge| (10..20).contains(&edge), false, true);
        let thin = line.thinned(400.0);
        assert!(thin.points.len() < 15);
        assert_eq!(thin.cuts.len() + 1, thin.points.len());
        assert_eq!(thin.points.last(), line.points.last());
        let length = |line: &Outline| {
            line.edges().filter(|edge| edge.2).map(|(a, b, _)| apart(a, b)).sum::<f64>()
        };
        assert!((length(&thin) - length(&line)).abs() < 1.0);
    }
}
