//! How much an operator at a place might have picked.

use std::cell::RefCell;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::Sighting;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::laid::Laid;
use crate::identity::problem::{Level, Problem};

/// A mark that should not be seen at all may still have answered once in this often.
pub(super) const LEAST_SIGHT: f64 = 0.03;
/// The chance of sight over the whole list is looked up once for each cell of this size.
const CELL_M: f64 = 5_000.0;

/// A level, and a cell of the plane.
type Cell = (Level, i64, i64);

/// The chance of sight and salience of all candidates, by place.
pub(super) struct Look<'a> {
    field: Field<'a>,
    totals: RefCell<BTreeMap<Cell, f64>>,
}

/// The candidates laid out.
pub(super) struct Field<'a> {
    problem: &'a Problem,
    sighting: &'a dyn Sighting,
    plane: &'a LocalPlane,
    /// Candidates by how far east they lie, in metres.
    by_east: Vec<(PlanePoint, usize)>,
}

impl<'a> Look<'a> {
    pub fn new(problem: &'a Problem, laid: &'a Laid, sighting: &'a dyn Sighting) -> Self {
        let mut by_east: Vec<(PlanePoint, usize)> =
            laid.points.iter().enumerate().map(|(index, at)| (*at, index)).collect();
        by_east.par_sort_by(|a, b| a.0.east.total_cmp(&b.0.east).then(a.1.cmp(&b.1)));
        let field = Field { problem, sighting, plane: &laid.plane, by_east };
        Self { field, totals: RefCell::default() }
    }

    pub fn sighting(&self) -> &'a dyn Sighting {
        self.field.sighting
    }

    pub fn field(&self) -> &Field<'a> {
        &self.field
    }

    /// A candidate's part of all that an operator at `from` might have picked.
    pub fn share(&self, level: Level, from: Position, candidate: usize) -> f64 {
        self.field.share_of((level, from), candidate, self.total(level, from))
    }

    /// Works out the cells of many places at once, each by the first place in it, from every level
    /// that there was measured from.
    pub fn look_from(&self, places: impl Iterator<Item = Position>) {
        let levels = self.field.problem.levels();
        let mut fresh: BTreeMap<Cell, Position> = BTreeMap::new();
        for place in places {
            for &level in &levels {
                let cell = self.field.cell(level, place);
                if !self.totals.borrow().contains_key(&cell) {
                    fresh.entry(cell).or_insert(place);
                }
            }
        }
        let field = &self.field;
        let sums: Vec<(Cell, f64)> = fresh
            .into_iter()
            .collect::<Vec<_>>()
            .into_par_iter()
            .map(|(cell, from)| (cell, field.summed(cell.0, from)))
            .collect();
        self.totals.borrow_mut().extend(sums);
    }

    /// All that an operator might have picked from about a place.
    pub fn total(&self, level: Level, from: Position) -> f64 {
        let cell = self.field.cell(level, from);
        if let Some(&total) = self.totals.borrow().get(&cell) {
            return total;
        }
        let total = self.field.summed(level, from);
        self.totals.borrow_mut().insert(cell, total);
        total
    }
}

impl Field<'_> {
    pub fn problem(&self) -> &Problem {
        self.problem
    }

    /// A candidate's part of all that an operator at `from` might have picked, where that is known.
    pub fn share_of(&self, from: (Level, Position), candidate: usize, total: f64) -> f64 {
        let own = self.weight(from, candidate);
        let total = total.max(own);
        if total > 0.0 { own / total } else { 0.0 }
    }

    fn weight(&self, (level, from): (Level, Position), candidate: usize) -> f64 {
        let salience = self.problem.candidates.get(candidate).map_or(0.0, |c| c.weight);
        salience * self.sighting.chance(level, from, candidate).clamp(LEAST_SIGHT, 1.0)
    }

    fn cell(&self, level: Level, place: Position) -> Cell {
        let at = self.plane.to_plane(place);
        (level, (at.east / CELL_M).round() as i64, (at.north / CELL_M).round() as i64)
    }

    fn summed(&self, level: Level, from: Position) -> f64 {
        let at = self.plane.to_plane(self.sighting.then(level, from));
        let reach = self.problem.reach_m;
        let first = self.by_east.partition_point(|(point, _)| point.east < at.east - reach);
        self.by_east
            .iter()
            .skip(first)
            .take_while(|(point, _)| point.east <= at.east + reach)
            // Most of the strip lies too far north or south, by more than any rounding.
            .filter(|(point, _)| (point.north - at.north).abs() <= 1.001 * reach)
            .filter(|(point, _)| at.distance(*point) <= reach)
            .map(|(_, index)| self.weight((level, from), *index))
            .sum()
    }
}
