mod names;

use proptest::prelude::*;

use super::*;
use crate::contact::Part;
use crate::fix::prospect::Prospect;
use crate::fix::report::Rival;
use crate::fix::slips::Slip;
use crate::geodesy::PlanePoint;
use crate::geodesy::{Position, distance};
use crate::identity::{
    Belief, Candidate, Charted, Level, Prior, Reading, Shared, Sight, Sighting, Unobstructed,
};
use crate::units::Angle;

const NM: f64 = 1852.0;

struct Readings;

impl Prospect for Readings {
    fn range_sigma(&self, _: f64) -> f64 {
        0.15 * NM
    }

    fn bearing_sigma(&self) -> f64 {
        radians(1.0)
    }

    fn reach(&self) -> f64 {
        60.0 * NM
    }
}

fn radians(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

fn origin() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

fn at(east: f64, north: f64) -> Position {
    LocalPlane::new(origin()).to_position(PlanePoint { east: east * NM, north: north * NM })
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

/// A contact with errors of 0.15 NM and one degree; a negative range or bearing was not measured.
fn contact(range: f64, bearing: f64, name: Option<usize>) -> Sight {
    let reading = |value: f64, sigma| (value >= 0.0).then_some(Reading { value, sigma });
    Sight {
        own_height_m: 0.0,
        level: Level::NOW,
        range: reading(range * NM, 0.15 * NM),
        bearing: if bearing < 0.0 {
            None
        } else {
            reading(radians(bearing).rem_euclid(std::f64::consts::TAU), radians(1.0))
        },
        ratio: None,
        told: Vec::new(),
        run: PlanePoint::default(),
        elapsed_s: 0.0,
        belief: name.map(|candidate| Belief { candidate, confidence: 0.95 }),
        off_chart: if name.is_some() { 0.0075 } else { 0.15 },
        surely: None,
        part: Part::Near,
        traced: None,
    }
}

/// What a contact on a mark reads from a place, without error, in miles and degrees.
fn reading(from: (f64, f64), mark: &Candidate) -> (f64, f64) {
    let line = course(at(from.0, from.1), mark.position);
    (line.distance.nautical_miles(), line.initial.degrees())
}

fn seen(from: (f64, f64), marks: &[Candidate], which: usize, name: Option<usize>) -> Sight {
    let (range, bearing) = reading(from, &marks[which]);
    contact(range, bearing, name)
}

fn solve(marks: &[Candidate], sights: Vec<Sight>, reckoned: (f64, f64), sigma: f64) -> Fix {
    solve_problem(problem_of(marks, sights, reckoned, sigma))
}

fn problem_of(
    marks: &[Candidate],
    sights: Vec<Sight>,
    reckoned: (f64, f64),
    sigma: f64,
) -> Problem {
    let reckoning = Covariance::from_square_miles(sigma * sigma, 0.0, sigma * sigma).unwrap();
    Problem {
        candidates: marks.to_vec(),
        prior: Prior {
            position: at(reckoned.0, reckoned.1),
            covariance: reckoning,
            elapsed_s: 0.0,
            track: 0.0,
            along_sigma: 0.0,
            across_sigma: 0.0,
        },
        shared: Shared {
            bearing_bias_sigma: radians(1.0),
            range_bias_sigma: 0.05 * NM,
            chart_shift_sigma: 0.05 * NM,
            own_height_sigma: 1.0,
        },
        own_height_m: 0.0,
        reach_m: 60.0 * NM,
        any_shore: None,
        sights,
    }
}

fn solve_problem(problem: Problem) -> Fix {
    solve_with_slips(problem, Vec::new())
}

fn solve_with_slips(problem: Problem, slips: Vec<Slip>) -> Fix {
    solve_in_sight(problem, slips, &Unobstructed)
}

fn solve_in_sight(problem: Problem, slips: Vec<Slip>, sighting: &dyn Sighting) -> Fix {
    let labels = (0..problem.sights.len()).map(|i| format!("C{i}")).collect();
    let names = (0..problem.candidates.len()).map(|i| format!("Mark {i}")).collect();
    let case = Case {
        problem,
        labels,
        names,
        answering: &Charted,
        sighting,
        prospect: &Readings,
        time: "2031-03-09T03:40:00Z".parse().unwrap(),
        cautions: Vec::new(),
        slips,
    };
    let fix = judge(&case, &Options::default());
    let sum = fix.probability.unwrap_or(0.0)
        + fix.none_of_these
        + fix.rivals.iter().map(|r| r.probability).sum::<f64>();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}: {fix:#?}");
    assert_eq!(fix.position.is_some(), fix.verdict == Verdict::Fixed);
    assert_eq!(fix.most_probable.is_some(), fix.verdict == Verdict::TooFew);
    fix
}

/// A coast of scattered marks, no two pairs of them alike.
fn coast() -> Vec<Candidate> {
    [
        (10.0, 14.0),
        (14.0, 5.0),
        (12.0, -6.0),
        (18.0, -13.0),
        (7.0, -20.0),
        (20.0, 20.0),
        (16.0, 28.0),
        (9.0, 33.0),
    ]
    .map(|(east, north)| mark(east, north))
    .to_vec()
}

fn off(position: Position, east: f64, north: f64) -> f64 {
    distance(position, at(east, north)).nautical_miles()
}

#[test]
fn nothing_measured_is_too_few() {
    let fix = solve(&coast(), Vec::new(), (1.0, 2.0), 3.0);
    assert_eq!(fix.verdict, Verdict::TooFew);
    assert!(off(fix.most_probable.unwrap().position, 1.0, 2.0) < 1e-6);
}

#[test]
fn one_range_is_a_position_line() {
    // A named mark's circle is 6 NM off toward 060, sigma 1, reckoning sigma 4: the most probable
    // position is (4.890, 2.824), 4.000 by 0.970, long axis 150 (computed).
    let (sin, cos) = radians(60.0).sin_cos();
    let marks = vec![Candidate { sigma_m: 0.0, ..mark(51.0 * sin, 51.0 * cos) }];
    let mut sight = contact(45.0, -1.0, Some(0));
    sight.range = sight.range.map(|r| Reading { sigma: NM, ..r });
    let fix = solve(&marks, vec![sight], (0.0, 0.0), 4.0);
    assert_eq!(fix.verdict, Verdict::TooFew, "{fix:#?}");
    let found = fix.most_probable.unwrap();
    assert!(off(found.position, 4.890, 2.824) < 0.05);
    let (long, short, axis) = found.covariance.axes();
    assert!((long.sqrt() / NM - 4.0).abs() < 0.01);
    assert!((short.sqrt() / NM - 0.970).abs() < 0.01);
    assert!((axis.degrees() - 150.0).abs() < 1.0);
    assert!(fix.contacts_only.is_none());
    assert!(!fix.next.is_empty());
    let told = "one measurement is one position line, and the place along it is the reckoning's: \
                measure one that crosses it";
    assert_eq!(fix.cautions, [told]);
}

#[test]
fn a_range_and_bearing_of_a_named_mark_are_a_fix_unchecked() {
    let marks = coast();
    let fix = solve(&marks, vec![seen((0.0, 0.0), &marks, 1, Some(1))], (2.0, 1.0), 4.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    assert!(off(fix.position.unwrap(), 0.0, 0.0) < 0.2);
    assert!(fix.cautions.iter().any(|c| c.starts_with("unchecked")), "{:?}", fix.cautions);
    assert!(!fix.protection.assured);
    // Reckoning sigma 4.0, range sigma 0.17 with the marks' and the common errors: of an error
    // √(17.07 × 16.03) = 16.5 NM (computed) nothing would show, and all of it moves the fix.
    let told = "an error of 16.5 NM in the range of contact C0 would go unnoticed and move the \
                fix 16.5 NM";
    assert!(fix.cautions.iter().any(|c| c == told), "{:?}", fix.cautions);
}

#[test]
fn a_named_mark_that_the_reckoning_does_not_allow_is_at_odds() {
    let marks = coast();
    let fix = solve(&marks, vec![seen((-20.0, 0.0), &marks, 1, Some(1))], (8.0, 1.0), 2.0);
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    assert!(off(fix.contacts_only.unwrap().position, -20.0, 0.0) < 0.2);
    assert_eq!(fix.reckoning.agrees(), Some(false));
}

#[test]
fn two_circles_cross_twice_and_both_are_told() {
    // Marks (0, 0) and (8, 0), both 5 NM: (4, 3) and (4, -3) (computed).
    let marks = vec![mark(0.0, 0.0), mark(8.0, 0.0)];
    let sights = vec![contact(5.0, -1.0, Some(0)), contact(5.0, -1.0, Some(1))];
    let fix = solve(&marks, sights.clone(), (4.0, 0.1), 5.0);
    assert_eq!(fix.verdict, Verdict::Ambiguous, "{fix:#?}");
    for (north, found) in [(3.0, 0), (-3.0, 1)] {
        let close = |r: &Rival| off(r.estimate.position, 4.0, north) < 0.1;
        assert!(fix.rivals.iter().take(2).any(close), "{found} {fix:#?}");
    }
    let told = "the same marks fit from two places 6.0 NM apart: do not choose; measure what \
                tells them apart";
    assert_eq!(fix.cautions[0], told);
    // A reckoning that cannot have been on the other side chooses, and it is said.
    let fix = solve(&marks, sights, (4.0, 4.0), 1.7);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    assert!(off(fix.position.unwrap(), 4.0, 3.0) < 0.1);
    // Six miles less what the reckoning draws both places to it.
    let told = "the same measurements fit a second place, 5.9 NM 180° from the fix: only the \
                reckoning rules it out";
    assert!(fix.cautions.iter().any(|c| c == told), "{:?}", fix.cautions);
}

#[test]
fn circles_that_touch_leave_a_direction_free() {
    // 8 NM apart, 4 and 4: cut 0 (computed).
    let marks = vec![mark(0.0, 0.0), mark(8.0, 0.0)];
    let sights = vec![contact(4.0, -1.0, Some(0)), contact(4.0, -1.0, Some(1))];
    let fix = solve(&marks, sights, (4.0, 0.5), 5.0);
    assert_eq!(fix.verdict, Verdict::TooFew, "{fix:#?}");
}

#[test]
fn circles_that_do_not_meet_are_at_odds_and_the_gap_is_told() {
    // 8 NM apart, 3 and 4: a gap of 1.0 NM (computed).
    let marks = vec![mark(0.0, 0.0), mark(8.0, 0.0)];
    let sights = vec![contact(3.0, -1.0, Some(0)), contact(4.0, -1.0, Some(1))];
    let fix = solve(&marks, sights, (4.0, 0.5), 5.0);
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    assert!(fix.cautions.iter().any(|c| c.contains("a gap of 1.0 NM")), "{:?}", fix.cautions);
}

#[test]
fn a_wrong_name_among_several_is_rejected_aloud() {
    let marks = coast();
    let truth = (0.0, 0.0);
    let mut sights: Vec<Sight> = [0, 1, 2].map(|m| seen(truth, &marks, m, Some(m))).to_vec();
    sights.push(seen(truth, &marks, 3, Some(5)));
    let fix = solve(&marks, sights, (3.0, -2.0), 4.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    assert!(off(fix.position.unwrap(), 0.0, 0.0) < 0.2);
    let row = fix.identities.iter().find(|i| i.contact == "C3").unwrap();
    assert_eq!(row.mark, "Mark 3");
    assert!(fix.cautions.iter().any(|c| c == "contact C3 is not Mark 5: it fits Mark 3"));
}

#[test]
fn two_names_that_do_not_go_together_are_at_odds() {
    let marks = coast();
    let sights = vec![seen((0.0, 0.0), &marks, 0, Some(0)), seen((3.0, 0.0), &marks, 2, Some(2))];
    let fix = solve(&marks, sights, (1.5, 0.0), 4.0);
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    let worst = |label: &str| {
        let row = fix.residuals.iter().find(|r| r.contact == label).unwrap();
        row.standardised.iter().fold(0.0f64, |a, w| a.max(w.abs()))
    };
    assert!(worst("C0") > 3.0 && worst("C1") > 3.0, "{:#?}", fix.residuals);
}

#[test]
fn four_unnamed_contacts_of_a_jagged_coast_are_fixed() {
    let marks = coast();
    let sights = (0..4).map(|m| seen((0.0, 0.0), &marks, m, None)).collect();
    let fix = solve(&marks, sights, (5.0, -4.0), 5.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    for (index, row) in fix.identities.iter().enumerate() {
        assert_eq!(row.mark, format!("Mark {index}"));
    }
    assert!(fix.next.iter().all(|n| n.major_axis_after <= fix.ellipse.unwrap().semi_major));
}

/// Only the marks of these numbers should paint.
struct InSight(&'static [usize]);

impl Sighting for InSight {
    fn chance(&self, _: Level, _: Position, candidate: usize) -> f64 {
        if self.0.contains(&candidate) { 0.9 } else { 0.01 }
    }
}

/// Ground without a mark behind a shore under the horizon fits whatever lies near.
#[test]
fn no_fix_rests_on_marks_that_should_not_paint() {
    let marks = coast();
    let told = |which: &[usize], in_sight| {
        let sights = which.iter().map(|m| seen((0.0, 0.0), &marks, *m, None)).collect();
        let problem = problem_of(&marks, sights, (0.5, -0.4), 1.0);
        solve_in_sight(problem, Vec::new(), &InSight(in_sight))
    };
    for in_sight in [&[][..], &[2]] {
        let fix = told(&[0, 1, 2], in_sight);
        assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
        let why =
            "contact C1 is hardly Mark 1, which should not paint from there: rather ground behind";
        assert!(fix.cautions.iter().any(|it| it.starts_with(why)), "{:?}", fix.cautions);
    }
    let fix = told(&[0, 1, 2], &[1, 2]);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
}

#[test]
fn a_ship_among_them_is_left_out_and_steered_for() {
    let marks = coast();
    let mut sights: Vec<Sight> = (0..4).map(|m| seen((0.0, 0.0), &marks, m, None)).collect();
    sights.push(contact(9.0, 200.0, None));
    let fix = solve(&marks, sights, (3.0, -4.0), 4.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let [ship] = fix.unmatched.as_slice() else { panic!("{:#?}", fix.unmatched) };
    assert_eq!(ship.contact, "C4");
    let (sin, cos) = radians(200.0).sin_cos();
    assert!(off(ship.places[0].position, 9.0 * sin, 9.0 * cos) < 0.2);
    assert!((ship.places[0].steer.degrees() - 200.0).abs() < 1.0);
}

#[test]
fn two_places_that_look_alike_are_told_apart_by_what_only_one_has() {
    // The same pair twice, twelve miles apart, and one more mark by the northern pair.
    let marks =
        vec![mark(10.0, 12.0), mark(12.0, 8.0), mark(10.0, 0.0), mark(12.0, -4.0), mark(9.0, 20.0)];
    let sights = vec![seen((0.0, 10.0), &marks, 0, None), seen((0.0, 10.0), &marks, 1, None)];
    let fix = solve(&marks, sights, (0.0, 4.0), 4.0);
    assert_eq!(fix.verdict, Verdict::Ambiguous, "{fix:#?}");
    assert!(fix.rivals.len() >= 2);
    assert!(!fix.next.is_empty(), "{fix:#?}");
}

#[test]
fn a_mark_beside_another_is_told_with_what_parts_them() {
    // A contact half way between two marks 0.8 NM apart.
    let mut marks = coast();
    marks.push(mark(14.0, 5.8));
    let mut sights: Vec<Sight> = [0, 2, 3].map(|m| seen((0.0, 0.0), &marks, m, None)).to_vec();
    sights.push(seen((0.0, 0.0), &[mark(14.0, 5.4)], 0, None));
    let fix = solve(&marks, sights, (2.0, -1.0), 4.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let told = |c: &String| {
        let either = ["Mark 1 or Mark 8", "Mark 8 or Mark 1"];
        either.iter().any(|pair| *c == format!("contact C3 may be {pair}, 0.8 NM apart"))
    };
    assert!(fix.cautions.iter().any(told), "{:?}", fix.cautions);
}

#[test]
fn ranges_of_marks_to_one_side_share_an_error() {
    // Directions 016.7, 042.3 and 065.8: within 49° (computed).
    let marks = vec![mark(6.0, 20.0), mark(20.0, 22.0), mark(20.0, 9.0)];
    let ranged = |m: usize| Sight { bearing: None, ..seen((0.0, 0.0), &marks, m, Some(m)) };
    let fix = solve(&marks, (0..3).map(ranged).collect(), (1.0, 1.0), 3.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let told =
        "all ranges are to one side, within 49°: an error common to them moves the fix as much";
    assert!(fix.cautions.iter().any(|c| c == told), "{:?}", fix.cautions);
}

#[test]
fn a_reckoning_off_by_more_than_is_likely_is_suspect_and_no_blunder() {
    // 8.4 NM of a sigma of 3: chi-square 7.8 of two, one chance in 50 (computed).
    let marks = coast();
    let sights = (0..4).map(|m| seen((0.0, 0.0), &marks, m, Some(m))).collect();
    let fix = solve(&marks, sights, (0.0, 8.4), 3.0);
    assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
    let told =
        "the reckoning is 8.4 NM 000° from the fix, unusual for its stated error (1 chance in 5";
    assert!(fix.cautions.iter().any(|c| c.starts_with(told)), "{:?}", fix.cautions);
}

#[test]
fn the_one_slip_that_would_explain_it_is_named() {
    // Variation 10° the wrong way: the bearing reads 20° high.
    let marks = coast();
    let (range, bearing) = reading((0.0, 0.0), &marks[1]);
    let sights = vec![contact(range, bearing + 20.0, Some(1))];
    let slip =
        |words: &str, degrees| Slip { words: words.to_owned(), turns: vec![radians(degrees)] };
    let slips =
        vec![slip("the variation applied the wrong way", -20.0), slip("a reciprocal", 180.0)];
    let fix = solve_with_slips(problem_of(&marks, sights, (0.0, 0.0), 1.0), slips);
    assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
    let told = "the variation applied the wrong way would explain it: check that first";
    assert!(fix.cautions.iter().any(|c| c == told), "{:?}", fix.cautions);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn no_input_breaks_it(
        latitude in prop::sample::select(vec![-90.0, -89.99, 0.0, 45.0, 90.0]),
        longitude in prop::sample::select(vec![-180.0, 0.0, 179.99]),
        sigma in prop::sample::select(vec![1e-4, 1.0, 20.0, 4000.0]),
        height in prop::sample::select(vec![0.0, 9000.0]),
        spacing in prop::sample::select(vec![0.0, 1e-3, 5.0]),
        kinds in prop::collection::vec(
            (prop::option::of(0.0f64..60.0), prop::option::of(0.0f64..360.0), 0usize..8), 0..6),
    ) {
        let here = LocalPlane::new(Position::new(latitude, longitude).unwrap());
        let marks: Vec<Candidate> = (0..6)
            .map(|i| {
                let place = PlanePoint { east: f64::from(i) * spacing * NM, north: 0.0 };
                Candidate { position: here.to_position(place), ..mark(0.0, 0.0) }
            })
            .collect();
        let sights = kinds
            .iter()
            .map(|(range, bearing, name)| {
                let name = (*name < 6).then_some(*name);
                let read = contact(range.unwrap_or(-1.0), bearing.unwrap_or(-1.0), name);
                Sight { own_height_m: height, ..read }
            })
            .collect();
        let variance = sigma * sigma;
        let covariance = Covariance::from_square_miles(variance, 0.0, variance).unwrap();
        let problem = Problem {
            candidates: marks,
            sights,
            prior: Prior {
                position: here.centre(),
                covariance,
                elapsed_s: 30.0,
                track: 1.0,
                along_sigma: 1.0,
                across_sigma: 2.0,
            },
            shared: Shared {
                bearing_bias_sigma: radians(1.0),
                range_bias_sigma: 0.05 * NM,
                chart_shift_sigma: 0.05 * NM,
                own_height_sigma: 0.02 * height,
            },
            own_height_m: height,
            reach_m: 60.0 * NM,
        any_shore: None,
        };
        let fix = solve_problem(problem);
        prop_assert!(fix.none_of_these.is_finite());
    }
}
