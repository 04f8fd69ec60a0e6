use rayon::prelude::*;

use super::marks::places;
use super::plan::Plan;
use crate::chart::{Chart, GeoBox, HeightSource, HighPlace, Mark, MarkId, MarkKind, Marks};
use crate::geodesy::{LocalPlane, PlanePoint, Position, destination, distance};
use crate::units::{Angle, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// Standard deviations either side that hold 99.9 % of a normal error (normal table).
pub const SIGMAS: f64 = 3.290_527;

/// The chance that the track made good lies between the sides where it is crossed.
pub const HELD: f64 = 0.999;

/// How far before the landfall it begins, metres.
const BEFORE_M: f64 = 30.0 * METRES_PER_NAUTICAL_MILE;

/// How far past it goes at least, metres.
const PAST_M: f64 = 5.0 * METRES_PER_NAUTICAL_MILE;

/// Metres between the places of the track that its shape is taken from.
const TRACK_STEP_M: f64 = METRES_PER_NAUTICAL_MILE;

/// Metres between the places at which it is asked whether anything tells the height.
const TOLD_STEP_M: f64 = 0.25 * METRES_PER_NAUTICAL_MILE;

/// Ground is called after a mark within this, metres.
const CALLED_WITHIN_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// A gap less than this far from the last one along the track is part of it, metres.
const ONE_GAP_M: f64 = 1.5 * METRES_PER_NAUTICAL_MILE;

/// The strip of the last miles of a run in which the track made good lies, but for one in a
/// thousand, and the charted ground in it.
///
/// Its highest ground is no safe height and makes none: charts leave ground and obstacles out, and
/// one run in a thousand is outside it by the reckoning as stated.
#[derive(Debug, Clone, PartialEq)]
pub struct Corridor {
    /// Metres before the landfall at which it begins.
    pub begins_m: f64,
    /// Metres past the landfall at which it ends: what the reckoning may be out along the track by
    /// the same chance, five miles at least.
    pub ends_m: f64,
    /// From the track to either side, metres: where it begins, at the landfall, where it ends.
    pub half_widths_m: [f64; 3],
    /// Its left side, from its beginning.
    pub left: Vec<Position>,
    /// Its right side.
    pub right: Vec<Position>,
    /// The highest charted ground in it; `None` where nothing in it is charted above the sea.
    pub highest: Option<HighGround>,
    /// What there is of land, and of what the coast does not tell, square metres, to about a
    /// quarter of a mile.
    pub land_m2: f64,
    /// And what of that has no height in any grid or contour.
    pub untold_m2: f64,
    /// Where along the track that lies, farthest before the landfall first.
    pub gaps: Vec<Gap>,
    /// Single heights missing from the grids in it.
    pub voids: usize,
}

/// Charted ground in a corridor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighGround {
    /// Where.
    pub position: Position,
    /// Above mean sea level.
    pub height: Height,
    /// Of a contour where no grid measured: the next one, under which the ground about it stays.
    pub under: Option<Height>,
    /// Whether a grid, a contour or a mark tells it.
    pub source: HeightSource,
    /// Metres along the track before the landfall, negative past it.
    pub before_m: f64,
    /// Metres off the track, to the right positive.
    pub off_m: f64,
    /// The mark it is called after, where one is near.
    pub mark: Option<MarkId>,
}

impl HighGround {
    /// What no ground there stands above, by the chart.
    pub fn at_most(&self) -> Height {
        self.under.unwrap_or(self.height)
    }
}

/// A stretch of the corridor with land of no known height in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Metres before the landfall at which it begins, negative past it.
    pub from_m: f64,
    /// And at which it ends.
    pub to_m: f64,
    /// How much of it there is, square metres.
    pub area_m2: f64,
}

/// The corridor about a run's landfall, or about its end, and the highest charted ground in it.
pub fn corridor(chart: &Chart, plan: &Plan, landfall_m: f64) -> Corridor {
    let strip = Strip::new(chart, plan, landfall_m);
    let inside = |at: Position| strip.holds(at);
    let found = chart.ground().highest(&strip.area(), &inside);
    let by_ground = found.top.map(|top| (top, None));
    let about = (strip.plane.centre(), GroundRange::clamped_metres(strip.reach_m()));
    let by_mark = highest_mark(chart.marks(), about, &inside)
        .map(|(id, mark)| (HighPlace::of_mark(mark), Some(id)));
    let highest = [by_ground, by_mark].into_iter().flatten();
    // Of equals the first, which says more of where it is.
    let highest = highest.reduce(|a, b| if b.0.at_most() > a.0.at_most() { b } else { a });
    let (land_m2, untold_m2, gaps) = strip.untold(chart);
    let width = |run_m: f64| strip.half_width_m(run_m);
    Corridor {
        begins_m: landfall_m - strip.from_m,
        ends_m: strip.to_m - landfall_m,
        half_widths_m: [width(strip.from_m), width(landfall_m), width(strip.to_m)],
        left: strip.side(-1.0),
        right: strip.side(1.0),
        highest: highest.map(|(HighPlace { position, height, under, source }, mark)| {
            let (along_m, off_m) = strip.along_across(position);
            let before_m = landfall_m - along_m;
            let mark = mark.or_else(|| called(chart, position));
            HighGround { position, height, under, source, before_m, off_m, mark }
        }),
        land_m2,
        untold_m2,
        gaps,
        voids: found.voids,
    }
}

/// The highest mark inside that has a height: charted summits and what stands on the ground. Of equals the
/// first.
///
/// - `about`: no place inside is farther from the one than the other.
pub fn highest_mark<'a>(
    marks: &'a Marks,
    about: (Position, GroundRange),
    inside: &dyn Fn(Position) -> bool,
) -> Option<(MarkId, &'a Mark)> {
    marks
        .within(about.0, about.1)
        .into_iter()
        .filter_map(|id| marks.get(id).map(|mark| (id, mark)))
        .filter(|(_, mark)| mark.kind != MarkKind::Buoy && mark.height > Height::SEA_LEVEL)
        .filter(|(_, mark)| inside(mark.position))
        .reduce(|a, b| if b.1.height > a.1.height { b } else { a })
}

/// The mark of land nearest to a place, close by.
fn called(chart: &Chart, at: Position) -> Option<MarkId> {
    let marks = chart.marks();
    let land = |kind| matches!(kind, MarkKind::Peak | MarkKind::Headland | MarkKind::Islet);
    marks
        .within(at, GroundRange::clamped_metres(CALLED_WITHIN_M))
        .into_iter()
        .filter_map(|id| marks.get(id).map(|mark| (id, mark)))
        .filter(|(_, mark)| land(mark.kind))
        .min_by(|a, b| {
            let off = |mark: &Mark| distance(at, mark.position).metres();
            off(a.1).total_cmp(&off(b.1)).then(a.0.cmp(&b.0))
        })
        .map(|(id, _)| id)
}

/// The strip itself: a stretch of the track laid flat, and how wide it is.
struct Strip<'a> {
    plan: &'a Plan,
    from_m: f64,
    landfall_m: f64,
    to_m: f64,
    /// What the chart itself is out by, one standard deviation, metres.
    chart_m: f64,
    /// One cell of the coarsest grid in it, metres: heights bound the ground to their neighbours.
    cell_m: f64,
    plane: LocalPlane,
    track: Vec<(f64, PlanePoint)>,
}

impl<'a> Strip<'a> {
    fn new(chart: &Chart, plan: &'a Plan, landfall_m: f64) -> Self {
        // No earlier than the run may have started.
        let from_m = (landfall_m - BEFORE_M).max(-SIGMAS * plan.sigma.metres()).min(landfall_m);
        let to_m = landfall_m + (SIGMAS * plan.sigma_along_m(landfall_m)).max(PAST_M);
        let plane = LocalPlane::new(plan.at(0.5 * (from_m + to_m)));
        let track = places(from_m, to_m, TRACK_STEP_M)
            .map(|run_m| (run_m, plane.to_plane(plan.at(run_m))))
            .collect();
        let accuracy = chart.accuracy();
        let mut strip = Self {
            plan,
            from_m,
            landfall_m,
            to_m,
            chart_m: accuracy.point_sigma.metres().hypot(accuracy.shift_sigma.metres()),
            cell_m: 0.0,
            plane,
            track,
        };
        strip.cell_m = chart.ground().widest_cell_m(&strip.area()).unwrap_or(0.0);
        strip
    }

    /// From the track to either side: the error across that 99.9 % of runs keep within.
    fn half_width_m(&self, run_m: f64) -> f64 {
        SIGMAS * self.plan.sigma_across_m(run_m.max(0.0)).hypot(self.chart_m)
    }

    /// No place of it is farther from its middle.
    fn reach_m(&self) -> f64 {
        let wide = self.half_width_m(self.from_m).max(self.half_width_m(self.to_m));
        (0.5 * (self.to_m - self.from_m)).hypot(wide) * 1.02 + 2.0 * self.cell_m
    }

    fn area(&self) -> GeoBox {
        GeoBox::around(self.plane.centre(), GroundRange::clamped_metres(self.reach_m()))
    }

    /// The run to where a place is abeam, and how far off the track it lies there, right positive.
    fn along_across(&self, at: Position) -> (f64, f64) {
        let point = self.plane.to_plane(at);
        let nearest = self.near(point).min_by(|a, b| a.2.total_cmp(&b.2));
        nearest.map_or((f64::INFINITY, f64::INFINITY), |(along_m, off_m, _)| (along_m, off_m))
    }

    /// A place by the segments of the track that may be the nearest: run, offset, and how far past
    /// the ends of the segment its foot lies.
    fn near(&self, point: PlanePoint) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        let first = self.track.first().map_or(PlanePoint::default(), |(_, at)| *at);
        let last = self.track.last().map_or(PlanePoint::default(), |(_, at)| *at);
        let chord = PlanePoint { east: last.east - first.east, north: last.north - first.north };
        let square = (chord.east * chord.east + chord.north * chord.north).max(1.0);
        let along =
            (point.east - first.east) * chord.east + (point.north - first.north) * chord.north;
        let segments = self.track.len().saturating_sub(1);
        let about = (along / square * segments as f64).max(0.0) as usize;
        let from = about.saturating_sub(2).min(segments.saturating_sub(5));
        self.track.windows(2).skip(from).take(5).filter_map(move |ends| {
            let [(run_m, a), (_, b)] = ends else { return None };
            let (east, north) = (b.east - a.east, b.north - a.north);
            let length = east.hypot(north).max(1e-6);
            let (east, north) = (east / length, north / length);
            let (dx, dy) = (point.east - a.east, point.north - a.north);
            let (along, across) = (dx * east + dy * north, dx * north - dy * east);
            let past = (-along).max(along - length).max(0.0);
            Some((run_m + along, across, past))
        })
    }

    fn holds(&self, at: Position) -> bool {
        let (along_m, off_m) = self.along_across(at);
        (self.from_m - self.cell_m..=self.to_m + self.cell_m).contains(&along_m)
            && off_m.abs() <= self.half_width_m(along_m) + self.cell_m
    }

    /// One side of it, by miles of the track.
    fn side(&self, right: f64) -> Vec<Position> {
        places(self.from_m, self.to_m, TRACK_STEP_M)
            .map(|run_m| self.beside(run_m, right * self.half_width_m(run_m)))
            .collect()
    }

    fn beside(&self, run_m: f64, off_m: f64) -> Position {
        let turn = if off_m < 0.0 { -90.0 } else { 90.0 };
        let abeam = self.plan.track.turned(Angle::from_degrees(turn));
        destination(self.plan.at(run_m), abeam, GroundRange::clamped_metres(off_m.abs()))
    }

    /// How much land there is, how much of it has no known height, and where along the track.
    fn untold(&self, chart: &Chart) -> (f64, f64, Vec<Gap>) {
        let runs: Vec<f64> = places(self.from_m, self.to_m, TOLD_STEP_M).collect();
        let cell_m2 = TOLD_STEP_M * TOLD_STEP_M;
        let rows: Vec<(f64, usize, usize)> = runs
            .into_par_iter()
            .map(|run_m| {
                let wide = self.half_width_m(run_m);
                let known: Vec<bool> = places(-wide, wide, TOLD_STEP_M)
                    .filter_map(|off_m| is_told(chart, self.beside(run_m, off_m)))
                    .collect();
                (run_m, known.len(), known.iter().filter(|known| !**known).count())
            })
            .collect();
        let mut gaps: Vec<Gap> = Vec::new();
        for (run_m, _, untold) in rows.iter().filter(|row| row.2 > 0) {
            let (before_m, area_m2) = (self.landfall_m - run_m, *untold as f64 * cell_m2);
            match gaps.last_mut() {
                Some(gap) if gap.to_m - before_m < ONE_GAP_M => {
                    gap.to_m = before_m;
                    gap.area_m2 += area_m2;
                }
                _ => gaps.push(Gap { from_m: before_m, to_m: before_m, area_m2 }),
            }
        }
        let sum = |of: &dyn Fn(&(f64, usize, usize)) -> usize| {
            rows.iter().map(of).sum::<usize>() as f64 * cell_m2
        };
        (sum(&|row| row.1), sum(&|row| row.2), gaps)
    }
}

/// Whether anything tells the height of a place of land, or of one of which the coast says nothing;
/// `None` at sea.
fn is_told(chart: &Chart, at: Position) -> Option<bool> {
    let ground = chart.ground();
    let land = ground.is_land(at);
    if land == Some(false) {
        return None;
    }
    let told = ground.grid_height(at).is_some()
        || ground.has_contours() && ground.at(at).source == HeightSource::Contour;
    Some(told)
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

    use super::*;
    use crate::units::{Bearing, Speed};

    const MILE: f64 = METRES_PER_NAUTICAL_MILE;

    /// Land from 5.4 to 7.1 E about half a degree north, all round the tile's edge.
    fn land() -> Vec<u8> {
        let corners = [
            (5.4, -0.1),
            (5.41, 0.5),
            (5.39, 1.12),
            (7.1, 1.1),
            (7.13, 0.4),
            (7.09, -0.12),
            (5.4, -0.1),
        ];
        let ring = corners.map(|(lon, lat)| Point::new(lon, lat)).to_vec();
        let mut shp = Cursor::new(Vec::new());
        let mut writer = ShapeWriter::new(&mut shp);
        writer.write_shape(&Polygon::new(PolygonRing::Outer(ring))).unwrap();
        writer.finalize().unwrap();
        drop(writer);
        shp.into_inner()
    }

    /// The tile N00E006 flat at 20 m, but for single heights set by place.
    fn chart(set: &[(f64, f64, i16)]) -> Chart {
        let mut heights = vec![20_i16; 1201 * 1201];
        for (lat, lon, height) in set {
            let row = ((1.0 - lat) * 1200.0).round() as usize;
            let column = ((lon - 6.0) * 1200.0).round() as usize;
            heights[row * 1201 + column] = *height;
        }
        let bytes: Vec<u8> = heights.iter().flat_map(|height| height.to_be_bytes()).collect();
        Chart::from_files("t", &[("coast.shp", &land()), ("N00E006.hgt", &bytes)]).unwrap()
    }

    /// Due east along half a degree north, 60 NM to 6.5 E.
    fn plan(sigma_nm: f64, track_sigma_deg: f64) -> Plan {
        Plan {
            from: Position::new(0.5, 5.5).unwrap(),
            track: Bearing::from_degrees(90.0).unwrap(),
            speed: Speed::from_knots(180.0).unwrap(),
            height: Height::from_feet(2_000.0).unwrap(),
            sigma: GroundRange::from_nautical_miles(sigma_nm).unwrap(),
            track_sigma: Angle::from_degrees(track_sigma_deg),
            speed_sigma: Speed::from_knots(5.4).unwrap(),
        }
    }

    #[test]
    fn it_is_as_wide_as_the_error_across_at_one_in_a_thousand() {
        // By hand: 2 NM at the start and 2 degrees (0.034907) over 60 NM are hypot(2, 2.0944) =
        // 2.8959 NM; the chart's own 0.10 and 0.05 NM make 2.8981; times 3.2905 (normal table,
        // 99.9 % two-sided) is 9.536 NM. 30 NM before: hypot(2, 1.0472, 0.1118) = 2.2603, 7.438 NM.
        // Along, 3 % of the run: hypot(2, 1.8) = 2.6907, 8.854 NM past.
        let found = corridor(&chart(&[]), &plan(2.0, 2.0), 60.0 * MILE);
        let [begins, landfall, _] = found.half_widths_m.map(|metres| metres / MILE);
        assert!((landfall - 9.536).abs() < 2e-3, "{landfall}");
        assert!((begins - 7.438).abs() < 2e-3, "{begins}");
        assert!((found.begins_m / MILE - 30.0).abs() < 1e-9);
        assert!((found.ends_m / MILE - 8.854).abs() < 2e-3, "{}", found.ends_m / MILE);
    }

    #[test]
    fn a_summit_of_one_cell_counts_inside_and_not_outside() {
        // A minute of latitude on the equator is 0.9949 NM (WGS84). One cell of 3 seconds stands
        // 9.0 NM and another, higher, 11.0 NM to port of the track at the landfall, whose corridor
        // is 9.536 NM wide to either side; a third 20 NM past the landfall, 8.85 NM being its end.
        let lat = |off_nm: f64| 0.5 + off_nm / 0.9949 / 60.0;
        let set = [(lat(9.0), 6.5, 900), (lat(11.0), 6.5, 2_000), (0.5, 6.8333, 3_000)];
        let found = corridor(&chart(&set), &plan(2.0, 2.0), 60.1 * MILE);
        let ground = found.highest.unwrap();
        assert!((ground.height.metres() - 900.0).abs() < 1e-9, "{ground:?}");
        assert!((ground.off_m / MILE + 9.0).abs() < 0.05, "{ground:?}");
        assert!(ground.before_m.abs() < 0.2 * MILE, "{ground:?}");
        assert_eq!(ground.source, HeightSource::Grid);
    }

    #[test]
    fn every_cell_of_the_corridor_is_seen() {
        // One summit at a time, on cells that no coarser step than the grid's own meets together.
        for (i, along_nm) in [0.13, 5.77, 11.31, 17.9, 23.07, 29.49].into_iter().enumerate() {
            let off_nm = [-6.9, 3.33, -0.01, 5.17, 1.21, -4.44][i];
            let (lat, lon) = (0.5 - off_nm / 59.7, 6.5 - along_nm / 60.1);
            let found = corridor(&chart(&[(lat, lon, 700)]), &plan(2.0, 2.0), 60.1 * MILE);
            let ground = found.highest.unwrap();
            assert!((ground.height.metres() - 700.0).abs() < 1e-9, "{along_nm} {ground:?}");
            assert!((ground.before_m / MILE - along_nm).abs() < 0.1, "{along_nm} {ground:?}");
            assert!((ground.off_m / MILE - off_nm).abs() < 0.1, "{off_nm} {ground:?}");
        }
    }

    #[test]
    fn what_no_grid_covers_is_a_gap_and_missing_heights_are_counted() {
        // The tile begins at 6 E: 30 NM before a landfall at 6.4 E the corridor begins at 5.9 E, so
        // that the land of its first 6 NM has no height.
        let landfall_m = 54.1 * MILE;
        let found = corridor(&chart(&[(0.52, 6.2, i16::MIN)]), &plan(2.0, 2.0), landfall_m);
        assert_eq!(found.voids, 1);
        let [gap] = found.gaps.as_slice() else { panic!("{:?}", found.gaps) };
        assert!((gap.from_m / MILE - 30.0).abs() < 0.1, "{gap:?}");
        assert!((gap.to_m / MILE - 24.1).abs() < 0.4, "{gap:?}");
        // 5.9 NM long and about 2 x 7.5 NM wide.
        assert!((found.untold_m2 / MILE / MILE / (5.9 * 15.0) - 1.0).abs() < 0.1, "{found:?}");
    }
}
