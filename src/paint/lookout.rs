use std::collections::HashMap;
use std::sync::atomic::{AtomicU32, Ordering};

use super::budget::{Budget, Cell};
use super::mark_echo::own_m2;
use super::mask::Mask;
use super::vantage::Conditions;
use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::radar::Set;
use crate::units::{GroundRange, Height};

/// Side of a cell of the coarse ground, in metres: half a nautical mile, or more where that would
/// make too many of them.
const CELL_M: f64 = 926.0;

/// The most cells on a side.
const MOST_CELLS: usize = 384;

/// Ground nearer to a mark than this hides nothing of it: it is its own foot, in metres.
const FOOT_M: f64 = 1_500.0;

/// What a height is known to at least, in metres, and as a share of itself.
const HEIGHT_SIGMA_M: f64 = 15.0;
const HEIGHT_SIGMA_SHARE: f64 = 0.1;

/// A stretch of shore is at least this high, in metres: what stands at the water's edge.
const LEAST_SHORE_M: f64 = 3.0;

/// No chance is quite nothing or quite one: charts, weather and operators have their own say.
const LEAST_CHANCE: f64 = 0.01;
const MOST_CHANCE: f64 = 0.99;

/// The chance that a mark shows from one place of a region: coarse, quick and smooth.
///
/// For trying thousands of places: made once for the region where own position may be, then asked
/// for a place and a mark in about a microsecond. Ground is taken in cells of half a mile and more,
/// a mark by the size of its own face, and what grazes a crest or the horizon fades in over what
/// heights are known to, so that the chance never jumps. [`super::expect`] is the careful answer.
pub struct Lookout<'a> {
    plane: LocalPlane,
    budget: Budget,
    ground: CoarseGround<'a>,
    places: HashMap<MarkId, Place>,
    /// An empty cell by each half kilometre.
    by_range: Vec<Cell>,
}

/// A mark laid on the plane.
struct Place {
    at: PlanePoint,
    /// The mark without its name, as high as the ground it stands on where that is higher.
    mark: Mark,
}

const RANGE_STEP_M: f64 = 500.0;

impl<'a> Lookout<'a> {
    /// For places within `radius` of `centre`.
    pub fn new(
        chart: &'a Chart,
        centre: Position,
        radius: GroundRange,
        own: Height,
        set: &Set,
        conditions: &Conditions,
    ) -> Self {
        let budget = Budget::new(set, conditions, own);
        let plane = LocalPlane::new(centre);
        let highest = Height::from_metres(5_000.0).unwrap_or_default();
        let horizon = conditions.earth.horizon(own, highest).metres();
        let reach_m =
            set.greatest_scale().metres().min(set.unambiguous_range().metres()).min(horizon);
        let all = GroundRange::clamped_metres(radius.metres() + reach_m);
        let ground = CoarseGround::of(chart, plane, all.metres());
        let places = chart
            .marks()
            .within(centre, all)
            .into_iter()
            .filter_map(|id| chart.marks().get(id).map(|mark| (id, mark)))
            .map(|(id, mark)| {
                let at = plane.to_plane(mark.position);
                let top_m = mark.height.metres().max(0.0).max(ground.at(at));
                let height = Height::from_metres(top_m).unwrap_or(mark.height);
                (id, Place { at, mark: Mark { name: String::new(), height, ..mark.clone() } })
            })
            .collect();
        let by_range = (0..=(reach_m / RANGE_STEP_M) as usize + 1)
            .map(|i| (i as f64 * RANGE_STEP_M).max(50.0))
            .map(|ground_m| Cell {
                base_db: budget.base_db(ground_m),
                land_m2: 0.0,
                sea_m2: budget.sea_m2(ground_m),
                rain_m2: budget.rain_m2(ground_m),
            })
            .collect();
        Self { plane, budget, ground, places, by_range }
    }

    /// 0.01 to 0.99; a mark outside the region, or past the set's reach, has the least.
    pub fn paint_probability(&self, from: Position, mark: MarkId) -> f64 {
        self.from_point(self.plane.to_plane(from), mark)
    }

    /// The chance that a stretch of shore shows which is no mark, as wide as the beam.
    pub fn shore_probability(&self, from: Position, shore: Position) -> f64 {
        let at = self.plane.to_plane(shore);
        let top_m = self.ground.about(at).max(LEAST_SHORE_M);
        let mark = Mark {
            name: String::new(),
            kind: MarkKind::Headland,
            named: false,
            position: shore,
            height: Height::from_metres(top_m).unwrap_or_default(),
            extent: GroundRange::clamped_metres(CELL_M),
            sigma: GroundRange::ZERO,
            salience: 0.0,
        };
        self.chance(self.plane.to_plane(from), &Place { at, mark })
    }

    /// The same from a point of the plane around the region's centre.
    pub fn from_point(&self, from: PlanePoint, id: MarkId) -> f64 {
        self.places.get(&id).map_or(LEAST_CHANCE, |place| self.chance(from, place))
    }

    fn chance(&self, from: PlanePoint, place: &Place) -> f64 {
        let along_m = from.distance(place.at);
        let near_m = self.budget.set().blind_range().metres();
        let Some(cell) = self.by_range(along_m) else { return LEAST_CHANCE };
        if along_m < near_m {
            return LEAST_CHANCE;
        }
        let mask = self.mask(from, place, along_m);
        let top_m = place.mark.height.metres();
        let visible_m = mask.visible_m(along_m, top_m);
        let sigma = HEIGHT_SIGMA_M.hypot(HEIGHT_SIGMA_SHARE * place.mark.height.metres());
        // Fades in like the part of a height so known that stands above what hides it.
        let softened = sigma * soft_plus(visible_m / sigma);
        // Metre waves leak farther under a crest than heights are in doubt.
        let leaked = mask.standing(along_m, top_m).shown_m;
        let target = own_m2(&place.mark, softened.max(leaked), along_m, &self.budget);
        let chance = self.budget.heard(Cell { land_m2: target.max(1e-9), ..cell }).chance;
        chance.clamp(LEAST_CHANCE, MOST_CHANCE)
    }

    fn by_range(&self, along_m: f64) -> Option<Cell> {
        let steps = along_m / RANGE_STEP_M;
        let (a, b) = (self.by_range.get(steps as usize)?, self.by_range.get(steps as usize + 1)?);
        let share = steps.fract();
        let between = |a: f64, b: f64| a + (b - a) * share;
        Some(Cell {
            base_db: between(a.base_db, b.base_db),
            land_m2: 0.0,
            sea_m2: between(a.sea_m2, b.sea_m2),
            rain_m2: between(a.rain_m2, b.rain_m2),
        })
    }

    /// Marches from a place to a mark, and keeps what hides.
    fn mask(&self, from: PlanePoint, place: &Place, along_m: f64) -> Mask<'_> {
        let mut mask = Mask::new(&self.budget);
        mask.sea_to(along_m);
        let end_m = along_m - FOOT_M;
        let (east, north) =
            ((place.at.east - from.east) / along_m, (place.at.north - from.north) / along_m);
        let mut ground_m = self.ground.cell_m;
        while ground_m < end_m {
            let at = PlanePoint {
                east: from.east + east * ground_m,
                north: from.north + north * ground_m,
            };
            let height = self.ground.at(at);
            if height > 0.0 {
                mask.land(ground_m, height);
            }
            ground_m += self.ground.cell_m;
        }
        mask
    }
}

/// ln(1 + eˣ): nothing far below zero, itself far above.
fn soft_plus(x: f64) -> f64 {
    if x > 30.0 { x } else { x.exp().ln_1p() }
}

/// Heights in square cells around a place; zero at sea.
///
/// Most of a region is never looked over, so that a cell's height is found when first asked for, and
/// kept. Which thread asks first changes nothing: it depends on the chart alone.
struct CoarseGround<'a> {
    chart: &'a Chart,
    plane: LocalPlane,
    cell_m: f64,
    side: usize,
    /// The bits of each height, or of no number where none has been found yet.
    heights: Vec<AtomicU32>,
}

impl<'a> CoarseGround<'a> {
    fn of(chart: &'a Chart, plane: LocalPlane, half_m: f64) -> Self {
        let side = ((2.0 * half_m / CELL_M) as usize + 1).min(MOST_CELLS);
        let cell_m = 2.0 * half_m / side as f64;
        let heights = (0..side * side).map(|_| AtomicU32::new(f32::NAN.to_bits())).collect();
        Self { chart, plane, cell_m, side, heights }
    }

    /// The highest of the cells about a point: what rises behind a shore is within them.
    fn about(&self, point: PlanePoint) -> f64 {
        let steps = [-1.0, 0.0, 1.0];
        steps
            .into_iter()
            .flat_map(|east| steps.map(|north| (east * self.cell_m, north * self.cell_m)))
            .map(|(e, n)| self.at(PlanePoint { east: point.east + e, north: point.north + n }))
            .fold(0.0, f64::max)
    }

    fn at(&self, point: PlanePoint) -> f64 {
        let half = 0.5 * self.side as f64;
        let (column, row) = (point.east / self.cell_m + half, point.north / self.cell_m + half);
        let side = self.side as f64;
        if column < 0.0 || row < 0.0 || column >= side || row >= side {
            return 0.0;
        }
        let (column, row) = (column as usize, row as usize);
        let index = row * self.side + column;
        let Some(kept) = self.heights.get(index) else { return 0.0 };
        let known = f32::from_bits(kept.load(Ordering::Relaxed));
        if !known.is_nan() {
            return f64::from(known);
        }
        let half_m = half * self.cell_m;
        let middle = |i: usize| (i as f64 + 0.5) * self.cell_m - half_m;
        let at = PlanePoint { east: middle(column), north: middle(row) };
        let found = self.chart.ground().at(self.plane.to_position(at)).height.metres() as f32;
        kept.store(found.to_bits(), Ordering::Relaxed);
        f64::from(found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::{Vantage, expect};
    use std::path::Path;

    fn sample() -> Chart {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
        Chart::open(&[folder]).unwrap()
    }

    #[test]
    fn the_quick_look_agrees_with_the_careful_one_on_what_is_plain() {
        let chart = sample();
        let set = Set::builtin("patrol").unwrap();
        let at: Position = "38 12.9 S, 21 30.5 W".parse().unwrap();
        let own = Height::from_feet(2_000.0).unwrap();
        let vantage = Vantage { position: at, height: own, heading: None };
        let conditions = Conditions::default();
        let reach = GroundRange::from_nautical_miles(60.0).unwrap();
        let careful = expect(&chart, &vantage, &set, &conditions, reach, 0.5);
        let lookout = Lookout::new(&chart, at, reach, own, &set, &conditions);
        let (mut agree, mut plain) = (0, 0);
        for seen in &careful.marks {
            let quick = lookout.paint_probability(at, seen.mark);
            assert!((LEAST_CHANCE..=MOST_CHANCE).contains(&quick));
            if !(0.1..0.9).contains(&seen.paint_probability) {
                plain += 1;
                agree += i32::from((quick - seen.paint_probability).abs() < 0.5);
            }
        }
        // Coarse: four in five of the plain cases.
        assert!(plain > 30 && 5 * agree >= 4 * plain, "{agree} of {plain}");
    }

    #[test]
    fn the_chance_never_jumps() {
        let chart = sample();
        let set = Set::builtin("boat").unwrap();
        let own = Height::from_feet(50.0).unwrap();
        let centre: Position = "38 00 S, 21 20 W".parse().unwrap();
        let radius = GroundRange::from_nautical_miles(40.0).unwrap();
        let lookout = Lookout::new(&chart, centre, radius, own, &set, &Conditions::default());
        let head = chart.marks().find("Gannet Head").unwrap();
        let at = lookout.places[&head].at;
        let from = |miles: f64| PlanePoint { east: at.east - miles * 1_852.0, north: at.north };
        let chances: Vec<f64> =
            (20..470).map(|i| lookout.from_point(from(f64::from(i) * 0.1), head)).collect();
        assert!(chances[0] > 0.9 && chances[chances.len() - 1] < 0.2, "{chances:?}");
        // Over a tenth of a mile at sea.
        assert!(chances.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.12), "{chances:?}");
    }

    #[test]
    fn a_mark_out_of_the_region_has_the_least() {
        let chart = sample();
        let far: Position = "10 N, 30 W".parse().unwrap();
        let radius = GroundRange::from_nautical_miles(10.0).unwrap();
        let own = Height::from_feet(50.0).unwrap();
        let set = Set::builtin("boat").unwrap();
        let lookout = Lookout::new(&chart, far, radius, own, &set, &Conditions::default());
        assert!((lookout.paint_probability(far, MarkId(0)) - LEAST_CHANCE).abs() < 1e-12);
    }
}
