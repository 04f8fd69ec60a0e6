use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::super::exercise::Declaration::{self, CannotSay, Confirmed, Denied};
use super::super::order::{Carry, Order};
use super::super::path::Turn;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::paint::{Afloat, Conditions};
use crate::radar::{Rain, Set};
use crate::units::{Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// Each lesson begins within some distance of its place, as the seed has it: nautical miles, one
/// standard deviation on each axis.
const ABOUT_NM: f64 = 0.5;

/// A freighter's answer, square metres, and its height: typical of open-sea tables, from memory.
const SHIP_M2: f64 = 5_000.0;
const SHIP_FT: f64 = 80.0;

/// Where a lesson begins, in degrees and minutes south and west.
fn place(south: (f64, f64), west: (f64, f64)) -> Position {
    Position::wrapped(-(south.0 + south.1 / 60.0), -(west.0 + west.1 / 60.0))
}

/// Places of the sample coast that landfalls are planned on.
mod mark {
    pub const GANNET: ((f64, f64), (f64, f64)) = ((38.0, 1.0), (21.0, 11.42));
    pub const CORBEL: ((f64, f64), (f64, f64)) = ((38.0, 8.6), (21.0, 8.63));
    pub const LANTERN: ((f64, f64), (f64, f64)) = ((38.0, 28.4), (21.0, 9.39));
    pub const GREAT_EMBER: ((f64, f64), (f64, f64)) = ((38.0, 12.85), (21.0, 18.33));
    pub const FALLOW: ((f64, f64), (f64, f64)) = ((37.0, 29.0), (21.0, 10.15));
}

fn at((south, west): ((f64, f64), (f64, f64))) -> Position {
    place(south, west)
}

/// An aircraft with a turning beam, 2,000 ft up at 165 kn: what most lessons start from.
fn patrol(set: Set, lesson: usize, seed: u64, from: Position, heading_deg: f64) -> Order {
    Order {
        lesson: Some(lesson),
        seed,
        set_name: "patrol".to_owned(),
        set,
        from: near(from, seed, lesson),
        heading: Bearing::wrapped_degrees(heading_deg),
        through_kn: 165.0,
        height_ft: 2_000.0,
        reckoned_with: Carry::NONE,
        truly: Carry::wind(230.0, 8.0),
        hours: 0.4,
        carry_sigma_kn: 8.0,
        start_sigma_nm: 0.5,
        conditions: Conditions::default(),
        weather: "cloud, a slight sea, no rain".to_owned(),
        afloat: Vec::new(),
        landfall: at(mark::GANNET),
        accepted: vec![Confirmed],
        untold: false,
        turn: None,
        scans: 4,
        every_s: 60,
        scale_nm: 25.0,
    }
}

/// A small vessel at 9 kn.
fn boat(set: Set, lesson: usize, seed: u64, from: Position, heading_deg: f64) -> Order {
    Order {
        set_name: "boat".to_owned(),
        through_kn: 9.0,
        height_ft: 26.0,
        truly: Carry { toward_deg: 170.0, knots: 1.2 },
        hours: 3.0,
        carry_sigma_kn: 1.0,
        every_s: 180,
        scale_nm: 12.0,
        ..patrol(set, lesson, seed, from, heading_deg)
    }
}

/// An aircraft of metre waves, with two fixed lobes and a range trace.
fn metric(set: Set, lesson: usize, seed: u64, from: Position, heading_deg: f64) -> Order {
    Order {
        set_name: "metric".to_owned(),
        through_kn: 140.0,
        height_ft: 3_000.0,
        scale_nm: 30.0,
        ..patrol(set, lesson, seed, from, heading_deg)
    }
}

fn near(from: Position, seed: u64, lesson: usize) -> Position {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(lesson as u64);
    let mut off = || {
        let off: f64 = StandardNormal.sample(&mut random);
        off.clamp(-2.0, 2.0) * ABOUT_NM * METRES_PER_NAUTICAL_MILE
    };
    let point = PlanePoint { east: off(), north: off() };
    LocalPlane::new(from).to_position(point)
}

fn ship(south: (f64, f64), west: (f64, f64)) -> Afloat {
    let height = Height::from_feet(SHIP_FT).unwrap_or_default();
    Afloat { position: place(south, west), height, m2: SHIP_M2 }
}

fn sea(state: u8) -> Conditions {
    Conditions { sea_state: state, ..Conditions::default() }
}

fn rain(mm_h: f64, from_nm: f64, to_nm: f64) -> Conditions {
    let miles = |nm: f64| GroundRange::clamped_metres(nm * METRES_PER_NAUTICAL_MILE);
    Conditions { rain: Rain { mm_h, from: miles(from_nm), to: miles(to_nm) }, ..sea(3) }
}

fn accept(declarations: &[Declaration]) -> Vec<Declaration> {
    declarations.to_vec()
}

pub(super) fn slant_range(mut set: Set, seed: u64) -> Order {
    // From so high a plain beam passes over what is near: this one is shaped downward.
    set.cosecant_to_deg = Some(40.0);
    Order {
        height_ft: 24_000.0,
        through_kn: 220.0,
        ..patrol(set, 1, seed, place((38.0, 9.0), (21.0, 24.0)), 95.0)
    }
}

pub(super) fn low_shore(set: Set, seed: u64) -> Order {
    Order {
        landfall: at(mark::LANTERN),
        ..patrol(set, 2, seed, place((38.0, 22.0), (21.0, 30.0)), 95.0)
    }
}

pub(super) fn inland_ground(set: Set, seed: u64) -> Order {
    Order {
        height_ft: 250.0,
        hours: 0.8,
        scale_nm: 100.0,
        landfall: at(mark::CORBEL),
        accepted: accept(&[Denied, CannotSay]),
        ..patrol(set, 3, seed, place((38.0, 22.0), (22.0, 12.0)), 85.0)
    }
}

pub(super) fn beam_width(set: Set, seed: u64) -> Order {
    Order {
        scale_nm: 50.0,
        height_ft: 5_000.0,
        ..patrol(set, 4, seed, place((38.0, 2.0), (21.0, 52.0)), 90.0)
    }
}

pub(super) fn shadow(set: Set, seed: u64) -> Order {
    Order {
        landfall: at(mark::CORBEL),
        accepted: accept(&[Denied, CannotSay]),
        hours: 2.0,
        scale_nm: 24.0,
        ..boat(set, 5, seed, place((37.0, 54.5), (21.0, 10.5)), 180.0)
    }
}

pub(super) fn look_alike(set: Set, seed: u64) -> Order {
    // Off the one pair or the other, nine miles apart, with the reckoning between them.
    let (toward_deg, from, word) = if seed.is_multiple_of(2) {
        (180.0, place((37.0, 39.0), (21.0, 22.0)), Denied)
    } else {
        (0.0, place((37.0, 30.0), (21.0, 22.0)), Confirmed)
    };
    Order {
        truly: Carry { toward_deg, knots: 1.5 },
        carry_sigma_kn: 1.5,
        landfall: at(mark::FALLOW),
        accepted: accept(&[CannotSay, word]),
        untold: true,
        ..boat(set, 6, seed, from, 90.0)
    }
}

pub(super) fn sea_return(set: Set, seed: u64) -> Order {
    Order {
        height_ft: 1_000.0,
        conditions: sea(5),
        weather: "cloud, a rough sea, spray".to_owned(),
        ..patrol(set, 7, seed, place((38.0, 4.0), (21.0, 27.0)), 80.0)
    }
}

pub(super) fn rain_ahead(set: Set, seed: u64) -> Order {
    Order {
        conditions: rain(12.0, 5.0, 9.0),
        weather: "heavy showers about, some miles off".to_owned(),
        ..patrol(set, 8, seed, place((38.0, 9.0), (21.0, 31.0)), 75.0)
    }
}

pub(super) fn far_out(set: Set, seed: u64) -> Order {
    Order {
        hours: 0.75,
        truly: Carry::wind(350.0, 20.0),
        carry_sigma_kn: 10.0,
        start_sigma_nm: 1.0,
        accepted: accept(&[Denied]),
        ..patrol(set, 9, seed, place((38.0, 14.0), (21.0, 28.0)), 70.0)
    }
}

pub(super) fn false_echo(set: Set, seed: u64) -> Order {
    Order {
        afloat: vec![
            ship((38.0, 5.5), (21.0, 21.0)),
            ship((38.0, 16.5), (21.0, 25.0)),
            ship((37.0, 58.5), (21.0, 24.0)),
        ],
        ..patrol(set, 10, seed, place((38.0, 8.0), (21.0, 33.0)), 75.0)
    }
}

pub(super) fn two_deflections(set: Set, seed: u64) -> Order {
    Order {
        height_ft: 1_000.0,
        landfall: at(mark::GREAT_EMBER),
        accepted: accept(&[Confirmed, CannotSay]),
        ..metric(set, 11, seed, place((38.0, 15.0), (21.0, 44.0)), 78.0)
    }
}

pub(super) fn a_turn(set: Set, seed: u64) -> Order {
    // From north by west round to 078 in half a minute.
    let bank = Angle::from_degrees(20.0);
    Order {
        height_ft: 1_500.0,
        landfall: at(mark::GREAT_EMBER),
        accepted: accept(&[Confirmed, CannotSay]),
        turn: Some(Turn { from_s: -6.0, until_s: 24.0, bank }),
        every_s: 20,
        scans: 6,
        ..metric(set, 12, seed, place((38.0, 15.0), (21.0, 44.0)), 353.0)
    }
}
