//! The shore in one direction, found without laying the rest flat.

use super::{Coast, LonLat, Run, Stretch};
use crate::chart::geobox::GeoBox;
use crate::geodesy::{LocalPlane, PlanePoint};
use crate::units::{Angle, Bearing, GroundRange, True};

/// How much wider than asked a sector is taken, radians: directions are first reckoned roughly, to
/// about a third of this.
const WIDER_RAD: f64 = 0.03;

/// Past these the rough directions are not good enough, and all is laid flat: latitude, degrees;
/// reach, metres; half the sector, radians.
const MOST_LATITUDE_DEG: f64 = 70.0;
const MOST_REACH_M: f64 = 350_000.0;
const MOST_HALF_RAD: f64 = 1.2;

/// A segment longer than this, degrees of longitude shrunk, is always laid flat: it bends.
const LONG_DEG: f64 = 0.05;

impl Coast {
    /// As [`Coast::stretches_over`], of the segments alone that may reach into a sector, `half_rad` to
    /// either side of a direction.
    pub fn stretches_towards(
        &self,
        plane: &LocalPlane,
        radius: GroundRange,
        areas: &[GeoBox],
        (towards, half_rad): (Bearing<True>, f64),
    ) -> Vec<Stretch> {
        let runs = areas.iter().flat_map(|area| self.runs_in(area)).collect();
        Self::within(runs, plane, radius, (towards, half_rad))
    }

    /// The same of the clips: where the chart was cut out of a larger one.
    pub fn clip_stretches_towards(
        &self,
        plane: &LocalPlane,
        radius: GroundRange,
        (towards, half_rad): (Bearing<True>, f64),
    ) -> Vec<Stretch> {
        if !self.has_clips() {
            return Vec::new();
        }
        let runs = self.clip_runs_in(&GeoBox::around(plane.centre(), radius)).collect();
        Self::within(runs, plane, radius, (towards, half_rad))
    }

    fn within(
        mut runs: Vec<Run<'_>>,
        plane: &LocalPlane,
        radius: GroundRange,
        (towards, half_rad): (Bearing<True>, f64),
    ) -> Vec<Stretch> {
        let rough = half_rad < MOST_HALF_RAD
            && radius.metres() < MOST_REACH_M
            && plane.centre().latitude().abs() < MOST_LATITUDE_DEG;
        if !rough {
            return Self::laid_flat(runs, plane, radius);
        }
        runs.sort_by_key(|run| (run.line, run.first));
        runs.dedup_by_key(|run| (run.line, run.first));
        let sector = Sector::new(plane, towards, half_rad + WIDER_RAD);
        let mut stretches = Vec::new();
        for run in runs {
            sector.kept(&run, |points| {
                stretches.push(Stretch {
                    points: points.iter().map(|point| plane.to_plane(point.position())).collect(),
                    line: run.line,
                    land_side: run.land_side,
                });
            });
        }
        stretches
    }
}

/// A sector as rough directions have it.
struct Sector {
    lat: f64,
    lon: f64,
    sin: f64,
    cos: f64,
    left: PlanePoint,
    right: PlanePoint,
}

/// A point of a shore as a sector has it, degrees of latitude.
#[derive(Clone, Copy)]
struct Rough {
    at: PlanePoint,
    /// On its outer side of the sector's left edge; of its right edge.
    outside: [bool; 2],
}

impl Sector {
    fn new(plane: &LocalPlane, towards: Bearing<True>, half_rad: f64) -> Self {
        let centre = plane.centre();
        let (sin, cos) = Angle::from_degrees(centre.latitude()).radians().sin_cos();
        let edge = |turn: f64| {
            let (east, north) = towards.turned(Angle::from_radians(turn)).sin_cos();
            PlanePoint { east, north }
        };
        let (lat, lon) = (centre.latitude(), centre.longitude());
        Self { lat, lon, sin, cos, left: edge(-half_rad), right: edge(half_rad) }
    }

    /// Direction by middle latitude, less half of what the meridians turn by on the way; good to a
    /// hundredth of a radian within [`MOST_REACH_M`] and [`MOST_LATITUDE_DEG`] (tested).
    fn rough(&self, point: &LonLat) -> Rough {
        let mut along = point.lon - self.lon;
        along -= 360.0 * (along / 360.0).round();
        let north = point.lat - self.lat;
        let radians = |degrees: f64| Angle::from_degrees(degrees).radians();
        let east = along * (self.cos - 0.5 * self.sin * radians(north));
        let turn = 0.5 * self.sin * radians(along);
        let at = PlanePoint { east: east - turn * north, north: north + turn * east };
        let cross = |edge: PlanePoint| edge.east * at.north - edge.north * at.east;
        Rough { at, outside: [cross(self.left) > 0.0, cross(self.right) < 0.0] }
    }

    /// The parts of a run whose segments may reach into the sector.
    fn kept<'a>(&self, run: &Run<'a>, mut keep: impl FnMut(&'a [LonLat])) {
        let Some(mut last) = run.raw.first().map(|point| self.rough(point)) else { return };
        let mut first = None;
        for (i, point) in run.raw.iter().enumerate().skip(1) {
            let next = self.rough(point);
            let outside = last.outside.iter().zip(next.outside).any(|(a, b)| *a && b);
            if outside && last.at.distance(next.at) < LONG_DEG {
                if let Some(points) = first.take().and_then(|first| run.raw.get(first..i)) {
                    keep(points);
                }
            } else {
                first.get_or_insert(i - 1);
            }
            last = next;
        }
        if let Some(points) = first.and_then(|first| run.raw.get(first..)) {
            keep(points);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::{Position, course, destination};

    #[test]
    fn rough_directions_are_good_to_a_third_of_the_width_added() {
        for latitude in [-69.0, -48.0, 0.0, 22.0, 43.0, 60.0, 69.5] {
            let centre = Position::new(latitude, 179.5).unwrap();
            let plane = LocalPlane::new(centre);
            let sector = Sector::new(&plane, Bearing::ZERO, 0.1);
            for (miles, degrees) in [1.0, 20.0, 60.0, 120.0, 185.0]
                .into_iter()
                .flat_map(|miles| (0..72).map(move |i| (miles, 5.0 * f64::from(i))))
            {
                let range = GroundRange::from_nautical_miles(miles).unwrap();
                let there = destination(centre, Bearing::wrapped_degrees(degrees), range);
                let point = LonLat { lon: there.longitude(), lat: there.latitude() };
                let rough = sector.rough(&point).at.polar().1;
                let exact = course(centre, there).initial;
                let off = rough.minus(exact).radians().abs();
                assert!(off < WIDER_RAD / 2.0, "{latitude} {miles} {degrees}: {off}");
            }
        }
    }
}
