//! A campaign's rows as a file of comma-separated values: written as it goes, and read again.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;

use foreland::fix::Verdict;

use super::case;
use super::coasts::{self, Group};
use super::score::{Ideal, Off, Row};

pub const COLUMNS: &str = "seed,id,coast,group,contacts,reckoning_nm,ships,wrong_names,assurance,real,marked,\
                           verdict,probability,next_probability,none_of_these,right,error_nm,squared,\
                           major_nm,minor_nm,protection_nm,ideal_probability,ideal_dropped,ideal_right,\
                           ideal_error_nm,ideal_squared,ideal_major_nm,ideal_minor_nm";

const VERDICTS: [Verdict; 4] =
    [Verdict::Fixed, Verdict::Ambiguous, Verdict::TooFew, Verdict::AtOdds];

/// A figure to be read again as it was to nine places, or nothing.
fn figure(value: Option<f64>) -> String {
    value.map_or_else(String::new, |v| if v.is_finite() { format!("{v:.9}") } else { "inf".into() })
}

fn figures(off: Option<Off>) -> [Option<f64>; 4] {
    [
        off.map(|off| off.error_nm),
        off.map(|off| off.squared),
        off.map(|off| off.axes_nm[0]),
        off.map(|off| off.axes_nm[1]),
    ]
}

/// A row as one line.
pub fn line(row: &Row) -> String {
    let mut fields = vec![
        row.seed.to_string(),
        row.name(),
        row.coast.clone(),
        row.group.as_str().to_owned(),
        row.contacts.to_string(),
        row.reckoning_nm.to_string(),
        row.ships.to_string(),
        row.wrong_names.to_string(),
        row.assurance.to_string(),
        row.real.to_string(),
        row.marked.to_string(),
        row.verdict.map_or("broken", Verdict::as_str).to_owned(),
        figure(row.top_probability),
        figure(Some(row.next_probability)),
        figure(Some(row.none_of_these)),
        row.top_is_right().to_string(),
    ];
    fields.extend(figures(row.top).map(figure));
    fields.push(figure(row.protection_nm));
    fields.push(figure(row.ideal.map(|ideal| ideal.probability)));
    fields.push(figure(row.ideal.map(|ideal| ideal.dropped)));
    let off = row.ideal.and_then(|ideal| ideal.off);
    fields.push(off.map_or_else(String::new, |off| off.is_right().to_string()));
    fields.extend(figures(off).map(figure));
    fields.join(",")
}

/// The row that a line tells; `None` for what is none, as the head of the file or a line cut short.
pub fn row(line: &str) -> Option<Row> {
    let fields: Vec<&str> = line.trim_end().split(',').collect();
    if fields.len() != COLUMNS.split(',').count() {
        return None;
    }
    let float = |at: usize| fields[at].parse::<f64>().ok();
    let whole = |at: usize| fields[at].parse::<usize>().ok();
    let off = |at: usize| {
        Some(Off {
            error_nm: float(at)?,
            squared: float(at + 1)?,
            axes_nm: [float(at + 2)?, float(at + 3)?],
        })
    };
    let mut id = fields[1].split('/');
    let (case_name, coast_name, number) = (id.next()?, id.next()?, id.next()?.parse().ok()?);
    // A case or a coast that is no longer there is told all the same, after those that are.
    let case = case::all().iter().find(|(_, case)| case.name == case_name).map_or(999, |c| c.0);
    let coast = coasts::names().iter().position(|(name, _)| name == coast_name).unwrap_or(999);
    let verdict = VERDICTS.into_iter().find(|verdict| verdict.as_str() == fields[11]);
    Some(Row {
        seed: fields[0].parse().ok()?,
        id: (case, coast, number),
        case: case_name.to_owned(),
        coast: coast_name.to_owned(),
        group: Group::of(fields[3])?,
        contacts: whole(4)?,
        reckoning_nm: float(5)?,
        ships: float(6)?,
        wrong_names: float(7)?,
        assurance: float(8)?,
        real: whole(9)?,
        marked: whole(10)?,
        verdict,
        top_probability: float(12),
        next_probability: float(13)?,
        none_of_these: float(14)?,
        top: off(16),
        protection_nm: float(20),
        ideal: float(21).zip(float(22)).map(|(probability, dropped)| Ideal {
            probability,
            dropped,
            off: off(24),
        }),
    })
}

/// All rows of a file.
pub fn read(file: &Path) -> Vec<Row> {
    let text =
        std::fs::read_to_string(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    text.lines().filter_map(row).collect()
}

/// Opens a file to add rows to, with those that it is to begin with.
pub fn open(file: &Path, rows_before: &[Row]) -> File {
    // Written again, so that a line cut short is gone.
    let lines = std::iter::once(COLUMNS.to_owned()).chain(rows_before.iter().map(line));
    let text: String = lines.map(|line| line + "\n").collect();
    let told = |error: std::io::Error| -> ! { panic!("{}: {error}", file.display()) };
    std::fs::write(file, text).unwrap_or_else(|error| told(error));
    OpenOptions::new().append(true).open(file).unwrap_or_else(|error| told(error))
}

/// Adds rows, on disk before it returns.
pub fn append(file: &mut File, rows: &[Row]) {
    let text: String = rows.iter().map(|row| line(row) + "\n").collect();
    file.write_all(text.as_bytes()).unwrap();
    file.sync_data().unwrap();
}
