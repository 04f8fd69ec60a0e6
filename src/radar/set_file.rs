//! Set files, read with every fault told at once.

use std::fmt;
use std::fs;
use std::io::Read;
use std::ops::{Range, RangeInclusive};
use std::path::Path;

use thiserror::Error;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::lobes::Lobes;
use super::set::{Polarisation, Set, SetKind};
use crate::text::{plain as clean, shortened};

/// A set that cannot be had.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SetError {
    /// Neither a built-in name nor a file.
    #[error("no set \"{name}\": it is neither built in ({}) nor a file that can be read ({reason})",
        Set::NAMES.join(", "))]
    Missing {
        /// As given.
        name: String,
        /// What the system said of the file.
        reason: String,
    },
    /// Text that is no TOML.
    #[error("{origin}:{line}: {reason}")]
    Syntax {
        /// The file.
        origin: String,
        /// Counted from one.
        line: usize,
        /// What stands there instead.
        reason: String,
    },
    /// Figures that are missing, unknown or none.
    #[error("{}", faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Faults {
        /// All of them, in the order of the file.
        faults: Vec<SetFault>,
    },
}

/// One fault of a set file.
#[derive(Debug, Clone, PartialEq)]
pub struct SetFault {
    /// The file.
    pub origin: String,
    /// Counted from one; `None` where something is missing.
    pub line: Option<usize>,
    /// The key it is about.
    pub key: String,
    /// What is wrong, and what would be right.
    pub what: String,
}

impl fmt::Display for SetFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}: {}", self.origin, self.key, self.what),
            None => write!(f, "{}: {}: {}", self.origin, self.key, self.what),
        }
    }
}

/// The keys of the file itself.
const KEYS: [&str; 21] = [
    "name",
    "kind",
    "frequency_mhz",
    "polarisation",
    "peak_power_kw",
    "antenna_gain_dbi",
    "beam_width_deg",
    "elevation_beam_deg",
    "cosecant_to_deg",
    "pulse_us",
    "pulse_rate_hz",
    "scan_rpm",
    "noise_figure_db",
    "losses_db",
    "scales_nm",
    "min_range_nm",
    "range_sigma_nm",
    "range_sigma_share",
    "bearing_sigma_deg",
    "usable_height_ft",
    "lobes",
];

/// The keys of `[lobes]`.
const LOBE_KEYS: [&str; 4] = ["squint_deg", "width_deg", "ratio_sigma_db", "back_db"];

/// More than this of a file is no set.
const MOST_BYTES: u64 = 1 << 20;

/// The most faults told at once: a file with more is no set.
const MOST_FAULTS: usize = 40;

/// The most of a word from a file that a message repeats.
const SHOWN: usize = 60;

pub(super) fn read(path: &str, base: &Path) -> Result<Set, SetError> {
    let missing = |reason: String| SetError::Missing { name: clean(path), reason };
    let full = base.join(path);
    let about = fs::metadata(&full).map_err(|fault| missing(fault.to_string()))?;
    let size = about.len();
    if size > MOST_BYTES {
        return Err(missing(format!("{size} bytes are too many for a set")));
    }
    // A device has no size and no end, a pipe may never answer.
    if !about.is_file() {
        return Err(missing("it is no plain file".to_owned()));
    }
    let mut text = String::new();
    fs::File::open(&full)
        .and_then(|file| file.take(MOST_BYTES).read_to_string(&mut text))
        .map_err(|fault| missing(fault.to_string()))?;
    parse(&text, &clean(path))
}

pub(super) fn parse(text: &str, origin: &str) -> Result<Set, SetError> {
    let parsed = DeTable::parse(text).map_err(|fault| SetError::Syntax {
        origin: origin.to_owned(),
        line: line_at(text, fault.span().map_or(0, |span| span.start)),
        reason: shortened(fault.message(), 200),
    })?;
    let mut reader = Reader { text, origin, faults: Vec::new() };
    let set = reader.set(parsed.get_ref());
    if reader.faults.is_empty() { Ok(set) } else { Err(SetError::Faults { faults: reader.faults }) }
}

fn line_at(text: &str, byte: usize) -> usize {
    text.bytes().take(byte).filter(|byte| *byte == b'\n').count() + 1
}

/// Reads values one by one, and keeps the faults of all of them.
struct Reader<'a> {
    text: &'a str,
    origin: &'a str,
    faults: Vec<SetFault>,
}

type Table<'a> = DeTable<'a>;

impl Reader<'_> {
    fn fault(&mut self, span: Option<Range<usize>>, key: &str, what: String) {
        if self.faults.len() >= MOST_FAULTS {
            return;
        }
        let line = span.map(|span| line_at(self.text, span.start));
        let (origin, key) = (self.origin.to_owned(), shortened(key, SHOWN));
        self.faults.push(SetFault { origin, line, key, what });
    }

    fn set(&mut self, table: &Table) -> Set {
        self.unknown(table, &KEYS);
        let kind = self.choice(table, "kind", [("scan", SetKind::Scan), ("lobes", SetKind::Lobes)]);
        let kind = kind.unwrap_or(SetKind::Scan);
        let lobes = self.lobes(table, kind);
        let beam = lobes.map(|lobes| lobes.width_deg);
        Set {
            name: self.text_of(table, "name").unwrap_or_default(),
            kind,
            frequency_mhz: self.number(table, "frequency_mhz", "MHz", 30.0..=36_000.0, None),
            polarisation: self.polarisation(table),
            peak_power_kw: self.number(table, "peak_power_kw", "kW", 1e-4..=1e5, None),
            antenna_gain_dbi: self.number(table, "antenna_gain_dbi", "dBi", 0.0..=60.0, None),
            beam_width_deg: self.number(table, "beam_width_deg", "°", 0.05..=360.0, beam),
            elevation_beam_deg: self.number(
                table,
                "elevation_beam_deg",
                "°",
                0.5..=360.0,
                Some(20.0),
            ),
            cosecant_to_deg: table
                .get("cosecant_to_deg")
                .map(|_| self.number(table, "cosecant_to_deg", "°", 1.0..=80.0, None)),
            pulse_us: self.number(table, "pulse_us", "µs", 0.01..=100.0, None),
            pulse_rate_hz: self.number(table, "pulse_rate_hz", "Hz", 20.0..=20_000.0, None),
            scan_rpm: self.scan(table, kind),
            noise_figure_db: self.number(table, "noise_figure_db", "dB", 0.0..=30.0, Some(5.0)),
            losses_db: self.number(table, "losses_db", "dB", 0.0..=40.0, Some(6.0)),
            scales_nm: self.scales(table),
            min_range_nm: self.number(table, "min_range_nm", "NM", 0.0..=20.0, Some(0.1)),
            range_sigma_nm: self.number(table, "range_sigma_nm", "NM", 0.0..=10.0, Some(0.05)),
            range_sigma_share: self.number(
                table,
                "range_sigma_share",
                "of the scale",
                0.0..=0.5,
                Some(0.005),
            ),
            bearing_sigma_deg: self.number(table, "bearing_sigma_deg", "°", 0.01..=90.0, Some(1.0)),
            usable_height_ft: self.heights(table),
            lobes,
        }
    }

    fn unknown(&mut self, table: &Table, known: &[&str]) {
        let names = table.iter().map(|(key, _)| (key, key.get_ref().as_ref()));
        let strange = names.filter(|(_, name): &(_, &str)| !known.contains(name));
        for (key, name) in strange.take(MOST_FAULTS) {
            let name = &shortened(name, SHOWN);
            let near = known
                .iter()
                .map(|known| (strsim::jaro_winkler(name, known), known))
                .filter(|(likeness, _)| *likeness > 0.8)
                .max_by(|a, b| a.0.total_cmp(&b.0));
            let what = match near {
                Some((_, near)) => format!("no such key; did you mean {near}?"),
                None => format!("no such key; known are {}", known.join(", ")),
            };
            self.fault(Some(key.span()), name, what);
        }
    }

    fn choice<T: Copy, const N: usize>(
        &mut self,
        table: &Table,
        key: &str,
        of: [(&str, T); N],
    ) -> Option<T> {
        let value = table.get(key)?;
        let found = value.get_ref().as_str();
        if let Some((_, choice)) = of.iter().find(|(name, _)| Some(*name) == found) {
            return Some(*choice);
        }
        let names: Vec<String> = of.iter().map(|(name, _)| format!("\"{name}\"")).collect();
        let found = shortened(self.text.get(value.span()).unwrap_or_default(), SHOWN);
        self.fault(Some(value.span()), key, format!("{found} is not {}", names.join(" or ")));
        None
    }

    fn polarisation(&mut self, table: &Table) -> Polarisation {
        let of = [("horizontal", Polarisation::Horizontal), ("vertical", Polarisation::Vertical)];
        self.choice(table, "polarisation", of).unwrap_or(Polarisation::Horizontal)
    }

    fn text_of(&mut self, table: &Table, key: &str) -> Option<String> {
        let Some(value) = table.get(key) else {
            self.fault(None, key, "missing: any short text will do".to_owned());
            return None;
        };
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(clean(text)),
            _ => {
                self.fault(Some(value.span()), key, "not a text in quotes".to_owned());
                None
            }
        }
    }

    fn number(
        &mut self,
        table: &Table,
        key: &str,
        unit: &str,
        within: RangeInclusive<f64>,
        default: Option<f64>,
    ) -> f64 {
        let (least, most) = (*within.start(), *within.end());
        let Some(value) = table.get(key) else {
            if default.is_none() {
                self.fault(None, key, format!("missing: a number of {least} to {most} {unit}"));
            }
            return default.unwrap_or(least);
        };
        match number_of(value) {
            Some(number) if within.contains(&number) => number,
            Some(number) => {
                let what = format!("{number} is outside {least} to {most} {unit}");
                self.fault(Some(value.span()), key, what);
                least
            }
            None => {
                let what = format!("not a number: write one of {least} to {most} {unit}");
                self.fault(Some(value.span()), key, what);
                least
            }
        }
    }

    fn scan(&mut self, table: &Table, kind: SetKind) -> Option<f64> {
        match kind {
            SetKind::Scan => Some(self.number(table, "scan_rpm", "rpm", 0.1..=240.0, Some(24.0))),
            SetKind::Lobes => {
                if let Some(value) = table.get("scan_rpm") {
                    let what = "fixed lobes do not turn: leave it out, or kind = \"scan\"";
                    self.fault(Some(value.span()), "scan_rpm", what.to_owned());
                }
                None
            }
        }
    }

    fn scales(&mut self, table: &Table) -> Vec<f64> {
        const RIGHT: &str = "write ranges in NM, ascending, like [6, 12, 24, 48]";
        let Some(value) = table.get("scales_nm") else {
            self.fault(None, "scales_nm", format!("missing: {RIGHT}"));
            return Vec::new();
        };
        let scales: Option<Vec<f64>> =
            value.get_ref().as_array().and_then(|array| array.iter().map(number_of).collect());
        match scales {
            Some(scales) if are_scales(&scales) => scales,
            _ => {
                let what = format!("not a list of 1 to 32 scales of 0.1 to 500 NM: {RIGHT}");
                self.fault(Some(value.span()), "scales_nm", what);
                Vec::new()
            }
        }
    }

    fn heights(&mut self, table: &Table) -> Option<(f64, f64)> {
        let value = table.get("usable_height_ft")?;
        let heights: Option<Vec<f64>> =
            value.get_ref().as_array().and_then(|array| array.iter().map(number_of).collect());
        match heights.as_deref() {
            Some(&[least, most]) if (0.0..most).contains(&least) && most <= 100_000.0 => {
                Some((least, most))
            }
            _ => {
                let what = "write the least and the most height in feet, like [500, 10000]";
                self.fault(Some(value.span()), "usable_height_ft", what.to_owned());
                None
            }
        }
    }

    fn lobes(&mut self, table: &Table, kind: SetKind) -> Option<Lobes> {
        let value = table.get("lobes");
        if kind == SetKind::Scan {
            if let Some(value) = value {
                let what = "a turning beam has no lobes: leave it out, or kind = \"lobes\"";
                self.fault(Some(value.span()), "lobes", what.to_owned());
            }
            return None;
        }
        let empty = DeTable::new();
        let lobes = match value.map(|value| (value, value.get_ref().as_table())) {
            None => &empty,
            Some((_, Some(lobes))) => lobes,
            Some((value, None)) => {
                self.fault(Some(value.span()), "lobes", "not a table: write [lobes]".to_owned());
                &empty
            }
        };
        self.unknown(lobes, &LOBE_KEYS);
        Some(Lobes {
            squint_deg: self.number(lobes, "squint_deg", "°", 0.5..=89.0, Some(22.0)),
            width_deg: self.number(lobes, "width_deg", "°", 1.0..=180.0, Some(60.0)),
            ratio_sigma_db: self.number(lobes, "ratio_sigma_db", "dB", 0.01..=20.0, Some(1.0)),
            back_db: self.number(lobes, "back_db", "dB", -60.0..=0.0, Some(-20.0)),
        })
    }
}

fn number_of(value: &Spanned<DeValue>) -> Option<f64> {
    match value.get_ref() {
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().parse().ok(),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

fn are_scales(scales: &[f64]) -> bool {
    (1..=32).contains(&scales.len())
        && scales.iter().all(|scale| (0.1..=500.0).contains(scale))
        && scales.windows(2).all(|pair| pair[0] < pair[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn faults_of(change: impl Fn(String) -> String) -> String {
        let text = change(Set::builtin_text("boat").unwrap().to_owned());
        parse(&text, "mine.toml").unwrap_err().to_string()
    }

    #[test]
    fn an_unknown_key_suggests_the_nearest() {
        assert_eq!(
            faults_of(|text| text.replace("pulse_us", "pulse_ms")),
            "mine.toml:10: pulse_ms: no such key; did you mean pulse_us?\n\
             mine.toml: pulse_us: missing: a number of 0.01 to 100 µs"
        );
    }

    #[test]
    fn all_faults_are_told_with_their_lines() {
        let told = faults_of(|text| {
            text.replace("scan_rpm = 24.0", "scan_rpm = -2")
                .replace("\"horizontal\"", "\"round\"")
                .replace("[0.25, 0.5,", "[0.5, 0.25,")
        });
        assert_eq!(
            told,
            "mine.toml:5: polarisation: \"round\" is not \"horizontal\" or \"vertical\"\n\
             mine.toml:12: scan_rpm: -2 is outside 0.1 to 240 rpm\n\
             mine.toml:15: scales_nm: not a list of 1 to 32 scales of 0.1 to 500 NM: write ranges \
             in NM, ascending, like [6, 12, 24, 48]"
        );
    }

    #[test]
    fn numbers_that_are_none_are_refused() {
        for bad in ["nan", "inf", "\"25\"", "true", "0", "1e9", "0x19"] {
            let told = faults_of(|text| {
                text.replace("peak_power_kw = 25", &format!("peak_power_kw = {bad}"))
            });
            assert!(told.starts_with("mine.toml:6: peak_power_kw: "), "{bad}: {told}");
        }
    }

    #[test]
    fn what_belongs_to_the_other_kind_is_refused() {
        let told = faults_of(|text| format!("{text}\n[lobes]\nsquint_deg = 20\n"));
        assert!(told.contains("a turning beam has no lobes"), "{told}");
        let told = faults_of(|text| text.replace("\"scan\"", "\"lobes\""));
        assert!(told.contains("fixed lobes do not turn"), "{told}");
    }

    #[test]
    fn what_may_be_left_out_has_its_default() {
        let set = parse(
            "name = \"least\"\nfrequency_mhz = 9375\npeak_power_kw = 25\nantenna_gain_dbi = 30\n\
             beam_width_deg = 2.4\npulse_us = 0.5\npulse_rate_hz = 1000\nscales_nm = [6, 12]\n",
            "least.toml",
        )
        .unwrap();
        assert_eq!(set.scan_rpm, Some(24.0));
        assert_eq!(set.cosecant_to_deg, None);
        assert_eq!(set.polarisation, Polarisation::Horizontal);
        assert!((set.range_sigma_share - 0.005).abs() < 1e-12);
    }

    #[test]
    fn a_cosecant_beam_is_read_held_to_its_bounds_and_written() {
        let text = Set::builtin_text("patrol").unwrap();
        let set = parse(&format!("{text}cosecant_to_deg = 30\n"), "own.toml").unwrap();
        assert_eq!(set.cosecant_to_deg, Some(30.0));
        assert_eq!(parse(&set.to_toml(), "again.toml").unwrap(), set);
        let told = parse(&format!("{text}cosecant_to_deg = 95\n"), "own.toml").unwrap_err();
        assert!(told.to_string().contains("95 is outside 1 to 80 °"), "{told}");
    }

    #[test]
    fn usable_heights_are_read_held_to_their_order_and_written() {
        let text = Set::builtin_text("patrol").unwrap();
        let set = parse(&format!("{text}usable_height_ft = [500, 10000]\n"), "own.toml").unwrap();
        assert_eq!(set.usable_height_ft, Some((500.0, 10_000.0)));
        assert_eq!(parse(&set.to_toml(), "again.toml").unwrap(), set);
        for wrong in ["[900, 500]", "[500]", "500", "[-1, 500]", "[\"low\", 500]"] {
            let text = format!("{text}usable_height_ft = {wrong}\n");
            let told = parse(&text, "own.toml").unwrap_err().to_string();
            assert!(
                told.contains("write the least and the most height in feet"),
                "{wrong}: {told}"
            );
        }
    }

    #[test]
    fn text_that_is_no_toml_is_named_with_its_line() {
        let told = parse("name = \"x\"\nkind =\n", "torn.toml").unwrap_err().to_string();
        assert!(told.starts_with("torn.toml:2: "), "{told}");
    }

    #[test]
    fn a_set_that_is_nowhere_is_said_so() {
        let told = Set::resolve("ferry", Path::new(".")).unwrap_err().to_string();
        assert!(
            told.starts_with("no set \"ferry\": it is neither built in (metric, patrol, boat)")
        );
    }
}
