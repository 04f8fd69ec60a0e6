use super::*;
use crate::geodesy::Position;
use crate::paint::expect;
use crate::units::{Bearing, Height, True};

fn at() -> Position {
    "38 12.9 S, 21 30.5 W".parse().unwrap()
}

fn vantage(feet: f64, heading: Option<f64>) -> Vantage {
    let height = Height::from_feet(feet).unwrap();
    Vantage { position: at(), height, heading: heading.map(Bearing::wrapped_degrees) }
}

fn miles(miles: f64) -> SlantRange {
    SlantRange::from_nautical_miles(miles).unwrap()
}

fn plan(set: &Set, vantage: &Vantage, conditions: &Conditions, frame: &Frame) -> Plan {
    let chart = Chart::sample().unwrap();
    match picture(&chart, vantage, set, conditions, frame).unwrap() {
        Picture::Plan(plan) => plan,
        Picture::Trace(_) => unreachable!("a turning beam shows a plan"),
    }
}

fn trace(vantage: &Vantage, conditions: &Conditions, scale_nm: f64) -> Trace {
    let chart = Chart::sample().unwrap();
    let set = Set::builtin("metric").unwrap();
    match picture(&chart, vantage, &set, conditions, &Frame::to(miles(scale_nm))).unwrap() {
        Picture::Trace(trace) => trace,
        Picture::Plan(_) => unreachable!("fixed lobes show a trace"),
    }
}

fn patrol() -> Set {
    Set::builtin("patrol").unwrap()
}

/// The first range over the threshold in the mean, past the sea's return about the centre.
fn first_over(plan: &Plan, cell: usize) -> Option<f64> {
    let over = |(bin, db): &(usize, &f32)| {
        plan.range(*bin) > miles(5.0) && f64::from(**db) > plan.threshold_db()
    };
    let first = plan.mean_db(cell).iter().enumerate().find(over);
    first.map(|(bin, _)| plan.range(bin).nautical_miles())
}

#[test]
fn the_coast_begins_where_expect_has_it() {
    // Two ways to the same answer: rows of coast from chances, cells of the screen from powers.
    let calm = Conditions { sea_state: 0, ..Conditions::default() };
    let vantage = vantage(2_000.0, None);
    let frame = Frame::to(miles(50.0));
    let plan = plan(&patrol(), &vantage, &calm, &frame);
    let chart = Chart::sample().unwrap();
    let reach = GroundRange::from_nautical_miles(50.0).unwrap();
    let rows = expect(&chart, &vantage, &patrol(), &calm, reach, 0.5).coast;
    let (mut near, mut all) = (0, 0);
    for row in rows.iter().filter(|row| row.paint_probability > 0.9) {
        let (cell, _) = plan.cell_at(row.bearing, row.range).unwrap();
        all += 1;
        let begins = first_over(&plan, cell);
        near += i32::from(begins.is_some_and(|at| (at - row.range.nautical_miles()).abs() < 0.4));
    }
    // Not every row: an edge within half a beam shows in the one and is weaker in the other.
    assert!(all > 100 && 10 * near > 8 * all, "{near} of {all}");
}

#[test]
fn one_look_has_the_mean_that_is_given_and_noise_its_false_alarms() {
    let frame = Frame::to(miles(100.0));
    let (mut shown, mut mean, mut quiet, mut false_alarms) = (0.0, 0.0, 0u32, 0u32);
    for seed in 1..=3 {
        let frame = Frame { seed, ..frame };
        let plan = plan(&patrol(), &vantage(2_000.0, None), &Conditions::default(), &frame);
        for cell in 0..frame.bearings {
            for (one, expected) in plan.shown_db(cell).iter().zip(plan.mean_db(cell)) {
                if expected.is_infinite() {
                    assert!(one.is_infinite());
                    continue;
                }
                // The mean of powers, over cells that hold something.
                if *expected > 3.0 {
                    let over = f64::from(*one - *expected) / 10.0;
                    (shown, mean) = (shown + 10f64.powf(over), mean + 1.0);
                } else if *expected < 0.001 {
                    quiet += 1;
                    false_alarms += u32::from(f64::from(*one) > plan.threshold_db());
                }
            }
        }
    }
    // Echoes fluctuate as one for a whole look: hundreds of them leave a scatter of 5 %.
    assert!((shown / mean - 1.0).abs() < 0.05, "{shown} {mean}");
    // IMO's rate of 1e-4; the cube-root rule draws its tail to a third (computed).
    let rate = f64::from(false_alarms) / f64::from(quiet);
    assert!(quiet > 1_000_000 && (0.5e-4..2e-4).contains(&rate), "{rate}");
}

#[test]
fn the_same_seed_draws_the_same_picture_on_any_number_of_threads() {
    let frame = Frame { bins: 200, bearings: 180, ..Frame::to(miles(50.0)) };
    let draw = || plan(&patrol(), &vantage(2_000.0, None), &Conditions::default(), &frame);
    let threads = |count| rayon::ThreadPoolBuilder::new().num_threads(count).build().unwrap();
    let one = threads(1).install(draw);
    assert_eq!(one, threads(3).install(draw));
    let other = Frame { seed: 2, ..frame };
    assert_ne!(one, plan(&patrol(), &vantage(2_000.0, None), &Conditions::default(), &other));
}

#[test]
fn a_wide_beam_smears_an_islet_and_a_long_pulse_draws_it_out() {
    // Little Ember, by itself in the east: how many bearings hold it at its range.
    let chart = Chart::sample().unwrap();
    let islet = chart.marks().get(chart.marks().find("Little Ember").unwrap()).unwrap();
    let line = course(at(), islet.position);
    let spread = |set: &Set| {
        let calm = Conditions { sea_state: 0, ..Conditions::default() };
        let plan = plan(set, &vantage(2_000.0, None), &calm, &Frame::to(miles(25.0)));
        let held = |cell: &usize| {
            let bins = plan.mean_db(*cell).iter().enumerate();
            bins.filter(|(bin, _)| {
                (plan.range(*bin).nautical_miles() - line.distance.nautical_miles()).abs() < 0.8
            })
            .map(|(_, db)| *db)
            .fold(f32::NEG_INFINITY, f32::max)
        };
        let peak = (0..720).map(|cell| held(&cell)).fold(f32::NEG_INFINITY, f32::max);
        // Between the half-power points of what is shown.
        0.5 * (0..720).filter(|cell| held(cell) > peak - 3.0).count() as f64
    };
    let narrow = spread(&patrol());
    let wide = spread(&Set { beam_width_deg: 12.0, ..patrol() });
    // Both ways a gaussian beam is its width one way over √2 (closed form), and the islet has a
    // breadth of its own.
    let breadth = 2.0 * islet.extent.metres() / line.distance.metres();
    let breadth = Angle::from_radians(breadth).degrees();
    let beam = 12.0 / 2f64.sqrt();
    assert!((beam - 1.0..beam + breadth + 1.0).contains(&wide), "{wide} {breadth}");
    assert!(wide - narrow > 5.0, "{narrow} {wide}");
}

#[test]
fn what_a_cliff_hides_from_low_down_is_dark_and_the_sea_answers_round_the_centre() {
    let frame = Frame::to(miles(25.0));
    let rough = Conditions { sea_state: 4, ..Conditions::default() };
    let low = plan(&patrol(), &vantage(300.0, None), &rough, &frame);
    let high = plan(&patrol(), &vantage(8_000.0, None), &rough, &frame);
    // Common practice, no published source: climbing raises the reach of the sea's return.
    let open_sea = |plan: &Plan| {
        let (cell, _) = plan.cell_at(Bearing::<True>::wrapped_degrees(225.0), miles(5.0)).unwrap();
        let over = |db: &&f32| f64::from(**db) > plan.threshold_db();
        plan.mean_db(cell).iter().filter(over).count()
    };
    let (from_low, from_high) = (open_sea(&low), open_sea(&high));
    assert!(from_low > 0 && from_high > from_low, "{from_low} {from_high}");
    // Behind Great Ember, 600 ft high, the sea is in its shadow from 300 ft.
    let chart = Chart::sample().unwrap();
    let islet = chart.marks().get(chart.marks().find("Great Ember").unwrap()).unwrap();
    let line = course(at(), islet.position);
    let behind = miles(line.distance.nautical_miles() + 4.0);
    let (cell, bin) = low.cell_at(line.initial, behind).unwrap();
    assert!(low.mean_db(cell)[bin] < 0.5, "{}", low.mean_db(cell)[bin]);
}

#[test]
fn echoes_past_the_next_pulse_are_drawn_too_near() {
    let roomy = Set { pulse_rate_hz: 500.0, ..patrol() };
    let tight = Set { pulse_rate_hz: 3_000.0, scan_rpm: Some(90.0), ..patrol() };
    assert_eq!(roomy.pulses_on_target(), tight.pulses_on_target());
    let calm = Conditions { sea_state: 0, ..Conditions::default() };
    let high = vantage(3_000.0, None);
    let next = tight.unambiguous_range().nautical_miles();
    let far = plan(&roomy, &high, &calm, &Frame { bins: 2_000, ..Frame::to(miles(50.0)) });
    let near = plan(&tight, &high, &calm, &Frame { bins: 1_000, ..Frame::to(miles(25.0)) });
    let level = |plan: &Plan, bearing: f64, range: f64| {
        let (cell, bin) = plan.cell_at(Bearing::wrapped_degrees(bearing), miles(range))?;
        // The cells of the two do not begin alike.
        let about = plan.mean_db(cell).get(bin.saturating_sub(1)..bin + 2)?;
        Some(about.iter().copied().fold(f32::NEG_INFINITY, f32::max))
    };
    let mut folded = 0;
    for row in 0..720 {
        let bearing = f64::from(row) * 0.5;
        for step in 0..200 {
            let range = next + 1.0 + f64::from(step) * 0.1;
            let there = level(&far, bearing, range);
            if there.is_some_and(|db| db > 12.0) {
                let here = level(&near, bearing, range - next).unwrap();
                assert!(here > there.unwrap() - 5.0, "{bearing} {range} {here} {there:?}");
                folded += 1;
            }
        }
    }
    assert!(folded > 20, "{folded}");
}

#[test]
fn the_louder_side_of_a_trace_is_the_side_of_the_target_and_dead_ahead_both_are_alike() {
    // Facts of the trade: common practice, no published source.
    let chart = Chart::sample().unwrap();
    let islet = chart.marks().get(chart.marks().find("Great Ember").unwrap()).unwrap();
    let line = course(at(), islet.position);
    let calm = Conditions { sea_state: 0, ..Conditions::default() };
    let ratio_db = |off_deg: f64| {
        let heading = line.initial.degrees() - off_deg;
        let trace = trace(&vantage(2_000.0, Some(heading)), &calm, 30.0);
        let strongest = (0..trace.frame().bins)
            .filter(|bin| {
                (trace.range(*bin).nautical_miles() - line.distance.nautical_miles()).abs() < 0.8
            })
            .max_by(|a, b| {
                let level = |bin: usize| trace.port().mean_db[bin] + trace.starboard().mean_db[bin];
                level(*a).total_cmp(&level(*b))
            })
            .unwrap();
        trace.port().mean_db[strongest] - trace.starboard().mean_db[strongest]
    };
    // The islet is not a point: a degree of the curve is 0.3 dB.
    assert!(ratio_db(0.0).abs() < 0.7, "{}", ratio_db(0.0));
    let lobes = Set::builtin("metric").unwrap().lobes.unwrap();
    for off in [-20.0, -10.0, 10.0, 20.0] {
        let of_curve = lobes.ratio_db(Angle::from_degrees(off), Angle::ZERO, Angle::ZERO);
        assert!((f64::from(ratio_db(off)) - of_curve).abs() < 1.2, "{off} {}", ratio_db(off));
    }
}

#[test]
fn a_trace_is_even_in_range_and_more_height_brings_more_sea() {
    // Facts of the trade: common practice, no published source.
    let sea = Conditions { sea_state: 5, ..Conditions::default() };
    let low = trace(&vantage(500.0, Some(225.0)), &sea, 10.0);
    let high = trace(&vantage(3_000.0, Some(225.0)), &sea, 10.0);
    for (near, far) in [(2.0, 4.0), (4.0, 8.0)] {
        let (near, far) = (low.bin_at(miles(near)).unwrap(), low.bin_at(miles(far)).unwrap());
        assert!(far.abs_diff(2 * near) <= 1, "{near} {far}");
    }
    let foot = |trace: &Trace| {
        let from = trace.bin_at(miles(1.0)).unwrap();
        trace.port().mean_db[from..].iter().sum::<f32>()
    };
    assert!(foot(&high) > foot(&low), "{} {}", foot(&high), foot(&low));
}

#[test]
fn fixed_lobes_want_a_heading() {
    let chart = Chart::sample().unwrap();
    let set = Set::builtin("metric").unwrap();
    let frame = Frame::to(miles(30.0));
    let told = picture(&chart, &vantage(2_000.0, None), &set, &Conditions::default(), &frame);
    assert_eq!(told, Err(PictureError::NoHeading));
}

#[test]
fn light_grows_with_the_level_and_breaks_where_echoes_show() {
    let light: Vec<f64> = (-20..80).map(|half| brightness(f64::from(half) * 0.5, 4.0)).collect();
    assert!(light.windows(2).all(|pair| pair[0] <= pair[1]), "{light:?}");
    assert!(brightness(f64::NEG_INFINITY, 4.0).abs() < 1e-12);
    assert!((brightness(90.0, 4.0) - 1.0).abs() < 1e-12);
    assert!(brightness(4.0, 4.0) > brightness(3.9, 4.0) + 0.1);
}

#[test]
fn rings_are_round_and_few() {
    for (scale, expected) in [(100.0, 20.0), (48.0, 10.0), (6.0, 1.0), (0.25, 0.05), (90.0, 20.0)] {
        assert!((range_rings(scale)[0] - expected).abs() < 1e-9, "{scale}");
    }
    for tenths in 1..5_000 {
        let rings = range_rings(f64::from(tenths) * 0.1);
        assert!((3..=6).contains(&rings.len()), "{tenths} {rings:?}");
    }
}

#[test]
fn sea_and_rain_have_the_levels_of_their_own_formulas() {
    // Open sea, no land near: what one beam and one pulse hold of them, over the noise.
    let chart = Chart::sample().unwrap();
    let far: Position = "38 S, 30 W".parse().unwrap();
    let own = Height::from_feet(2_000.0).unwrap();
    let vantage = Vantage { position: far, height: own, heading: None };
    let everywhere = crate::radar::Rain::everywhere(2.0);
    for (set, rain) in [("patrol", crate::radar::Rain::NONE), ("boat", everywhere)] {
        let set = Set::builtin(set).unwrap();
        for bins in [256, 1_024] {
            let conditions = Conditions { sea_state: 4, rain, ..Conditions::default() };
            let frame = Frame { bins, bearings: 36, ..Frame::to(miles(20.0)) };
            let drawn = picture(&chart, &vantage, &set, &conditions, &frame).unwrap();
            let Picture::Plan(plan) = drawn else { unreachable!("a turning beam shows a plan") };
            let budget = Budget::new(&set, &conditions, own);
            for at in [4.0, 8.0, 15.0] {
                let bin = (at / 20.0 * bins as f64) as usize;
                let ground_m = plan.range(bin).metres();
                let over_noise = 10f64.powf(budget.base_db(ground_m) / 10.0)
                    * (budget.sea_m2(ground_m) + budget.rain_m2(ground_m));
                let expected = 10.0 * (1.0 + over_noise).log10();
                let found = f64::from(plan.mean_db(9)[bin]);
                assert!(
                    (found - expected).abs() < 0.4,
                    "{} {bins} {at}: {found} {expected}",
                    set.name
                );
            }
        }
    }
}

#[test]
fn a_short_pulse_leaves_no_rings_in_a_slope_and_a_tower_is_as_bright_in_any_cells() {
    let short = Set { pulse_us: 0.08, ..Set::builtin("boat").unwrap() };
    let calm = Conditions { sea_state: 0, ..Conditions::default() };
    let plan = plan(&short, &vantage(2_000.0, None), &calm, &Frame::to(miles(24.0)));
    // Great Ember, on its own bearing: behind the face of its shore, a step deep, no cell of the slope
    // falls to noise.
    let chart = Chart::sample().unwrap();
    let islet = chart.marks().get(chart.marks().find("Great Ember").unwrap()).unwrap();
    let line = course(at(), islet.position);
    let (cell, near) = plan.cell_at(line.initial, miles(8.0)).unwrap();
    let row = plan.mean_db(cell);
    let first = near + row[near..].iter().position(|db| *db > 10.0).unwrap();
    assert!(row[first + 6..first + 24].iter().all(|db| *db > 3.0), "{:?}", &row[first..first + 24]);
    // A light by itself in the sea answers whole, whatever the length of the cells.
    let peak = |bins: usize| {
        let frame = Frame { bins, ..Frame::to(miles(24.0)) };
        let point = field::Point {
            ground_m: 18_520.0,
            height: Height::from_feet(100.0).unwrap(),
            m2_per_rad: 1e4,
        };
        let budget = Budget::new(&short, &calm, Height::from_feet(50.0).unwrap());
        let fan = Fan::all_round(10, 100.0, 40_000.0);
        let table = RangeTable::new(&fan, &budget);
        let screen = field::Screen::new(&budget, &frame);
        let field = screen.field(0, (&[], &[], &[point]), &fan, &table);
        let about = (18_520.0 / frame.bin_m()) as usize;
        let power: f32 = field.mean[about - 1..about + 2].iter().sum();
        10.0 * power.log10()
    };
    assert!((peak(256) - peak(512)).abs() < 0.5, "{} {}", peak(256), peak(512));
}
