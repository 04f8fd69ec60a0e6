use crate::contact::Sightings;
use crate::watch::entry::spoken_bearing;
use crate::watch::log::What;
use crate::watch::{Held, Watch, start_record};

/// As near as this, in miles and degrees, a contact is the echo that the tour told of.
const SAME: (f64, f64) = (0.15, 1.01);

/// What a tour leads through: where it starts, and the echoes that the radar shows there. All that the
/// tour tells to type comes from these.
#[derive(Debug)]
pub struct Lead {
    /// The sitting as it begins: nothing is measured yet.
    pub start: Watch,
    /// The record that says it.
    pub record: What,
    /// The echoes, in the order in which they are told.
    pub readings: Vec<Reading>,
}

/// An echo that the radar shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Slant range.
    pub range_nm: f64,
    /// True.
    pub bearing_deg: f64,
    /// The mark that it is, for the tour to know which one is asked for.
    pub mark: String,
}

impl Lead {
    /// Of sightings whose contacts each have range, true bearing and mark; others are passed over.
    ///
    /// - `text`: what the sightings were read from; its part before the contacts goes into the log.
    pub fn new(name: &str, text: &str, sightings: &Sightings) -> Self {
        let start = sightings.with_contacts(Vec::new());
        let head = text.split("[[contact]]").next().unwrap_or_default();
        let readings = sightings.contacts.iter().filter_map(|contact| {
            Some(Reading {
                range_nm: contact.range?.nautical_miles(),
                bearing_deg: contact.bearing?.degrees(),
                mark: contact.belief.as_ref()?.mark.clone(),
            })
        });
        Self {
            start: Watch::from_sightings(&start),
            record: start_record(name, head, &start),
            readings: readings.collect(),
        }
    }

    /// Whether a range and a true bearing are one of the echoes, and which.
    pub fn find(&self, range_nm: f64, bearing_deg: f64) -> Option<&Reading> {
        self.readings.iter().find(|reading| reading.is(range_nm, bearing_deg))
    }

    /// The echo that a contact is, where it is one.
    pub fn of(&self, held: &Held) -> Option<&Reading> {
        let (range, bearing) = (held.contact.range?, held.contact.bearing?);
        self.find(range.nautical_miles(), bearing.degrees())
    }
}

impl Reading {
    fn is(&self, range_nm: f64, bearing_deg: f64) -> bool {
        let aside = (bearing_deg - self.bearing_deg + 180.0).rem_euclid(360.0) - 180.0;
        (range_nm - self.range_nm).abs() < SAME.0 && aside.abs() < SAME.1
    }

    /// As it is typed: `12.0 075`.
    pub fn typed(&self) -> String {
        format!("{:.1} {}", self.range_nm, self.bearing())
    }

    /// Its bearing as it is spoken: `075`, `095.5`.
    pub fn bearing(&self) -> String {
        spoken_bearing(self.bearing_deg).trim_end_matches('°').to_owned()
    }
}
