use super::budget::{Budget, Light};
use crate::radar::{knife_edge_both_ways, knife_edge_sum, knife_edge_v};

/// Past this `v` of a knife edge nothing is reckoned any more: 54 dB down, both ways.
const DARK: f64 = 5.0;

/// What hides: the place that is seen steepest so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    /// Where, metres along the ground.
    pub ground_m: f64,
    /// Its height above the sea; nothing for the sea itself.
    pub height_m: f64,
    pub kind: EdgeKind,
    /// The slope at which it is seen, downward negative, along a straight ray.
    slope: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum EdgeKind {
    /// Ground.
    Land,
    /// The sea's own horizon.
    Sea,
}

/// A piece of ground that rises across the line of sight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Face {
    /// What it answers with as if that much of it were in plain sight, metres across the line of
    /// sight.
    pub shown_m: f64,
    /// Some of it is in plain sight.
    pub clear: bool,
}

impl Face {
    const DARK: Self = Self { shown_m: 0.0, clear: false };
}

/// Walks out along a ray and keeps the steepest slope seen so far: what lies under it is hidden,
/// but for what bends over the edge.
///
/// Behind ground the edge is a knife's (ITU-R P.526), there and back: some light is lost above the
/// edge of the shadow and some leaks under it, by the wave's length. Behind the sea's horizon what
/// is hidden answers as the smooth sea lets it, and what is in sight as if there were no sea. One
/// edge counts, the dominant one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mask<'a> {
    budget: &'a Budget,
    edge: Option<Edge>,
    /// Where the sea is seen steepest: its horizon.
    sea_horizon_m: f64,
}

impl<'a> Mask<'a> {
    pub fn new(budget: &'a Budget) -> Self {
        let earth = budget.conditions().earth;
        let own = budget.own().metres().max(0.0);
        let sea_horizon_m = (2.0 * earth.radius_m() * own).sqrt();
        Self { budget, edge: None, sea_horizon_m }
    }

    /// Passes over open sea as far as `ground_m`.
    pub fn sea_to(&mut self, ground_m: f64) {
        let ground_m = ground_m.min(self.sea_horizon_m);
        let slope = self.budget.sea_slope(ground_m);
        self.raise(Edge { ground_m, height_m: 0.0, kind: EdgeKind::Sea, slope });
    }

    /// Passes over ground of this height.
    pub fn land(&mut self, ground_m: f64, height_m: f64) {
        let slope = self.slope_of(ground_m, height_m);
        self.raise(Edge { ground_m, height_m, kind: EdgeKind::Land, slope });
    }

    fn raise(&mut self, edge: Edge) {
        if self.edge.is_none_or(|before| edge.slope > before.slope) {
            self.edge = Some(edge);
        }
    }

    /// The slope at which a height at a distance is seen.
    pub fn slope_of(&self, ground_m: f64, height_m: f64) -> f64 {
        let ground_m = ground_m.max(1.0);
        self.budget.sea_slope(ground_m) + height_m / ground_m
    }

    /// The steepest slope at which anything no higher than this is seen between two distances.
    pub fn steepest(&self, (from_m, to_m): (f64, f64), most_m: f64) -> f64 {
        // −(own − most)/d − d/2R has its greatest value there, where most stands under own; else it
        // falls with the distance.
        let under_m = self.budget.own().metres().max(0.0) - most_m;
        let radius = self.budget.conditions().earth.radius_m();
        let at_m = (2.0 * radius * under_m.max(0.0)).sqrt().clamp(from_m, to_m.max(from_m));
        self.slope_of(at_m, most_m)
    }

    /// Whether what is seen at a slope is no new edge.
    pub fn hides(&self, slope: f64) -> bool {
        self.edge.is_some_and(|edge| slope <= edge.slope)
    }

    /// Whether ground no higher than this between two distances surely sends nothing back, and would
    /// be no new edge.
    pub fn darkens(&self, between_m: (f64, f64), most_m: f64) -> bool {
        if !matches!(self.budget.light(), Light::Bent | Light::Sharp) {
            return false;
        }
        self.edge.is_some_and(|edge| {
            let under = edge.slope - self.steepest(between_m, most_m);
            // The farther beyond the edge, the less `v` is for a slope.
            let beyond_m = between_m.1 - edge.ground_m;
            under > 0.0 && beyond_m > 0.0 && under * self.v_per_slope(&edge, beyond_m) > DARK
        })
    }

    /// How many metres below the top of a thing of this height the lowest visible part lies,
    /// measured across the line of sight; negative where all of it is hidden.
    pub fn visible_m(&self, ground_m: f64, height_m: f64) -> f64 {
        let slope = self.edge.map_or(f64::NEG_INFINITY, |edge| edge.slope);
        (self.slope_of(ground_m, height_m) - slope) * ground_m
    }

    /// The face of a thing that stands up from the sea to this height.
    pub fn standing(&self, ground_m: f64, height_m: f64) -> Face {
        if self.edge.is_none() {
            // Nothing before it.
            return Face { shown_m: height_m.max(0.0), clear: true };
        }
        let foot = self.slope_of(ground_m, 0.0);
        self.between(ground_m, foot, foot + height_m.max(0.0) / ground_m.max(1.0))
    }

    /// The face of ground that rises from one slope to another.
    ///
    /// Slopes are tangents; across a steep line of sight the ground is foreshortened.
    pub fn face(&self, ground_m: f64, foot: f64, top: f64) -> Face {
        let face = self.between(ground_m, foot, top);
        Face { shown_m: face.shown_m / top.hypot(1.0), ..face }
    }

    fn between(&self, ground_m: f64, foot: f64, top: f64) -> Face {
        let Some(edge) = self.edge else { return Face::DARK };
        if top <= foot {
            return Face::DARK;
        }
        let above = match self.budget.light() {
            Light::Bent => (top - edge.slope).max(0.0),
            Light::Sharp => {
                let shown = (top - edge.slope.max(foot)).max(0.0);
                return Face { shown_m: shown * ground_m, clear: shown > 0.0 };
            }
            Light::Open | Light::Level | Light::Bare => {
                return Face { shown_m: (top - foot) * ground_m, clear: true };
            }
        };
        let beyond_m = ground_m - edge.ground_m;
        // Nothing between the edge and the face: the edge is its own foot.
        if (foot - edge.slope).abs() < 1e-12 || beyond_m <= 0.0 {
            let shown = above.min(top - foot);
            return Face { shown_m: shown * ground_m, clear: shown > 0.0 };
        }
        let v_per_slope = self.v_per_slope(&edge, beyond_m);
        let v = |slope: f64| (edge.slope - slope) * v_per_slope;
        if v(top) > DARK {
            return Face::DARK;
        }
        let shown = match edge.kind {
            EdgeKind::Land => knife_edge_sum(v(top), v(foot)) / v_per_slope,
            EdgeKind::Sea => {
                let sea_slope = self.budget.sea_slope(ground_m);
                above
                    + self.past_horizon(
                        ground_m,
                        foot - sea_slope,
                        top.min(edge.slope) - sea_slope,
                        |height| knife_edge_both_ways(v(sea_slope + height)),
                    )
            }
        };
        Face { shown_m: shown * ground_m, clear: above > 0.0 }
    }

    /// `v` for each unit of slope under the edge.
    fn v_per_slope(&self, edge: &Edge, beyond_m: f64) -> f64 {
        let to_edge_m = edge.ground_m.max(1.0);
        to_edge_m * knife_edge_v(1.0, to_edge_m, beyond_m, self.budget.wavelength_m())
    }

    /// How far the edge stands above the straight line to the top of a thing, metres there, and
    /// its `v`; `None` where nothing lies between.
    pub fn over_line(&self, ground_m: f64, height_m: f64) -> Option<(Edge, f64, f64)> {
        let edge = self.edge?;
        let under = edge.slope - self.slope_of(ground_m, height_m);
        let beyond_m = ground_m - edge.ground_m;
        (beyond_m > 0.0)
            .then(|| (edge, under * edge.ground_m, under * self.v_per_slope(&edge, beyond_m)))
    }

    /// What leaks past the horizon to the slopes between two, heights above the sea over the
    /// distance: never more than over a knife edge.
    fn past_horizon(&self, ground_m: f64, foot: f64, top: f64, knife: impl Fn(f64) -> f64) -> f64 {
        /// Gauss and Legendre's three points and weights over a span of one.
        const POINTS: [(f64, f64); 3] =
            [(0.112_701_665, 0.277_777_778), (0.5, 0.444_444_444), (0.887_298_335, 0.277_777_778)];
        let sea = self.budget.smooth_sea();
        // What lies deep under the top adds nothing to it.
        let span = (top - foot).min(6.0 * sea.scale_m() / ground_m);
        if span <= 0.0 {
            return 0.0;
        }
        let share = |height: f64| {
            let loss_db = sea.loss_db(ground_m, height * ground_m);
            10f64.powf(-0.2 * loss_db).min(knife(height))
        };
        span * POINTS.iter().map(|(at, weight)| weight * share(top - at * span)).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paint::Conditions;
    use crate::radar::{Set, knife_edge_loss_db};
    use crate::units::{Height, METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE};

    fn budget(set: &str, own_m: f64) -> Budget {
        let set = Set::builtin(set).unwrap();
        Budget::new(&set, &Conditions::default(), Height::from_metres(own_m).unwrap())
    }

    /// Behind a ridge of 100 m at 5 km: decibels lost both ways by a thing at 8 km whose top lies
    /// so many metres under the ray that grazes the ridge.
    fn lost_db(budget: &Budget, under_m: f64) -> f64 {
        let mut mask = Mask::new(budget);
        mask.sea_to(5_000.0);
        mask.land(5_000.0, 100.0);
        let edge = mask.slope_of(5_000.0, 100.0);
        let top = edge - under_m / 8_000.0;
        // A thin thing: a tenth of a metre high.
        let face = mask.face(8_000.0, top - 0.1 / 8_000.0, top);
        -10.0 * (face.shown_m / (0.1 / top.hypot(1.0))).log10()
    }

    #[test]
    fn a_shadow_s_edge_is_soft_by_the_wave_s_length() {
        let (short, long) = (budget("patrol", 200.0), budget("metric", 200.0));
        for budget in [&short, &long] {
            // At the edge half the field each way (exact: 6.02 dB), far above it nothing.
            assert!((lost_db(budget, 0.0) - 12.06).abs() < 0.2, "{}", lost_db(budget, 0.0));
            assert!(lost_db(budget, -500.0).abs() < 1e-6);
            let depths: Vec<f64> = (-40..40).map(|m| lost_db(budget, f64::from(m))).collect();
            assert!(depths.windows(2).all(|pair| pair[0] <= pair[1] + 1e-9), "{depths:?}");
        }
        // The two-way loss at 12 m under the grazing ray is twice that of the formula at its v.
        for budget in [&short, &long] {
            let above_m = 12.05 / 8_000.0 * 5_000.0;
            let v = knife_edge_v(above_m, 5_000.0, 3_000.0, budget.wavelength_m());
            let expected = 2.0 * knife_edge_loss_db(v);
            assert!((lost_db(budget, 12.0) - expected).abs() < 0.1, "{v} {expected}");
        }
        // 3 cm is gone within metres; metre waves leak.
        assert!(lost_db(&short, 20.0) > 40.0, "{}", lost_db(&short, 20.0));
        assert!(lost_db(&long, 20.0) < 22.0, "{}", lost_db(&long, 20.0));
    }

    #[test]
    fn nothing_between_face_and_foot_takes_nothing() {
        let budget = budget("metric", 200.0);
        let mut mask = Mask::new(&budget);
        mask.sea_to(5_000.0);
        let face = mask.standing(5_000.0, 30.0);
        assert!(face.clear && (face.shown_m - 30.0).abs() < 1e-9, "{face:?}");
    }

    #[test]
    fn past_the_horizon_it_fades_and_longer_waves_reach_farther() {
        let past = |set: &str, own_m: f64, height_m: f64, km: f64| {
            let budget = budget(set, own_m);
            let mut mask = Mask::new(&budget);
            mask.sea_to(km * 1e3);
            mask.standing(km * 1e3, height_m)
        };
        // The two horizons add to 34.4 km (computed, k = 4/3).
        assert!(past("boat", 15.0, 20.0, 34.0).clear && !past("boat", 15.0, 20.0, 35.0).clear);
        assert!(past("boat", 15.0, 20.0, 40.0).shown_m < 1e-3);
        // And here to 142.2 km.
        let at = |set: &str, km: f64| past(set, 600.0, 100.0, km);
        assert!(at("metric", 142.0).clear && !at("metric", 143.0).clear);
        let shown: Vec<f64> = (90..200).map(|km| at("metric", f64::from(km)).shown_m).collect();
        assert!(shown.windows(2).all(|pair| pair[0] >= pair[1] - 1e-9), "{shown:?}");
        let (long, short) = (at("metric", 150.0), at("patrol", 150.0));
        assert!(long.shown_m > 1e2 * short.shown_m, "{long:?} {short:?}");
    }

    #[test]
    fn the_shadow_of_a_ridge_is_as_long_as_geometry_has_it() {
        // Trade practice (computed): a 1,200 ft ridge at 10 NM, flat sea beyond. From 3,000 ft the
        // shadow ends at 17.11 NM over a 4/3 Earth, from 5,000 ft at 13.23, from 10,000 ft at 11.38.
        for (feet, end) in [(3_000.0, 17.11), (5_000.0, 13.23), (10_000.0, 11.38)] {
            let budget = budget("patrol", feet * METRES_PER_FOOT);
            let mut mask = Mask::new(&budget);
            mask.sea_to(10.0 * METRES_PER_NAUTICAL_MILE);
            mask.land(10.0 * METRES_PER_NAUTICAL_MILE, 1_200.0 * METRES_PER_FOOT);
            let lit = |miles: f64| mask.visible_m(miles * METRES_PER_NAUTICAL_MILE, 0.0) > 0.0;
            assert!(!lit(end - 0.03), "{feet}");
            assert!(lit(end + 0.03), "{feet}");
        }
    }
}
