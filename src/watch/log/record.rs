use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// One line of the log: what happened, and when.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// Counts from 1; a gap tells that a line is missing.
    pub number: u64,
    /// The watch's own time at which it happened.
    pub time: Timestamp,
    /// What happened.
    pub what: What,
    /// The line the operator typed, where there was one.
    pub typed: Option<String>,
}

/// What a record says. Kinds and keys are the file format: see `docs/reference/watch-log.md`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// The log was begun, or taken up again.
    Open {
        /// Name and version of the program.
        program: String,
        /// Name of the chart in use.
        chart: String,
    },
    /// The sightings the sitting started from, whole, so that the log stands by itself.
    Start {
        /// What the sightings were called.
        name: String,
        /// Their text.
        sightings: String,
        /// The figures of their set, as a set file.
        set: String,
    },
    /// The sitting started from no sightings, knowing its radar and own height alone.
    Blank {
        /// The figures of the set, as a set file.
        set: String,
        /// Above mean sea level.
        height_ft: f64,
    },
    /// The landfall planned from now on.
    Landfall {
        /// North positive.
        lat_deg: f64,
        /// East positive.
        lon_deg: f64,
    },
    /// What must not be overlooked was said.
    Alarm {
        /// In plain words.
        words: String,
    },
    /// Alarms were acknowledged.
    Acknowledged {
        /// Each in plain words.
        alarms: Vec<String>,
    },
    /// A contact was put in, or corrected: all that it is now.
    Contact(ContactEntry),
    /// A contact was taken out.
    Delete {
        /// Its label.
        label: String,
    },
    /// Own antenna height from now on.
    Height {
        /// Above mean sea level.
        height_ft: f64,
        /// Whether what was measured so far was measured from there as well.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        all: bool,
    },
    /// Own heading from now on.
    Heading {
        /// As read.
        degrees: f64,
        /// What from: `true`, `magnetic`, `compass` or `gyro`.
        kind: String,
    },
    /// Own bank from now on.
    Bank {
        /// Right wing down positive.
        bank_deg: f64,
    },
    /// A new reckoning.
    Reckoning {
        /// The time it is for.
        time: Timestamp,
        /// North positive.
        lat_deg: f64,
        /// East positive.
        lon_deg: f64,
        /// Its error: east, covariance, north.
        covariance_nm2: [[f64; 2]; 2],
    },
    /// Track and speed made good from now on.
    Track {
        /// True.
        track_deg: f64,
        /// Made good.
        speed_kn: f64,
        /// From when on; without it, as if it had always been so.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        time: Option<Timestamp>,
    },
    /// True airspeed, or speed through the water, from now on.
    Air {
        /// Of own ship or aircraft, not over the ground.
        speed_kn: f64,
    },
    /// A fix was accepted: the reckoning starts from it, and the contacts it rests on are done with.
    Accept(AcceptEntry),
    /// What the fixes found beside the motion reckoned with is used from now on.
    Drift(DriftEntry),
    /// What an echo that no chart explains is called.
    Call {
        /// Its label.
        label: String,
        /// As the operator has it.
        name: String,
    },
    /// What the program said of all that was entered so far: written when it changes.
    Said(SaidEntry),
    /// The clock of the machine went back.
    Clock {
        /// What it had shown before.
        from: Timestamp,
        /// What it showed then.
        to: Timestamp,
    },
    /// The last change was taken back.
    Undo,
    /// What was taken back was put back.
    Redo,
    /// A line for the reader of the log.
    Note {
        /// Its text.
        text: String,
    },
}

/// A clock that is set back by less than this is only being kept right.
const CLOCK_BACK: SignedDuration = SignedDuration::from_secs(2);

impl What {
    /// That the machine's clock went back, by what it showed before and shows now; none where it did not.
    pub fn clock_back(from: Timestamp, to: Timestamp) -> Option<Self> {
        (from.duration_since(to) >= CLOCK_BACK).then_some(Self::Clock { from, to })
    }
}

/// A contact as the log keeps it: as it was read, not as it was turned.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ContactEntry {
    /// Its label on this watch.
    pub label: String,
    /// When it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub time: Option<Timestamp>,
    /// Slant range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_nm: Option<f64>,
    /// As read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearing_deg: Option<f64>,
    /// What the bearing was counted from; `true` where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearing_kind: Option<String>,
    /// The two deflections as read, in place of a bearing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deflection: Option<DeflectionEntry>,
    /// One standard deviation of the range, where stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_sigma_nm: Option<f64>,
    /// One standard deviation of the bearing, where stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearing_sigma_deg: Option<f64>,
    /// The part of the echo; `near` where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// The operator's own identification.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<String>,
    /// How sure the operator is of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark_confidence: Option<f64>,
    /// The contact of which it is a later sight: the same echo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub again: Option<String>,
}

/// A place and its error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlaceEntry {
    /// North positive.
    pub lat_deg: f64,
    /// East positive.
    pub lon_deg: f64,
    /// Its error: east, covariance, north.
    pub covariance_nm2: [[f64; 2]; 2],
}

/// A fix as it was accepted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AcceptEntry {
    /// The time it is for.
    pub time: Timestamp,
    /// Where, by contacts and reckoning together.
    #[serde(flatten)]
    pub place: PlaceEntry,
    /// Where by the contacts alone, where they fixed it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alone: Option<PlaceEntry>,
    /// What it was: `fixed`, or `too-few` for a most probable position.
    pub verdict: String,
    /// How sure the place was, where that was stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
    /// What was said of the landfall with it, where one was planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub landfall: Option<String>,
    /// Each contact it rests on with the mark it was taken for.
    #[serde(default)]
    pub identities: Vec<IdentityEntry>,
    /// Each echo that no mark explains, where it lies.
    #[serde(default)]
    pub echoes: Vec<EchoEntry>,
}

/// An echo that no mark explains.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EchoEntry {
    /// The contact's label.
    pub contact: String,
    /// Where it lies.
    #[serde(flatten)]
    pub place: PlaceEntry,
}

/// What one contact was taken for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IdentityEntry {
    /// The contact's label.
    pub contact: String,
    /// The mark.
    pub mark: String,
    /// Where the chart has it: north positive.
    pub lat_deg: f64,
    /// East positive.
    pub lon_deg: f64,
    /// How sure.
    pub probability: f64,
}

/// A wind or stream found beside the motion reckoned with, as it was accepted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DriftEntry {
    /// When it was accepted: it counts from then on.
    pub time: Timestamp,
    /// Toward the east.
    pub east_kn: f64,
    /// Toward the north.
    pub north_kn: f64,
    /// Its error: east, covariance, north.
    pub covariance_kn2: [[f64; 2]; 2],
    /// What its error and that of the position at the fix have in common: position by row, drift by
    /// column. Without it `covariance_kn2` is twice the drift's own, in its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with_position_nm_kn: Option<[[f64; 2]; 2]>,
    /// Over how long it was found: it is the mean of that time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub found_over_s: Option<f64>,
    /// Track made good with it.
    pub track_deg: f64,
    /// Speed made good with it.
    pub speed_kn: f64,
}

/// What the program said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SaidEntry {
    /// The time it is for.
    pub time: Timestamp,
    /// The verdict's word.
    pub verdict: String,
    /// Where, where a position was stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceEntry>,
    /// How sure the place was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
    /// What each contact was taken for.
    #[serde(default)]
    pub identities: Vec<IdentityEntry>,
    /// The verdict of the landfall, where one is planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub landfall: Option<String>,
    /// The lines that stood on the screen.
    #[serde(default)]
    pub lines: Vec<String>,
}

/// Two deflections as the log keeps them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DeflectionEntry {
    /// To the left of the trace.
    pub port: f64,
    /// To the right of it.
    pub starboard: f64,
}

impl Record {
    /// The record as its line, without the line's end.
    ///
    /// `None` where the record cannot be told in JSON (a number that is none).
    pub fn to_line(&self) -> Option<String> {
        let (kind, mut body) = match serde_json::to_value(&self.what).ok()? {
            Value::String(kind) => (kind, Map::new()),
            Value::Object(one) => {
                let (kind, body) = one.into_iter().next()?;
                (kind, body.as_object()?.clone())
            }
            _ => return None,
        };
        if let Some(typed) = &self.typed {
            body.insert("typed".to_owned(), Value::String(typed.clone()));
        }
        let rest = format!("{} {} {kind} {}", self.number, self.time, Value::Object(body));
        Some(format!("{:08x} {rest}", crc32fast::hash(rest.as_bytes())))
    }

    /// Reads a line back.
    ///
    /// # Errors
    /// What is wrong with it, in a few words.
    pub fn from_line(line: &[u8]) -> Result<Self, &'static str> {
        let line = std::str::from_utf8(line).map_err(|_| "it is not text")?;
        let (sum, rest) = line.split_once(' ').ok_or("it is cut short")?;
        let sum = u32::from_str_radix(sum, 16).map_err(|_| "it has no checksum")?;
        if sum != crc32fast::hash(rest.as_bytes()) {
            return Err("its checksum does not agree");
        }
        let mut parts = rest.splitn(4, ' ');
        let mut part = || parts.next().ok_or("it is cut short");
        let number = part()?.parse().map_err(|_| "it has no number")?;
        let time = part()?.parse().map_err(|_| "it has no time")?;
        let kind = part()?;
        let mut body: Map<String, Value> =
            serde_json::from_str(part()?).map_err(|_| "its body is no JSON")?;
        let typed = match body.remove("typed") {
            Some(Value::String(typed)) => Some(typed),
            _ => None,
        };
        let value = if body.is_empty() {
            Value::String(kind.to_owned())
        } else {
            Value::Object([(kind.to_owned(), Value::Object(body))].into_iter().collect())
        };
        let what = serde_json::from_value(value)
            .map_err(|_| "it is of a kind that this version does not know")?;
        Ok(Self { number, time, what, typed })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn contact() -> Record {
        Record {
            number: 3,
            time: "2031-03-09T03:41:10Z".parse().unwrap(),
            what: What::Contact(ContactEntry {
                label: "A".to_owned(),
                range_nm: Some(17.3),
                bearing_deg: Some(42.0),
                mark: Some("Gannet \"Head\"\n\u{1b}".to_owned()),
                ..ContactEntry::default()
            }),
            typed: Some("17.3 042".to_owned()),
        }
    }

    #[test]
    fn a_record_is_one_line_and_reads_back() {
        for what in [contact().what, What::Undo, What::Note { text: "haze, é".to_owned() }] {
            for typed in [None, Some("x".to_owned())] {
                let record = Record { what: what.clone(), typed, ..contact() };
                let line = record.to_line().unwrap();
                assert!(!line.contains(char::is_control), "{line}");
                assert_eq!(Record::from_line(line.as_bytes()), Ok(record));
            }
        }
    }

    #[test]
    fn a_clock_goes_back_by_two_seconds_or_more() {
        let from: Timestamp = "2031-03-09T03:41:10Z".parse().unwrap();
        for (seconds, told) in [(-60, false), (0, false), (1, false), (2, true), (3_600, true)] {
            let to = from - SignedDuration::from_secs(seconds);
            let clock = told.then_some(What::Clock { from, to });
            assert_eq!(What::clock_back(from, to), clock, "{seconds} s");
        }
    }

    #[test]
    fn the_checksum_is_that_of_zip_and_ethernet() {
        // CRC-32 check value of "123456789": cbf43926 (RevEng catalogue of CRCs; from memory).
        assert_eq!(crc32fast::hash(b"123456789"), 0xcbf4_3926);
        let line = contact().to_line().unwrap();
        let (sum, rest) = line.split_once(' ').unwrap();
        assert_eq!(sum, format!("{:08x}", crc32fast::hash(rest.as_bytes())));
    }

    #[test]
    fn every_flipped_bit_is_noticed() {
        let line = contact().to_line().unwrap().into_bytes();
        for at in 0..line.len() {
            for bit in 0..8 {
                let mut damaged = line.clone();
                damaged[at] ^= 1 << bit;
                let read = Record::from_line(&damaged);
                // The checksum is hexadecimal: a letter's case does not change it.
                assert!(read.is_err() || (at < 8 && bit == 5), "byte {at} bit {bit}");
            }
        }
    }
}
