//! What a campaign came to, as tables in markdown.

use std::fmt::Write;

use foreland::campaign::Share;

use super::coasts::Group;
use super::compared::{against_ideal, aims};
use super::score::{ELLIPSE_50, ELLIPSE_95, ELLIPSE_999, Off, Outcome, Row};

/// The wrong fixes that are listed by name.
const LISTED: usize = 25;

pub fn percent(hits: usize, of: usize) -> f64 {
    100.0 * hits as f64 / of.max(1) as f64
}

pub fn with_interval(hits: usize, of: usize) -> String {
    let [low, high] = Share::new(hits, of).interval();
    format!("{:.1} ({low:.1} to {high:.1})", percent(hits, of))
}

/// All tables of a campaign's rows: those of what must be refused are [`super::stress`]'s.
pub fn tables(rows: &[Row]) -> String {
    let mut text = String::new();
    let told = |row: &&Row| !is_stress(row);
    let all: Vec<&Row> = rows.iter().filter(told).collect();
    if all.is_empty() {
        return text;
    }
    aims(&mut text, &all);
    against_ideal(&mut text, &all);
    outcomes(&mut text, "By condition", &all, |row| row.case.clone());
    for group in [Group::Fit, Group::Check, Group::Made, Group::Given] {
        let of_group: Vec<&Row> = all.iter().copied().filter(|row| row.group == group).collect();
        if !of_group.is_empty() {
            let title = format!("By coast: {}", group.as_str());
            outcomes(&mut text, &title, &of_group, |row| row.coast.clone());
        }
    }
    outcomes(&mut text, "By group and condition", &all, |row| {
        format!("{} {}", row.group.as_str(), row.case)
    });
    outcomes(&mut text, "By contacts that are of the coast", &all, |row| {
        format!("{} of {}", row.real, row.contacts)
    });
    outcomes(&mut text, "By contacts that the chart has a mark for", &all, |row| {
        format!("{} of {}", row.marked, row.contacts)
    });
    coverage(&mut text, &all);
    reliability(&mut text, &all);
    assurance(&mut text, &all);
    protection(&mut text, &all);
    wrong(&mut text, &all);
    text
}

/// Whether a row is of what must be refused, and no part of a campaign.
pub fn is_stress(row: &Row) -> bool {
    row.group == Group::Made || (200..300).contains(&row.id.0)
}

/// One row for each key, in the order in which keys first come, and one for all.
fn outcomes(text: &mut String, title: &str, rows: &[&Row], key: impl Fn(&Row) -> String) {
    let mut keys: Vec<String> = Vec::new();
    for row in rows {
        let key = key(row);
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    writeln!(
        text,
        "\n## {title}\n\n| | n | fixed right % | ambiguous % | too few % | at odds % | fixed wrong % \
         | wrong | of fixes wrong % | first listed right, not fixed % |\n| --- | --- | --- | --- | \
         --- | --- | --- | --- | --- | --- |"
    )
    .unwrap();
    for key_of_row in &keys {
        let those: Vec<&Row> = rows.iter().copied().filter(|row| key(row) == *key_of_row).collect();
        outcome_line(text, key_of_row, &those);
    }
    if keys.len() > 1 {
        outcome_line(text, "all", rows);
    }
}

fn outcome_line(text: &mut String, title: &str, rows: &[&Row]) {
    let count = |outcome: Outcome| rows.iter().filter(|row| row.outcome() == outcome).count();
    let n = rows.len();
    let (right, wrong) = (count(Outcome::Right), count(Outcome::Wrong));
    let not_fixed = rows.iter().filter(|row| !row.is_fixed());
    let listed = not_fixed.clone().filter(|row| row.top_is_right()).count();
    writeln!(
        text,
        "| {title} | {n} | {} | {:.1} | {:.1} | {:.1} | {} | {wrong} | {} | {:.0} |",
        with_interval(right, n),
        percent(count(Outcome::Ambiguous), n),
        percent(count(Outcome::TooFew), n),
        percent(count(Outcome::AtOdds), n),
        with_interval(wrong, n),
        with_interval(wrong, right + wrong),
        percent(listed, not_fixed.count()),
    )
    .unwrap();
    let broken = count(Outcome::Broken);
    if broken > 0 {
        writeln!(text, "| {title}: **broke down** | {broken} | | | | | | | | |").unwrap();
    }
}

/// Coverage and NEES of all fixes, of those that are right, and of some kinds of them.
fn coverage(text: &mut String, rows: &[&Row]) {
    writeln!(
        text,
        "\n## Does the ellipse hold the truth\n\nFixes, and the share of them whose ellipse of 50, 95, \
         99.9 % holds the truth; the mean of the squared error against the stated one (NEES) over its two \
         degrees of freedom.\n\n| fixes | n | 50 % | 95 % | 99.9 % | NEES/2 | median error NM | median 95 % \
         half axis NM |\n| --- | --- | --- | --- | --- | --- | --- | --- |"
    )
    .unwrap();
    let fixed: Vec<&Row> = rows.iter().copied().filter(|row| row.is_fixed()).collect();
    let mut some = |title: &str, kept: &dyn Fn(&Row) -> bool| {
        let those: Vec<Off> =
            fixed.iter().filter(|row| kept(row)).filter_map(|row| row.top).collect();
        if !those.is_empty() {
            coverage_line(text, title, &those);
        }
    };
    some("all", &|_| true);
    some("right", &|row| row.top_is_right());
    for group in [Group::Fit, Group::Check, Group::Given] {
        some(&format!("{} coasts", group.as_str()), &|row| row.group == group);
    }
    for sigma in [2.0, 5.0, 10.0, 20.0] {
        some(&format!("reckoning {sigma} NM"), &|row| (row.reckoning_nm - sigma).abs() < 1e-9);
    }
    for contacts in 2..=8 {
        some(&format!("{contacts} contacts"), &|row| row.contacts == contacts);
    }
    for asked in [0.9, 0.99, 0.999, 0.9999] {
        some(&format!("asked {asked}"), &|row| (row.assurance - asked).abs() < 1e-9);
    }
}

fn coverage_line(text: &mut String, title: &str, those: &[Off]) {
    let n = those.len();
    let within =
        |limit: f64| with_interval(those.iter().filter(|off| off.squared <= limit).count(), n);
    writeln!(
        text,
        "| {title} | {n} | {} | {} | {} | {:.2} | {:.2} | {:.2} |",
        within(ELLIPSE_50),
        within(ELLIPSE_95),
        within(ELLIPSE_999),
        those.iter().map(|off| off.squared).sum::<f64>() / (2.0 * n as f64),
        median(those.iter().map(|off| off.error_nm).collect()),
        median(those.iter().map(|off| off.axes_nm[0]).collect()),
    )
    .unwrap();
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// The probability claimed for the first place, against how often it is right.
fn reliability(text: &mut String, rows: &[&Row]) {
    const EDGES: [f64; 16] =
        [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 0.999, 0.9999, 1.0001];
    writeln!(
        text,
        "\n## Is the probability that is claimed borne out\n\nThe first place of every answer but \
         too few.\n\n| claimed | n | mean claimed % | right % |\n| --- | --- | --- | --- |"
    )
    .unwrap();
    let judged: Vec<(f64, bool)> = rows
        .iter()
        .filter(|row| row.outcome() != Outcome::TooFew)
        .filter_map(|row| Some((row.top_probability?, row.top_is_right())))
        .collect();
    bands(text, &judged, &EDGES);
}

/// What is right of what is claimed, in bands of the claim.
pub(super) fn bands(text: &mut String, judged: &[(f64, bool)], edges: &[f64]) {
    for pair in edges.windows(2) {
        let those: Vec<&(f64, bool)> =
            judged.iter().filter(|(p, _)| (pair[0]..pair[1]).contains(p)).collect();
        let right = those.iter().filter(|(_, right)| *right).count();
        let mean = those.iter().map(|(p, _)| p).sum::<f64>() / those.len().max(1) as f64;
        writeln!(
            text,
            "| {} to {} | {} | {:.2} | {} |",
            pair[0],
            pair[1].min(1.0),
            those.len(),
            100.0 * mean,
            with_interval(right, those.len())
        )
        .unwrap();
    }
}

/// What each assurance would fix, by the probability of the first place.
fn assurance(text: &mut String, rows: &[&Row]) {
    writeln!(
        text,
        "\n## By the assurance asked\n\nFixed or ambiguous, the first place held at the \
         assurance.\n\n| assurance | held right % | held wrong % | wrong | of those held wrong \
         % |\n| --- | --- | --- | --- | --- |"
    )
    .unwrap();
    for asked in [0.9, 0.95, 0.99, 0.999, 0.9999] {
        let held = rows.iter().filter(|row| {
            matches!(row.outcome(), Outcome::Right | Outcome::Wrong | Outcome::Ambiguous)
                && row.top_probability.is_some_and(|p| p >= asked)
        });
        let right = held.clone().filter(|row| row.top_is_right()).count();
        let wrong = held.count() - right;
        writeln!(
            text,
            "| {asked} | {} | {} | {wrong} | {} |",
            with_interval(right, rows.len()),
            with_interval(wrong, rows.len()),
            with_interval(wrong, right + wrong)
        )
        .unwrap();
    }
}

fn protection(text: &mut String, rows: &[&Row]) {
    let fixed = rows.iter().filter(|row| row.is_fixed());
    let assured: Vec<(f64, f64)> =
        fixed.clone().filter_map(|row| Some((row.protection_nm?, row.top?.error_nm))).collect();
    let beyond = assured.iter().filter(|(radius, error)| error > radius).count();
    writeln!(
        text,
        "\n## Protection, at a risk of 0.001\n\n| fixes | assured % | error beyond the radius % | \
         beyond | median radius NM |\n| --- | --- | --- | --- | --- |\n| {} | {} | {} | {beyond} | \
         {:.2} |",
        fixed.clone().count(),
        with_interval(assured.len(), fixed.count()),
        with_interval(beyond, assured.len()),
        median(assured.iter().map(|(radius, _)| *radius).collect())
    )
    .unwrap();
}

/// The wrong fixes, the surest first.
fn wrong(text: &mut String, rows: &[&Row]) {
    let mut those: Vec<&&Row> = rows.iter().filter(|row| row.outcome() == Outcome::Wrong).collect();
    those.sort_by(|a, b| b.top_probability.partial_cmp(&a.top_probability).unwrap());
    writeln!(
        text,
        "\n## Wrong fixes, the surest first ({} in all)\n\n| id | real contacts | probability | \
         error NM | d² | 95 % axes NM |\n| --- | --- | --- | --- | --- | --- |",
        those.len()
    )
    .unwrap();
    for row in those.into_iter().take(LISTED) {
        let Some(off) = row.top else { continue };
        writeln!(
            text,
            "| {} | {} of {} | {:.5} | {:.2} | {:.1} | {:.2} × {:.2} |",
            row.name(),
            row.real,
            row.contacts,
            row.top_probability.unwrap_or_default(),
            off.error_nm,
            off.squared,
            off.axes_nm[0],
            off.axes_nm[1]
        )
        .unwrap();
    }
}
