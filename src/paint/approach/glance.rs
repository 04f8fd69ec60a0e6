use std::sync::Arc;

use super::super::budget::{Budget, Heard};
use super::super::expect::{Seen, all_round};
use super::super::expectation::ExpectedMark;
use super::super::fan::Fan;
use super::super::laid::Laid;
use super::super::mark_echo::own_ground_m;
use super::super::relief::{LandSpan, Relief, ways};
use super::super::sweep::{Glint, RangeTable, Sweep, glints_along, glints_from};
use super::super::vantage::{Conditions, Vantage};
use super::plan::Plan;
use crate::chart::{Chart, Mark, MarkId};
use crate::geodesy::{Course, Position, course};
use crate::radar::Set;
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// No land shows from farther off than this, in metres: the most that [`crate::paint::expect`] is asked for.
const MOST_REACH_M: f64 = 500.0 * METRES_PER_NAUTICAL_MILE;

/// How far nearer than a shore its own echo may lie, in metres.
const BEFORE_SHORE_M: f64 = 1_000.0;

/// How far inland an echo still counts as the shore's, in metres: half a nautical mile.
pub(super) const SHORE_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// How far behind a shore ground is looked at, in metres.
pub(super) const BEHIND_SHORE_M: f64 = 30.0 * METRES_PER_NAUTICAL_MILE;

/// Water narrower than this does not part ground from the shore before it, in metres.
const NARROW_M: f64 = 2.0 * METRES_PER_NAUTICAL_MILE;

/// For fewer looks than this from one place it is not worth laying the chart out about it: on a small chart
/// that takes as long as some of them.
const FEW: usize = 10;

/// What [`crate::paint::expect`] gives, for one direction at a time: the same rays, the same ground,
/// the same budget, without the rest of the circle.
pub(super) struct Glance<'a> {
    pub chart: &'a Chart,
    height: Height,
    /// Where the bow points, where that is known.
    heading: Option<Bearing<True>>,
    pub budget: Budget,
    /// All round, as far as anything can show.
    fan: Fan,
    table: Arc<RangeTable>,
}

/// A place that is looked from.
pub(super) struct Stand<'a> {
    pub position: Position,
    /// The chart about it, where there is much to look at.
    laid: Option<Laid<'a>>,
}

impl Stand<'_> {
    /// For one look, or a few.
    pub fn bare(position: Position) -> Self {
        Self { position, laid: None }
    }
}

/// An echo of land.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandEcho {
    /// Straight to its near edge.
    pub range: SlantRange,
    /// Along the ground.
    pub ground_range: GroundRange,
    /// Where it is looked at.
    pub bearing: Bearing<True>,
    /// How far it lies behind the shore in front of it; nothing for the shore itself.
    pub behind: GroundRange,
    /// Height of the ground that answers.
    pub height: Height,
    /// Over receiver noise.
    pub signal_to_noise_db: f64,
    /// Chance that it shows.
    pub chance: f64,
}

/// What shows on the bearing of a place on the shore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ShoreSeen {
    /// The nearest land that shows there, shore or ground behind it.
    pub land: Option<LandEcho>,
    /// The shore itself, where it shows.
    pub shore: Option<LandEcho>,
}

impl<'a> Glance<'a> {
    /// Along a plan: own height and heading are the plan's.
    pub fn new(chart: &'a Chart, plan: &Plan, set: &Set, conditions: &Conditions) -> Self {
        Self::from_height(chart, (plan.height, Some(plan.track)), set, conditions)
    }

    /// From anywhere at a height, and with a heading where that is known.
    pub fn from_height(
        chart: &'a Chart,
        (height, heading): (Height, Option<Bearing<True>>),
        set: &Set,
        conditions: &Conditions,
    ) -> Self {
        let budget = Budget::new(set, conditions, height);
        let most = set.greatest_scale().metres().min(set.unambiguous_range().metres());
        let reach = GroundRange::clamped_metres((most + 10_000.0).min(MOST_REACH_M));
        let fan = all_round(chart, &budget, reach);
        let table = Arc::new(RangeTable::new(&fan, &budget));
        Self { chart, height, heading, budget, fan, table }
    }

    /// The farthest at which the set shows anything, metres.
    pub fn reach_m(&self) -> f64 {
        let set = self.budget.set();
        set.greatest_scale().metres().min(set.unambiguous_range().metres())
    }

    pub fn vantage(&self, from: Position) -> Vantage {
        Vantage { position: from, height: self.height, heading: self.heading }
    }

    /// A place for looks at places so far off, each with the metres behind it that count:
    /// [`Glance::behind_mark_m`], [`BEHIND_SHORE_M`]. The chart is laid out about it where they are many.
    pub fn stand_for(
        &self,
        position: Position,
        places: impl ExactSizeIterator<Item = (Position, f64)>,
    ) -> Stand<'a> {
        if places.len() < FEW {
            return Stand { position, laid: None };
        }
        let mut reach_m = 0.0_f64;
        let mut lines = Vec::with_capacity(places.len());
        for (place, behind_m) in places {
            let line = course(position, place);
            reach_m = reach_m.max(line.distance.metres() + behind_m);
            lines.push(line.initial);
        }
        let fan = self.fan.reaching(reach_m.min(self.fan.reach_m()));
        Stand { position, laid: Laid::new(self.chart, position, &fan, lines.into_iter()) }
    }

    /// How far behind a mark ground is looked at, metres.
    pub fn behind_mark_m(&self, mark: &Mark) -> f64 {
        let (before, behind) = own_ground_m(mark);
        before.max(behind) + self.budget.set().pulse_length_m() + 8.0 * self.fan.step_m
    }

    /// The mark as [`crate::paint::expect`] has it from a place.
    pub fn mark(&self, from: Position, id: MarkId, mark: &Mark) -> ExpectedMark {
        self.mark_from(&Stand::bare(from), id, mark)
    }

    /// The same from a place that may be laid out.
    pub fn mark_from(&self, stand: &Stand<'_>, id: MarkId, mark: &Mark) -> ExpectedMark {
        let line = course(stand.position, mark.position);
        let along_m = line.distance.metres();
        let (before, _) = own_ground_m(mark);
        let reach_m = along_m + self.behind_mark_m(mark);
        let near_m = along_m - before - 4.0 * self.fan.step_m;
        let before_m = along_m - before.max(self.fan.step_m);
        let (sweep, spans) = self.towards(stand, &line, (near_m, reach_m), Some(before_m));
        let vantage = self.vantage(stand.position);
        let seen = Seen { chart: self.chart, vantage: &vantage, sweep: &sweep };
        seen.mark(id, mark, line.distance, line.initial, &spans)
    }

    /// What shows on the bearing of a place of the shore.
    pub fn shore(&self, from: Position, at: Position) -> ShoreSeen {
        self.shore_from(&Stand::bare(from), at)
    }

    /// The same from a place that may be laid out.
    pub fn shore_from(&self, stand: &Stand<'_>, at: Position) -> ShoreSeen {
        let from = stand.position;
        let line = course(from, at);
        let along_m = line.distance.metres();
        let reach_m = (along_m + BEHIND_SHORE_M).min(self.fan.reach_m());
        if along_m > reach_m {
            return ShoreSeen { land: None, shore: None };
        }
        // A shore that begins nearer on the line than the place itself begins no more than this so.
        let near_m = along_m - 2.0 * BEFORE_SHORE_M - 4.0 * self.fan.step_m;
        let (sweep, spans) = self.towards(stand, &line, (near_m, reach_m), None);
        let vantage = self.vantage(from);
        let seen = Seen { chart: self.chart, vantage: &vantage, sweep: &sweep };
        let (start_m, end_m) = mass(&spans, along_m);
        let near_m = start_m.min(along_m) - BEFORE_SHORE_M;
        let ray = sweep.fan.nearest(line.initial);
        let cells = sweep.shown(ray, seen.bow_loss_db(line.initial));
        let within: Vec<LandEcho> = cells
            .iter()
            .filter(|cell| cell.end_m >= near_m && cell.end_m - sweep.fan.step_m <= end_m)
            // Another shore, off to the side and farther on, is no ground behind this one.
            .filter(|cell| !cell.shore || cell.end_m <= start_m + SHORE_M)
            .map(|cell| {
                let ground_m = cell.end_m - sweep.fan.step_m;
                self.echo(from, line.initial, ground_m, start_m, cell.height, cell.heard)
            })
            .collect();
        let is_shore = |echo: &&LandEcho| echo.behind.metres() <= 0.0;
        ShoreSeen { land: within.first().copied(), shore: within.iter().find(is_shore).copied() }
    }

    /// A whole echo: ground within half a mile of the shore is the shore.
    fn echo(
        &self,
        from: Position,
        bearing: Bearing<True>,
        ground_m: f64,
        shore_m: f64,
        height: Height,
        heard: Heard,
    ) -> LandEcho {
        let ground_range = GroundRange::clamped_metres(ground_m);
        let radius = EarthRadius::towards(from, bearing);
        let behind_m = ground_m - shore_m;
        LandEcho {
            range: slant_range(self.height, height, ground_range, radius),
            ground_range,
            bearing,
            behind: GroundRange::clamped_metres(if behind_m > SHORE_M { behind_m } else { 0.0 }),
            height,
            signal_to_noise_db: heard.signal_to_noise_db,
            chance: heard.chance,
        }
    }

    /// The rays that the beam takes in along a line, and the land under the line itself: with what
    /// stands before `before_m`, where that is asked for.
    ///
    /// What lies nearer than `near_m` hides, and is not asked for its own echo.
    fn towards(
        &self,
        stand: &Stand<'_>,
        line: &Course,
        (near_m, reach_m): (f64, f64),
        before_m: Option<f64>,
    ) -> (Sweep<'_>, Vec<LandSpan>) {
        let fan = self.fan.reaching(reach_m.min(self.fan.reach_m()));
        let (lit, own) = match &stand.laid {
            Some(laid) => self.of_laid(laid, &fan, line, (near_m, before_m)),
            None => self.of_chart(stand.position, &fan, line, (near_m, before_m)),
        };
        let sweep = Sweep::of_rays(fan, Arc::clone(&self.table), &self.budget, lit.into_iter());
        (sweep, own)
    }

    /// From a chart that is laid out already.
    fn of_laid(
        &self,
        laid: &Laid<'_>,
        fan: &Fan,
        line: &Course,
        (near_m, before_m): (f64, Option<f64>),
    ) -> (Vec<(usize, Vec<Glint>)>, Vec<LandSpan>) {
        let rays = Sweep::taken_in(fan, &self.budget, line.initial).into_iter();
        let lit = rays.filter_map(|ray| {
            laid.ray(ray).map(|way| (ray, glints_along(near_m, way, fan, &self.budget)))
        });
        let own = laid.line(line.initial).map(|way| match before_m {
            Some(before_m) => way.spans_before(fan, &self.budget, before_m),
            None => way.outline(fan),
        });
        (lit.collect(), own.unwrap_or_default())
    }

    /// From the chart itself, as much of it as the beam takes in.
    fn of_chart(
        &self,
        from: Position,
        fan: &Fan,
        line: &Course,
        (near_m, before_m): (f64, Option<f64>),
    ) -> (Vec<(usize, Vec<Glint>)>, Vec<LandSpan>) {
        let rays = Sweep::taken_in(fan, &self.budget, line.initial);
        let azimuth = |ray: &usize| fan.bearing(*ray).radians();
        let mut wanted: Vec<(f64, Option<usize>)> =
            rays.iter().map(|ray| (azimuth(ray), Some(*ray))).collect();
        wanted.push((line.initial.radians(), None));
        wanted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let azimuths = wanted.iter().map(|ray| ray.0).collect();
        let some = Fan::towards(azimuths, fan.step_m, fan.reach_m());
        // The beam's outermost ray, and one spacing over.
        let half = (1.2 * self.budget.beam_rad()) + 2.0 * std::f64::consts::TAU / fan.len() as f64;
        let mut own = Vec::new();
        let mut lit: Vec<(usize, Vec<Glint>)> = Vec::with_capacity(rays.len());
        if let Some(ways) = ways(self.chart, from, &some, (line.initial, half)) {
            for (way, (_, ray)) in ways.iter().zip(&wanted) {
                match (ray, before_m) {
                    (Some(ray), _) => {
                        lit.push((*ray, glints_along(near_m, way, fan, &self.budget)));
                    }
                    (None, Some(before_m)) => own = way.spans_before(fan, &self.budget, before_m),
                    (None, None) => own = way.outline(fan),
                }
            }
        } else {
            let relief = Relief::of_chart(self.chart, from, &some);
            for (spans, (_, ray)) in relief.rays.into_iter().zip(&wanted) {
                match ray {
                    Some(ray) => lit.push((*ray, glints_from(near_m, &spans, fan, &self.budget))),
                    None => own = spans,
                }
            }
        }
        (lit, own)
    }
}

/// Where the land that begins nearest to a distance begins, and where it and what lies close behind
/// it end.
fn mass(spans: &[LandSpan], along_m: f64) -> (f64, f64) {
    let off = |span: &LandSpan| (span.start_m - along_m).abs();
    let first = spans.iter().enumerate().min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
    let Some((at, first)) = first.filter(|(_, span)| off(span) < BEFORE_SHORE_M) else {
        return (along_m, along_m + SHORE_M);
    };
    let mut end_m = first.end_m;
    for span in spans.iter().skip(at + 1) {
        if span.start_m - end_m > NARROW_M {
            break;
        }
        end_m = span.end_m;
    }
    (first.start_m, end_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::destination;

    /// From a chart laid out once, with heights that are kept and rays followed farther than each look
    /// needs, everything is seen as from the chart itself.
    #[test]
    fn many_looks_from_one_place_are_what_each_is_alone() {
        // Natural Earth (public domain): see `SOURCE.md` beside it.
        let south =
            include_bytes!("../../../tests/reference/natural-earth-coasts/south-island.shp");
        let south = Chart::from_files("South", &[("coast.shp", south)]).unwrap();
        let conditions = Conditions::default();
        let (mut compared, mut shown) = (0, 0);
        for (chart, set, feet) in
            [(&south, "patrol", 2_000.0), (&Chart::sample().unwrap(), "metric", 600.0)]
        {
            let set = Set::builtin(set).unwrap();
            let own = Height::from_feet(feet).unwrap();
            let ahead = Some(Bearing::wrapped_degrees(70.0));
            let glance = Glance::from_height(chart, (own, ahead), &set, &conditions);
            let marks: Vec<(MarkId, &Mark)> = chart.marks().iter().step_by(3).take(24).collect();
            let about = marks[0].1.position;
            for (degrees, miles) in [(250.0, 40.0), (300.0, 15.0), (80.0, 25.0), (0.0, 0.0)] {
                let off = GroundRange::from_nautical_miles(miles).unwrap();
                let from = destination(about, Bearing::wrapped_degrees(degrees), off);
                let places = marks.iter().map(|it| (it.1.position, BEHIND_SHORE_M));
                let stand = glance.stand_for(from, places);
                assert!(stand.laid.is_some());
                for (id, mark) in &marks {
                    let alone = glance.mark(from, *id, mark);
                    assert_eq!(glance.mark_from(&stand, *id, mark), alone, "{} {from}", mark.name);
                    let at = mark.position;
                    assert_eq!(glance.shore_from(&stand, at), glance.shore(from, at), "{from}");
                    compared += 1;
                    shown += usize::from(alone.paint_probability > 0.5);
                }
            }
        }
        assert!(compared > 100 && shown > 10, "{compared} compared, {shown} show");
    }
}
