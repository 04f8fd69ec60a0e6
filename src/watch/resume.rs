use super::entry::EntryError;
use super::log::{Record, What};
use super::sitting::Watch;
use crate::contact::{Radar, Sightings};
use crate::radar::Set;
use crate::units::Height;

/// A sitting taken up from its log.
#[derive(Debug)]
pub struct Resumed {
    /// As it was left; none where the log holds no start that can be read.
    pub watch: Option<Watch>,
    /// The chart it was kept on, where the log says.
    pub chart: Option<String>,
    /// What could not be taken up, and why.
    pub notices: Vec<String>,
}

/// The record that a sitting starts with: its sightings' text and the figures of their set, so that the
/// log stands by itself. A set's file may be another or gone when the log is read.
pub fn start_record(name: &str, text: &str, sightings: &Sightings) -> What {
    let set = sightings.radar.set.to_toml();
    What::Start { name: name.to_owned(), sightings: text.to_owned(), set }
}

/// Takes up a sitting from the records of its log.
///
/// `blank` is the sitting to go on from where the log holds no start. A record that does not fit
/// is named and left out: what follows it still counts.
pub fn resume(records: &[Record], blank: &Watch) -> Resumed {
    let mut resumed = Resumed { watch: None, chart: None, notices: Vec::new() };
    for (at, record) in records.iter().enumerate() {
        match &record.what {
            What::Open { chart, .. } => resumed.chart = Some(chart.clone()),
            What::Start { name, sightings, set } => {
                resumed.start(record.number, started(name, sightings, set));
            }
            What::Blank { set, height_ft } => {
                resumed.start(record.number, blank_watch(set, *height_ft));
            }
            _ => {
                let watch = resumed.watch.get_or_insert_with(|| blank.clone());
                if let Err(error) = make_so(watch, records, at) {
                    let number = record.number;
                    resumed.notices.push(format!("record {number} is left out: {error}"));
                }
            }
        }
    }
    resumed
}

/// Makes the record at a place among those of its log so, on the watch that those before it come to.
///
/// # Errors
/// As [`Watch::apply`].
pub fn make_so(watch: &mut Watch, records: &[Record], at: usize) -> Result<(), EntryError> {
    match records.get(at) {
        Some(record) if is_of_the_start(records, at) => watch.begin(&record.what),
        Some(record) => watch.apply(&record.what),
        None => Ok(()),
    }
}

/// Whether a record is the place that a sitting without sightings was begun at: nobody typed it, and it
/// stands right behind the start.
fn is_of_the_start(records: &[Record], at: usize) -> bool {
    let what = |at: usize| records.get(at).map(|record| &record.what);
    let begins = at.checked_sub(1).and_then(what);
    let typed = records.get(at).and_then(|record| record.typed.as_ref());
    matches!(
        (begins, what(at), typed),
        (Some(What::Blank { .. }), Some(What::Reckoning { .. }), None)
    )
}

impl Resumed {
    fn start(&mut self, number: u64, watch: Result<Watch, String>) {
        match watch {
            Ok(watch) => self.watch = Some(watch),
            Err(why) => {
                self.notices.push(format!("record {number}, the start, is unreadable: {why}"));
            }
        }
    }
}

fn blank_watch(set: &str, height_ft: f64) -> Result<Watch, String> {
    let set = Set::parse(set, "the log").map_err(|error| error.to_string())?;
    let height = Height::from_feet(height_ft).map_err(|error| error.to_string())?;
    let set_name = set.name.clone();
    let radar = Radar { set, set_name, range_sigma_nm: None, bearing_sigma_deg: None };
    Ok(Watch::blank(radar, height))
}

fn started(name: &str, text: &str, set: &str) -> Result<Watch, String> {
    // By the figures that it was read by: errors, bearings off lobes and limits all come from them.
    let set = Set::parse(set, name).map_err(|error| error.to_string())?;
    let sightings = Sightings::parse_by(text, name, &set).map_err(|error| error.to_string())?;
    Ok(Watch::from_sightings(&sightings))
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::watch::log::{AcceptEntry, ContactEntry, PlaceEntry};

    const TEXT: &str = r#"
        [reckoning]
        time = "2031-03-09T03:40:00Z"
        position = "38 12.9 S, 21 30.5 W"
        sigma_nm = 4.0
        [own]
        height_ft = 2000
        [radar]
        set = "SET"
        [[contact]]
        label = "A"
        range_nm = 17.3
        bearing_deg = 42.5
    "#;

    fn record(number: u64, what: What) -> Record {
        let time = "2031-03-09T03:41:00Z".parse().unwrap();
        Record { number, time, what, typed: None }
    }

    fn contact(label: &str) -> What {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            range_nm: Some(9.0),
            ..ContactEntry::default()
        })
    }

    #[test]
    fn the_same_records_give_the_same_watch() {
        let text = TEXT.replace("SET", "patrol");
        let sightings = Sightings::parse(&text, "dusk", Path::new("")).unwrap();
        let mut watch = Watch::from_sightings(&sightings);
        let start = start_record("dusk", &text, &sightings);
        let changes = [
            contact("B"),
            What::Delete { label: "A".into() },
            What::Undo,
            contact("C"),
            What::Undo,
        ];
        let mut records = vec![record(1, start)];
        for (at, what) in changes.into_iter().enumerate() {
            watch.apply(&what).unwrap();
            records.push(record(at as u64 + 2, what));
        }
        let blank = Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL);
        let resumed = resume(&records, &blank);
        assert!(resumed.notices.is_empty());
        let resumed = resumed.watch.unwrap();
        assert_eq!(resumed.contacts(), watch.contacts());
        assert_eq!(resumed.next_redo(), watch.next_redo());
    }

    #[test]
    fn a_fix_of_another_time_is_accepted_without_track_and_speed() {
        let text = TEXT.replace("SET", "patrol");
        let sightings = Sightings::parse(&text, "dusk", Path::new("")).unwrap();
        let mut watch = Watch::from_sightings(&sightings);
        let time = "2031-03-09T03:37:00Z".parse().unwrap();
        let place =
            PlaceEntry { lat_deg: -38.2, lon_deg: -21.4, covariance_nm2: [[0.1, 0.0], [0.0, 0.1]] };
        let accept = What::Accept(AcceptEntry {
            time,
            place,
            alone: None,
            verdict: "fixed".to_owned(),
            probability: None,
            landfall: None,
            identities: Vec::new(),
            echoes: Vec::new(),
        });
        watch.apply(&accept).unwrap();
        assert_eq!(watch.reckoning().unwrap().time, time);
        let records = [record(1, start_record("dusk", &text, &sightings)), record(2, accept)];
        let blank = Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL);
        let resumed = resume(&records, &blank);
        assert_eq!(resumed.notices, Vec::<String>::new());
        let resumed = resumed.watch.unwrap();
        assert_eq!(resumed.accepted().len(), 1);
        assert_eq!(resumed.reckoning(), watch.reckoning());
    }

    #[test]
    fn outlines_outlive_the_sitting() {
        let outline = "[[outline]]\nlabel = \"K\"\npoints = [[41, 17.9], [42, 17.4], [43, 17.3]]\n";
        let text = TEXT.replace("SET", "patrol") + outline;
        let sightings = Sightings::parse(&text, "dusk", Path::new("")).unwrap();
        let records = [record(1, start_record("dusk", &text, &sightings)), record(2, contact("B"))];
        let blank = Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL);
        let resumed = resume(&records, &blank).watch.unwrap();
        assert_eq!(resumed.outlines(), sightings.outlines);
        assert_eq!(resumed.sightings().unwrap().outlines, sightings.outlines);
        // Its label is given to no contact.
        assert!(!["A", "B", "K"].contains(&resumed.next_label().as_str()));
    }

    #[test]
    fn a_log_stands_by_itself_when_the_set_file_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let own = Set::builtin_text("boat").unwrap().replace("9375", "9410");
        std::fs::write(folder.path().join("own.toml"), &own).unwrap();
        let text = TEXT.replace("SET", "own.toml");
        let sightings = Sightings::parse(&text, "dusk", folder.path()).unwrap();
        let start = start_record("dusk", &text, &sightings);
        drop(folder);
        let blank = Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL);
        let resumed = resume(&[record(1, start)], &blank);
        assert_eq!(resumed.notices, Vec::<String>::new());
        assert_eq!(resumed.watch.unwrap().radar().set, sightings.radar.set);
    }

    #[test]
    fn a_sitting_without_sightings_is_taken_up_with_its_set() {
        let set = Set::builtin("boat").unwrap();
        let start = What::Blank { set: set.to_toml(), height_ft: 49.0 };
        let radar = Radar {
            set: Set::builtin("patrol").unwrap(),
            set_name: "patrol".into(),
            range_sigma_nm: None,
            bearing_sigma_deg: None,
        };
        let resumed = resume(&[record(1, start)], &Watch::blank(radar, Height::SEA_LEVEL));
        let watch = resumed.watch.unwrap();
        assert_eq!(watch.radar().set, set);
        assert!((watch.own().height.feet() - 49.0).abs() < 1e-9);
    }

    #[test]
    fn the_place_that_a_sitting_was_begun_at_is_not_taken_back() {
        let set = Set::builtin("patrol").unwrap();
        let blank = blank_watch(&set.to_toml(), 2000.0).unwrap();
        let reckoning = What::Reckoning {
            time: "2031-03-09T03:40:00Z".parse().unwrap(),
            lat_deg: -38.2,
            lon_deg: -21.5,
            covariance_nm2: [[16.0, 0.0], [0.0, 16.0]],
        };
        let start = record(1, What::Blank { set: set.to_toml(), height_ft: 2000.0 });
        let records = [start.clone(), record(2, reckoning.clone()), record(3, What::Undo)];
        let resumed = resume(&records, &blank);
        assert_eq!(resumed.notices, ["record 3 is left out: nothing to undo"]);
        assert!(resumed.watch.unwrap().reckoning().is_some());
        // One that was typed is.
        let typed = Record { typed: Some("dr 38 12 S, 21 30 W".into()), ..record(2, reckoning) };
        let resumed = resume(&[start, typed, record(3, What::Undo)], &blank);
        assert_eq!(resumed.notices, Vec::<String>::new());
        assert!(resumed.watch.unwrap().reckoning().is_none());
    }

    #[test]
    fn what_does_not_fit_is_named_and_the_rest_counts() {
        let text = TEXT.replace("SET", "patrol");
        let sightings = Sightings::parse(&text, "dusk", Path::new("")).unwrap();
        let blank = Watch::blank(sightings.radar.clone(), Height::SEA_LEVEL);
        let records = [
            record(1, start_record("dusk", &text, &sightings)),
            record(2, What::Delete { label: "Z".into() }),
            record(3, contact("B")),
        ];
        let resumed = resume(&records, &blank);
        assert_eq!(resumed.notices, ["record 2 is left out: no contact Z: there is only A"]);
        assert_eq!(resumed.watch.unwrap().contacts().len(), 2);
    }
}
