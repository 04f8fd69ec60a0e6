use std::f64::consts::{LN_2, PI};

use statrs::function::erf::erf;

use super::set::{Set, wavelength_m};
use crate::units::{Angle, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange};

/// How high the rain reaches, metres above the sea: the zero level of temperate latitudes,
/// typical. Above it precipitation is ice and cloud, which answer and weaken far less.
pub const RAIN_TOP_M: f64 = 3_000.0;

/// |K|² of water: how strongly drops answer (Doviak and Zrnić, *Doppler Radar and Weather
/// Observations*, from memory).
const WATER: f64 = 0.93;

/// Rain, and the ring around the antenna in which it falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rain {
    /// Its rate, millimetres an hour; 4 is light and 16 heavy for IMO MSC.192(79).
    pub mm_h: f64,
    /// It begins at this distance.
    pub from: GroundRange,
    /// It ends at this distance.
    pub to: GroundRange,
}

impl Rain {
    /// No rain at all.
    pub const NONE: Self = Self { mm_h: 0.0, from: GroundRange::ZERO, to: GroundRange::ZERO };

    /// Rain over the whole path.
    pub fn everywhere(mm_h: f64) -> Self {
        let to = GroundRange::clamped_metres(1_000.0 * METRES_PER_NAUTICAL_MILE);
        Self { mm_h, from: GroundRange::ZERO, to }
    }

    /// Whether it falls everywhere, from the antenna on.
    pub fn is_everywhere(self) -> bool {
        self.from <= GroundRange::ZERO && self.to >= Self::everywhere(0.0).to
    }

    /// Whether it falls at this distance.
    pub fn falls_at(self, along: GroundRange) -> bool {
        self.mm_h > 0.0 && along >= self.from && along <= self.to
    }

    /// Metres of the straight way from the antenna down to the sea that lie in the rain, one way:
    /// between its two distances, and under its top. The distances, along the ground, are taken along
    /// the way: near an aircraft that makes it a little short.
    pub fn on_the_way_m(self, own: Height, slant: SlantRange) -> f64 {
        let (own_m, reach_m) = (own.metres().max(0.0), slant.metres());
        let under_m = if own_m > RAIN_TOP_M { reach_m * (1.0 - RAIN_TOP_M / own_m) } else { 0.0 };
        let from_m = self.from.metres().max(under_m);
        if self.mm_h > 0.0 { (self.to.metres().min(reach_m) - from_m).max(0.0) } else { 0.0 }
    }
}

/// What drops send back for each cubic metre of air, in square metres: η = π⁵ |K|² Z / λ⁴.
///
/// Z = 200 R^1.6 mm⁶/m³ of the rain's rate R (J. S. Marshall and W. M. Palmer, *Journal of
/// Meteorology* 5, 1948, from memory); drops small against the wave, so to 3 cm (Doviak and Zrnić,
/// from memory).
///
/// Z of 10 mm/h is 39.0 dB over one mm⁶/m³ (computed). At 9.4 GHz that answers with
/// 2.18e-6 m²/m³ (computed):
/// ```
/// # use foreland::radar::rain_clutter_per_m;
/// assert!((rain_clutter_per_m(10.0, 9_400.0) / 2.185e-6 - 1.0).abs() < 0.005);
/// ```
pub fn rain_clutter_per_m(mm_h: f64, frequency_mhz: f64) -> f64 {
    if mm_h <= 0.0 {
        return 0.0;
    }
    // 1 mm⁶/m³ is 1e-18 m³.
    let z = 200.0 * mm_h.powf(1.6) * 1e-18;
    PI.powi(5) * WATER * z / wavelength_m(frequency_mhz).powi(4)
}

impl Set {
    /// How much of the air over a distance the upright beam holds under the rain's top, metres:
    /// its two-way gaussian about the horizon, integrated from the sea to the top. The Earth is taken
    /// as flat: past the sea's horizon, where its curve hides the lower rain, that is too much.
    pub fn rain_height_m(&self, own: Height, along: GroundRange) -> f64 {
        let width = Angle::from_degrees(self.elevation_beam_deg).radians();
        let (own_m, along_m) = (own.metres(), along.metres().max(1.0));
        let k = (8.0 * LN_2).sqrt() / width;
        let (top, sea) = (((RAIN_TOP_M - own_m) / along_m).atan(), (-own_m / along_m).atan());
        0.5 * along_m * (PI.sqrt() / k) * (erf(k * top) - erf(k * sea))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn miles(miles: f64) -> GroundRange {
        GroundRange::from_nautical_miles(miles).unwrap()
    }

    #[test]
    fn reflectivity_of_a_rate() {
        // Marshall and Palmer's 200 R^1.6 (from memory): 23.0 dBZ at 1 mm/h, 39.0 at 10, 55.0 at
        // 100; η turned back to Z by its own formula at 10 cm, in another unit.
        for (rate, dbz) in [(1.0, 23.01), (10.0, 39.01), (100.0, 55.01)] {
            let eta = rain_clutter_per_m(rate, 2_997.924_58);
            let z_mm6 = eta * 0.1f64.powi(4) / (PI.powi(5) * 0.93) * 1e18;
            assert!((10.0 * z_mm6.log10() - dbz).abs() < 0.01, "{rate}");
        }
        // A tenth of the wave, ten thousand times the echo.
        let ratio = rain_clutter_per_m(4.0, 10_000.0) / rain_clutter_per_m(4.0, 1_000.0);
        assert!((ratio - 1e4).abs() < 1e-6);
        assert!(rain_clutter_per_m(0.0, 9_400.0).abs() < 1e-30);
    }

    #[test]
    fn only_the_way_in_the_rain_counts() {
        let ring = Rain { mm_h: 4.0, from: miles(5.0), to: miles(12.0) };
        let low = Height::from_metres(600.0).unwrap();
        let way = |own: Height, slant: f64| {
            ring.on_the_way_m(own, SlantRange::from_nautical_miles(slant).unwrap()) / 1_852.0
        };
        for (slant, inside) in [(4.0, 0.0), (8.0, 3.0), (12.0, 7.0), (40.0, 7.0)] {
            assert!((way(low, slant) - inside).abs() < 1e-9, "{slant}");
        }
        // From twice the rain's top the first half of the way is above it.
        let high = Height::from_metres(2.0 * RAIN_TOP_M).unwrap();
        assert!((way(high, 16.0) - 4.0).abs() < 1e-9);
        assert!(Rain::NONE.on_the_way_m(low, SlantRange::clamped_metres(1e5)).abs() < 1e-9);
        assert!(ring.falls_at(miles(6.0)) && !ring.falls_at(miles(13.0)));
        assert!(Rain::everywhere(4.0).is_everywhere() && !ring.is_everywhere());
    }

    #[test]
    fn a_beam_far_wider_than_the_rain_holds_all_of_it() {
        let set = Set { elevation_beam_deg: 170.0, ..Set::builtin("boat").unwrap() };
        let low = Height::from_metres(15.0).unwrap();
        let held = set.rain_height_m(low, miles(30.0));
        assert!((held / RAIN_TOP_M - 1.0).abs() < 0.01, "{held}");
        // And one far narrower its own two-way breadth: √(π / (8 ln 2)) of the beam (closed form).
        let narrow = Set { elevation_beam_deg: 0.5, ..set };
        let inside = Height::from_metres(1_500.0).unwrap();
        let beam_m = Angle::from_degrees(0.5).radians() * miles(10.0).metres();
        let held = narrow.rain_height_m(inside, miles(10.0));
        assert!((held / (0.752_7 * beam_m) - 1.0).abs() < 1e-3, "{held}");
    }
}
