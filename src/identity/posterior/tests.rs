use super::*;
use crate::contact::Part;
use crate::geodesy::{PlanePoint, distance};
use crate::identity::problem::{Belief, Candidate, Charted, Level, Prior, Reading, Shared, Sight};
use crate::units::Angle;

const NM: f64 = 1852.0;

fn radians(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

fn origin() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

/// A mark at a range and bearing from the origin.
fn mark(range: f64, bearing: f64) -> Candidate {
    let (sin, cos) = radians(bearing).sin_cos();
    let place = PlanePoint { east: range * NM * sin, north: range * NM * cos };
    Candidate {
        position: LocalPlane::new(origin()).to_position(place),
        height_m: 0.0,
        sigma_m: 0.0,
        slack_m: 0.0,
        weight: 1.0,
    }
}

fn contact(range: f64, bearing: f64) -> Sight {
    Sight {
        own_height_m: 0.0,
        level: Level::NOW,
        range: Some(Reading { value: range * NM, sigma: 0.3 * NM }),
        bearing: Some(Reading {
            value: Angle::from_degrees(bearing).radians(),
            sigma: radians(1.5),
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

fn problem(candidates: Vec<Candidate>, sights: Vec<Sight>, sigma: f64) -> Problem {
    Problem {
        candidates,
        sights,
        prior: Prior {
            position: origin(),
            covariance: Covariance::from_square_miles(sigma * sigma, 0.0, sigma * sigma).unwrap(),
            elapsed_s: 0.0,
            track: 0.0,
            along_sigma: 0.0,
            across_sigma: 0.0,
        },
        shared: Shared::default(),
        own_height_m: 0.0,
        reach_m: 60.0 * NM,
        any_shore: None,
    }
}

/// The logarithm of the odds of the second candidate against the first.
fn log_odds(posterior: &Posterior) -> f64 {
    let weight = |candidate| {
        let with = |h: &&Hypothesis| h.targets == vec![Some(candidate)];
        posterior.hypotheses.iter().find(with).map_or(f64::NEG_INFINITY, |h| h.log_weight)
    };
    weight(1) - weight(0)
}

#[test]
fn odds_between_two_headlands() {
    // Observed 18.4 NM, 343°; from the reckoning P is at 18.0 NM, 330°, Q at 18.6 NM, 345°; range
    // sigma 0.3 NM, bearing sigma 1.5°. Reckoning sigma 2.0 NM: squared distances 4.157 and 0.107,
    // odds Q : P 7.6 (computed, across the line at the observed range; here each mark's own range
    // sets it, which moves the logarithm by a few hundredths).
    let headlands = vec![mark(18.0, 330.0), mark(18.6, 345.0)];
    let wide = problem(headlands.clone(), vec![contact(18.4, 343.0)], 2.0);
    let posterior = identify(&wide, &Charted, &Unobstructed);
    assert!((log_odds(&posterior) - 7.6f64.ln()).abs() < 0.1, "{}", log_odds(&posterior).exp());
    // Neither is excluded.
    assert_eq!(posterior.modes.len(), 2);
    assert!(posterior.modes[0].probability < 0.99);
    // Sigma 0.7 NM: 24.41 and 0.640. P is beyond any gate.
    let near = problem(headlands, vec![contact(18.4, 343.0)], 0.7);
    let posterior = identify(&near, &Charted, &Unobstructed);
    assert!(posterior.hypotheses.iter().all(|h| h.targets != vec![Some(0)]));
    assert_eq!(posterior.hypotheses[0].targets, vec![Some(1)]);
    let cost = posterior.hypotheses[0].solution.cost;
    assert!((cost - 0.640).abs() < 0.02, "{cost}");
}

#[test]
fn a_name_weighs_as_much_as_it_is_believed() {
    let headlands = vec![mark(18.0, 338.0), mark(18.0, 342.0)];
    let mut named = contact(18.0, 340.0);
    named.belief = Some(Belief { candidate: 0, confidence: 0.9 });
    let posterior = identify(&problem(headlands, vec![named], 2.0), &Charted, &Unobstructed);
    // Both fit alike: odds of the name 0.95 to 0.05, half of what is left going to each.
    assert!((log_odds(&posterior) + 19.0f64.ln()).abs() < 0.01, "{}", log_odds(&posterior));
}

#[test]
fn a_mark_out_of_sight_is_hardly_picked() {
    struct Half;
    impl Sighting for Half {
        fn chance(&self, _: Level, _: Position, candidate: usize) -> f64 {
            if candidate == 0 { 0.0 } else { 1.0 }
        }
    }
    let headlands = vec![mark(18.0, 338.0), mark(18.0, 342.0)];
    let posterior = identify(&problem(headlands, vec![contact(18.0, 340.0)], 2.0), &Charted, &Half);
    assert!((log_odds(&posterior) + look::LEAST_SIGHT.ln()).abs() < 0.01);
}

/// Whether a set of identities gives no mark to two contacts that cannot share one.
fn is_one_to_one(problem: &Problem, targets: &[Option<usize>]) -> bool {
    targets.iter().enumerate().all(|(i, a)| {
        a.is_none()
            || targets
                .iter()
                .enumerate()
                .skip(i + 1)
                .all(|(k, b)| a != b || !excludes(problem, i, k))
    })
}

#[test]
fn no_mark_is_two_contacts_at_once() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0)];
    let sights = vec![contact(18.0, 338.0), contact(18.1, 338.5), contact(25.0, 20.0)];
    let one = problem(headlands, sights, 4.0);
    let posterior = identify(&one, &Charted, &Unobstructed);
    assert!(!posterior.hypotheses.is_empty());
    assert!(posterior.hypotheses.iter().all(|h| is_one_to_one(&one, &h.targets)));
}

#[test]
fn probabilities_sum_to_one() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0), mark(12.0, 60.0)];
    let sights = vec![contact(18.0, 338.0), contact(25.2, 20.5)];
    let posterior = identify(&problem(headlands, sights, 4.0), &Charted, &Unobstructed);
    let sum: f64 = posterior.modes.iter().map(|m| m.probability).sum();
    assert!((sum + posterior.none - 1.0).abs() < 1e-12);
    assert!(posterior.none > 0.0);
}

#[test]
fn contacts_of_no_chart_are_none_of_these() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0), mark(12.0, 60.0)];
    let sights = vec![contact(30.0, 200.0), contact(22.0, 170.0), contact(8.0, 260.0)];
    let posterior = identify(&problem(headlands, sights, 3.0), &Charted, &Unobstructed);
    assert!(posterior.none > 0.9, "{}", posterior.none);
}

/// Evenly strewn numbers from 0 to 1, always the same: a linear congruence (Knuth's constants).
struct Strewn(u64);

impl Strewn {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

#[test]
fn eight_unknown_contacts_among_hundreds_of_marks() {
    // Reckoning out by 19 NM, sigma 20 NM; within 120 NM of it 300 marks.
    let mut strewn = Strewn(12_345);
    let marks: Vec<Candidate> = (0..300)
        .map(|_| Candidate {
            sigma_m: 185.0,
            slack_m: 300.0,
            ..mark(120.0 * strewn.next().sqrt(), 360.0 * strewn.next())
        })
        .collect();
    let place = PlanePoint { east: 15.0 * NM, north: -12.0 * NM };
    let here = LocalPlane::new(origin()).to_position(place);
    let mut seen: Vec<(f64, f64)> = marks
        .iter()
        .map(|m| crate::geodesy::course(here, m.position))
        .map(|line| (line.distance.nautical_miles(), line.initial.degrees()))
        .collect();
    seen.sort_by(|a, b| a.0.total_cmp(&b.0));
    let sights = seen
        .iter()
        .skip(3)
        .step_by(4)
        .take(8)
        .map(|&(range, bearing)| contact(range + 0.2 * (strewn.next() - 0.5), bearing))
        .collect();
    let mut unknown = problem(marks, sights, 20.0);
    unknown.shared.bearing_bias_sigma = radians(1.5);
    let posterior = identify(&unknown, &Charted, &Unobstructed);
    let (best, _) = posterior.best().unwrap();
    assert!(distance(best.position, here).nautical_miles() < 0.3);
    assert!(best.probability > 0.999, "{}", best.probability);
}

/// A number of mean nothing and spread one, near enough to the normal law.
fn normal(strewn: &mut Strewn) -> f64 {
    (0..12).map(|_| strewn.next()).sum::<f64>() - 6.0
}

/// Twelve contacts, two of them nothing on the chart, among 10,000 marks on 320 by 320 miles.
fn crowded(seed: u64, range_sigma: f64, bearing_sigma: f64) -> Problem {
    let mut strewn = Strewn(seed);
    let mut marks: Vec<Candidate> = Vec::new();
    for _ in 0..10_000 {
        let (east, north) = (320.0 * (strewn.next() - 0.5), 320.0 * (strewn.next() - 0.5));
        let towards = Angle::from_radians(east.atan2(north)).degrees();
        marks.push(Candidate { sigma_m: 185.0, ..mark(east.hypot(north), towards) });
    }
    let place = PlanePoint { east: 20.0 * NM * normal(&mut strewn), north: 15.0 * NM };
    let here = LocalPlane::new(LocalPlane::new(origin()).to_position(place));
    let bias = 1.5 * normal(&mut strewn);
    let near: Vec<PlanePoint> = marks.iter().map(|m| here.to_plane(m.position)).collect();
    let near: Vec<&PlanePoint> =
        near.iter().filter(|at| at.east.hypot(at.north) < 60.0 * NM).collect();
    let sights = (0..12)
        .map(|number| {
            let at = near[(strewn.next() * near.len() as f64) as usize];
            let (range, bearing) = if number < 2 {
                (60.0 * strewn.next().sqrt(), 360.0 * strewn.next())
            } else {
                let bearing = Angle::from_radians(at.east.atan2(at.north)).degrees();
                (at.east.hypot(at.north) / NM, bearing + bias)
            };
            let off = (0.1 * normal(&mut strewn), 0.1 * normal(&mut strewn));
            let range = range + range_sigma * normal(&mut strewn) + off.0;
            let across = Angle::from_radians(off.1 / range).degrees();
            let mut seen = contact(range, bearing + bearing_sigma * normal(&mut strewn) + across);
            seen.range = seen.range.map(|read| Reading { sigma: range_sigma * NM, ..read });
            seen.bearing =
                seen.bearing.map(|read| Reading { sigma: radians(bearing_sigma), ..read });
            seen
        })
        .collect();
    let mut crowded = problem(marks, sights, 20.0);
    crowded.shared.bearing_bias_sigma = radians(1.5);
    crowded
}

#[test]
fn what_a_small_budget_lets_go_lowers_its_certainty() {
    // For a place that is likelier than not, and for any.
    const HAIR: f64 = 0.005;
    const LOOSE: f64 = 0.1;
    let ample = Budget {
        tried: 40_000_000,
        kept: 1_000_000,
        kept_each: (20_000, 20_000),
        rough: 4_000,
        full: 4_000,
    };
    let scant = Budget { tried: 20_000, kept: 800, kept_each: (60, 60), rough: 20, full: 8 };
    let mut told = Vec::new();
    let (mut counted, mut excess, mut of_any) = (0, f64::NEG_INFINITY, f64::NEG_INFINITY);
    for (seed, (range_sigma, bearing_sigma)) in
        (1..=6).flat_map(|seed| [(seed, (0.05, 0.3)), (seed, (0.2, 1.0))])
    {
        let problem = crowded(seed, range_sigma, bearing_sigma);
        let weighed = |budget: &Budget| identify_within(&problem, &Charted, &Unobstructed, budget);
        let (little, much) = (weighed(&scant), weighed(&ample));
        let usual = identify(&problem, &Charted, &Unobstructed);
        let at = |posterior: &Posterior, place: Position| -> f64 {
            let near = |m: &&Mode| distance(m.position, place).nautical_miles() < 0.5;
            posterior.modes.iter().filter(near).map(|m| m.probability).sum()
        };
        for posterior in [&little, &usual] {
            assert!(posterior.unexplored <= posterior.none + 1e-12);
            let Some((best, _)) = posterior.best() else { continue };
            let (claimed, held) = (best.probability, at(&much, best.position));
            told.push(format!(
                "seed {seed}, {range_sigma} NM: {claimed:.4}, {held:.4} by more work"
            ));
            told.push(format!("    let go {:.5}, {:.5}", posterior.unexplored, much.unexplored));
            of_any = of_any.max(claimed - held);
            if claimed >= 0.5 {
                excess = excess.max(claimed - held);
            }
        }
        counted += u32::from(little.unexplored > 10.0 * much.unexplored.max(1e-6));
    }
    assert!(excess <= HAIR && of_any <= LOOSE, "{}", told.join("\n"));
    assert!(counted >= 4, "{counted}");
}

#[test]
fn a_poor_fit_counts_against_the_answer() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0), mark(12.0, 60.0)];
    let taken = |off: f64| {
        let off = off * 0.3;
        let sights =
            vec![contact(18.0 + off, 338.0), contact(25.0 - off, 20.0), contact(12.0 + off, 60.0)];
        identify(&problem(headlands.clone(), sights, 4.0), &Charted, &Unobstructed)
    };
    // Three ranges out by 2.7 deviations each, two of which own place cannot take up: 12.6 or more
    // of squares on six values come once in twenty (table of chi-square).
    let (well, poorly) = (taken(0.0), taken(2.7));
    let cost = poorly.best().unwrap().1.solution.cost;
    assert!(cost > 12.6 && cost < 22.5, "{cost}");
    let doubt = |posterior: &Posterior| 1.0 - posterior.best().unwrap().0.probability;
    assert!(doubt(&poorly) > 3.0 * doubt(&well), "{} {}", doubt(&poorly), doubt(&well));
    // It is held in doubt, and is not for that at odds with the chart.
    assert!(poorly.kept_back > 3.0 * well.kept_back && poorly.nothing_charted() < 0.01);
}

/// A contact of an edge: a bearing.
fn edge(bearing: f64, part: Part) -> Sight {
    Sight { range: None, part, ..contact(18.0, bearing) }
}

#[test]
fn a_name_weighs_as_much_of_three_parts_of_an_echo_as_of_one() {
    let headlands = vec![mark(18.0, 338.0), mark(18.0, 342.0)];
    // The surest of them counts.
    for confidences in [[0.9, 0.9, 0.9], [0.9, 0.6, 0.3]] {
        let mut sights =
            vec![contact(18.0, 340.0), edge(340.0, Part::Left), edge(340.0, Part::Right)];
        for (sight, confidence) in sights.iter_mut().zip(confidences) {
            sight.belief = Some(Belief { candidate: 0, confidence });
        }
        let posterior = identify(&problem(headlands.clone(), sights, 2.0), &Charted, &Unobstructed);
        let weight = |candidate| {
            let with = |h: &&Hypothesis| h.targets == vec![Some(candidate); 3];
            posterior.hypotheses.iter().find(with).unwrap().log_weight
        };
        // As of one: the name 0.95 to 0.05, half of what is left going to each.
        let log_odds = weight(1) - weight(0);
        assert!((log_odds + 19.0f64.ln()).abs() < 0.01, "{confidences:?}: {log_odds}");
    }
}

#[test]
fn near_left_and_right_may_be_of_one_mark_and_support_it_as_one_echo() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0)];
    let sights = vec![
        contact(18.0, 338.0),
        edge(337.0, Part::Left),
        edge(339.0, Part::Right),
        contact(25.0, 20.0),
    ];
    let posterior = identify(&problem(headlands, sights, 4.0), &Charted, &Unobstructed);
    assert_eq!(posterior.hypotheses[0].targets, [Some(0), Some(0), Some(0), Some(1)]);
    // Two marks, not four.
    assert!((posterior.kept_back - 0.003).abs() < 1e-9, "{}", posterior.kept_back);
}

#[test]
fn a_part_more_of_a_small_echo_makes_it_no_likelier_a_mark() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0)];
    let log_odds = |sights: Vec<Sight>| {
        let none = identify(&problem(headlands.clone(), sights, 4.0), &Charted, &Unobstructed)
            .nothing_charted();
        ((1.0 - none) / none).ln()
    };
    // As a point reads, give or take half a beam.
    let near = contact(18.2, 337.5);
    let alone = log_odds(vec![near.clone()]);
    let middle = Sight { part: Part::Centre, ..contact(18.1, 338.2) };
    for more in [
        vec![edge(337.0, Part::Left), edge(339.0, Part::Right)],
        vec![middle.clone()],
        vec![edge(337.0, Part::Left), edge(339.0, Part::Right), middle],
    ] {
        let together = log_odds([vec![near.clone()], more].concat());
        assert!((together - alone).abs() < 2.5, "{together} {alone}");
    }
}

#[test]
fn what_supports_an_answer_is_counted_by_marks_and_names() {
    let headlands = vec![mark(18.0, 338.0), mark(25.0, 20.0), mark(12.0, 60.0)];
    let called = |mut sight: Sight, candidate| {
        sight.belief = Some(Belief { candidate, confidence: 0.95 });
        sight
    };
    let sights = vec![
        called(contact(18.0, 338.0), 0),
        called(edge(337.0, Part::Left), 0),
        called(edge(339.0, Part::Right), 0),
        called(contact(25.0, 20.0), 1),
    ];
    let mut two = problem(headlands, sights, 4.0);
    let support = |problem: &Problem, targets: [Option<usize>; 4]| {
        let Support { marks, shore, names } = Support::of(problem, &targets);
        (marks, shore, names)
    };
    assert_eq!(support(&two, [Some(0), Some(0), Some(0), Some(1)]), (2, 0, 2));
    assert_eq!(support(&two, [Some(0), Some(0), None, None]), (1, 0, 1));
    // One of them is another mark, which bears out no name.
    assert_eq!(support(&two, [Some(0), Some(0), Some(1), None]), (1, 0, 1));
    // Shore of no name is other shore each time, and so is the nearest.
    two.any_shore = Some(2);
    assert_eq!(support(&two, [Some(0), Some(2), Some(2), Some(1)]), (2, 2, 2));
    two.any_shore = None;
    for sight in &mut two.sights {
        (sight.belief, sight.surely) = (None, Some(2));
    }
    assert_eq!(support(&two, [Some(2); 4]), (4, 0, 0));
}
