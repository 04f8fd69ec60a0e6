use std::path::Path;

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::chart::Chart;
use crate::contact::{Part, Sightings};
use crate::fix::case::Case;
use crate::fix::prospect::Prospect;
use crate::fix::report::{Fix, Measure, NextMeasurement, Options, Purpose, Verdict};
use crate::fix::{fix, judge};
use crate::geodesy::{Covariance, LocalPlane, PlanePoint, Position, course};
use crate::identity::{
    Belief, Candidate, Charted, Level, Prior, Problem, Reading, Shared, Sight, Sighting,
    Unobstructed,
};
use crate::paint::Conditions;
use crate::paint::approach::Look;
use crate::units::Angle;

const NM: f64 = 1852.0;
const SEED: u64 = 20_310_411;
const RANGE_NM: f64 = 0.15;

/// A set whose bearings have an error of so many degrees.
struct Set {
    bearing_deg: f64,
    directions: bool,
}

impl Prospect for Set {
    fn range_sigma(&self, _: f64) -> f64 {
        RANGE_NM * NM
    }

    fn bearing_sigma(&self) -> f64 {
        radians(self.bearing_deg)
    }

    fn reach(&self) -> f64 {
        60.0 * NM
    }

    fn tells_directions(&self) -> bool {
        self.directions
    }
}

/// Some marks never paint.
struct Dark(Vec<usize>);

impl Sighting for Dark {
    fn chance(&self, _: Level, _: Position, candidate: usize) -> f64 {
        if self.0.contains(&candidate) { 0.01 } else { 0.99 }
    }
}

fn radians(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

fn at(east: f64, north: f64) -> Position {
    let origin = Position::new(-38.0, -21.0).unwrap();
    LocalPlane::new(origin).to_position(PlanePoint { east: east * NM, north: north * NM })
}

fn mark(east: f64, north: f64) -> Candidate {
    Candidate {
        position: at(east, north),
        height_m: 0.0,
        sigma_m: 0.05 * NM,
        slack_m: 0.0,
        weight: 1.0,
    }
}

/// At so many miles in so many directions about a place.
fn ring(about: (f64, f64), miles: f64, bearings: &[f64]) -> Vec<Candidate> {
    let place = |bearing: &f64| {
        let (sin, cos) = radians(*bearing).sin_cos();
        mark(about.0 + miles * sin, about.1 + miles * cos)
    };
    bearings.iter().map(place).collect()
}

/// What is read of a mark from a place, with errors drawn, the bearing less the common bias.
struct Reader<'a, R> {
    random: &'a mut R,
    bias: f64,
    bearing_deg: f64,
}

impl<R: Rng> Reader<'_, R> {
    fn normal(&mut self) -> f64 {
        StandardNormal.sample(self.random)
    }

    fn read(&mut self, from: Position, mark: &Candidate, measure: Measure) -> Sight {
        let off =
            PlanePoint { east: self.normal() * mark.sigma_m, north: self.normal() * mark.sigma_m };
        let line = course(from, LocalPlane::new(mark.position).to_position(off));
        let (range, bearing) = (self.normal(), self.normal());
        let wanted = |single| measure == single || measure == Measure::RangeAndBearing;
        let sigma = RANGE_NM * NM;
        let read = line.distance.metres() + range * sigma;
        let turned = line.initial.radians() + self.bias + bearing * radians(self.bearing_deg);
        Sight {
            own_height_m: 0.0,
            level: Level::NOW,
            range: wanted(Measure::Range).then_some(Reading { value: read, sigma }),
            bearing: wanted(Measure::Bearing).then_some(Reading {
                value: turned.rem_euclid(std::f64::consts::TAU),
                sigma: radians(self.bearing_deg),
            }),
            ratio: None,
            told: Vec::new(),
            run: PlanePoint::default(),
            elapsed_s: 0.0,
            belief: None,
            off_chart: 0.15,
            surely: None,
            part: Part::Near,
            traced: None,
        }
    }
}

fn exact(from: (f64, f64), mark: &Candidate, measure: Measure) -> Sight {
    let mut random = ChaCha8Rng::seed_from_u64(0);
    let mut reader = Reader { random: &mut random, bias: 0.0, bearing_deg: 1.0 };
    let mut sight = reader.read(at(from.0, from.1), mark, measure);
    let line = course(at(from.0, from.1), mark.position);
    sight.range = sight.range.map(|r| Reading { value: line.distance.metres(), ..r });
    sight.bearing = sight.bearing.map(|b| Reading { value: line.initial.radians(), ..b });
    sight
}

fn called(mut sight: Sight, candidate: usize) -> Sight {
    sight.belief = Some(Belief { candidate, confidence: 0.95 });
    sight.off_chart = 0.0075;
    sight
}

struct Scene<'a> {
    marks: Vec<Candidate>,
    sights: Vec<Sight>,
    reckoned: (f64, f64),
    sigma_nm: f64,
    sighting: &'a dyn Sighting,
    bearing_deg: f64,
    directions: bool,
}

impl Scene<'_> {
    fn fix(&self) -> Fix {
        let sigma = self.sigma_nm;
        let problem = Problem {
            candidates: self.marks.clone(),
            prior: Prior {
                position: at(self.reckoned.0, self.reckoned.1),
                covariance: Covariance::from_square_miles(sigma * sigma, 0.0, sigma * sigma)
                    .unwrap(),
                elapsed_s: 0.0,
                track: 0.0,
                along_sigma: 0.0,
                across_sigma: 0.0,
            },
            shared: Shared {
                bearing_bias_sigma: radians(1.0),
                range_bias_sigma: 0.05 * NM,
                chart_shift_sigma: 0.05 * NM,
                own_height_sigma: 0.0,
            },
            own_height_m: 0.0,
            reach_m: 60.0 * NM,
            any_shore: None,
            sights: self.sights.clone(),
        };
        let labels = (0..problem.sights.len()).map(|i| format!("C{i}")).collect();
        let names = (0..problem.candidates.len()).map(|i| format!("Mark {i}")).collect();
        let case = Case {
            problem,
            labels,
            names,
            answering: &Charted,
            sighting: self.sighting,
            prospect: &Set { bearing_deg: self.bearing_deg, directions: self.directions },
            time: "2031-04-11T03:40:00Z".parse().unwrap(),
            cautions: Vec::new(),
            slips: Vec::new(),
        };
        judge::judge(&case, &Options::default())
    }
}

fn scene(marks: Vec<Candidate>, sights: Vec<Sight>) -> Scene<'static> {
    Scene {
        marks,
        sights,
        reckoned: (0.0, 0.0),
        sigma_nm: 4.0,
        sighting: &Unobstructed,
        bearing_deg: 1.0,
        directions: true,
    }
}

fn index(next: &NextMeasurement) -> usize {
    next.mark.strip_prefix("Mark ").and_then(|n| n.parse().ok()).unwrap()
}

#[test]
fn after_one_range_the_next_is_at_right_angles_to_it() {
    // Marks all round at 15 NM; one to the north at 8 NM, ranged. Of a second range the long axis is
    // least where the lines cross at right angles.
    let bearings: Vec<f64> = (1..12).map(|i| 30.0 * f64::from(i)).collect();
    let mut marks = vec![mark(0.0, 8.0)];
    marks.extend(ring((0.0, 0.0), 15.0, &bearings));
    let sight = called(exact((0.0, 0.0), &marks[0], Measure::Range), 0);
    // A set that tells no bearings.
    let scene = Scene { directions: false, sigma_nm: 2.0, ..scene(marks, vec![sight]) };
    let fix = scene.fix();
    assert_eq!(fix.verdict, Verdict::TooFew, "{fix:#?}");
    let mut best: Vec<usize> = fix.next[..2].iter().map(index).collect();
    best.sort_unstable();
    assert_eq!(best, [3, 9], "{:#?}", fix.next);
    for next in &fix.next[..2] {
        assert_eq!((next.measure, next.purpose), (Measure::Range, Purpose::Shorten));
        assert!((next.range.unwrap().nautical_miles() - 15.0).abs() < 0.1);
        assert!(next.words.starts_with("range of Mark "), "{}", next.words);
    }
}

#[test]
fn of_two_marks_in_line_and_one_off_it_the_third_wins() {
    let marks = vec![mark(0.0, 12.0), mark(0.0, 20.0), mark(13.0, 14.0)];
    let sight = called(exact((0.0, 0.0), &marks[0], Measure::Range), 0);
    let scene = Scene { directions: false, ..scene(marks, vec![sight]) };
    assert_eq!(index(&scene.fix().next[0]), 2);
}

#[test]
fn a_mark_that_cannot_paint_is_never_proposed() {
    let marks = ring((0.0, 0.0), 15.0, &[0.0, 90.0, 180.0, 270.0, 45.0]);
    let named = called(exact((0.0, 0.0), &marks[0], Measure::RangeAndBearing), 0);
    for sights in
        [vec![named.clone()], vec![called(exact((0.0, 0.0), &marks[0], Measure::Range), 0)]]
    {
        let dark = Dark(vec![1, 3]);
        let scene = Scene { sighting: &dark, ..scene(marks.clone(), sights) };
        let fix = scene.fix();
        assert!(!fix.next.is_empty(), "{fix:#?}");
        assert!(fix.next.iter().all(|n| ![1, 3].contains(&index(n))), "{:#?}", fix.next);
    }
}

#[test]
fn an_unchecked_fix_is_checked_first_by_another_mark() {
    let marks = ring((0.0, 0.0), 12.0, &[20.0, 110.0, 60.0]);
    let sight = called(exact((0.0, 0.0), &marks[0], Measure::RangeAndBearing), 0);
    let fix = scene(marks, vec![sight]).fix();
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let best = &fix.next[0];
    assert_eq!(best.purpose, Purpose::Check);
    assert!(fix.next.iter().all(|next| index(next) != 0), "{:#?}", fix.next);
    assert!(best.words.ends_with("checks the fix"), "{}", best.words);
    // It holds the place of a wrong mark in both directions: range and bearing.
    assert_eq!(best.measure, Measure::RangeAndBearing);
}

#[test]
fn a_mark_with_a_twin_beside_it_is_worth_less() {
    // Two marks half a mile apart to the east, one alone to the west; else the same.
    let marks = vec![mark(0.0, 15.0), mark(15.0, 0.0), mark(15.0, 0.5), mark(-15.0, 0.0)];
    let sight = called(exact((0.0, 0.0), &marks[0], Measure::Range), 0);
    let scene = Scene { directions: false, ..scene(marks, vec![sight]) };
    assert_eq!(index(&scene.fix().next[0]), 3);
}

#[test]
fn places_on_either_side_of_a_line_are_told_apart_by_a_mark_off_it() {
    // Circles about (0, 0) and (8, 0), both 5 NM, meet at (4, 3) and (4, -3) (computed). A mark
    // on the line has the same range from both; one to the north has not.
    let marks = vec![mark(0.0, 0.0), mark(8.0, 0.0), mark(30.0, 0.0), mark(4.0, 25.0)];
    let sights = [0, 1].map(|m| called(exact((4.0, 3.0), &marks[m], Measure::Range), m)).to_vec();
    // Bearings that cannot tell 26 miles' distance from either place.
    let scene =
        Scene { reckoned: (4.0, 0.1), sigma_nm: 5.0, bearing_deg: 15.0, ..scene(marks, sights) };
    let fix = scene.fix();
    assert_eq!(fix.verdict, Verdict::Ambiguous, "{fix:#?}");
    let settles = |m: usize| {
        let told = fix.next.iter().find(|next| index(next) == m);
        told.map_or(0.0, |next| next.settles.unwrap())
    };
    assert!(settles(3) > 0.9, "{:#?}", fix.next);
    assert!(settles(2) < 0.1, "{:#?}", fix.next);
    assert!(fix.next.iter().all(|next| next.purpose == Purpose::Settle));
}

#[test]
fn the_bearing_of_a_mark_already_ranged_tells_the_crossings_apart() {
    let marks = vec![mark(0.0, 0.0), mark(8.0, 0.0)];
    let sights = [0, 1].map(|m| called(exact((4.0, 3.0), &marks[m], Measure::Range), m)).to_vec();
    let fix = Scene { reckoned: (4.0, 0.1), sigma_nm: 5.0, ..scene(marks, sights) }.fix();
    let best = &fix.next[0];
    assert_eq!(best.measure, Measure::Bearing, "{:#?}", fix.next);
    assert!(best.settles.unwrap() > 0.9 && best.bearing.is_none(), "{best:#?}");
    assert!(best.words.contains("tells the two places apart"), "{}", best.words);
}

/// Takes the advised measurement, without error, of the mark it names.
fn taken(scene: &mut Scene<'_>, from: Position, next: &NextMeasurement, named: bool) {
    let mark = scene.marks[index(next)];
    let line = course(from, mark.position);
    let mut sight = exact((0.0, 0.0), &mark, next.measure);
    sight.range = sight.range.map(|r| Reading { value: line.distance.metres(), ..r });
    sight.bearing = sight.bearing.map(|b| Reading { value: line.initial.radians(), ..b });
    scene.sights.push(if named { called(sight, index(next)) } else { sight });
}

#[test]
fn the_axis_becomes_what_was_promised() {
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut tried = 0;
    for _ in 0..40 {
        let marks: Vec<Candidate> = (0..9)
            .map(|_| mark(random.random_range(-25.0..25.0), random.random_range(8.0..30.0)))
            .collect();
        let count = 2 + random.random_range(0..2usize);
        let named = |m: usize| called(exact((0.0, 0.0), &marks[m], Measure::RangeAndBearing), m);
        let sights = (0..count).map(named).collect();
        let mut scene = Scene { sigma_nm: 3.0, ..scene(marks, sights) };
        let fix = scene.fix();
        let (Verdict::Fixed, [next, ..]) = (fix.verdict, fix.next.as_slice()) else { continue };
        let promised = next.major_axis_after.nautical_miles();
        taken(&mut scene, at(0.0, 0.0), next, true);
        let after = scene.fix();
        if after.verdict != Verdict::Fixed {
            continue;
        }
        let kept = after.ellipse.unwrap().semi_major.nautical_miles();
        assert!((kept / promised - 1.0).abs() < 0.1, "seed {SEED}: {kept} of {promised}");
        tried += 1;
    }
    assert!(tried >= 20, "{tried}");
}

/// A place of its own for each trial, two echoes, and what the advice then comes to: the chance
/// claimed and whether it settled.
///
/// The mark that tells groups of marks apart is `off` miles farther out in each, so that the advice
/// is worth much where that is far, little where it is near.
fn settled(random: &mut ChaCha8Rng, off: f64) -> Option<(f64, bool)> {
    // The same marks three times over, 14 miles apart.
    let mut marks = Vec::new();
    for group in 0..3 {
        let north = 14.0 * f64::from(group);
        marks.extend([mark(10.0, north), mark(12.0, north - 3.5)]);
        marks.push(mark(13.0 + off * f64::from(group), north + 4.0 + 0.6 * off * f64::from(group)));
    }
    let group = random.random_range(0..3usize);
    let mut normal = || -> f64 { StandardNormal.sample(&mut *random) };
    let truth = at(0.3 * normal(), 14.0 * group as f64 - 1.0 + 0.5 * normal());
    let bias = radians(1.0) * normal();
    let reckoned = (1.0 + 0.5 * normal(), 13.0 + normal());
    let mut reader = Reader { random, bias, bearing_deg: 1.0 };
    let sights: Vec<Sight> = [0, 1]
        .map(|m| reader.read(truth, &marks[3 * group + m], Measure::RangeAndBearing))
        .to_vec();
    let mut scene = Scene { reckoned, sigma_nm: 12.0, ..scene(marks, sights) };
    let fix = scene.fix();
    let next = fix.next.first().filter(|_| fix.verdict == Verdict::Ambiguous)?;
    let mark = scene.marks[index(next)];
    let sight = reader.read(truth, &mark, next.measure);
    let single = next.measure != Measure::RangeAndBearing;
    scene.sights.push(if single { called(sight, index(next)) } else { sight });
    let after = scene.fix();
    let right =
        after.position.is_some_and(|found| course(found, truth).distance.nautical_miles() < 3.0);
    Some((next.settles.unwrap(), right))
}

#[test]
fn places_are_settled_about_as_often_as_claimed() {
    // Three standard deviations of a count of trials, each with the chance that it claims: a true
    // claim fails once in 370.
    const SIGMAS: f64 = 3.0;
    for off in [0.4, 0.8, 2.5] {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        let trials: Vec<(f64, bool)> = (0..200).filter_map(|_| settled(&mut random, off)).collect();
        let count = trials.len() as f64;
        let claimed: f64 = trials.iter().map(|(claim, _)| claim).sum();
        let spread = trials.iter().map(|(claim, _)| claim * (1.0 - claim)).sum::<f64>().sqrt();
        let found = trials.iter().filter(|(_, right)| *right).count() as f64;
        let told = format!(
            "seed {SEED}, {off} NM: of {count} trials {claimed:.1} claimed, {found} found, \
             standard deviation {spread:.1}"
        );
        assert!(count >= 100.0, "{told}");
        assert!((claimed - found).abs() < SIGMAS * spread + 1.0, "{told}");
    }
}

#[test]
fn what_is_told_paints_by_the_whole_budget_of_one_mark() {
    let chart = Chart::sample().unwrap();
    let files = [
        include_str!("../../../charts-sample/landfall.toml"),
        include_str!("../../../charts-sample/lookalike.toml"),
    ];
    for (text, least) in files.into_iter().zip([5, 1]) {
        let sightings = Sightings::parse(text, "sample", Path::new("")).unwrap();
        let found = fix(&chart, &sightings, &Options::default());
        let places: Vec<Position> = match found.position {
            Some(position) => vec![position],
            None => found.rivals.iter().map(|rival| rival.estimate.position).collect(),
        };
        let (own, set) = (&sightings.own, &sightings.radar.set);
        let look = Look::new(&chart, (own.height, own.heading), set, &Conditions::default());
        assert!(found.next.len() >= least, "{:?}", found.next);
        for told in &found.next {
            let Some(id) = chart.marks().find(&told.mark) else { continue };
            let chance = |from: &Position| look.mark(*from, id).unwrap().paint_probability;
            assert!(places.iter().any(|from| chance(from) >= 0.5), "{}", told.words);
        }
    }
}
