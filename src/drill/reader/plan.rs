use std::collections::VecDeque;

use super::Echo;
use crate::contact::Part;
use crate::paint::Plan;

/// Cells over which light is evened out to either side, in bearing and in range: what one look has
/// of chance is in single cells.
const EVEN_CELLS: usize = 1;

/// What is no stronger than this over what lies at the same range nearly all round is sea or rain,
/// decibels.
const OVER_SURROUNDINGS_DB: f64 = 12.5;

/// The share of the horizon that is darker than what is taken for the surroundings.
const SURROUNDINGS: f64 = 0.5;

/// Fewer cells than this are chance.
const LEAST_CELLS: usize = 10;

/// Pieces no further apart than this are one echo: cells of bearing, and nautical miles of range.
const JOIN_CELLS: i32 = 2;
const JOIN_NM: f64 = 0.35;

/// The mean of noise alone is 1; evened out it stays under this.
const NOISE: f64 = 1.05;

/// A point of the coast stands out so far before what lies to either side of it, nautical miles.
const STANDS_OUT_NM: f64 = 0.5;

/// How far along the coast to either side of a point the eye compares it, nautical miles.
const EITHER_SIDE_NM: f64 = 3.0;

/// An echo no broader than this, past the beam's own breadth, and no deeper, is an island or a ship.
const SMALL_NM: f64 = 2.4;

/// What has nothing else so near is an island or a ship, and no piece of a coast: nautical miles.
const ALONE_NM: f64 = 1.5;

/// The picture as the eye takes it: light evened out, sea and rain left out of account.
struct Lit<'a> {
    plan: &'a Plan,
    bearings: usize,
    bins: usize,
    cells: Vec<bool>,
}

/// Cells that hang together: bearing counted on without a seam, and range.
struct Patch {
    cells: Vec<(i32, usize)>,
}

/// Every echo that an operator would measure, those that stand out most first.
pub(super) fn echoes(plan: &Plan, beam_deg: f64, pulse_nm: f64) -> Vec<Echo> {
    let lit = Lit::of(plan);
    let patches = lit.patches();
    let mut found: Vec<Echo> = patches
        .iter()
        .enumerate()
        .flat_map(|(i, patch)| {
            let alone =
                patches.iter().enumerate().all(|(j, other)| j == i || !lit.are_near(patch, other));
            lit.read(patch, alone, beam_deg, pulse_nm)
        })
        .collect();
    found.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    found
}

impl<'a> Lit<'a> {
    fn of(plan: &'a Plan) -> Self {
        let (bearings, bins) = (plan.frame().bearings, plan.frame().bins);
        let powers: Vec<f64> = (0..bearings)
            .flat_map(|b| plan.shown_db(b).iter().map(|db| 10f64.powf(f64::from(*db) / 10.0)))
            .collect();
        let mut even = vec![0.0; bearings * bins];
        for b in 0..bearings {
            for bin in 0..bins {
                even[b * bins + bin] = mean_about(&powers, (bearings, bins), (b, bin));
            }
        }
        let shows = 10f64.powf(plan.threshold_db() / 10.0);
        let over = 10f64.powf(OVER_SURROUNDINGS_DB / 10.0);
        let mut cells = vec![false; bearings * bins];
        for bin in 0..bins {
            let mut round: Vec<f64> = (0..bearings).map(|b| even[b * bins + bin]).collect();
            round.sort_by(f64::total_cmp);
            let around = round[(SURROUNDINGS * bearings as f64) as usize % bearings.max(1)];
            let least = shows.max(over * (around - NOISE).max(0.0));
            for b in 0..bearings {
                cells[b * bins + bin] = even[b * bins + bin] >= least;
            }
        }
        Self { plan, bearings, bins, cells }
    }

    /// The place of a cell on the sheet, its bearing counted on over the seam.
    fn index(&self, bearing: i32, bin: usize) -> usize {
        let round = i32::try_from(self.bearings).unwrap_or(i32::MAX).max(1);
        bearing.rem_euclid(round) as usize * self.bins + bin
    }

    /// Patches of lit cells, over the edge of the sheet.
    fn patches(&self) -> Vec<Patch> {
        let join = ((JOIN_NM / self.bin_nm()).ceil() as usize).max(1);
        let mut seen = vec![false; self.cells.len()];
        let mut patches = Vec::new();
        for at in 0..self.cells.len() {
            if !self.cells[at] || seen[at] {
                continue;
            }
            seen[at] = true;
            let start = (i32::try_from(at / self.bins).unwrap_or(0), at % self.bins);
            let mut waiting = VecDeque::from([start]);
            let mut cells = Vec::new();
            while let Some((bearing, bin)) = waiting.pop_front() {
                cells.push((bearing, bin));
                for b in bearing - JOIN_CELLS..=bearing + JOIN_CELLS {
                    for n in bin.saturating_sub(join)..(bin + join + 1).min(self.bins) {
                        let index = self.index(b, n);
                        if self.cells[index] && !std::mem::replace(&mut seen[index], true) {
                            waiting.push_back((b, n));
                        }
                    }
                }
            }
            if cells.len() >= LEAST_CELLS {
                patches.push(Patch { cells });
            }
        }
        patches
    }

    /// Whether some of one patch lies within some miles of some of another, by the boxes round them.
    fn are_near(&self, a: &Patch, b: &Patch) -> bool {
        let gap = |(a_low, a_high): (f64, f64), (b_low, b_high): (f64, f64)| {
            (a_low.max(b_low) - a_high.min(b_high)).max(0.0)
        };
        let ((a_bearings, a_ranges), (b_bearings, b_ranges)) = (self.bounds(a), self.bounds(b));
        let along_nm = gap(a_ranges, b_ranges);
        let turn = 360.0;
        let apart_deg = [-turn, 0.0, turn]
            .map(|seam| gap((a_bearings.0 + seam, a_bearings.1 + seam), b_bearings))
            .into_iter()
            .fold(f64::INFINITY, f64::min);
        let near_nm = a_ranges.0.min(b_ranges.0);
        let across_nm = crate::units::Angle::from_degrees(apart_deg).radians() * near_nm;
        along_nm.hypot(across_nm) < ALONE_NM
    }

    /// Least and greatest bearing, degrees, and range, nautical miles.
    fn bounds(&self, patch: &Patch) -> ((f64, f64), (f64, f64)) {
        let none = (f64::INFINITY, f64::NEG_INFINITY);
        patch.cells.iter().fold((none, none), |(b, r), (bearing, bin)| {
            let (bearing, range) =
                (f64::from(*bearing) * self.step_deg(), *bin as f64 * self.bin_nm());
            ((b.0.min(bearing), b.1.max(bearing)), (r.0.min(range), r.1.max(range)))
        })
    }

    fn bin_nm(&self) -> f64 {
        self.plan.scale_nm() / self.bins as f64
    }

    fn step_deg(&self) -> f64 {
        360.0 / self.bearings as f64
    }

    fn degrees(&self, bearing: f64) -> f64 {
        (bearing * self.step_deg()).rem_euclid(360.0)
    }

    /// The echoes of a patch: itself where it is small, else the points where its near edge stands out.
    fn read(&self, patch: &Patch, alone: bool, beam_deg: f64, pulse_nm: f64) -> Vec<Echo> {
        let edge = patch.near_edge();
        let nearest = edge.iter().map(|(_, bin)| *bin).min().unwrap_or(0);
        let farthest = patch.cells.iter().map(|(_, bin)| *bin).max().unwrap_or(0);
        let near_nm = nearest as f64 * self.bin_nm();
        let depth_nm = (farthest + 1 - nearest) as f64 * self.bin_nm() - pulse_nm;
        let broad_deg = (edge.len() as f64 * self.step_deg() - beam_deg).max(0.0);
        let broad_nm = crate::units::Angle::from_degrees(broad_deg).radians() * near_nm;
        if alone && broad_nm <= SMALL_NM && depth_nm <= SMALL_NM {
            return vec![self.small(patch, near_nm, depth_nm.max(0.0))];
        }
        self.points(&edge)
    }

    /// An island or a ship: its middle.
    fn small(&self, patch: &Patch, near_nm: f64, depth_nm: f64) -> Echo {
        let count = patch.cells.len() as f64;
        let bearing = patch.cells.iter().map(|(b, _)| f64::from(*b)).sum::<f64>() / count;
        Echo {
            range_nm: near_nm + 0.5 * depth_nm,
            bearing_deg: Some(self.degrees(bearing)),
            deflections: None,
            part: Part::Centre,
            weight: 2.0 + (count / LEAST_CELLS as f64).ln(),
        }
    }

    /// Where the near edge of land comes nearer than all within some miles to either side.
    fn points(&self, edge: &[(i32, usize)]) -> Vec<Echo> {
        let mut found = Vec::new();
        for (i, (bearing, bin)) in edge.iter().enumerate() {
            let range_nm = *bin as f64 * self.bin_nm();
            let side_deg =
                (EITHER_SIDE_NM / range_nm.max(1.0)).atan() / std::f64::consts::TAU * 360.0;
            let side = ((side_deg / self.step_deg()).ceil() as usize).max(2);
            let before = &edge[i.saturating_sub(side)..i];
            let after = &edge[(i + 1).min(edge.len())..(i + 1 + side).min(edge.len())];
            // The first of equals is the point; the middle of the flat follows below.
            let is_nearest =
                before.iter().all(|(_, b)| b > bin) && after.iter().all(|(_, b)| b >= bin);
            if !is_nearest {
                continue;
            }
            let recedes = |side: &[(i32, usize)]| {
                let most = side.iter().map(|(_, b)| b - bin).max();
                most.map_or(f64::INFINITY, |most| most as f64 * self.bin_nm())
            };
            // An end of the patch is open water beside it.
            let out_nm = recedes(before).min(recedes(after));
            if out_nm < STANDS_OUT_NM {
                continue;
            }
            let flat = after.iter().take_while(|(_, b)| *b <= bin + 1).count();
            let middle = f64::from(*bearing) + 0.5 * flat as f64;
            found.push(Echo {
                range_nm,
                bearing_deg: Some(self.degrees(middle)),
                deflections: None,
                part: Part::Near,
                // The coast ahead before the ground behind it.
                weight: out_nm.min(EITHER_SIDE_NM) + 1.0 - range_nm / self.plan.scale_nm(),
            });
        }
        found
    }
}

impl Patch {
    /// The nearest cell on each bearing, in order.
    fn near_edge(&self) -> Vec<(i32, usize)> {
        let mut nearest = std::collections::BTreeMap::new();
        for (bearing, bin) in &self.cells {
            let least = nearest.entry(*bearing).or_insert(*bin);
            *least = (*least).min(*bin);
        }
        nearest.into_iter().collect()
    }
}

/// The mean power about a cell.
fn mean_about(powers: &[f64], (bearings, bins): (usize, usize), (b, bin): (usize, usize)) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for db in 0..=2 * EVEN_CELLS {
        let row = (b + bearings + db - EVEN_CELLS) % bearings;
        for n in bin.saturating_sub(EVEN_CELLS)..(bin + EVEN_CELLS + 1).min(bins) {
            sum += powers[row * bins + n];
            count += 1.0;
        }
    }
    sum / count
}
