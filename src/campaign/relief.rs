//! Heights of a chart that tells any, sampled once on a grid of the simulator's own.
//!
//! They are taken to stand where they are charted: the chart's error moves the shore alone.

use rayon::prelude::*;

use super::shore::{METRES_A_DEGREE, RADIAN};
use crate::chart::Chart;
use crate::geodesy::Position;

/// The step of the grid, in metres.
const STEP_M: f64 = 150.0;

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
    /// `None` where the chart tells no heights.
    pub fn of(chart: &Chart) -> Option<Self> {
        let area = chart.coast().extent()?;
        if !(chart.ground().has_grid() || chart.ground().has_contours()) {
            return None;
        }
        let north = STEP_M / METRES_A_DEGREE;
        let east = north / (0.5 * (area.south + area.north) * RADIAN).cos().max(0.01);
        let count = |span: f64, step: f64| ((span / step).ceil() as usize + 1).min(MOST);
        let rows = count(area.north - area.south, north);
        let columns = count(area.east - area.west, east);
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
