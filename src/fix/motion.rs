//! How an echo moves that no chart explains: course and speed from two sights or more.

use jiff::{SignedDuration, Timestamp};
use nalgebra::{Matrix2, SMatrix, SVector, Vector2};

use super::report::Estimate;
use crate::contact::{Contact, Own, Reckoning, plot};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position};
use crate::units::{Angle, Bearing, GroundRange, Speed, True};

/// A speed over ground so far off none is met by chance once in a hundred (chi-square of two
/// degrees of freedom, table).
const MOVES: f64 = 9.21;
/// Sights closer together than this tell no motion, in seconds.
const LEAST_SPAN_S: f64 = 20.0;
/// An echo is no faster than this beforehand, one standard deviation on each axis, metres per
/// second: about 60 knots, so that two sights of nothing much do not make an aircraft of a ship.
const FASTEST_SIGMA: f64 = 30.0;
/// One standard deviation on each axis of a place of which nothing is known, metres.
const ANYWHERE_M: f64 = 1.0e6;

const UNKNOWNS: usize = 7;
/// After place and velocity, east and north each: the bias of all bearings, error of own velocity.
const BIAS: usize = 4;
const OWN_EAST: usize = 5;

/// Where an echo is, and how it moves over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// The time of the last sight, for which the place is.
    pub time: Timestamp,
    /// Where it then was.
    pub place: Estimate,
    /// Over the ground.
    pub course: Bearing<True>,
    /// Over the ground.
    pub speed: Speed,
    /// Error of its velocity, metres per second squared: east, covariance, north.
    pub velocity_covariance: [f64; 3],
    /// Whether it moves beyond doubt: once in a hundred by chance if it stood still.
    pub moves: bool,
    /// How many sights it rests on.
    pub sights: usize,
}

impl Motion {
    /// One standard deviation of the course and of the speed; the course is not told where the
    /// speed is no more than its error.
    pub fn sigmas(&self) -> (Option<Angle>, Speed) {
        let [ee, en, nn] = self.velocity_covariance;
        let (sin, cos) = self.course.sin_cos();
        let along = (ee * sin * sin + 2.0 * en * sin * cos + nn * cos * cos).max(0.0).sqrt();
        let across = (ee * cos * cos - 2.0 * en * sin * cos + nn * sin * sin).max(0.0).sqrt();
        let speed = self.speed.metres_per_second();
        let course = (speed > along).then(|| Angle::from_radians(across / speed));
        (course, Speed::clamped_metres_per_second(along))
    }
}

/// Course and speed of one echo over the ground from sights of it, each a range and a bearing.
///
/// A straight run is fitted by least squares, with the bias that all bearings share and the error of
/// own track and speed as unknowns of their own: so an echo that only seems to move by an error of
/// own speed is not called a mover.
///
/// - `own`: own place at `time`, its error; what the echo's place is counted from.
///
/// None for fewer than two such sights, or for sights within 20 seconds.
pub fn motion_of(
    reckoning: &Reckoning,
    about: &Own,
    (own, time): (&Estimate, Timestamp),
    sights: &[&Contact],
) -> Option<Motion> {
    let told: Vec<Sighted> =
        sights.iter().filter_map(|contact| sighted(reckoning, time, contact)).collect();
    let times = || told.iter().map(|s| s.seconds);
    let (first, last) = (times().reduce(f64::min)?, times().reduce(f64::max)?);
    if told.len() < 2 || last - first < LEAST_SPAN_S {
        return None;
    }
    let used = sights.iter().filter(|sight| sight.range.is_some());
    let bias = about.bearing_bias_sigma(used.flat_map(|sight| sight.turned_from()));
    let (found, covariance) = fitted(reckoning, bias, &told)?;
    // Carried from `time` to the last sight.
    let at = |axis: usize| found[axis] + last * found[axis + 2];
    let velocity = Vector2::new(found[2], found[3]);
    let block = covariance.fixed_view::<2, 2>(2, 2).into_owned();
    let carry = SMatrix::<f64, 2, UNKNOWNS>::from_fn(|row, column| match column {
        c if c == row => 1.0,
        c if c == row + 2 => last,
        _ => 0.0,
    });
    let place = carry * covariance * carry.transpose();
    let relative = Covariance::from_square_metres(
        place[(0, 0)],
        0.5 * (place[(0, 1)] + place[(1, 0)]),
        place[(1, 1)],
    )
    .ok()?;
    let there = PlanePoint { east: at(0), north: at(1) };
    let squared = velocity.dot(&(block.try_inverse()? * velocity));
    Some(Motion {
        time: time.checked_add(SignedDuration::from_secs_f64(last)).ok()?,
        place: Estimate {
            position: LocalPlane::new(own.position).to_position(there),
            covariance: own.covariance.plus(relative),
        },
        course: Bearing::wrapped(velocity[0].atan2(velocity[1])),
        speed: Speed::clamped_metres_per_second(velocity.norm()),
        velocity_covariance: [block[(0, 0)], block[(0, 1)], block[(1, 1)]],
        moves: squared > MOVES,
        sights: told.len(),
    })
}

/// One sight, laid flat about own place at the common time.
struct Sighted {
    /// After the common time.
    seconds: f64,
    at: Vector2<f64>,
    /// How the place turns with the bias of the bearings, metres per radian.
    by_bias: Vector2<f64>,
    covariance: Matrix2<f64>,
}

fn sighted(reckoning: &Reckoning, time: Timestamp, contact: &Contact) -> Option<Sighted> {
    let (range, bearing) = (contact.range?, contact.bearing?);
    let borne = (bearing, contact.bearing_sigma);
    let (out, error) = plot((range, contact.range_sigma), borne, contact.own_height);
    let run = reckoning.displacement(time, contact.time);
    Some(Sighted {
        seconds: contact.time.duration_since(time).as_secs_f64(),
        at: Vector2::new(run.east + out.east, run.north + out.north),
        // A bearing that reads high lies to the right of the truth.
        by_bias: Vector2::new(out.north, -out.east),
        covariance: error.matrix(),
    })
}

type Unknowns = SVector<f64, UNKNOWNS>;
type Square = SMatrix<f64, UNKNOWNS, UNKNOWNS>;

/// The normal equations of all sights and of what is known beforehand, solved.
///
/// - `bias`: one standard deviation of what the bearings share.
fn fitted(reckoning: &Reckoning, bias: Angle, told: &[Sighted]) -> Option<(Unknowns, Square)> {
    let mut normal = prior(reckoning, bias)?;
    let mut right = Unknowns::zeros();
    for sight in told {
        let t = sight.seconds;
        let [be, bn] = [sight.by_bias[0], sight.by_bias[1]];
        // Own velocity as reckoned, less its error, is what the run was laid off by.
        let row = SMatrix::<f64, 2, UNKNOWNS>::from_rows(&[
            [1.0, 0.0, t, 0.0, be, -t, 0.0].into(),
            [0.0, 1.0, 0.0, t, bn, 0.0, -t].into(),
        ]);
        let weight = sight.covariance.try_inverse()?;
        normal += row.transpose() * weight * row;
        right += row.transpose() * weight * sight.at;
    }
    let covariance = normal.try_inverse()?;
    let found = covariance * right;
    found.iter().all(|v| v.is_finite()).then_some((found, covariance))
}

/// What is known before any sight, as weights.
fn prior(reckoning: &Reckoning, bias: Angle) -> Option<Square> {
    let weight = |sigma: f64| 1.0 / (sigma * sigma).max(1e-12);
    let mut normal = Square::zeros();
    for axis in 0..2 {
        normal[(axis, axis)] = weight(ANYWHERE_M);
        normal[(axis + 2, axis + 2)] = weight(FASTEST_SIGMA);
    }
    normal[(BIAS, BIAS)] = weight(bias.radians());
    let speed = reckoning.speed.map_or(0.0, Speed::metres_per_second);
    let along = reckoning.speed_sigma.metres_per_second().max(0.05);
    let across = (speed * reckoning.track_sigma.radians()).abs().max(0.05);
    let (sin, cos) = reckoning.track.unwrap_or(Bearing::ZERO).sin_cos();
    let turned = Matrix2::new(sin, cos, cos, -sin);
    let error =
        turned * Matrix2::new(along * along, 0.0, 0.0, across * across) * turned.transpose();
    let inverse = error.try_inverse()?;
    for row in 0..2 {
        for column in 0..2 {
            normal[(OWN_EAST + row, OWN_EAST + column)] = inverse[(row, column)];
        }
    }
    Some(normal)
}

/// Distance and time to an echo that moves, or does not, at own speed: the course to steer over the
/// ground to meet it. None where it is faster and cannot be met.
///
/// - `from`: own place now; `there`: the echo's place now; velocity in metres per second.
pub fn intercept(
    from: Position,
    there: Position,
    velocity: [f64; 2],
    own: Speed,
) -> Option<(Bearing<True>, f64, GroundRange)> {
    let off = LocalPlane::new(from).to_plane(there);
    let (d, v, speed) = (
        Vector2::new(off.east, off.north),
        Vector2::new(velocity[0], velocity[1]),
        own.metres_per_second(),
    );
    // |d + v t| = speed t: the first time after now.
    let (a, b, c) = (v.norm_squared() - speed * speed, 2.0 * d.dot(&v), d.norm_squared());
    let root = b * b - 4.0 * a * c;
    if speed <= 0.0 || root < 0.0 {
        return None;
    }
    let times = if a.abs() < 1e-9 {
        vec![-c / b]
    } else {
        vec![(-b - root.sqrt()) / (2.0 * a), (-b + root.sqrt()) / (2.0 * a)]
    };
    let seconds =
        times.into_iter().filter(|t| t.is_finite() && *t >= 0.0).min_by(f64::total_cmp)?;
    let run = d + v * seconds;
    let metres = GroundRange::clamped_metres(run.norm());
    Some((Bearing::wrapped(run[0].atan2(run[1])), seconds, metres))
}

/// Where an echo lies by one sight, a range and a bearing: from own place at that time.
pub fn plotted(own: &Estimate, about: &Own, contact: &Contact) -> Option<Estimate> {
    let (range, bearing) = (contact.range?, contact.bearing?);
    let bias = about.bearing_bias_sigma(contact.turned_from());
    let both = contact.bearing_sigma.radians().hypot(bias.radians());
    let borne = (bearing, Angle::from_radians(both));
    let (out, error) = plot((range, contact.range_sigma), borne, contact.own_height);
    Some(Estimate {
        position: LocalPlane::new(own.position).to_position(out),
        covariance: own.covariance.plus(error),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::{BearingKind, Part, ReadBearing};
    use crate::units::{Height, SlantRange};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::StandardNormal;

    fn start() -> Timestamp {
        "2031-03-09T03:40:00Z".parse().unwrap()
    }

    fn reckoning(track: f64, speed: f64) -> Reckoning {
        Reckoning {
            time: start(),
            position: Position::new(-38.0, -21.0).unwrap(),
            covariance: Covariance::default(),
            track: Some(Bearing::wrapped_degrees(track)),
            speed: Some(Speed::from_knots(speed).unwrap()),
            track_sigma: Angle::from_degrees(2.0),
            speed_sigma: Speed::from_knots(0.03 * speed).unwrap(),
            earlier: Vec::new(),
            flow: None,
        }
    }

    fn sight(minutes: f64, range_nm: f64, bearing: f64) -> Contact {
        Contact {
            label: "D".to_owned(),
            time: start() + SignedDuration::from_millis((minutes * 60_000.0) as i64),
            own_height: Height::SEA_LEVEL,
            range: SlantRange::from_nautical_miles(range_nm).ok(),
            range_sigma: GroundRange::from_nautical_miles(0.1).unwrap(),
            bearing: Some(Bearing::wrapped_degrees(bearing)),
            bearing_sigma: Angle::from_degrees(0.7),
            as_read: None,
            heading_as_read: None,
            lobes: None,
            part: Part::Near,
            belief: None,
        }
    }

    fn found(reckoning: &Reckoning, sights: &[Contact]) -> Option<Motion> {
        let own = Own::at_height(Height::SEA_LEVEL);
        let sights: Vec<&Contact> = sights.iter().collect();
        let here = Estimate { position: reckoning.position, covariance: Covariance::default() };
        motion_of(reckoning, &own, (&here, start()), &sights)
    }

    #[test]
    fn the_relative_plot_of_a_crossing_vessel() {
        // Figures of our own, relative motion by hand (computed): own ship 000° at 20 knots.
        // An echo at 045°, 10 NM, then 12 minutes later 6 NM on the same bearing: its relative
        // motion is 225° at 20 knots, so that its own is (-14.14, 20 - 14.14): 292.5° at 15.3 knots.
        let own = reckoning(0.0, 20.0);
        let motion = found(&own, &[sight(0.0, 10.0, 45.0), sight(12.0, 6.0, 45.0)]).unwrap();
        assert!((motion.course.degrees() - 292.5).abs() < 0.5, "{motion:?}");
        assert!((motion.speed.knots() - 15.31).abs() < 0.3, "{motion:?}");
        assert!(motion.moves && motion.sights == 2);
        // At the second sight it bore 045°, 6 NM, from 4 NM north of the start.
        let plane = LocalPlane::new(own.position).to_plane(motion.place.position);
        assert!((plane.east / 1852.0 - 4.243).abs() < 0.02, "{plane:?}");
        assert!((plane.north / 1852.0 - 8.243).abs() < 0.02, "{plane:?}");
    }

    #[test]
    fn one_sight_or_two_in_one_look_tell_no_motion() {
        let own = reckoning(0.0, 20.0);
        assert_eq!(found(&own, &[sight(0.0, 10.0, 45.0)]), None);
        assert_eq!(found(&own, &[sight(0.0, 10.0, 45.0), sight(0.2, 10.0, 45.0)]), None);
    }

    /// An echo that goes so fast north, seen three times with errors drawn as they are stated; its
    /// squared statistical distance from the truth, and whether it is said to move.
    fn drawn(random: &mut ChaCha8Rng, north_kn: f64) -> (f64, bool) {
        let mut normal = || random.sample::<f64, _>(StandardNormal);
        let own = reckoning(74.0, 165.0);
        let (track, speed) = (74.0 + 2.0 * normal(), 165.0 + 0.03 * 165.0 * normal());
        let bias = Own::HEADING_SIGMA_DEG * normal();
        let sights: Vec<Contact> = [0.0, 3.0, 6.0]
            .into_iter()
            .map(|minutes| {
                let run = speed * minutes / 60.0;
                let (sin, cos) = Angle::from_degrees(track).radians().sin_cos();
                let east = 20.0 - run * sin;
                let north = 5.0 + north_kn * minutes / 60.0 - run * cos;
                let bearing = Angle::from_radians(east.atan2(north)).degrees();
                let range = east.hypot(north) + 0.1 * normal();
                sight(minutes, range, bearing + bias + 0.7 * normal())
            })
            .collect();
        let motion = found(&own, &sights).unwrap();
        let [ee, en, nn] = motion.velocity_covariance;
        let (sin, cos) = motion.course.sin_cos();
        let speed = motion.speed.metres_per_second();
        let (e, n) = (speed * sin, speed * cos - north_kn * 1852.0 / 3600.0);
        let squared = (nn * e * e - 2.0 * en * e * n + ee * n * n) / (ee * nn - en * en);
        (squared, motion.moves)
    }

    #[test]
    fn its_error_is_what_it_says_and_still_echoes_seldom_move() {
        const SEED: u64 = 20_310_501;
        const DRAWN: usize = 3_000;
        println!("seed {SEED}");
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        let still: Vec<_> = (0..DRAWN).map(|_| drawn(&mut random, 0.0)).collect();
        let within = still.iter().filter(|(squared, _)| *squared < 5.991).count();
        let moving = still.iter().filter(|(_, moves)| *moves).count();
        println!("still: {within} of {DRAWN} in the 95 % ellipse, {moving} said to move");
        // Of 3,000 at 95 and at 1 %: five standard deviations are 60 and 27.
        assert!((2_790..=2_910).contains(&within));
        assert!((3..=57).contains(&moving));
        let fast = (0..DRAWN).map(|_| drawn(&mut random, 25.0));
        let told = fast.filter(|(_, moves)| *moves).count();
        println!("at 25 knots: {told} of {DRAWN} said to move");
        assert!(told > DRAWN / 2);
    }

    #[test]
    fn a_bearing_turned_by_the_magnetic_model_is_plotted_with_the_models_error() {
        let reckoning = reckoning(0.0, 20.0);
        let here = Estimate { position: reckoning.position, covariance: Covariance::default() };
        let mut own = Own::at_height(Height::SEA_LEVEL);
        own.take_model(reckoning.position, reckoning.time);
        let model = own.modelled.as_ref().unwrap().sigma.degrees();
        let across = |kind: BearingKind| {
            let as_read = Some(ReadBearing { kind, degrees: 45.0 });
            let contact = Contact { as_read, ..sight(0.0, 10.0, 45.0) };
            let place = plotted(&here, &own, &contact).unwrap();
            place.covariance.sigma_towards(Bearing::wrapped_degrees(135.0))
        };
        // 10 NM off: the reading's own 0.7° and what all bearings share, in radians.
        let expected =
            |shared_deg: f64| 18_520.0 * Angle::from_degrees(0.7f64.hypot(shared_deg)).radians();
        let plain = Own::HEADING_SIGMA_DEG;
        assert!((across(BearingKind::True) - expected(plain)).abs() < 0.01);
        assert!((across(BearingKind::Magnetic) - expected(plain.hypot(model))).abs() < 0.01);
        assert!(across(BearingKind::Magnetic) > across(BearingKind::True) + 1.0);
    }

    #[test]
    fn an_intercept_meets_the_echo() {
        let from = Position::new(-38.0, -21.0).unwrap();
        let there =
            LocalPlane::new(from).to_position(PlanePoint { east: 12.0 * 1852.0, north: 0.0 });
        // 12 NM east, going north at 9 knots; own speed 15: north 9, east 12 knots, an hour, 036.87°
        // from the east line (the 3-4-5 triangle).
        let velocity = [0.0, 9.0 * 1852.0 / 3600.0];
        let own = Speed::from_knots(15.0).unwrap();
        let (course, seconds, run) = intercept(from, there, velocity, own).unwrap();
        assert!((course.degrees() - 53.13).abs() < 0.05, "{course:?}");
        assert!((seconds - 3600.0).abs() < 5.0 && (run.nautical_miles() - 15.0).abs() < 0.02);
        // One that runs away faster is never met.
        let away = [20.0, 0.0];
        assert_eq!(intercept(from, there, away, own), None);
    }
}
