//! A change in plain words, as it stands to the sitting that it changes.

use std::borrow::Cow;

use jiff::Timestamp;

use super::entry::spoken_bearing;
use super::held::Held;
use super::log::{ContactEntry, What};
use super::sitting::{Far, LeftOut, Watch};
use super::words::{accepted, bank_words, clock, contact, drift, left_out, named, reckoning};
use crate::contact::{BearingKind, Own, ReadBearing};
use crate::geodesy::Position;
use crate::units::Height;

impl Watch {
    /// A change in plain words, as the echo of a line not yet entered: `contact D: 17.3 NM, 042°
    /// true`, `A corrected: …`.
    pub fn say(&self, what: &What) -> String {
        self.say_with(what, "")
    }

    /// The same with a caution. It stands first behind the change, and bearings that were turned next:
    /// a narrow display cuts what is last.
    pub(super) fn say_with(&self, what: &What, caution: &str) -> String {
        let said = self.say_alone(what) + caution + &self.say_turned_again(what);
        match what {
            What::Reckoning { time, .. } => said + &self.say_contacts_before(*time),
            What::Track { .. } => said + &self.say_left_by_turn(what),
            _ => said,
        }
    }

    fn say_alone(&self, what: &What) -> String {
        match what {
            What::Contact(entry) => self.say_contact(entry),
            What::Delete { label } => self.say_taken_out(label),
            What::Height { height_ft, all } => self.say_height(*height_ft, *all),
            What::Heading { degrees, kind } => self.say_heading(*degrees, kind),
            What::Bank { bank_deg } => {
                format!("{}, for contacts from now on", bank_words(*bank_deg))
            }
            What::Reckoning { time, lat_deg, lon_deg, covariance_nm2 } => {
                reckoning(*time, Position::wrapped(*lat_deg, *lon_deg), covariance_nm2)
            }
            What::Track { track_deg, speed_kn, time } => {
                let from = time.map_or_else(String::new, |time| self.say_from(time));
                let track = spoken_bearing(*track_deg);
                format!("track {track} true, {speed_kn:.0} kn made good{from}")
            }
            What::Air { speed_kn } => format!("{speed_kn:.0} kn through air or water"),
            What::Accept(entry) => accepted(entry),
            What::Drift(entry) => drift(entry),
            What::Call { label, name } => format!("echo {label} is called {name}"),
            What::Said(entry) => format!("said: {}", entry.verdict),
            What::Clock { from, to } => {
                format!("the clock went back from {}Z to {}Z", clock(*from), clock(*to))
            }
            What::Undo => match self.last_change() {
                Some(last) => format!("taken back: {}", self.say_done(last)),
                None => "nothing to undo".to_owned(),
            },
            What::Redo => match self.next_redo() {
                Some(next) => format!("redo: {}", self.say_done(next)),
                None => "nothing to redo".to_owned(),
            },
            What::Landfall { lat_deg, lon_deg } => {
                format!("landfall planned at {}", Position::wrapped(*lat_deg, *lon_deg))
            }
            What::Alarm { words } => format!("alarm: {words}"),
            What::Acknowledged { alarms } => format!("acknowledged: {}", alarms.join("; ")),
            What::Note { text } => format!("note: {text}"),
            What::Blank { height_ft, .. } => format!("no sightings, own height {height_ft:.0} ft"),
            What::Start { name, .. } => format!("sightings {name}"),
            What::Open { program, .. } => format!("opened by {program}"),
        }
    }

    fn say_taken_out(&self, label: &str) -> String {
        let held = self.find(label).and_then(|at| self.contacts().get(at));
        let told = held.map_or_else(String::new, |held| format!(": {}", contact(&held.entry)));
        format!("out: contact {label}{told}")
    }

    /// `own height 500 ft; A, B stay at 2000 ft …`; put right, it is that of all.
    fn say_height(&self, height_ft: f64, all: bool) -> String {
        if all {
            return format!("own height {height_ft:.0} ft, for all that was measured too");
        }
        format!("own height {height_ft:.0} ft{}", self.say_staying(height_ft))
    }

    /// `; A, B stay at 2000 ft ("h 500 all" puts it right for all)`, of contacts that a height entered leaves
    /// at another.
    fn say_staying(&self, height_ft: f64) -> String {
        let height = Height::from_feet(height_ft).unwrap_or(self.own().height);
        let others =
            || self.contacts().iter().filter(|held| is_other(held.contact.own_height, height));
        let Some(first) = others().next() else { return String::new() };
        let labels: Vec<&str> = others().map(|held| held.contact.label.as_str()).collect();
        let from = first.contact.own_height;
        let stay = if labels.len() == 1 { "stays" } else { "stay" };
        let at = if others().all(|held| !is_other(held.contact.own_height, from)) {
            format!("at {:.0} ft", from.feet())
        } else {
            "at the heights they were read from".to_owned()
        };
        format!("; {} {stay} {at} (\"h {height_ft:.0} all\" puts it right for all)", named(&labels))
    }

    fn say_heading(&self, degrees: f64, kind: &str) -> String {
        let kind = BearingKind::parse(kind).unwrap_or(BearingKind::True);
        let (spoken, truly) = (spoken_bearing(degrees), turned(self.own(), kind, degrees));
        format!("heading {spoken} {}{truly}, for contacts from now on", kind.as_str())
    }

    /// `; 3 contacts are of before it, and still count`: a reckoning entered anew takes none of them out.
    fn say_contacts_before(&self, time: Timestamp) -> String {
        let counts = |held: &&Held| held.contact.time < time && self.left_out(held).is_none();
        match self.contacts().iter().filter(counts).count() {
            0 => String::new(),
            1 => "; 1 contact is of before it, and still counts".to_owned(),
            more => format!("; {more} contacts are of before it, and still count"),
        }
    }

    /// `; 3 bearings turned again: variation 18.2 W, was 3.1 E`, of those that the change turns far.
    fn say_turned_again(&self, what: &What) -> String {
        let Some(Far { count, now, was }) = self.turned_far_by(what) else { return String::new() };
        let bearings = if count == 1 { "bearing" } else { "bearings" };
        format!("; {count} {bearings} turned again: variation {now}, was {was}")
    }

    /// From when on a track holds that is said for a time: ` from 03:46:00Z on`. With no leg before the
    /// one in force it holds before that time as well.
    fn say_from(&self, time: Timestamp) -> String {
        let Some(reckoning) = self.reckoning() else { return String::new() };
        let later = time > reckoning.time && reckoning.track.is_some();
        if later || (time == reckoning.time && !reckoning.earlier.is_empty()) {
            format!(" from {}Z on", clock(time))
        } else if reckoning.earlier.is_empty() {
            format!(" from {}Z on, and before it", clock(time))
        } else {
            format!(" from {}Z on (said for {}Z)", clock(reckoning.time), clock(time))
        }
    }

    /// A change that is in already: a contact is then always there, which makes it no correction.
    fn say_done(&self, what: &What) -> String {
        match what {
            What::Contact(entry) => format!("contact {}: {}", entry.label, contact(entry)),
            What::Delete { label } => format!("contact {label} taken out"),
            other => self.say_alone(other),
        }
    }

    fn say_contact(&self, entry: &ContactEntry) -> String {
        let old = self.find(&entry.label).and_then(|at| self.contacts().get(at));
        let mut said = match old {
            Some(_) => format!("{} corrected: {}", entry.label, contact(entry)),
            None => format!("contact {}: {}", entry.label, contact(entry)),
        };
        said.push_str(&self.say_headed(entry));
        if let (Some(degrees), Some(kind)) =
            (entry.bearing_deg, entry.bearing_kind.as_deref().and_then(BearingKind::parse))
        {
            said.push_str(&turned(&self.own_then(entry, kind), kind, degrees));
        }
        said.push_str(&self.told_by_deflections(entry));
        said.push_str(self.say_attitude_kept(entry));
        if let Some(time) = entry.time {
            said = format!("{said}, at {}Z", clock(time));
        }
        let own_height = self.own_at_reading(entry).height;
        if is_other(own_height, self.own().height) {
            said = format!("{said}, from {:.0} ft as read then", own_height.feet());
        }
        if let Some(root) = &entry.again {
            said = format!("{said}; {}", left_out(&LeftOut::LaterSight(root.clone())));
        }
        said
    }

    /// ` (3.5 dB port, 348.0 or 267.8 relative)` for two deflections.
    fn told_by_deflections(&self, entry: &ContactEntry) -> String {
        self.lobe_reading(entry).map_or_else(String::new, |read| {
            format!(" ({}, {} relative)", read.ratio_words(), read.relative_words())
        })
    }

    /// `, heading as read then`, where what is off the bow is not laid on the heading now.
    fn say_attitude_kept(&self, entry: &ContactEntry) -> &'static str {
        let (then, now) = (self.own_at_reading(entry).attitude(), self.own().attitude());
        let relative = entry.bearing_kind.as_deref() == Some(BearingKind::Relative.as_str());
        if entry.deflection.is_some() && then != now {
            ", heading and bank as read then"
        } else if relative && !then.heads_as(&now) {
            ", heading as read then"
        } else {
            ""
        }
    }

    /// Own as the bearing of an entry, of this kind, is turned by it.
    fn own_then(&self, entry: &ContactEntry, kind: BearingKind) -> Own {
        let own = self.own_at_reading(entry);
        let heading = own.heading_as_read.filter(|_| kind == BearingKind::Relative);
        let kinds = std::iter::once(kind).chain(heading.map(|read| read.kind));
        let reckoning = self.reckoning();
        let then = reckoning.and_then(|r| own.as_of((r, entry.time.unwrap_or(r.time)), kinds));
        let then = then.map(Cow::into_owned);
        then.unwrap_or_else(|| own.into_owned())
    }
}

/// Whether two heights are told as two, in whole feet.
fn is_other(one: Height, other: Height) -> bool {
    (one.feet() - other.feet()).abs() >= 0.5
}

/// ` (= 028.0° true)` for what was read from anything but true north.
fn turned(own: &Own, kind: BearingKind, degrees: f64) -> String {
    match own.to_true(ReadBearing { kind, degrees }) {
        Ok(truly) if kind != BearingKind::True => {
            // The whole chain, so that a wrong sign is seen.
            let chain = own.chain(ReadBearing { kind, degrees }).unwrap_or_default();
            format!(" (= {} true: {chain})", spoken_bearing(truly.degrees()))
        }
        _ => String::new(),
    }
}
