use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::*;
use crate::contact::Part;
use crate::identity::problem::{
    Candidate, Charted, Level, Prior, RatioReading, Reading, Shared, Sight,
};
use crate::identity::{Registered, Told, Traced};
use crate::units::Angle;

const NM: f64 = 1852.0;

fn origin() -> Position {
    Position::new(-38.0, -21.0).unwrap()
}

fn at(east: f64, north: f64) -> Position {
    LocalPlane::new(origin()).to_position(PlanePoint { east: east * NM, north: north * NM })
}

fn candidate(east: f64, north: f64) -> Candidate {
    Candidate { position: at(east, north), height_m: 0.0, sigma_m: 0.0, slack_m: 0.0, weight: 1.0 }
}

fn radians(degrees: f64) -> f64 {
    Angle::from_degrees(degrees).radians()
}

fn sight(range: Option<(f64, f64)>, bearing: Option<(f64, f64)>) -> Sight {
    Sight {
        own_height_m: 0.0,
        level: Level::NOW,
        range: range.map(|(value, sigma)| Reading { value: value * NM, sigma: sigma * NM }),
        bearing: bearing
            .map(|(value, sigma)| Reading { value: radians(value), sigma: radians(sigma) }),
        ratio: None,
        told: Vec::new(),
        run: PlanePoint::default(),
        elapsed_s: 0.0,
        belief: None,
        off_chart: 0.0,
        surely: None,
        part: Part::Near,
        traced: None,
    }
}

/// A set-up with hardly any shared error, and the reckoning at (`east`, `north`).
fn problem(
    candidates: Vec<Candidate>,
    sights: Vec<Sight>,
    (east, north): (f64, f64),
    sigma: f64,
) -> Problem {
    let variance = (sigma * NM).powi(2);
    Problem {
        candidates,
        sights,
        prior: Prior {
            position: at(east, north),
            covariance: Covariance::from_square_metres(variance, 0.0, variance).unwrap(),
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

/// The same problem, all of it from one height.
fn from_height(mut problem: Problem, own_height_m: f64) -> Problem {
    problem.own_height_m = own_height_m;
    problem.sights.iter_mut().for_each(|sight| sight.own_height_m = own_height_m);
    problem
}

fn all(count: usize) -> Vec<Option<usize>> {
    (0..count).map(Some).collect()
}

fn off(solution: &Solution) -> (f64, f64) {
    let point = LocalPlane::new(origin()).to_plane(solution.position);
    (point.east / NM, point.north / NM)
}

#[test]
fn a_cocked_hat_with_one_error_in_all_bearings() {
    // Marks (8, 6), (0, 12), (-9, 0), truth (0, 0), every bearing two degrees high (computed).
    let marks = vec![candidate(8.0, 6.0), candidate(0.0, 12.0), candidate(-9.0, 0.0)];
    let bearings = [55.130, 2.0, 272.0];
    let sights = bearings.iter().map(|&b| sight(None, Some((b, 1.0)))).collect();
    let mut problem = problem(marks, sights, (1.0, 1.0), 1_000.0);
    let plain = solve(&problem, &Charted, &all(3), at(1.0, 1.0), 0.0, false).unwrap();
    let (east, north) = off(&plain);
    assert!((east + 0.576).abs() < 5e-3 && (north + 0.202).abs() < 5e-3, "{east} {north}");
    for (row, expected) in plain.rows.iter().zip([1.005, -0.702, 0.626]) {
        let degrees = Angle::from_radians(row.residual).degrees();
        assert!((degrees - expected).abs() < 5e-3, "{degrees}");
    }
    // Free to differ by any common error, they meet in one point: nothing is left over.
    problem.shared.bearing_bias_sigma = 1.0;
    let biased = solve(&problem, &Charted, &all(3), at(1.0, 1.0), 0.0, false).unwrap();
    let (east, north) = off(&biased);
    assert!(east.hypot(north) < 5e-3, "{east} {north}");
    assert!((Angle::from_radians(biased.bearing_bias().0).degrees() - 2.0).abs() < 0.01);
}

#[test]
fn reckoning_and_one_line_are_weighed_by_their_squares() {
    // Reckoning sigma 4 at (0, 0); a line 6 NM away toward 060, sigma 1: most probable position
    // (4.890, 2.824), ellipse 4.000 by 0.970, long axis 150 (computed). The line is the range of a
    // mark far out toward 060.
    let (sin, cos) = radians(60.0).sin_cos();
    let mark = candidate(36.0 * sin, 36.0 * cos);
    let ranged = sight(Some((30.0, 1.0)), None);
    let problem = problem(vec![mark], vec![ranged], (0.0, 0.0), 4.0);
    let solution = solve(&problem, &Charted, &all(1), at(0.0, 0.0), 0.0, true).unwrap();
    let (east, north) = off(&solution);
    assert!((east - 4.890).abs() < 0.01 && (north - 2.824).abs() < 0.01, "{east} {north}");
    let (long, short, axis) = solution.position_covariance().axes();
    assert!((long.sqrt() / NM - 4.0).abs() < 0.01);
    assert!((short.sqrt() / NM - 0.970).abs() < 0.002);
    assert!((axis.degrees() - 150.0).abs() < 0.2);
    // Three miles of reckoning error against one of the line, 6 NM apart: 5.400 and 0.949.
    let closer = Problem { prior: Prior { covariance: miles(3.0), ..problem.prior }, ..problem };
    let solution = solve(&closer, &Charted, &all(1), at(0.0, 0.0), 0.0, true).unwrap();
    let (east, north) = off(&solution);
    assert!((east.hypot(north) - 5.400).abs() < 2e-3);
    let (_, short, _) = solution.position_covariance().axes();
    assert!((short.sqrt() / NM - 0.949).abs() < 1e-3);
}

fn miles(sigma: f64) -> Covariance {
    Covariance::from_square_miles(sigma * sigma, 0.0, sigma * sigma).unwrap()
}

#[test]
fn two_lines_give_the_tabled_ellipse() {
    // Equal sigmas of 1 crossing at an angle b: axes 1/(√2 sin b/2) and 1/(√2 cos b/2) (formula
    // from memory, values computed). The lines are ranges of marks 100 NM off.
    for (angle, long, short) in [
        (90.0, 1.0, 1.0),
        (60.0, std::f64::consts::SQRT_2, 0.8165),
        (45.0, 1.8478, 0.7654),
        (30.0, 2.7321, 0.7321),
        (15.0, 5.4174, 0.7132),
    ] {
        let (sin, cos) = radians(angle).sin_cos();
        let marks = vec![candidate(0.0, 100.0), candidate(100.0 * sin, 100.0 * cos)];
        let sights = vec![sight(Some((100.0, 1.0)), None); 2];
        let problem = problem(marks, sights, (0.0, 0.0), 1_000.0);
        let solution = solve(&problem, &Charted, &all(2), at(0.1, 0.1), 0.0, false).unwrap();
        let (major, minor, _) = solution.position_covariance().axes();
        assert!((major.sqrt() / NM - long).abs() < 2e-3 * long, "{angle} {}", major.sqrt() / NM);
        assert!((minor.sqrt() / NM - short).abs() < 2e-3, "{angle} {}", minor.sqrt() / NM);
    }
}

#[test]
fn a_range_and_a_bearing_give_the_tabled_ellipse() {
    // Along: sigma of range; across: range times sigma of bearing (computed table).
    for (range, bearing_sigma, range_sigma, across) in
        [(10.0, 1.0, 0.10, 0.175), (20.0, 0.5, 0.24, 0.175), (40.0, 1.0, 0.50, 0.698)]
    {
        let measured = sight(Some((range, range_sigma)), Some((0.0, bearing_sigma)));
        let problem = problem(vec![candidate(0.0, range)], vec![measured], (0.0, 0.0), 1_000.0);
        let solution = solve(&problem, &Charted, &all(1), at(0.3, 0.2), 0.0, false).unwrap();
        let [[ee, _], [_, nn]] = solution.position_covariance().square_miles();
        assert!((nn.sqrt() - range_sigma).abs() < 1e-3);
        assert!((ee.sqrt() - across).abs() < 1e-3);
    }
}

#[test]
fn a_bearing_taken_at_the_aircraft_is_no_line_plotted_from_the_mark() {
    // 045 T to a headland at 50 N 0 E, 60 NM off: the aircraft is at 49.29853 N, 1.09933 W on a
    // sphere (computed); the ellipsoid moves that by under 0.2 NM, and its own line by nothing.
    for (lat, miles, there_lat, there_lon) in
        [(50.0, 60.0, 49.298_53, -1.099_33), (60.0, 20.0, 59.765_29, -0.471_09)]
    {
        let mark = Candidate { position: Position::new(lat, 0.0).unwrap(), ..candidate(0.0, 0.0) };
        let measured = sight(Some((miles, 0.01)), Some((45.0, 0.01)));
        let mut problem = problem(vec![mark], vec![measured], (0.0, 0.0), 1_000.0);
        let sphere = Position::new(there_lat, there_lon).unwrap();
        problem.prior.position = sphere;
        let solution = solve(&problem, &Charted, &all(1), sphere, 0.0, false).unwrap();
        let line = crate::geodesy::course(solution.position, mark.position);
        // The chord is shorter than the arc by s³/24R²: 1.4 m at 60 NM.
        assert!((line.distance.nautical_miles() - miles).abs() < 2e-3);
        assert!((line.initial.degrees() - 45.0).abs() < 1e-3);
        let apart = crate::geodesy::distance(solution.position, sphere).nautical_miles();
        assert!(apart < 0.2, "{apart}");
    }
}

#[test]
fn contacts_taken_on_the_way_are_carried_to_one_time() {
    // One mark abeam twice, three miles run to the north in between: ranges 10 and √(100 + 9).
    let mut first = sight(Some((10.0, 0.1)), Some((90.0, 1.0)));
    first.run = PlanePoint { east: 0.0, north: 3.0 * NM };
    first.elapsed_s = 60.0;
    let second = sight(Some((109.0f64.sqrt(), 0.1)), None);
    let mut problem = problem(vec![candidate(10.0, 0.0)], vec![first, second], (0.0, 3.0), 50.0);
    let solution = solve(&problem, &Charted, &[Some(0), Some(0)], at(1.0, 2.0), 0.0, true).unwrap();
    let (east, north) = off(&solution);
    assert!(east.abs() < 0.01 && (north - 3.0).abs() < 0.01, "{east} {north}");
    let known = solution.position_covariance();
    problem.prior.along_sigma = 30.0 * NM / 3600.0;
    let solution = solve(&problem, &Charted, &[Some(0), Some(0)], at(1.0, 2.0), 0.0, true).unwrap();
    let loose = solution.position_covariance();
    assert!(loose.square_metres()[2] > 1.5 * known.square_metres()[2]);
}

#[test]
fn places_where_nothing_can_be_told_do_not_break_it() {
    let marks = vec![candidate(0.0, 0.0), candidate(0.0, 0.0)];
    let sights = vec![sight(Some((0.0, 0.1)), Some((10.0, 1.0))), sight(Some((5.0, 0.1)), None)];
    let mut under = from_height(problem(marks, sights, (0.0, 0.0), 1e-6), 3_000.0);
    assert!(solve(&under, &Charted, &all(2), at(0.0, 0.0), 0.0, true).is_some());
    let pole = Position::new(90.0, 0.0).unwrap();
    under.prior.position = pole;
    assert!(solve(&under, &Charted, &all(2), pole, 0.0, true).is_some());
    let alone =
        problem(vec![candidate(5.0, 0.0)], vec![sight(Some((5.0, 0.1)), None)], (0.0, 0.0), 1.0);
    assert!(solve(&alone, &Charted, &all(1), at(0.0, 0.0), 0.0, false).is_none());
}

#[test]
fn a_ratio_changes_with_own_place_and_heading_as_its_slopes_say() {
    // Central differences over 2 m and 0.001°, from 6,000 ft in a bank, near the bow and past the
    // turn of the curve. The slopes leave out the convergence of the meridians, tan φ / R by metre
    // east: 1.2e-7 radians, 2.1e-6 dB by the slope near the bow.
    const TOLERANCE: f64 = 4e-6;
    let lobes = crate::radar::Set::builtin("metric").and_then(|set| set.lobes).unwrap();
    for heading in [40.0, 330.0] {
        let ratio = RatioReading::new(2.0, lobes, radians(heading), Angle::from_degrees(20.0));
        let ranged = Sight { ratio: Some(ratio), ..sight(None, None) };
        let one = problem(vec![candidate(4.0, 5.0)], vec![ranged], (0.0, 0.0), 4.0);
        let one = from_height(one, 6_000.0 * 0.3048);
        let here = at(0.0, 0.0);
        let expected = |east: f64, north: f64, bias: f64| {
            let place = LocalPlane::new(here).to_position(PlanePoint { east, north });
            let mut state = State::zeros();
            state[BEARING_BIAS] = bias;
            let rows = rows(&one, &Charted, &[Some(0)], place, &state);
            (ratio.db - rows[0].residual, rows[0])
        };
        let (_, row) = expected(0.0, 0.0, 0.0);
        assert_eq!(row.quantity, Quantity::Ratio);
        let by_east = (expected(1.0, 0.0, 0.0).0 - expected(-1.0, 0.0, 0.0).0) / 2.0;
        let by_north = (expected(0.0, 1.0, 0.0).0 - expected(0.0, -1.0, 0.0).0) / 2.0;
        let step = radians(0.001);
        let by_bias = (expected(0.0, 0.0, step).0 - expected(0.0, 0.0, -step).0) / (2.0 * step);
        assert!((by_east - row.slope[0]).abs() < TOLERANCE, "{by_east} {}", row.slope[0]);
        assert!((by_north - row.slope[1]).abs() < TOLERANCE, "{by_north} {}", row.slope[1]);
        assert!((by_bias - row.slope[BEARING_BIAS]).abs() < 1e-3, "{by_bias}");
        let higher = |metres: f64| {
            let mut state = State::zeros();
            state[HEIGHT] = metres;
            ratio.db - rows(&one, &Charted, &[Some(0)], here, &state)[0].residual
        };
        let by_height = (higher(1.0) - higher(-1.0)) / 2.0;
        assert!((by_height - row.slope[HEIGHT]).abs() < TOLERANCE, "{by_height}");
        // What it leaves as a bearing is the residual by that slope.
        let angle = row.as_angle().unwrap();
        assert!((angle * row.slope[BEARING_BIAS] - row.residual).abs() < 1e-12);
    }
}

/// The chord between two heights over `ground` metres of a sphere of 6371 km: the law of cosines.
fn chord(ground: f64, own: f64, target: f64) -> f64 {
    let radius = 6_371_000.0;
    let (a, b) = (radius + own, radius + target);
    (a * a + b * b - 2.0 * a * b * (ground / radius).cos()).sqrt()
}

#[test]
fn close_ranges_from_high_up_hold_the_truth_where_own_height_may_be_wrong() {
    // Three ranges, good to 0.02 NM, of marks 1 to 3.5 NM off on one hand, from 10,000 ft give or
    // take 300: up to 0.04 NM of range each, all of one sign.
    const SEED: u64 = 20_310_317;
    const TRIALS: u32 = 2_000;
    const FOOT: f64 = 0.3048;
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let mut draw = |sigma: f64| sigma * random.sample::<f64, _>(StandardNormal);
    let sigma = 0.02;
    let (mut with, mut without) = (0, 0);
    for trial in 0..TRIALS {
        let height = 10_000.0 * FOOT + draw(300.0 * FOOT);
        let marks: Vec<Candidate> = [(1.0, 20.0), (2.0, 55.0), (3.5, 95.0)]
            .map(|(far, towards)| {
                let (sin, cos) = radians(towards + 5.0 * f64::from(trial % 7)).sin_cos();
                candidate(far * sin, far * cos)
            })
            .to_vec();
        let sights = marks
            .iter()
            .map(|mark| {
                let ground = crate::geodesy::distance(origin(), mark.position).metres();
                let range = chord(ground, height, 0.0) / NM + draw(sigma);
                sight(Some((range, sigma)), None)
            })
            .collect();
        let problem = problem(marks, sights, (draw(0.5), draw(0.5)), 0.5);
        let mut problem = from_height(problem, 10_000.0 * FOOT);
        let held = |problem: &Problem| {
            let start = problem.prior.position;
            let solution = solve(problem, &Charted, &all(3), start, 0.0, true).unwrap();
            let off = LocalPlane::new(solution.position).to_plane(origin());
            solution.position_covariance().mahalanobis_squared(off.east, off.north) <= 5.991
        };
        without += u32::from(held(&problem));
        problem.shared.own_height_sigma = 300.0 * FOOT;
        with += u32::from(held(&problem));
    }
    let share = |count: u32| 100.0 * f64::from(count) / f64::from(TRIALS);
    // Three binomial sigmas of 0.5 points about 95 %.
    assert!((93.5..=96.5).contains(&share(with)), "seed {SEED}: {}", share(with));
    assert!(share(without) < 85.0, "seed {SEED}: {}", share(without));
}

/// By hand: two marks dead ahead at 20 NM put the error of the bearings b into own place, 20·b across, and a ship
/// dead astern at 20 NM is then plotted 40·b off. A knot over an hour of run is a mile.
#[test]
fn an_echo_plotted_from_a_fix_has_the_errors_that_own_place_shares() {
    let marks = vec![candidate(-1.0, 20.0), candidate(1.0, 20.0)];
    let seen = |bearing: f64| sight(Some((20.025, 0.5)), Some((bearing, 0.001)));
    let mut told = problem(marks, vec![seen(-2.862), seen(2.862)], (0.0, 0.0), 50.0);
    told.shared.bearing_bias_sigma = radians(1.5);
    told.prior.along_sigma = 0.5;
    let found = solve(&told, &Charted, &[Some(0), Some(1)], origin(), 0.0, true).unwrap();
    // The two marks' bearings differ by what tells own place along, and leave the bias as it was.
    let bias = found.bearing_bias().1;
    let of = |north: f64, elapsed_s: f64| {
        let out = PlanePoint { east: 0.0, north: north * NM };
        found.plotted_covariance((elapsed_s, 0.0), out).square_metres()
    };
    let [across, _, _] = of(-20.0, 0.0);
    assert!((across.sqrt() / (40.0 * NM * bias) - 1.0).abs() < 0.03, "{across} {bias}");
    // A thing beside the marks lies where they do, whatever the bias.
    let [beside, _, _] = of(20.0, 0.0);
    assert!(beside.sqrt() < 0.1 * across.sqrt(), "{beside}");
    let knots = told.prior.along_sigma;
    let [_, _, north] = of(0.0, 3_600.0);
    let [_, _, still] = of(0.0, 0.0);
    assert!(
        (north - still - (3_600.0 * knots).powi(2)).abs() < 1.0 + 1e-3 * north,
        "{north} {still}"
    );
}

/// Runs of 60 NM that end at 70° N, where the meridians turn by up to 0.048 radians over them.
fn long_runs() -> impl Iterator<Item = PlanePoint> {
    [0.0, 45.0, 90.0, 135.0, 225.0, 300.0].into_iter().map(|course| {
        let (sin, cos) = radians(course).sin_cos();
        PlanePoint { east: 60.0 * NM * sin, north: 60.0 * NM * cos }
    })
}

fn far_north() -> Position {
    Position::new(70.0, 10.0).unwrap()
}

/// How each row's expected value changes by a state, by central differences over so much of it to either side; own
/// place by a place so far off.
fn changes(one: &Problem, index: usize, step: f64) -> Vec<f64> {
    let measured = |by: f64| {
        let mut state = State::zeros();
        let mut place = far_north();
        match index {
            0 => place = LocalPlane::new(place).to_position(PlanePoint { east: by, north: 0.0 }),
            1 => place = LocalPlane::new(place).to_position(PlanePoint { east: 0.0, north: by }),
            _ => state[index] = by,
        }
        rows(one, &Charted, &[Some(0)], place, &state)
    };
    let (before, after) = (measured(-step), measured(step));
    let change = |(low, high): (&Row, &Row)| (low.residual - high.residual) / (2.0 * step);
    before.iter().zip(&after).map(change).collect()
}

/// Own place and the chart's shift by 10 m, the track's errors by a hundredth of a metre a second, and by how much of
/// those a range changes at most: 1,200 s of them.
const CHANGED: [(usize, f64, f64); 6] = [
    (0, 10.0, 1.0),
    (1, 10.0, 1.0),
    (SHIFT_EAST, 10.0, 1.0),
    (SHIFT_NORTH, 10.0, 1.0),
    (ALONG, 0.01, 1_200.0),
    (ACROSS, 0.01, 1_200.0),
];

#[test]
fn a_contact_of_a_long_run_ago_changes_as_its_slopes_say() {
    // The meridians turn by 0.4 % less on the ellipsoid than on the sphere that the slopes have: up to 8e-5 here.
    const TOLERANCE: f64 = 1e-4;
    // What the slopes of a bearing leave out, by hand: true north of then turns by tan φ / R for each metre east, and
    // by the run east times sec² φ / R² the other way for each metre north.
    let radius = 6_371_000.0;
    let tangent = radians(70.0).tan();
    for run in long_runs() {
        let turn = [tangent / radius, -run.east / (radius * radius) * (1.0 + tangent * tangent)];
        for (east, north) in [(15.0, 10.0), (5.0, -20.0)] {
            let offset = PlanePoint { east: east * NM, north: north * NM };
            let position = LocalPlane::new(far_north()).to_position(offset);
            let mark = Candidate { position, ..candidate(0.0, 0.0) };
            let seen = sight(Some((70.0, 0.1)), Some((0.0, 1.0)));
            let mut one = problem(
                vec![mark],
                vec![Sight { run, elapsed_s: 1_200.0, ..seen }],
                (0.0, 0.0),
                4.0,
            );
            one.prior.track = radians(60.0);
            let told = rows(&one, &Charted, &[Some(0)], far_north(), &State::zeros());
            assert_eq!(told.len(), 2);
            // A bearing by what it moves at its range.
            let scales = [1.0, told[1].distance_of_direction().unwrap()];
            for (index, step, most) in CHANGED {
                for ((row, change), scale) in
                    told.iter().zip(changes(&one, index, step)).zip(scales)
                {
                    let turned = match row.quantity {
                        Quantity::Bearing => turn.get(index).copied().unwrap_or(0.0),
                        _ => 0.0,
                    };
                    let off = (row.slope[index] + turned - change) * scale / most;
                    assert!(off.abs() < TOLERANCE, "{:?} {index} {run:?}: {off}", row.quantity);
                }
            }
        }
    }
}

#[test]
fn an_outline_of_a_long_run_ago_changes_as_its_slopes_say() {
    // The sphere, as above, and a plane that shortens what moves across it by 1e-4 at 60 NM: up to 3e-4 here.
    const TOLERANCE: f64 = 5e-4;
    // Axes not turned back put a place a mile off 60 to 90 m wrong.
    const PLACE_M: f64 = 3.0;
    let told = [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]].map(|slope| Told {
        slope,
        offset: 0.0,
        variance: 1.0,
    });
    for run in long_runs() {
        let seen = Sight { run, elapsed_s: 1_200.0, ..sight(None, None) };
        let then = seen.place_then(far_north());
        let fitted_at = |place: Position| {
            let place = Registered {
                place,
                bias: 0.0,
                range_bias: 0.0,
                told: told.to_vec(),
                log_density: 0.0,
                rms: 0.0,
            };
            let traced = Traced {
                first: 0,
                places: vec![place],
                points: 10,
                effective: 5.0,
                range: 20.0 * NM,
                log_nothing: 0.0,
            };
            let outline = Sight { traced: Some(traced), ..seen.clone() };
            let mut one = problem(vec![candidate(0.0, 0.0)], vec![outline], (0.0, 0.0), 4.0);
            one.prior.track = radians(60.0);
            one
        };
        let there = fitted_at(then);
        let slopes = rows(&there, &Charted, &[Some(0)], far_north(), &State::zeros());
        assert_eq!(slopes.len(), 2);
        for (index, step, most) in CHANGED {
            for (row, change) in slopes.iter().zip(changes(&there, index, step)) {
                let off = (row.slope[index] - change) / most;
                assert!(off.abs() < TOLERANCE, "{index} {run:?}: {off}");
            }
        }
        let beside = LocalPlane::new(then).to_position(PlanePoint { east: 700.0, north: 1_700.0 });
        let off = LocalPlane::new(beside).to_plane(then);
        let found = rows(&fitted_at(beside), &Charted, &[Some(0)], far_north(), &State::zeros());
        let found = PlanePoint { east: -found[0].residual, north: -found[1].residual };
        assert!(found.distance(off) < PLACE_M, "{run:?}: {found:?} {off:?}");
    }
}
