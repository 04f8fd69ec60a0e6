//! One place with the chart laid out about it, for many looks from there.

use std::sync::OnceLock;

use super::fan::Fan;
use super::relief::lands;
use super::way::{Land, Way};
use crate::chart::{Chart, Ground};
use crate::geodesy::{LocalPlane, Position};
use crate::units::{Bearing, True};

/// The land under every ray of an even fan, and under some lines beside it. The shore is laid flat once, and
/// heights of the rays of the fan are kept.
pub(super) struct Laid<'a> {
    ground: &'a Ground,
    plane: LocalPlane,
    fan: Fan,
    /// Of each ray of the fan, by number.
    land: Vec<Vec<Land>>,
    rays: Box<[OnceLock<Way<'a>>]>,
    /// The other lines, by direction.
    lines: Vec<(f64, Vec<Land>)>,
}

impl<'a> Laid<'a> {
    /// About a place, with a fan's rays and the lines on these bearings; `None` on a chart without a coast.
    pub fn new(
        chart: &'a Chart,
        centre: Position,
        fan: &Fan,
        lines: impl Iterator<Item = Bearing<True>>,
    ) -> Option<Self> {
        let rays = fan.azimuths().iter().enumerate().map(|(ray, azimuth)| (*azimuth, Some(ray)));
        let mut wanted: Vec<(f64, Option<usize>)> =
            rays.chain(lines.map(|line| (line.radians(), None))).collect();
        wanted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let azimuths = wanted.iter().map(|ray| ray.0).collect();
        let all = lands(chart, centre, &Fan::towards(azimuths, fan.step_m, fan.reach_m()))?;
        let (mut land, mut lines) = (vec![Vec::new(); fan.len()], Vec::new());
        for ((azimuth, ray), found) in wanted.into_iter().zip(all) {
            match ray.and_then(|ray| land.get_mut(ray)) {
                Some(place) => *place = found,
                None => lines.push((azimuth, found)),
            }
        }
        let rays = land.iter().map(|_| OnceLock::new()).collect();
        let (ground, plane) = (chart.ground(), LocalPlane::new(centre));
        Some(Self { ground, plane, fan: fan.clone(), land, rays, lines })
    }

    /// The land under a ray of the fan.
    pub fn ray(&self, ray: usize) -> Option<&Way<'a>> {
        let (land, way) = self.land.get(ray).zip(self.rays.get(ray))?;
        Some(way.get_or_init(|| {
            let bearing = self.fan.bearing(ray);
            Way::new(self.ground, &self.plane, bearing, &self.fan, land.clone()).keeping(&self.fan)
        }))
    }

    /// The land under one of the lines that it was laid out for.
    pub fn line(&self, bearing: Bearing<True>) -> Option<Way<'a>> {
        let azimuth = bearing.radians();
        let place = self.lines.partition_point(|line| line.0 < azimuth);
        let (_, land) = self.lines.get(place).filter(|line| line.0 <= azimuth)?;
        Some(Way::new(self.ground, &self.plane, bearing, &self.fan, land.clone()))
    }
}
