//! Heights of a chart that tells any, sampled once on a grid of the simulator's own.
//!
//! They are taken to stand where they are charted: the chart's error moves the shore alone.

use rayon::prelude::*;

use super::shore::{METRES_A_DEGREE, RADIAN};
use crate::chart::{Chart, GeoBox};
use crate::geodesy::Position;

/// The step of the grid, in metres.
const STEP_M: f64 = 150.0;

/// A grid is as fine as that where it is no more than this wider, in metres: rounding.
const ROUNDING_M: f64 = 0.5;

/// The most nodes of it along one side.
const MOST: usize = 2_500;

/// Heights in metres on a grid of latitude and longitude.
pub struct Relief {
    south: f64,
    west: f64,
    /// Degrees of latitude and of longitude between nodes.
    step: [f64; 2],
    rows: usize,
    columns: usize,
    heights: Vec<f32>,
}

impl Relief {
    /// Of the whole coast; where that is too wide for so fine a grid, of what lies in a box about the run.
    /// `None` where the chart tells no heights there.
    pub fn of(chart: &Chart, about: Option<&GeoBox>) -> Option<Self> {
        let whole = chart.coast().extent()?;
        if !(chart.ground().has_grid() || chart.ground().has_contours()) {
            return None;
        }
        let about = about.filter(|_| nodes(&whole).into_iter().any(|count| count > MOST));
        let area = about.map_or(Some(whole), |about| common(&whole, about))?;
        let [rows, columns] = nodes(&area).map(|count| count.min(MOST));
        let step = [
            (area.north - area.south) / (rows - 1).max(1) as f64,
            (area.east - area.west) / (columns - 1).max(1) as f64,
        ];
        let heights = (0..rows * columns)
            .into_par_iter()
            .map(|node| {
                let latitude = area.south + step[0] * (node / columns) as f64;
                let longitude = area.west + step[1] * (node % columns) as f64;
                chart.ground().at(Position::wrapped(latitude, longitude)).height.metres() as f32
            })
            .collect();
        Some(Self { south: area.south, west: area.west, step, rows, columns, heights })
    }

    /// What an operator must know of it.
    pub fn caution(&self) -> Option<String> {
        let north_m = self.step[0] * METRES_A_DEGREE;
        let middle = self.south + 0.5 * self.step[0] * (self.rows - 1) as f64;
        let east_m = self.step[1] * METRES_A_DEGREE * (middle * RADIAN).cos();
        let step_m = north_m.max(east_m);
        (step_m > STEP_M + ROUNDING_M).then(|| {
            format!(
                "Ground behind the shore is simulated from heights {step_m:.0} m apart, where {STEP_M:.0} m \
                 would be right: the run and the set's reach are too wide for more. Ridges narrower than \
                 that may be missed"
            )
        })
    }

    /// Every height of the grid.
    pub fn heights(&self) -> &[f32] {
        &self.heights
    }

    /// Metres above the sea; nothing outside the grid.
    pub fn at(&self, at: Position) -> f64 {
        let mut east = at.longitude() - self.west;
        east -= 360.0 * (east / 360.0).floor();
        let (x, y) = (east / self.step[1], (at.latitude() - self.south) / self.step[0]);
        let inside = y >= 0.0 && x < (self.columns - 1) as f64 && y < (self.rows - 1) as f64;
        if !inside {
            return 0.0;
        }
        let (i, j) = (x as usize, y as usize);
        let (x, y) = (x - i as f64, y - j as f64);
        let height = |i: usize, j: usize| f64::from(self.heights[j * self.columns + i]);
        (1.0 - y) * ((1.0 - x) * height(i, j) + x * height(i + 1, j))
            + y * ((1.0 - x) * height(i, j + 1) + x * height(i + 1, j + 1))
    }
}

/// How many nodes of the finest grid hold a box: rows and columns.
fn nodes(area: &GeoBox) -> [usize; 2] {
    let north = STEP_M / METRES_A_DEGREE;
    let east = north / (0.5 * (area.south + area.north) * RADIAN).cos().max(0.01);
    let count = |span: f64, step: f64| (span / step).ceil() as usize + 1;
    [count(area.north - area.south, north), count(area.east - area.west, east)]
}

/// What lies in both boxes; `None` where nothing does. Where the two meet at either end of the one, the
/// other's width.
fn common(whole: &GeoBox, about: &GeoBox) -> Option<GeoBox> {
    let (south, north) = (whole.south.max(about.south), whole.north.min(about.north));
    let mut spans = [-360.0, 0.0, 360.0]
        .map(|turn| (whole.west.max(about.west + turn), whole.east.min(about.east + turn)))
        .into_iter()
        .filter(|(west, east)| west <= east);
    let first = spans.next()?;
    let (west, east) = if spans.next().is_some() { (about.west, about.east) } else { first };
    (south <= north).then(|| GeoBox::new(south, west, north, east))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::GroundRange;

    #[test]
    fn a_wide_coast_is_sampled_about_the_run_and_a_small_one_whole() {
        let chart = Chart::sample().unwrap();
        let whole = Relief::of(&chart, None).unwrap();
        assert_eq!(whole.caution(), None);
        let extent = chart.coast().extent().unwrap();
        let about =
            GeoBox::around(extent.centre(), GroundRange::from_nautical_miles(10.0).unwrap());
        // The same to the bit: nothing is gained by less.
        let part = Relief::of(&chart, Some(&about)).unwrap();
        assert_eq!((part.rows, part.columns), (whole.rows, whole.columns));
        assert_eq!(part.heights(), whole.heights());
    }

    #[test]
    fn what_two_boxes_have_in_common() {
        let world = GeoBox::new(-85.0, -180.0, 83.0, 180.0);
        let over = GeoBox::new(10.0, 178.0, 12.0, 183.0);
        // Over the date line it is the box itself, and not the world's width.
        assert_eq!(common(&world, &over), Some(over));
        let near = GeoBox::new(-86.0, 20.0, -84.0, 22.0);
        assert_eq!(common(&world, &near), Some(GeoBox::new(-85.0, 20.0, -84.0, 22.0)));
        // By the other turn.
        let islands = GeoBox::new(9.0, 179.0, 13.0, 182.0);
        let east = GeoBox::new(10.0, -179.0, 12.0, -170.0);
        assert_eq!(common(&islands, &east), Some(GeoBox::new(10.0, 181.0, 12.0, 182.0)));
        assert_eq!(common(&islands, &GeoBox::new(10.0, 20.0, 12.0, 22.0)), None);
        assert_eq!(common(&islands, &GeoBox::new(20.0, 179.0, 22.0, 181.0)), None);
    }

    #[test]
    fn a_run_of_two_hundred_miles_is_sampled_as_finely_as_it_should_be() {
        // 2,500 nodes of 150 m are 202 NM; a mean that is wider than that is said.
        let box_of = |miles: f64| {
            let half = 0.5 * miles / 60.0;
            GeoBox::new(-half, -half, half, half)
        };
        let fine = |miles: f64| nodes(&box_of(miles)).into_iter().all(|count| count <= MOST);
        assert!(fine(202.0) && !fine(203.0));
        let grid = |step_m: f64| Relief {
            south: 0.0,
            west: 0.0,
            step: [step_m / METRES_A_DEGREE; 2],
            rows: 2,
            columns: 2,
            heights: vec![0.0; 4],
        };
        assert_eq!(grid(150.0).caution(), None);
        assert!(grid(246.0).caution().unwrap().contains("from heights 246 m apart"));
    }
}
