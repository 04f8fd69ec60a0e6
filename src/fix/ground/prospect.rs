//! What the chart and the set make of a measurement not yet taken.

use super::{ChartGround, PAINTS};
use crate::chart::{Mark, MarkId, MarkKind};
use crate::contact::Part;
use crate::fix::prospect::{Asked, Behind, Prospect};
use crate::geodesy::{Position, course};
use crate::identity::{Answer, Level, RatioReading, Sighting};
use crate::radar::SetKind;
use crate::units::{GroundRange, SlantRange};

/// No sight yet: its bearing is taken to be that of the mark.
const NOT_YET: usize = usize::MAX;

/// A summit nearer to the shore than this is as good as on it, in metres; one farther from it than
/// the other does not answer for it.
const LEAST_INLAND_M: f64 = 900.0;
const FARTHEST_INLAND_M: f64 = 30_000.0;
/// A mark that paints less often than this may have something behind it taken for it; a summit is
/// taken for it that paints as often as this.
const HARDLY_PAINTS: f64 = 0.3;
const WELL_PAINTS: f64 = 0.5;
/// No beam is wider than this for what stands behind a mark: two lobes have none.
const WIDEST_HALF_BEAM_RAD: f64 = 0.1;

impl Prospect for ChartGround<'_> {
    fn range_sigma(&self, metres: f64) -> f64 {
        self.range_sigma.unwrap_or_else(|| self.set.range_sigma(SlantRange::clamped_metres(metres)))
    }

    fn bearing_sigma(&self) -> f64 {
        self.bearing_sigma
    }

    fn reach(&self) -> f64 {
        self.set.greatest_scale().metres()
    }

    fn blind(&self) -> f64 {
        self.set.blind_range().metres()
    }

    fn ratio(&self) -> Option<RatioReading> {
        self.ratio
    }

    fn tells_directions(&self) -> bool {
        self.set.kind == SetKind::Scan || self.ratio.is_some()
    }

    fn edge_sigma(&self) -> f64 {
        self.bearing_sigma.hypot(0.5 * self.half_beam.radians())
    }

    fn shows_edges(&self, candidate: usize, from: Position) -> bool {
        self.set.kind == SetKind::Scan
            && [Asked::Left, Asked::Right]
                .iter()
                .all(|&side| self.part(side, candidate, from, 0.0).is_some())
    }

    fn part(&self, part: Asked, candidate: usize, from: Position, bias: f64) -> Option<Answer> {
        let side = match part {
            Asked::Shore => return self.nearest_shore(Level::NOW, from),
            Asked::Near => None,
            Asked::Left => Some(Part::Left),
            Asked::Right => Some(Part::Right),
        };
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id))?;
        if mark.kind == MarkKind::Peak && side.is_none() {
            return Some(self.hillside(mark, Part::Centre, (self.own_height(NOT_YET), from)));
        }
        if !matches!(mark.kind, MarkKind::Headland | MarkKind::Islet) {
            return None;
        }
        match side {
            None => self.leading(NOT_YET, candidate, from, bias),
            Some(side) => self
                .shore_of(candidate, mark, 0)?
                .tangent(from, side)
                .map(|edge| Answer::at(edge.position)),
        }
    }

    fn behind(&self, candidate: usize, from: Position) -> Option<Behind> {
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id))?;
        match mark.kind {
            MarkKind::Peak => {
                let within = GroundRange::clamped_metres(FARTHEST_INLAND_M);
                let shore = self.chart.coast().nearest(mark.position, within);
                let inland = shore.map(|(range, _)| range.metres())?;
                (inland >= LEAST_INLAND_M).then_some(Behind::Summit { inland })
            }
            MarkKind::Headland | MarkKind::Islet
                if self.chance(Level::NOW, from, candidate) < HARDLY_PAINTS =>
            {
                self.higher_behind(mark, from)
            }
            _ => None,
        }
    }

    /// The lookout is coarse, and this is for the few marks that are told.
    fn shows(&self, candidate: usize, from: Position) -> bool {
        let Some(look) = self.look() else { return true };
        let chance = if let Some(id) = self.marks.get(candidate) {
            look.mark(from, *id).map(|seen| seen.paint_probability)
        } else {
            let shore = self.nearest_shore(Level::NOW, from);
            shore.map(|shore| look.shore_probability(from, shore.position))
        };
        chance.is_some_and(|chance| chance >= PAINTS)
    }

    fn is_named(&self, candidate: usize) -> bool {
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id));
        mark.is_some_and(|mark| mark.named)
    }

    fn has_land(&self, at: Position, within: f64) -> bool {
        let coast = self.chart.coast();
        coast.nearest(at, GroundRange::clamped_metres(within)).is_some()
            || coast.is_land(at).unwrap_or(true)
    }
}

impl ChartGround<'_> {
    /// The summit in the beam behind a mark that most surely paints, where it well may.
    fn higher_behind(&self, mark: &Mark, from: Position) -> Option<Behind> {
        let to_mark = course(from, mark.position);
        let half = self.half_beam.radians().clamp(0.0, WIDEST_HALF_BEAM_RAD) + self.bearing_sigma;
        let behind = |candidate: usize, id: &MarkId| {
            let peak = self.chart.marks().get(*id).filter(|mark| mark.kind == MarkKind::Peak)?;
            let line = course(from, peak.position);
            let farther = line.distance.metres() - to_mark.distance.metres();
            let aside = line.initial.minus(to_mark.initial).radians().abs();
            if !(LEAST_INLAND_M..FARTHEST_INLAND_M).contains(&farther) || aside > half {
                return None;
            }
            let chance = self.chance(Level::NOW, from, candidate);
            (chance >= WELL_PAINTS).then_some((chance, candidate, farther))
        };
        self.marks
            .iter()
            .enumerate()
            .filter_map(|(candidate, id)| behind(candidate, id))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, candidate, farther)| Behind::Higher { candidate, farther })
    }
}
