use super::vantage::Conditions;
use crate::radar::geometry::{EarthRadius, slant_range};
use crate::radar::{
    Detector, Set, SmoothSea, gas_loss_db_per_km, rain_clutter_per_m, rain_loss_db_per_km,
    sea_clutter_db,
};
use crate::units::{Angle, GroundRange, Height, SlantRange};

/// Share of a gaussian beam that counts, both ways, against its width one way: √(π / (8 ln 2)).
const BEAM_SHARE: f64 = 0.752_7;

/// The chance from which a piece of land is taken to show on the screen.
pub(super) const SHOWS: f64 = 0.5;

/// One resolution cell: its range's base, and what answers in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cell {
    /// Signal over noise of a square metre at its range.
    pub base_db: f64,
    /// Of the land in it, square metres.
    pub land_m2: f64,
    /// Of the sea in it, square metres.
    pub sea_m2: f64,
    /// Of the rain in it, square metres.
    pub rain_m2: f64,
}

/// How ground is taken to be lit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Light {
    /// As it is: waves bend over edges.
    Bent,
    /// By rays alone, so that shadows are sharp.
    Sharp,
    /// As if nothing hid anything.
    Open,
    /// The same, and nothing is nearer the axis of the upright beam for being high.
    Level,
    /// The same, and every square metre answers whole: the area alone.
    Bare,
}

/// What one set makes of an echo, from one height and in one weather.
#[derive(Debug, Clone)]
pub(super) struct Budget {
    set: Set,
    conditions: Conditions,
    own: Height,
    detector: Detector,
    gas_db_per_m: f64,
    rain_db_per_m: f64,
    rain_per_m: f64,
    beam_rad: f64,
    integration: f64,
    wavelength_m: f64,
    smooth_sea: SmoothSea,
    light: Light,
}

/// An echo held against noise and sea.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Heard {
    /// Signal over receiver noise.
    pub signal_to_noise_db: f64,
    /// Signal over the sea and rain in the same cell; `None` where neither returns.
    pub signal_to_clutter_db: Option<f64>,
    /// Chance to show.
    pub chance: f64,
    /// Chance to show where sea and rain return nothing.
    pub chance_without_clutter: f64,
}

impl Heard {
    /// No echo at all.
    pub const NOTHING: Self = Self {
        signal_to_noise_db: f64::NEG_INFINITY,
        signal_to_clutter_db: None,
        chance: 0.0,
        chance_without_clutter: 0.0,
    };
}

impl Budget {
    pub fn new(set: &Set, conditions: &Conditions, own: Height) -> Self {
        let frequency = set.frequency_mhz;
        let mm_h = conditions.rain.mm_h;
        let rain = rain_loss_db_per_km(mm_h, frequency, set.polarisation);
        let detector = Detector::new(set.pulses_on_target());
        Self {
            set: set.clone(),
            conditions: *conditions,
            own,
            integration: 10f64.powf(detector.integration_gain_db() / 10.0),
            detector,
            // There and back.
            gas_db_per_m: 2.0 * gas_loss_db_per_km(frequency) / 1000.0,
            rain_db_per_m: 2.0 * rain / 1000.0,
            rain_per_m: rain_clutter_per_m(mm_h, frequency),
            light: Light::Bent,
            wavelength_m: set.wavelength_m(),
            smooth_sea: SmoothSea::new(conditions.earth, frequency, set.polarisation, own),
            beam_rad: Angle::from_degrees(two_way_beam_deg(set).min(179.0)).radians(),
        }
    }

    pub fn set(&self) -> &Set {
        &self.set
    }

    pub fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    pub fn own(&self) -> Height {
        self.own
    }

    /// The same, with ground lit otherwise.
    pub fn lit(&self, light: Light) -> Self {
        Self { light, ..self.clone() }
    }

    pub fn light(&self) -> Light {
        self.light
    }

    pub fn detector(&self) -> &Detector {
        &self.detector
    }

    pub fn wavelength_m(&self) -> f64 {
        self.wavelength_m
    }

    /// The sea past its horizon, as it hides from here.
    pub fn smooth_sea(&self) -> &SmoothSea {
        &self.smooth_sea
    }

    /// The beam sending and receiving as the width of one beam used both ways, radians.
    pub fn beam_rad(&self) -> f64 {
        self.beam_rad
    }

    /// Two-way gain at an angle off the axis.
    pub fn pattern(&self, off_rad: f64) -> f64 {
        let widths = off_rad / self.beam_rad;
        (-8.0 * std::f64::consts::LN_2 * widths * widths).exp()
    }

    /// Length across the beam that answers at a distance, metres.
    pub fn across_m(&self, ground_m: f64) -> f64 {
        ground_m * self.beam_rad * BEAM_SHARE
    }

    /// The straight line to a target.
    pub fn slant(&self, ground_m: f64, target: Height) -> SlantRange {
        slant_range(self.own, target, GroundRange::clamped_metres(ground_m), EarthRadius::MEAN)
    }

    /// Whether the set shows anything at such a range: not too near, on its scales, and back before
    /// the next pulse leaves.
    pub fn shows_at(&self, slant: SlantRange) -> bool {
        !self.set.is_blind_at(slant)
            && slant <= self.set.greatest_scale()
            && slant <= self.set.unambiguous_range()
    }

    /// Whether an echo that comes back after the next pulse stands on a scale.
    pub fn shows_late(&self, slant: SlantRange) -> bool {
        !self.set.is_blind_at(slant) && self.set.appears_at(slant) <= self.set.greatest_scale()
    }

    /// Signal over noise of one square metre of the sea at a distance, weather and beams taken off.
    ///
    /// What stands higher is nearer the axis of the upright beam, or over it: [`Budget::rise_gain`].
    pub fn base_db(&self, ground_m: f64) -> f64 {
        let slant = self.slant(ground_m, Height::SEA_LEVEL);
        let (gas, rain) = self.way_db(slant);
        self.set.signal_to_noise_db(1.0, slant)
            - self.set.elevation_loss_db(self.down(ground_m, 0.0))
            - gas
            - rain
    }

    /// Two-way gain of the upright beam towards what is so high, metres, over that towards the sea at the
    /// same distance.
    pub fn rise_gain(&self, ground_m: f64, height_m: f64) -> f64 {
        let loss_db = |height_m| self.set.elevation_loss_db(self.down(ground_m, height_m));
        10f64.powf((loss_db(0.0) - loss_db(height_m)) / 10.0)
    }

    /// What air and rain take there and back, each, decibels.
    pub fn way_db(&self, slant: SlantRange) -> (f64, f64) {
        let in_rain_m = self.conditions.rain.on_the_way_m(self.own, slant);
        (self.gas_db_per_m * slant.metres(), self.rain_db_per_m * in_rain_m)
    }

    /// How far under the horizontal at own place something at a distance is seen, so many metres high;
    /// negative over it.
    pub fn down(&self, ground_m: f64, height_m: f64) -> Angle {
        let radius = self.conditions.earth.radius_m();
        let under_m = self.own.metres() - height_m;
        Angle::from_radians((under_m / ground_m.max(1.0) + ground_m / (2.0 * radius)).atan())
    }

    /// The slope at which the sea at a distance is seen, downward negative.
    pub fn sea_slope(&self, ground_m: f64) -> f64 {
        let radius = self.conditions.earth.radius_m();
        -self.own.metres().max(0.0) / ground_m.max(1.0) - ground_m / (2.0 * radius)
    }

    /// Cross-section of the sea in one cell at a distance, square metres; nothing past the horizon.
    pub fn sea_m2(&self, ground_m: f64) -> f64 {
        let radius = self.conditions.earth.radius_m();
        let grazing = self.own.metres() / ground_m.max(1.0) - ground_m / (2.0 * radius);
        if grazing <= 0.0 {
            return 0.0;
        }
        let set = &self.set;
        let grazing = grazing.atan();
        let sigma = sea_clutter_db(
            Angle::from_radians(grazing),
            set.frequency_mhz,
            set.polarisation,
            self.conditions.sea_state,
        );
        let area = self.across_m(ground_m) * set.pulse_length_m() / grazing.cos().max(0.1);
        10f64.powf(sigma / 10.0) * area
    }

    /// Cross-section of the rain in one cell at a distance, square metres as the sea's are counted.
    ///
    /// The drops between the sea and the rain's top, within beam and pulse. Ground that would hide
    /// some of them is left out, and so is a cosecant beam's shape.
    pub fn rain_m2(&self, ground_m: f64) -> f64 {
        let along = GroundRange::clamped_metres(ground_m);
        if !self.conditions.rain.falls_at(along) {
            return 0.0;
        }
        let volume = self.across_m(ground_m)
            * self.set.rain_height_m(self.own, along)
            * self.set.pulse_length_m();
        // The beam is in the volume: out with the loss that every cell's base has of it.
        let down = self.down(ground_m, 0.0);
        self.rain_per_m * volume * 10f64.powf(self.set.elevation_loss_db(down) / 10.0)
    }

    /// What the sea of a cell takes from the land's standing over the noise, decibels.
    pub fn sea_loss_db(&self, cell: Cell) -> f64 {
        let sea = cell.sea_m2 * 10f64.powf(cell.base_db / 10.0) * self.integration;
        10.0 * (1.0 + sea).log10()
    }

    /// What sea and rain of a cell take from it together, decibels.
    ///
    /// Drops shift among each other between pulses, so that adding pulses beats their return down
    /// as it does noise.
    pub fn clutter_loss_db(&self, cell: Cell) -> f64 {
        let base = 10f64.powf(cell.base_db / 10.0);
        10.0 * (1.0 + (cell.sea_m2 * self.integration + cell.rain_m2) * base).log10()
    }

    /// Holds the land of a cell against noise, and against sea and rain in the same cell.
    ///
    /// The sea hardly changes from pulse to pulse within one look, so that adding pulses does not
    /// beat it down: it counts with the whole of the integration gain.
    pub fn heard(&self, cell: Cell) -> Heard {
        self.heard_any(&[cell]).unwrap_or(Heard::NOTHING)
    }

    /// The chance that at least one of several cells shows, with the levels of the first, which is
    /// the strongest; `None` of none.
    pub fn heard_any(&self, cells: &[Cell]) -> Option<Heard> {
        let strongest = cells.first()?;
        let over_noise = |cell: &Cell| cell.base_db + 10.0 * cell.land_m2.log10();
        let over_both = |cell: &Cell| over_noise(cell) - self.clutter_loss_db(*cell);
        let clutter_m2 = strongest.sea_m2 + strongest.rain_m2;
        let to_clutter = 10.0 * (strongest.land_m2 / clutter_m2).log10();
        let (chance, chance_without_clutter) = match cells {
            // The table of means is quicker for one.
            [cell] => {
                (self.detector.chance(over_both(cell)), self.detector.chance(over_noise(cell)))
            }
            _ => (
                self.detector.chance_of_any(&cells.iter().map(over_both).collect::<Vec<_>>()),
                self.detector.chance_of_any(&cells.iter().map(over_noise).collect::<Vec<_>>()),
            ),
        };
        Some(Heard {
            signal_to_noise_db: over_noise(strongest),
            signal_to_clutter_db: (clutter_m2 > 0.0).then_some(to_clutter),
            chance,
            chance_without_clutter,
        })
    }
}

/// The sending and the receiving beam together, as the width of one gaussian beam used both ways.
fn two_way_beam_deg(set: &Set) -> f64 {
    match set.lobes {
        None => set.beam_width_deg,
        Some(lobes) => (2.0 / (set.beam_width_deg.powi(-2) + lobes.width_deg.powi(-2))).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radar::Rain;

    fn budget(conditions: &Conditions) -> Budget {
        let set = Set::builtin("boat").unwrap();
        Budget::new(&set, conditions, Height::from_metres(15.0).unwrap())
    }

    #[test]
    fn chance_falls_with_range_and_with_rain() {
        let dry = budget(&Conditions::default());
        let wet = budget(&Conditions { rain: Rain::everywhere(16.0), ..Conditions::default() });
        let chance = |budget: &Budget, miles: f64| {
            let base_db = budget.base_db(miles * 1852.0);
            budget.heard(Cell { base_db, land_m2: 100.0, sea_m2: 0.0, rain_m2: 0.0 }).chance
        };
        let mut before = 1.0;
        for miles in 1..48 {
            let now = chance(&dry, f64::from(miles));
            assert!(now <= before, "{miles}");
            assert!(chance(&wet, f64::from(miles)) <= now, "{miles}");
            before = now;
        }
        // ITU-R P.838-3 (value of an independent library at 9.4 GHz): 0.331 dB/km in heavy rain,
        // there and back over 10 NM 12.3 dB.
        let lost = dry.base_db(18_520.0) - wet.base_db(18_520.0);
        assert!((lost - 12.3).abs() < 0.15, "{lost}");
    }

    #[test]
    fn rain_answers_where_it_falls_and_only_there() {
        let miles = |miles: f64| GroundRange::from_nautical_miles(miles).unwrap();
        let ring = Rain { mm_h: 16.0, from: miles(5.0), to: miles(12.0) };
        let of = |set: &str, rain: Rain| {
            let set = Set::builtin(set).unwrap();
            let conditions = Conditions { rain, ..Conditions::default() };
            Budget::new(&set, &conditions, Height::from_metres(15.0).unwrap())
        };
        let land = |budget: &Budget, at: f64| {
            let ground_m = at * 1852.0;
            let cell = Cell {
                base_db: budget.base_db(ground_m),
                land_m2: 100.0,
                sea_m2: 0.0,
                rain_m2: budget.rain_m2(ground_m),
            };
            (
                budget.heard(cell),
                budget.clutter_loss_db(cell),
                budget.way_db(budget.slant(ground_m, Height::SEA_LEVEL)).1,
            )
        };
        let wet = of("boat", ring);
        assert!(land(&wet, 4.0).1.abs() < 1e-9 && land(&wet, 20.0).1.abs() < 1e-9);
        // Heavy rain at 3 cm stands far over the noise: 100 m² in it are lost.
        let (heard, takes_db, _) = land(&wet, 8.0);
        assert!(takes_db > 20.0 && heard.chance < 0.3 && heard.chance_without_clutter > 0.9);
        // Behind it the way through it is paid for, there and back over 7 NM: 0.331 dB/km
        // (ITU-R P.838-3, value of an independent library) makes 8.58 dB.
        assert!((land(&wet, 20.0).2 - 8.58).abs() < 0.1, "{}", land(&wet, 20.0).2);
        // A wave of a metre and a half passes over drops: λ⁻⁴ against 3 cm is 67 dB (computed).
        assert!(land(&of("metric", ring), 8.0).1 < 0.01);
    }

    #[test]
    fn twice_the_distance_costs_twelve_decibels_in_free_space() {
        // (4πR²)² (computed); gas is taken out by its own figure.
        let dry = budget(&Conditions::default());
        let gas = 2.0 * gas_loss_db_per_km(dry.set.frequency_mhz);
        let lost = dry.base_db(20_000.0) - dry.base_db(40_000.0);
        assert!((lost - gas * 20.0 - 12.041).abs() < 0.01, "{lost}");
    }

    #[test]
    fn what_stands_at_own_height_is_on_the_axis_and_half_a_beam_off_it_has_half_each_way() {
        // The definition of a beam's width: half the power at half of it to either side, there and back.
        let own = Height::from_metres(3_000.0).unwrap();
        let set = Set::builtin("patrol").unwrap();
        let budget = Budget::new(&set, &Conditions::default(), own);
        let half = Angle::from_degrees(0.5 * set.elevation_beam_deg).radians();
        let decibels = |ratio: f64| 10.0 * ratio.log10();
        for ground_m in [10_000.0, 20_000.0, 60_000.0] {
            let curve_m = ground_m * ground_m / (2.0 * Conditions::default().earth.radius_m());
            let slant = budget.slant(ground_m, Height::SEA_LEVEL);
            let open_db = set.signal_to_noise_db(1.0, slant) - budget.way_db(slant).0;
            let lost_db = |height_m: f64| {
                open_db - budget.base_db(ground_m) - decibels(budget.rise_gain(ground_m, height_m))
            };
            let level_m = 3_000.0 + curve_m;
            let off_m = half.tan() * ground_m;
            assert!(lost_db(level_m).abs() < 1e-9, "{ground_m}");
            for height_m in [level_m - off_m, level_m + off_m] {
                assert!((lost_db(height_m) - 6.0206).abs() < 0.001, "{ground_m} {height_m}");
            }
            assert!(decibels(budget.rise_gain(ground_m, 0.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn more_height_more_sea_return() {
        // Common practice, no published source: climbing raises the reach of the sea's return.
        let set = Set::builtin("patrol").unwrap();
        let reach = |feet: f64| {
            let own = Height::from_feet(feet).unwrap();
            let budget = Budget::new(&set, &Conditions::default(), own);
            (1..200)
                .map(|i| f64::from(i) * 500.0)
                .filter(|d| {
                    let sea = budget.sea_m2(*d).max(1e-9);
                    let cell = Cell {
                        base_db: budget.base_db(*d),
                        land_m2: sea,
                        sea_m2: 0.0,
                        rain_m2: 0.0,
                    };
                    budget.heard(cell).chance > SHOWS
                })
                .fold(0.0, f64::max)
        };
        assert!(reach(500.0) < reach(1_500.0) && reach(1_500.0) < reach(4_000.0));
    }

    /// Every built-in set at each sea state, from 300 m up.
    fn all_sets_and_seas(check: impl Fn(&str, u8, &Budget)) {
        for name in Set::NAMES {
            for sea_state in 0..=crate::radar::MOST_SEA_STATE {
                let conditions = Conditions { sea_state, ..Conditions::default() };
                let own = Height::from_metres(300.0).unwrap();
                let set = Set::builtin(name).unwrap();
                check(name, sea_state, &Budget::new(&set, &conditions, own));
            }
        }
    }

    #[test]
    fn over_open_sea_the_same_target_shows_less_the_farther_it_is() {
        all_sets_and_seas(|name, sea_state, budget| {
            // From under the elevation beam's lower edge on: nearer, the beam takes more than the
            // distance gives.
            let (mut before, mut falls) = (1.0, 0);
            for ground_m in (10..280).map(|i| f64::from(i) * 1_000.0) {
                let (base_db, sea_m2) = (budget.base_db(ground_m), budget.sea_m2(ground_m));
                let cell = Cell { base_db, land_m2: 1_000.0, sea_m2, rain_m2: 0.0 };
                let heard = budget.heard(cell);
                let now = heard.chance_without_clutter;
                assert!(now <= before + 1e-12, "{name} {sea_state} {ground_m}");
                // The sea only takes, and past its horizon it takes nothing.
                assert!(heard.chance <= now + 1e-12, "{name} {sea_state} {ground_m}");
                if ground_m > 72_000.0 {
                    assert!((heard.chance - now).abs() < 1e-12, "{name} {sea_state} {ground_m}");
                }
                falls += i32::from(now < before);
                before = now;
            }
            assert!(before < 0.2 && falls > 20, "{name} {sea_state} {before} {falls}");
        });
    }

    #[test]
    fn ten_decibels_under_never_shows() {
        all_sets_and_seas(|name, _, budget| {
            let at = |base_db: f64| {
                budget.heard(Cell { base_db, land_m2: 1.0, sea_m2: 0.0, rain_m2: 0.0 }).chance
            };
            let even = (-400..400).map(|i| f64::from(i) * 0.1).find(|db| at(*db) >= SHOWS);
            for under in 100..400 {
                let chance = at(even.unwrap() - 0.1 * f64::from(under));
                assert!(chance < 0.2, "{name} {under}: {chance}");
            }
        });
    }
}
