use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::field::{Field, RECEIVER_STREAM, Receiver, SHUT_DB, level};
use super::{Frame, Rays};
use crate::units::{Bearing, SlantRange, True};

/// How far off its axis a beam still gathers anything, in widths.
const GATHERS: f64 = 1.2;

/// A plan picture: range outward, true bearing round, the level of each cell over the noise.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    frame: Frame,
    shown_db: Vec<f32>,
    mean_db: Vec<f32>,
    threshold_db: f64,
}

impl Plan {
    /// How it is laid out.
    pub fn frame(&self) -> &Frame {
        &self.frame
    }

    /// The level that noise alone passes once in ten thousand cells, decibels: what shows.
    pub fn threshold_db(&self) -> f64 {
        self.threshold_db
    }

    /// The cells along one cell of bearing as one look draws them, noise and chance in them,
    /// nearest first: decibels over the mean noise; minus infinity where the receiver is shut.
    pub fn shown_db(&self, bearing: usize) -> &[f32] {
        Self::row(&self.shown_db, self.frame.bins, bearing)
    }

    /// The same without chance: the mean of echo, clutter and noise.
    pub fn mean_db(&self, bearing: usize) -> &[f32] {
        Self::row(&self.mean_db, self.frame.bins, bearing)
    }

    fn row(levels: &[f32], bins: usize, bearing: usize) -> &[f32] {
        levels.get(bearing * bins..(bearing + 1) * bins).unwrap_or_default()
    }

    /// The same picture turned by whole cells of bearing, clockwise: as a compass that errs shows it.
    #[must_use]
    pub fn turned(mut self, cells: isize) -> Self {
        let turn = cells.rem_euclid(self.frame.bearings.max(1).cast_signed()).unsigned_abs();
        self.shown_db.rotate_right(turn * self.frame.bins);
        self.mean_db.rotate_right(turn * self.frame.bins);
        self
    }

    /// Where the middle of a cell of bearing points.
    pub fn bearing(&self, cell: usize) -> Bearing<True> {
        Bearing::wrapped_degrees(cell as f64 * 360.0 / self.frame.bearings as f64)
    }

    /// The cell that holds a bearing and a range; `None` past the scale.
    pub fn cell_at(&self, bearing: Bearing<True>, range: SlantRange) -> Option<(usize, usize)> {
        let turn = bearing.degrees() / 360.0 * self.frame.bearings as f64;
        Some((turn.round() as usize % self.frame.bearings, self.frame.bin_at(range)?))
    }

    /// As one look draws the cell at a bearing and a range.
    pub fn shown_at(&self, bearing: Bearing<True>, range: SlantRange) -> Option<f32> {
        let (cell, bin) = self.cell_at(bearing, range)?;
        self.shown_db(cell).get(bin).copied()
    }

    /// The range at the middle of a cell.
    pub fn range(&self, bin: usize) -> SlantRange {
        self.frame.range(bin)
    }

    /// The range at its edge, nautical miles.
    pub fn scale_nm(&self) -> f64 {
        self.frame.scale_nm()
    }
}

/// Gathers what the beam holds at each cell of bearing.
pub(super) fn draw(rays: &Rays<'_>, frame: &Frame) -> Plan {
    let receiver = Receiver::new(rays.budget, frame);
    let cells = frame.bins * frame.bearings;
    let (mut shown_db, mut mean_db) = (vec![0.0; cells], vec![0.0; cells]);
    let rows = shown_db.par_chunks_mut(frame.bins).zip(mean_db.par_chunks_mut(frame.bins));
    rows.enumerate().for_each(|(cell, (shown, mean))| {
        let beam = gather(rays, frame, cell);
        let mut draw = ChaCha8Rng::seed_from_u64(frame.seed);
        draw.set_stream(RECEIVER_STREAM + cell as u64);
        let levels = shown.iter_mut().zip(mean.iter_mut()).zip(beam.powers().zip(&rays.rain));
        for (bin, ((shown, mean), ((echo, expected), rain))) in levels.enumerate() {
            if bin < receiver.open_from {
                (*shown, *mean) = (SHUT_DB, SHUT_DB);
            } else {
                *shown = level(receiver.shown(echo, 1.0 + rain, &mut draw));
                *mean = level(expected + 1.0 + rain);
            }
        }
    });
    let threshold_db = rays.budget.detector().threshold_db();
    Plan { frame: *frame, shown_db, mean_db, threshold_db }
}

/// What the beam holds when it points along a cell of bearing.
fn gather(rays: &Rays<'_>, frame: &Frame, cell: usize) -> Field {
    let (count, spacing) = (rays.fan.len().max(1), rays.spacing());
    let axis = cell as f64 * std::f64::consts::TAU / frame.bearings as f64;
    let middle = (axis / spacing).round() as usize;
    let side = ((GATHERS * rays.budget.beam_rad() / spacing) as usize).min((count - 1) / 2);
    let mut beam = Field::none(frame.bins);
    for off in 0..=2 * side {
        let ray = middle + count + off - side;
        let Some(field) = rays.fields.get(ray % count) else { continue };
        let angle = (ray as f64 - count as f64) * spacing - axis;
        let weight = (rays.budget.pattern(angle) * spacing) as f32;
        beam.add(field, 0..frame.bins, weight);
    }
    beam
}
