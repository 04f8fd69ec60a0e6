use jiff::{SignedDuration, Timestamp};
use rand_chacha::ChaCha8Rng;

use super::case::{BIAS_DEG, Measured};
use super::coast::Coast;
use super::features::{Feature, features};
use super::landfall::{Scene, SimulatorError};
use super::look::{Reckoned, sightings};
use super::operator::{Errors, Hand, Manner, Taken, choose_of, measure, moved, ship};
use super::picture::{Picture, Scope};
use super::random::{between, happens, normal, stream};
use super::row::{Answer, LookRow, Row};
use super::score::Off;
use super::shore::{ChartError, METRES_A_DEGREE, MILE, RADIAN};
use super::target::Target;
use super::trace;
use crate::chart::{Chart, GeoBox};
use crate::geodesy::{Position, along_track, course};
use crate::paint::approach::{LandfallPlan, Plan};
use crate::paint::{Conditions, Lookout};
use crate::radar::Set;
use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// What stands out less than this from the coast about it is not measured, nautical miles.
const LEAST_OUT_NM: f64 = 0.4;

/// With fewer contacts there is no fix, and none is asked for.
const LEAST_CONTACTS: usize = 2;

/// The scale in use holds the nearest echo, and half as far again.
const SCALE_HOLDS: f64 = 1.5;

/// Of the reckoning's error, so many standard deviations are looked from.
const SIGMAS: f64 = 4.0;

/// A speed is never out by more than this share of itself.
const MOST_SPEED_OFF: f64 = 0.9;

/// How the operator goes about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// From one look to the next, seconds.
    pub every_s: f64,
    /// The most echoes that are measured at a look.
    pub contacts: usize,
    /// The chance that an echo measured is a ship.
    pub ships: f64,
    /// A right fix counts only with the longer half axis of its 95 % ellipse no more than this,
    /// nautical miles; a wrong one always. None where any does.
    pub within_nm: Option<f64>,
}

impl Habits {
    /// Whether a fix is wider than what counts.
    fn is_wide(&self, off: Off) -> bool {
        self.within_nm.is_some_and(|within| off.axes_nm[0] > within)
    }
}

/// A plan that is to be tried, and what it is tried on.
pub struct Trial<'a> {
    coast: &'a Coast,
    set: &'a Set,
    conditions: &'a Conditions,
    plan: Plan,
    start: Timestamp,
    length: GroundRange,
    landfall: Option<LandfallPlan>,
    habits: Habits,
    target: Option<Target>,
    lookout: Lookout<'a>,
    /// How far from the middle of the run the shore counts, metres.
    reach_m: f64,
}

/// What is planned.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// The set carried.
    pub set: &'a Set,
    /// The weather.
    pub conditions: &'a Conditions,
    /// The track, and how far the reckoning along it is to be believed.
    pub plan: Plan,
    /// When the run starts.
    pub start: Timestamp,
    /// How far it goes.
    pub length: GroundRange,
    /// Where it is planned to make the coast.
    pub landfall: Option<LandfallPlan>,
    /// How the operator goes about it.
    pub habits: Habits,
}

impl Planned<'_> {
    /// How far from the middle of the run the shore counts: the set's reach from wherever a truth may lie,
    /// metres.
    fn reach_m(&self) -> f64 {
        let length_m = self.length.metres();
        let off_m = self.plan.sigma_along_m(length_m).max(self.plan.sigma_across_m(length_m));
        self.set.greatest_scale().metres() + 0.5 * length_m + SIGMAS * off_m
    }

    /// All that such a landfall is made from lies in it.
    pub fn area(&self) -> GeoBox {
        let middle = self.plan.at(0.5 * self.length.metres());
        GeoBox::around(middle, GroundRange::clamped_metres(self.reach_m()))
    }
}

/// One landfall while it is made: the truth.
struct Making<'a> {
    scene: Scene<'a>,
    start: Position,
    track: Bearing<True>,
    metres_per_second: f64,
    hand: Hand<'a>,
}

/// What the operator has of one look.
struct Seen {
    own: Position,
    taken: Vec<Taken>,
    read: Vec<String>,
    missed: Vec<String>,
}

impl<'a> Trial<'a> {
    /// Gets ready to try a plan.
    pub fn new(coast: &'a Coast, planned: Planned<'a>) -> Self {
        let reach_m = planned.reach_m();
        let Planned { set, conditions, plan, start, length, landfall, habits } = planned;
        let length_m = length.metres();
        let off_m = SIGMAS * plan.sigma_along_m(length_m).max(plan.sigma_across_m(length_m));
        let about = GroundRange::clamped_metres(0.5 * length_m + off_m);
        let chart: &Chart = &coast.chart;
        let middle = plan.at(0.5 * length_m);
        Self {
            coast,
            set,
            conditions,
            plan,
            start,
            length,
            landfall,
            habits,
            target: landfall.and_then(|it| Target::at(chart, it.planned)),
            lookout: Lookout::new(chart, middle, about, plan.height, set, conditions),
            reach_m,
        }
    }

    /// What stands for the landfall, where one is planned and anything stands there.
    pub fn target(&self) -> Option<&Target> {
        self.target.as_ref()
    }

    /// How far the run goes by the reckoning, metres.
    pub fn length_m(&self) -> f64 {
        self.length.metres()
    }

    /// Makes one landfall, from its own stream of the seed: the same on any machine.
    ///
    /// # Errors
    /// What was measured cannot be read: a fault of the simulator.
    pub fn landfall(&self, seed: u64, number: u64) -> Result<Row, SimulatorError> {
        let random = &mut stream(seed, number);
        let making = self.making(random);
        let mut row = Row::new(number, self.across_m(&making));
        for look in 0..=self.looks() {
            let seconds = self.habits.every_s * look as f64;
            let own = making.at(seconds);
            if self.coast.chart.coast().is_land(own) == Some(true) {
                break;
            }
            let Some(seen) = self.look(random, &making, own) else { continue };
            let fixed = self.solve(&mut row, &making, &seen, seconds)?;
            if fixed {
                break;
            }
        }
        Ok(row)
    }

    fn looks(&self) -> usize {
        (self.plan.seconds(self.length_m()) / self.habits.every_s.max(1.0)) as usize
    }

    /// Draws the truth: where it starts, how it goes, how the chart and the compass are wrong.
    fn making(&self, random: &mut ChaCha8Rng) -> Making<'a> {
        let plan = &self.plan;
        let sigma_nm = plan.sigma.nautical_miles();
        let (east, north) = (sigma_nm * normal(random), sigma_nm * normal(random));
        let start = moved(plan.from, east, north);
        let off = Angle::from_degrees(plan.track_sigma.degrees() * normal(random));
        let speed = plan.speed.metres_per_second();
        let speed_off = plan.speed_sigma.metres_per_second() * normal(random);
        let accuracy = self.coast.chart.accuracy();
        let shift_m = [(); 2].map(|()| accuracy.shift_sigma.metres() * normal(random));
        let middle = plan.at(0.5 * self.length_m());
        let error = ChartError {
            seed: between(random, 0.0, 4_294_967_296.0) as u64,
            shift_m,
            point_sigma_m: accuracy.point_sigma.metres(),
            degree_east_m: METRES_A_DEGREE * (middle.latitude() * RADIAN).cos().max(1e-3),
        };
        let scope = self.scope();
        let bias_deg = BIAS_DEG * normal(random);
        Making {
            scene: Scene {
                coast: self.coast,
                error,
                scope,
                shore: self.coast.shore.moved(middle, self.reach_m, &error),
            },
            start,
            track: plan.track.turned(off),
            metres_per_second: speed + speed_off.clamp(-MOST_SPEED_OFF * speed, speed),
            hand: Hand {
                manner: Manner { measured: Measured::Edges, least_out_nm: LEAST_OUT_NM },
                errors: Errors::Of(self.set),
                lobes: self.set.lobes.map(|lobes| (lobes, plan.track.degrees())),
                bias_deg,
                times: 1.0,
            },
        }
    }

    fn scope(&self) -> Scope {
        let set = self.set;
        Scope {
            height_m: self.plan.height.metres(),
            bent_m: self.conditions.earth.radius_m(),
            beam_deg: if set.lobes.is_some() { trace::NO_BEAM_DEG } else { set.beam_width_deg },
            cell_m: set.pulse_length_m(),
            reach_m: set.greatest_scale().metres(),
        }
    }

    /// How far the truth lies to the right of the planned track when the reckoning is at the end.
    fn across_m(&self, making: &Making<'_>) -> f64 {
        let end = self.plan.at(self.length_m());
        let line = course(end, making.at(self.plan.seconds(self.length_m())));
        line.distance.metres() * line.initial.minus(self.plan.track).radians().sin()
    }

    /// One look at the set: what is measured of it; `None` where nothing shows.
    fn look(&self, random: &mut ChaCha8Rng, making: &Making<'a>, own: Position) -> Option<Seen> {
        let mut picture = making.scene.picture(own);
        let mut shown = features(&picture, making.hand.manner.least_out_nm * MILE);
        shown.retain(|one| happens(random, self.lookout.shore_probability(own, one.place)));
        shown.retain(|one| self.on_a_scale(&picture, one.near_m));
        let scale_m = self.scale_m(&picture, &shown)?;
        picture.scope.reach_m = scale_m;
        shown.retain(|one| picture.slant(one.near_m) <= scale_m);
        let taken = self.taken(random, making, &picture, &shown);
        let mark = |place: Position| making.scene.mark_at(place).map(str::to_owned);
        let read = distinct(taken.iter().filter(|it| !it.ship).filter_map(|it| mark(it.place)));
        let in_sight = distinct(shown.iter().filter_map(|one| mark(one.place)));
        let missed = in_sight.into_iter().filter(|name| !read.contains(name)).collect();
        Some(Seen { own, taken, read, missed })
    }

    fn on_a_scale(&self, picture: &Picture, ground_m: f64) -> bool {
        let slant = SlantRange::clamped_metres(picture.slant(ground_m));
        !self.set.is_blind_at(slant) && slant <= self.set.unambiguous_range()
    }

    /// The scale in use, metres: by the nearest echo.
    fn scale_m(&self, picture: &Picture, shown: &[Feature]) -> Option<f64> {
        let nearest = shown.iter().map(|one| picture.slant(one.near_m)).reduce(f64::min)?;
        let holds = SlantRange::clamped_metres(SCALE_HOLDS * nearest);
        Some(self.set.smallest_scale_holding(holds) * METRES_PER_NAUTICAL_MILE)
    }

    /// The echoes that the operator measures.
    fn taken(
        &self,
        random: &mut ChaCha8Rng,
        making: &Making<'_>,
        picture: &Picture,
        shown: &[Feature],
    ) -> Vec<Taken> {
        let (mut taken, mut places): (Vec<Taken>, Vec<Position>) = (Vec::new(), Vec::new());
        for _ in 0..self.habits.contacts {
            let Some(feature) = choose_of(random, picture, shown, &places, making.hand) else {
                break;
            };
            let afloat = happens(random, self.habits.ships)
                .then(|| ship(random, picture, &places, making.hand))
                .flatten();
            let contact = afloat.unwrap_or_else(|| measure(random, picture, &feature, making.hand));
            places.push(contact.place);
            taken.push(contact);
        }
        taken
    }

    /// Has a look solved and told in the row; whether it was a fix.
    fn solve(
        &self,
        row: &mut Row,
        making: &Making<'_>,
        seen: &Seen,
        seconds: f64,
    ) -> Result<bool, SimulatorError> {
        let run_m = self.plan.speed.metres_per_second() * seconds;
        let end_m = self.landfall.map_or(self.length, |it| it.run).metres();
        let there = self.target.as_ref().map(|target| {
            let charted = |taken: &Taken| making.scene.error.charted_place(taken.place);
            seen.taken.iter().any(|taken| !taken.ship && target.is_at(charted(taken)))
        });
        let mut told = LookRow {
            at_s: seconds.round() as u32,
            to_run_m: (end_m - run_m).round() as i64,
            contacts: seen.taken.len(),
            real: seen.taken.iter().filter(|taken| !taken.ship).count(),
            ..LookRow::default()
        };
        told.read = row.numbers_of(&seen.read);
        told.missed = row.numbers_of(&seen.missed);
        if seen.taken.len() >= LEAST_CONTACTS {
            let fixed = self.asked(making, seen, seconds, run_m)?;
            told.answered(fixed.as_ref(), there);
            if let Some(fix) = &fixed
                && let Some((position, covariance)) = fix.position.zip(fix.covariance)
                && told.is_fixed()
            {
                let off = Off::new(seen.own, position, covariance);
                if off.is_right() && self.habits.is_wide(off) {
                    told.answer = Answer::Wide;
                } else {
                    row.fixed(off, fix.protection.radius.map(GroundRange::metres));
                }
            }
        } else {
            told.too_few(there);
        }
        let fixed = told.is_fixed();
        row.looks.push(told);
        Ok(fixed)
    }

    /// What the program makes of a look; `None` where it broke down.
    fn asked(
        &self,
        making: &Making<'_>,
        seen: &Seen,
        seconds: f64,
        run_m: f64,
    ) -> Result<Option<crate::fix::Fix>, SimulatorError> {
        let at = self.start.checked_add(SignedDuration::from_secs(seconds.round() as i64));
        let reckoned = Reckoned {
            time: at.unwrap_or(Timestamp::MAX),
            position: self.plan.at(run_m),
            along_nm: self.plan.sigma_along_m(run_m) / METRES_PER_NAUTICAL_MILE,
            across_nm: self.plan.sigma_across_m(run_m) / METRES_PER_NAUTICAL_MILE,
        };
        let planned = self.landfall.map(|it| it.planned);
        let given = sightings(&self.plan, self.set, &reckoned, making.hand, &seen.taken, planned)?;
        Ok(super::look::solve(&self.coast.chart, &given))
    }
}

impl Making<'_> {
    /// Where the truth is so many seconds on: a rhumb line.
    fn at(&self, seconds: f64) -> Position {
        along_track(self.start, self.track, self.metres_per_second * seconds)
    }
}

/// Each name once, in the order in which they come.
fn distinct(names: impl Iterator<Item = String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::new();
    for name in names {
        if !kept.contains(&name) {
            kept.push(name);
        }
    }
    kept
}

impl std::fmt::Debug for Trial<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Trial").field("plan", &self.plan).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::units::{Height, Speed};

    const SEED: u64 = 20_310_702;

    fn plan() -> Plan {
        Plan {
            from: "38 50 S, 23 10 W".parse().unwrap(),
            track: Bearing::from_degrees(64.0).unwrap(),
            speed: Speed::from_knots(165.0).unwrap(),
            height: Height::from_feet(2_000.0).unwrap(),
            sigma: GroundRange::from_nautical_miles(2.0).unwrap(),
            track_sigma: Angle::from_degrees(2.0),
            speed_sigma: Speed::from_knots(5.0).unwrap(),
        }
    }

    fn with_trial(asked: impl FnOnce(&Trial<'_>)) {
        let coast = Coast::of("sample", Arc::new(Chart::sample().unwrap()), None);
        let set = Set::builtin("patrol").unwrap();
        let conditions = Conditions::default();
        let planned = Planned {
            set: &set,
            conditions: &conditions,
            plan: plan(),
            start: "2031-03-09T03:10:00Z".parse().unwrap(),
            length: GroundRange::from_nautical_miles(100.0).unwrap(),
            landfall: None,
            habits: Habits { every_s: 120.0, contacts: 6, ships: 0.15, within_nm: None },
        };
        asked(&Trial::new(&coast, planned));
    }

    #[test]
    fn the_truth_lies_about_the_plan_as_the_plan_says() {
        const N: u32 = 2_000;
        println!("seed {SEED}");
        with_trial(|trial| {
            let length_m = trial.length_m();
            let end = trial.plan.at(length_m);
            // Closed form, errors small: each in its own standard deviations.
            let (mut along, mut across) = ((0.0, 0.0), (0.0, 0.0));
            for number in 0..u64::from(N) {
                let making = trial.making(&mut stream(SEED, number));
                let line = course(end, making.at(trial.plan.seconds(length_m)));
                let (sin, cos) = line.initial.minus(trial.plan.track).radians().sin_cos();
                let x = line.distance.metres() * cos / trial.plan.sigma_along_m(length_m);
                let y = line.distance.metres() * sin / trial.plan.sigma_across_m(length_m);
                along = (along.0 + x, along.1 + x * x);
                across = (across.0 + y, across.1 + y * y);
            }
            for (sum, squares) in [along, across] {
                let (mean, square) = (sum / f64::from(N), squares / f64::from(N));
                println!("mean {mean:.3}, mean square {square:.3}");
                // Three standard errors: 1/√n of a mean, √(2/n) of a mean square, and the curve of
                // the track's error, which pulls the end back by 0.06 NM of 4.
                assert!(mean.abs() < 3.0 / f64::from(N).sqrt() + 0.03, "{mean}");
                assert!((square - 1.0).abs() < 3.0 * (2.0 / f64::from(N)).sqrt(), "{square}");
            }
        });
    }

    #[test]
    fn a_landfall_is_the_same_whenever_it_is_made_and_another_by_another_number() {
        println!("seed {SEED}");
        with_trial(|trial| {
            let [one, again, other] = [4, 4, 5].map(|number| trial.landfall(SEED, number).unwrap());
            assert_eq!(one, again);
            assert_ne!(one.across_m, other.across_m);
            assert!(one.is_whole() && !one.looks.is_empty());
            // Off the coast at a hundred miles nothing shows yet, and a look is no look then.
            assert!(one.looks.iter().all(|look| look.to_run_m < 90 * 1_852), "{one:?}");
        });
    }
}
