//! Ground that the grids have above the sea and the coast has as sea: land that is left out of it.

use super::coast::Coast;
use super::geobox::GeoBox;
use super::ground::{Grid, Ground};
use crate::geodesy::{MEAN_EARTH_RADIUS_M, Position};
use crate::units::{Angle, GroundRange};

/// More than this share of it is cautioned. Our own figure: real charts show a few hundredths.
const MUCH: f64 = 0.10;

/// Fewer places than this above the sea tell no share worth a word.
const FEWEST_PLACES: usize = 20;

/// Ground no farther than this off the shore may be that of the shore: coast and grid lie apart, and a wide
/// step carries ground out to sea. In metres; a step of the grid where that is more.
const FRINGE_M: f64 = 500.0;

/// Lower cells may be the sea's own, in grids with noise, in metres (our own figure).
const ABOVE_M: f64 = 5.0;

/// The shore is looked for from no more places than this.
const MOST_PLACES: usize = 2_000;

/// How much of the grids' ground above the sea the coast has as sea.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct GroundOutside {
    /// Of the ground of which the coast tells.
    pub(super) share: f64,
    /// It is much, and most of it lies off the shore.
    is_left_out: bool,
}

impl GroundOutside {
    /// What an operator must know of it.
    pub(super) fn caution(&self) -> Option<String> {
        self.is_left_out.then(|| {
            format!(
                "{:.0} % of the ground that the grids have above the sea lies where the coast has sea: land \
                 is left out of the coast, its polygons are of water, or a lake lies there; nothing is foretold of that \
                 ground",
                100.0 * self.share
            )
        })
    }
}

/// Measures it at some ten thousand places of each grid, wherever they lie; of what the coast does not tell,
/// as beyond a clip or outside the box of open lines, nothing is counted. `None` where the coast tells of no
/// place above the sea.
///
/// - `coast`: all of it. A part out of an index comes with what was told of the whole.
/// - `near`: the grids of this area alone; all where it is not told.
pub(super) fn ground_outside(
    coast: &Coast,
    ground: &Ground,
    near: Option<&GeoBox>,
) -> Option<GroundOutside> {
    let (mut above, mut outside) = (0_usize, Vec::new());
    for grid in ground.grids() {
        if near.is_some_and(|near| !grid.extent().touches(near)) {
            continue;
        }
        let step_m = Angle::from_degrees(grid.step_deg()).radians() * MEAN_EARTH_RADIUS_M;
        let fringe = GroundRange::clamped_metres(step_m.max(FRINGE_M));
        for (row, column) in above_the_sea(grid) {
            let at = grid.place(row, column);
            if near.is_some_and(|near| !near.contains(at)) {
                continue;
            }
            let Some(is_land) = ground.is_land(at) else { continue };
            above += 1;
            if !is_land {
                outside.push((at, fringe));
            }
        }
    }
    let share = (above > 0).then(|| outside.len() as f64 / above as f64)?;
    let is_left_out = share > MUCH && above >= FEWEST_PLACES && is_off_the_shore(coast, &outside);
    Some(GroundOutside { share, is_left_out })
}

/// Whether at least half of some places lie farther off the shore than told for each.
fn is_off_the_shore(coast: &Coast, places: &[(Position, GroundRange)]) -> bool {
    let every = places.len().div_ceil(MOST_PLACES).max(1);
    let off =
        places.iter().step_by(every).map(|(at, fringe)| coast.nearest(*at, *fringe).is_none());
    let (mut far, mut all) = (0_usize, 0_usize);
    for is_far in off {
        all += 1;
        far += usize::from(is_far);
    }
    2 * far >= all
}

/// Cells measured above the sea out of some ten thousand of a grid: enough to tell a share.
fn above_the_sea(grid: &Grid) -> Vec<(usize, usize)> {
    let (rows, columns) = (grid.frame.rows, grid.frame.columns);
    let every = (((rows * columns) as f64 / 10_000.0).sqrt().ceil() as usize).max(1);
    let cells = || {
        (0..rows)
            .step_by(every)
            .flat_map(move |row| (0..columns).step_by(every).map(move |column| (row, column)))
    };
    let above = grid.with(|tile| {
        let is_above = |(row, column): &(usize, usize)| {
            let cell = grid.number(*row, *column);
            tile.get(cell).is_some_and(|height| height > ABOVE_M) && !tile.is_void(cell)
        };
        cells().filter(is_above).collect()
    });
    above.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;
    use std::ops::Range;

    use shapefile::{Point, Polygon, PolygonRing, ShapeWriter};

    use crate::chart::Chart;

    /// Rows and columns of a tile from 37 S 21 W on, 1200 to a degree. Every thirteenth of them is looked at.
    type Part = (Range<usize>, Range<usize>);

    /// 20 by 20 of the places looked at stand in each of these.
    const NORTH: Part = (130..390, 130..390);
    const SOUTH: Part = (780..1040, 780..1040);

    /// A tile of ground of 100 m in these parts, and sea about them.
    fn tile(parts: &[Part]) -> Vec<u8> {
        let is_in = |row: usize, column: usize| {
            parts.iter().any(|part| part.0.contains(&row) && part.1.contains(&column))
        };
        (0..1201 * 1201)
            .flat_map(|i| (100 * i16::from(is_in(i / 1201, i % 1201))).to_be_bytes())
            .collect()
    }

    /// The corners of a part, so many rows and columns outside its heights.
    fn about(part: &Part, off: f64) -> Vec<Point> {
        let side = |range: &Range<usize>| {
            let (first, last) = (range.start as f64, (range.end - 1) as f64);
            ((first - off) / 1200.0, (last + off) / 1200.0)
        };
        let ((north, south), (west, east)) = (side(&part.0), side(&part.1));
        [(west, north), (east, north), (east, south), (west, south), (west, north)]
            .map(|(x, y)| Point::new(-21.0 + x, -37.0 - y))
            .to_vec()
    }

    fn chart(rings: Vec<PolygonRing<Point>>, parts: &[Part]) -> Chart {
        let mut shp = Cursor::new(Vec::new());
        {
            let mut writer = ShapeWriter::new(&mut shp);
            writer.write_shape(&Polygon::with_rings(rings)).unwrap();
            writer.finalize().unwrap();
        }
        let (shp, tile) = (shp.into_inner(), tile(parts));
        Chart::from_files("test", &[("coast.shp", &shp), ("S38W021.hgt", &tile)]).unwrap()
    }

    /// The share that is told, and the cautions of it.
    fn told(chart: &Chart) -> (f64, Vec<&String>) {
        let of_it = |told: &&String| told.contains("where the coast has sea");
        let cautions = chart.cautions().iter().filter(of_it).collect();
        (chart.survey().ground_outside.unwrap(), cautions)
    }

    #[test]
    fn an_island_left_out_beyond_the_box_of_the_coast_is_told() {
        let chart = chart(vec![PolygonRing::Outer(about(&NORTH, 0.5))], &[NORTH, SOUTH]);
        // Four edges are too few to measure how far coast and grid lie apart.
        assert_eq!(chart.survey().disagreement, None);
        // By hand: 400 places of 800.
        let expected = "50 % of the ground that the grids have above the sea lies where the coast has sea: \
                        land is left out of the coast, its polygons are of water, or a lake lies there; \
                        nothing is foretold of that ground";
        assert_eq!(told(&chart), (0.5, vec![&expected.to_owned()]));
    }

    #[test]
    fn polygons_of_water_are_told() {
        let sea = PolygonRing::Outer(about(&(10..1190, 10..1190), 0.5));
        let chart = chart(vec![sea, PolygonRing::Inner(about(&NORTH, 0.5))], &[NORTH]);
        let (share, cautions) = told(&chart);
        assert!((share - 1.0).abs() < 1e-12, "{share}");
        assert!(
            cautions.len() == 1 && cautions[0].starts_with("100 % of the ground"),
            "{cautions:?}"
        );
    }

    #[test]
    fn ground_beside_the_shore_is_no_land_left_out() {
        // The outermost of the 20 by 20 places lie a row or two outside: by hand 400 less 18 · 18, of 400.
        let chart = chart(vec![PolygonRing::Outer(about(&(132..376, 132..376), 0.5))], &[NORTH]);
        let (share, cautions) = told(&chart);
        assert!((share - 76.0 / 400.0).abs() < 1e-12, "{share}");
        assert!(cautions.is_empty(), "{cautions:?}");
    }

    #[test]
    fn ground_beyond_a_clip_is_not_counted() {
        // Cut at 20.5 W through land, which goes on to 20 W.
        let zigzag =
            (0..8).map(|i| (-20.8 - 0.05 * f64::from(i % 2), -37.75 + 0.05 * f64::from(i)));
        let mut ring = vec![(-20.5, -37.2), (-20.5, -37.8)];
        ring.extend(zigzag);
        ring.extend([(-20.8, -37.3), (-20.5, -37.2)]);
        let ring = ring.into_iter().map(|(x, y)| Point::new(x, y)).collect();
        let chart = chart(vec![PolygonRing::Outer(ring)], &[(480..840, 360..1201)]);
        assert!(chart.coast().has_clips());
        assert_eq!(told(&chart), (0.0, Vec::new()));
    }
}
