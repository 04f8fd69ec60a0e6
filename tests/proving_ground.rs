//! A slice of the proving ground for every run of the tests: landfalls on ten coasts, simulated by
//! rays, solved through the public interface, held against the truth.
//!
//! The campaign that the figures of `docs/accuracy.md` come from is `tests/benches/proving.rs`.

mod proving;

use proving::campaign::{Campaign, cases_of, coasts_of};
use proving::rows;
use proving::score::{ELLIPSE_95, ELLIPSE_999, Outcome, Row};
use proving::stress::{Must, TRIALS};

const SEED: u64 = 20_310_312;

fn run(cases: &str, coasts: &str, landfalls: usize) -> Vec<Row> {
    println!("seed {SEED}");
    let (cases, coasts) = (cases_of(cases), coasts_of(coasts));
    Campaign { seed: SEED, landfalls, cases, coasts, ideal: 0 }.run()
}

fn count(rows: &[Row], outcome: Outcome) -> usize {
    rows.iter().filter(|row| row.outcome() == outcome).count()
}

fn told(title: &str, rows: &[Row]) {
    let of = |outcome| count(rows, outcome);
    println!(
        "{title}: {} landfalls, right {}, ambiguous {}, too few {}, at odds {}, wrong {}",
        rows.len(),
        of(Outcome::Right),
        of(Outcome::Ambiguous),
        of(Outcome::TooFew),
        of(Outcome::AtOdds),
        of(Outcome::Wrong)
    );
}

#[test]
fn unnamed_contacts_on_real_coasts_are_fixed_rightly_or_refused() {
    let rows = run("k4-dr20,k6-dr5", "all", 200);
    told("four contacts and six", &rows);
    assert_eq!(rows.len(), 200);
    // One fix in a hundred may be wrong at the assurance asked. If that were so of the half that
    // is fixed, five would come of it four times in a thousand.
    assert!(count(&rows, Outcome::Wrong) <= 4);
    // 78 were fixed rightly when this was written; three standard deviations fewer would be news.
    assert!(count(&rows, Outcome::Right) >= 57);
    assert_eq!(count(&rows, Outcome::Broken), 0);
    let squared: Vec<f64> =
        rows.iter().filter(|row| row.is_fixed()).filter_map(|row| Some(row.top?.squared)).collect();
    let within = |limit: f64| squared.iter().filter(|d| **d <= limit).count();
    println!(
        "in the 95 % ellipse {} of {}, in the 99.9 % one {}",
        within(ELLIPSE_95),
        squared.len(),
        within(ELLIPSE_999)
    );
    // Outside by a mistaken point now and then, and by the law once in a thousand.
    assert!(squared.len() - within(ELLIPSE_999) <= 4);
}

#[test]
fn lone_ranges_and_lone_bearings_are_seldom_called_at_odds() {
    let rows = run("ranges-k6-dr5,bearings-k6-dr5", "check", 20);
    told("six ranges, six bearings", &rows);
    assert_eq!(count(&rows, Outcome::Wrong), 0);
    // 18 in 200 were when this was written; six or more in 20 come by chance once in a hundred.
    assert!(count(&rows, Outcome::AtOdds) <= 5);
}

#[test]
fn what_must_be_refused_is_refused() {
    println!("seed {SEED}");
    for trial in &TRIALS {
        let rows = trial.run(SEED, 10);
        told(trial.title, &rows);
        assert_eq!(count(&rows, Outcome::Broken), 0, "{}", trial.title);
        if let Some(most) = trial.most(rows.len()) {
            let names: Vec<String> = rows.iter().map(Row::name).collect();
            // One in so few says nothing, where any is allowed at all.
            let most = if trial.must == Must::FixedAtMost(0.0) { most } else { most.max(1) };
            assert!(trial.found(&rows) <= most, "{}: {names:?}", trial.title);
        }
    }
}

#[test]
fn the_same_seed_makes_the_same_campaign_on_any_number_of_threads() {
    let [one, three] = [1, 3].map(|threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let rows = pool.install(|| run("k5-dr5", "sample", 4));
        rows.iter().map(rows::line).collect::<Vec<_>>()
    });
    assert_eq!(one, three);
}

#[test]
fn rows_are_read_as_they_were_written_and_a_campaign_goes_on_where_it_stopped() {
    let (cases, coasts) = (cases_of("k4-dr2"), coasts_of("sample"));
    let campaign = Campaign { seed: SEED, landfalls: 4, cases, coasts, ideal: 1 };
    let whole = campaign.run();
    assert_eq!(whole.len(), 4);
    assert!(whole[0].ideal.is_some() && whole[1].ideal.is_none());
    let lines: Vec<String> = whole.iter().map(rows::line).collect();
    let again: Vec<Row> = lines.iter().filter_map(|line| rows::row(line)).collect();
    assert_eq!(again.iter().map(rows::line).collect::<Vec<_>>(), lines);
    // The head of a file and a line cut short are no rows.
    assert!(rows::row(rows::COLUMNS).is_none());
    assert!(rows::row(&lines[2][..lines[2].len() / 2]).is_none());
    let mut told = Vec::new();
    let gone_on = campaign.go_on(again[..3].to_vec(), |new| told.extend(new.to_vec()));
    assert_eq!(told.iter().map(rows::line).collect::<Vec<_>>(), lines[3..]);
    assert_eq!(gone_on.iter().map(rows::line).collect::<Vec<_>>(), lines);
}
