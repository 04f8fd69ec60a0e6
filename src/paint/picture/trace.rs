use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::field::{Field, RECEIVER_STREAM, Receiver, SHUT_DB, level};
use super::{Frame, Rays};
use crate::radar::geometry::{EarthRadius, ground_range};
use crate::units::{Angle, Bearing, GroundRange, Height, SlantRange, True};

/// A range trace: the two signals of fixed lobes against range.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    frame: Frame,
    port: Side,
    starboard: Side,
    threshold_db: f64,
}

/// One side of a trace, nearest cell first.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// As one look draws it, noise and chance in it: decibels over the mean noise.
    pub shown_db: Vec<f32>,
    /// The same without chance.
    pub mean_db: Vec<f32>,
}

impl Side {
    /// How far the trace is drawn out at a cell: proportional to voltage, one for the mean noise.
    pub fn deflection(&self, bin: usize) -> f32 {
        self.shown_db.get(bin).map_or(0.0, |db| 10f32.powf(db / 20.0))
    }
}

impl Trace {
    /// How it is laid out.
    pub fn frame(&self) -> &Frame {
        &self.frame
    }

    /// The level that noise alone passes once in ten thousand cells, decibels: what shows.
    pub fn threshold_db(&self) -> f64 {
        self.threshold_db
    }

    /// The signal of the port lobe, drawn to the left.
    pub fn port(&self) -> &Side {
        &self.port
    }

    /// The signal of the starboard lobe, drawn to the right.
    pub fn starboard(&self) -> &Side {
        &self.starboard
    }

    /// The deflection that is drawn to the edge, in units of the noise's own: as the operator sets
    /// the gain, the strongest but for the few that stand at the foot.
    pub fn full_deflection(&self) -> f32 {
        /// The share of cells whose deflection may pass the edge.
        const PAST_THE_EDGE: f64 = 0.02;
        /// No gain is set higher: the noise would fill the trace.
        const LEAST: f32 = 6.0;
        let of = |side: &Side| (0..self.frame.bins).map(|bin| side.deflection(bin)).collect();
        let sides: [Vec<f32>; 2] = [of(&self.port), of(&self.starboard)];
        let mut all = sides.concat();
        all.sort_by(f32::total_cmp);
        let last = ((1.0 - PAST_THE_EDGE) * all.len() as f64) as usize;
        all.get(last).copied().unwrap_or(LEAST).max(LEAST)
    }

    /// The range at the middle of a cell.
    pub fn range(&self, bin: usize) -> SlantRange {
        self.frame.range(bin)
    }

    /// The cell that holds a range; `None` past the scale.
    pub fn bin_at(&self, range: SlantRange) -> Option<usize> {
        self.frame.bin_at(range)
    }

    /// The range at its end, nautical miles.
    pub fn scale_nm(&self) -> f64 {
        self.frame.scale_nm()
    }
}

/// What one lobe receives, in cells of range.
struct Received {
    field: Field,
    /// Of one beam's rain, how much this lobe hears.
    rain: f32,
}

impl Received {
    fn none(bins: usize) -> Self {
        Self { field: Field::none(bins), rain: 0.0 }
    }

    fn and(mut self, other: &Self, bins: usize) -> Self {
        self.field.add(&other.field, 0..bins, 1.0);
        self.rain += other.rain;
        self
    }
}

/// How many rays are added up at a time: fixed, so that sums come out alike on any machine.
const RAYS_AT_ONCE: usize = 64;

/// Gathers what each lobe holds, all round.
pub(super) fn draw(rays: &Rays<'_>, frame: &Frame, heading: Bearing<True>) -> Trace {
    let lobes = Lobed { rays, frame, heading };
    let groups: Vec<(usize, &[Field])> = rays.fields.chunks(RAYS_AT_ONCE).enumerate().collect();
    let parts: Vec<[Received; 2]> = groups
        .into_par_iter()
        .map(|(group, fields)| lobes.of(group * RAYS_AT_ONCE, fields))
        .collect();
    let bins = frame.bins;
    let none = [Received::none(bins), Received::none(bins)];
    let [port, starboard] = parts
        .iter()
        .fold(none, |[port, starboard], [p, s]| [port.and(p, bins), starboard.and(s, bins)]);
    Trace {
        frame: *frame,
        port: side(rays, frame, &port, 0),
        starboard: side(rays, frame, &starboard, 1),
        threshold_db: rays.budget.detector().threshold_db(),
    }
}

struct Lobed<'a> {
    rays: &'a Rays<'a>,
    frame: &'a Frame,
    heading: Bearing<True>,
}

impl Lobed<'_> {
    /// What both lobes hear of some rays.
    fn of(&self, first: usize, fields: &[Field]) -> [Received; 2] {
        let (mut port, mut starboard) =
            (Received::none(self.frame.bins), Received::none(self.frame.bins));
        let spacing = self.rays.spacing();
        for (i, field) in fields.iter().enumerate() {
            let off_bow = self.rays.fan.bearing(first + i).minus(self.heading);
            let sent = self.rays.budget.set().sending_gain_db(off_bow);
            // Depression hardly changes over a few cells.
            for bin in (0..self.frame.bins).step_by(SAME_DEPRESSION) {
                let (port_db, starboard_db) = self.gains_db(off_bow, bin);
                let after = (bin + SAME_DEPRESSION).min(self.frame.bins);
                for (lobe, db) in [(&mut port, port_db), (&mut starboard, starboard_db)] {
                    let weight = spacing * 10f64.powf((sent + db) / 10.0);
                    lobe.field.add(field, bin..after, weight as f32);
                }
            }
            let (port_db, starboard_db) = self.gains_db(off_bow, self.frame.bins);
            let share = |db: f64| {
                (spacing / self.rays.budget.across_m(1.0) * 10f64.powf((sent + db) / 10.0)) as f32
            };
            port.rain += share(port_db);
            starboard.rain += share(starboard_db);
        }
        [port, starboard]
    }

    fn gains_db(&self, off_bow: Angle, bin: usize) -> (f64, f64) {
        let (range, budget) = (self.frame.range(bin), self.rays.budget);
        let along = ground_range(range, budget.own(), Height::SEA_LEVEL, EarthRadius::MEAN);
        let down = budget.down(along.map_or(1.0, GroundRange::metres), 0.0);
        let set = budget.set();
        // The lobes are round: what they lose under the horizon is not to be lost again.
        let once = 0.5 * set.elevation_loss_db(down);
        let (port, starboard) =
            set.lobes.map_or((0.0, 0.0), |lobes| lobes.gains_db(off_bow, down, self.frame.bank));
        (port + once, starboard + once)
    }
}

/// Cells of range that are taken to lie at one depression.
const SAME_DEPRESSION: usize = 4;

fn side(rays: &Rays<'_>, frame: &Frame, received: &Received, number: u64) -> Side {
    let receiver = Receiver::new(rays.budget, frame);
    let mut draw = ChaCha8Rng::seed_from_u64(frame.seed);
    draw.set_stream(RECEIVER_STREAM + number);
    let mut side = Side { shown_db: Vec::new(), mean_db: Vec::new() };
    for (bin, ((echo, mean), rain)) in received.field.powers().zip(&rays.rain).enumerate() {
        let weak = 1.0 + rain * received.rain;
        let shown = level(receiver.shown(echo, weak, &mut draw));
        let open = bin >= receiver.open_from;
        side.shown_db.push(if open { shown } else { SHUT_DB });
        side.mean_db.push(if open { level(mean + weak) } else { SHUT_DB });
    }
    side
}
