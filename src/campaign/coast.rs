//! A chart, and what the simulator needs of it, worked out once.

use std::sync::Arc;

use super::relief::Relief;
use super::shore::{METRES_A_DEGREE, RADIAN, Shore};
use crate::chart::{Chart, GeoBox};
use crate::geodesy::Position;

/// A chart, and what the simulator needs of it.
pub struct Coast {
    /// What it is called.
    pub name: String,
    /// As it is charted.
    pub chart: Arc<Chart>,
    /// Its shore as data.
    pub shore: Shore,
    /// Its heights, where the chart tells any.
    pub relief: Option<Relief>,
    /// West, south, east, north: all land in it is on the chart.
    pub charted: Option<[f64; 4]>,
}

impl Coast {
    /// What the simulator needs of a chart.
    pub fn of(name: &str, chart: Arc<Chart>, charted: Option<[f64; 4]>) -> Self {
        let shore = Shore::of(&chart);
        let relief = Relief::of(&chart, None);
        Self { name: name.to_owned(), chart, shore, relief, charted }
    }

    /// The same for landfalls in a box alone: of a wide coast heights are needed there, and are finer so.
    pub fn about(chart: Arc<Chart>, area: &GeoBox) -> Self {
        let (name, shore) = (chart.name().to_owned(), Shore::of(&chart));
        let relief = Relief::of(&chart, Some(area));
        Self { name, chart, shore, relief, charted: None }
    }

    /// What an operator must know of it.
    pub fn cautions(&self) -> Vec<String> {
        self.relief.iter().filter_map(Relief::caution).collect()
    }

    /// A sum of what the chart holds of coast, heights and marks, and of its errors: another for
    /// another chart.
    pub fn fingerprint(&self) -> u32 {
        let mut sum = crc32fast::Hasher::new();
        let mut put = |value: f64| sum.update(&value.to_bits().to_le_bytes());
        for (_, line) in self.chart.coast().lines() {
            for point in line.points {
                put(point.lat);
                put(point.lon);
            }
        }
        for (_, mark) in self.chart.marks().iter() {
            put(mark.position.latitude());
            put(mark.position.longitude());
            put(mark.height.metres());
        }
        let accuracy = self.chart.accuracy();
        put(accuracy.point_sigma.metres());
        put(accuracy.shift_sigma.metres());
        for height in self.relief.iter().flat_map(Relief::heights) {
            put(f64::from(*height));
        }
        for (_, mark) in self.chart.marks().iter() {
            sum.update(mark.name.as_bytes());
        }
        sum.finalize()
    }

    /// Whether all land within `reach_m` of a place is on the chart.
    pub fn is_charted_about(&self, at: Position, reach_m: f64) -> bool {
        let north = reach_m / METRES_A_DEGREE;
        let east = north / (at.latitude() * RADIAN).cos().max(1e-3);
        if let Some([west, south, easting, northing]) = self.charted {
            return at.latitude() - north > south
                && at.latitude() + north < northing
                && at.longitude() - east > west
                && at.longitude() + east < easting;
        }
        let coast = self.chart.coast();
        let steps = [-1.0, -0.5, 0.0, 0.5, 1.0];
        let mut about = steps.iter().flat_map(|x| steps.iter().map(move |y| (x, y)));
        about.all(|(x, y)| {
            !coast.is_beyond_clips(Position::wrapped(
                at.latitude() + y * north,
                at.longitude() + x * east,
            ))
        })
    }
}
