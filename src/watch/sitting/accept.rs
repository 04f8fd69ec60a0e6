//! A fix accepted: the reckoning starts from it.

use jiff::Timestamp;

use super::{Base, Before, BeforeAccepted, Course, EntryError, Watch, refused};
use crate::fix::{Estimate, Fix, Verdict};
use crate::geodesy::{Covariance, Position};
use crate::watch::log::{AcceptEntry, EchoEntry, IdentityEntry, PlaceEntry, SaidEntry, What};

impl Watch {
    /// The record of a fix accepted as it stands: a position stated, or the most probable one.
    ///
    /// # Errors
    /// Nothing stands that could be accepted.
    pub fn acceptance(&self, fix: &Fix) -> Result<What, EntryError> {
        let stands = match fix.verdict {
            Verdict::Fixed => fix.position.zip(fix.covariance),
            Verdict::TooFew => fix.most_probable.map(|e| (e.position, e.covariance)),
            Verdict::Ambiguous | Verdict::AtOdds => None,
        };
        // A reckoning that no contact feeds is no new position.
        let measured = fix.residuals.iter().any(|residual| residual.used)
            || fix.outlines.iter().any(|outline| outline.used);
        let (position, covariance) =
            stands.filter(|_| measured).ok_or(EntryError::NothingToAccept)?;
        let alone = fix.contacts_only.map(|e| place(&e));
        let identities = fix.identities.iter().map(identity).collect();
        let echoes = fix
            .unmatched
            .iter()
            .filter_map(|unmatched| {
                let at = unmatched.places.first()?;
                let at = Estimate { position: at.position, covariance: at.covariance };
                Some(EchoEntry { contact: unmatched.contact.clone(), place: place(&at) })
            })
            .collect();
        Ok(What::Accept(AcceptEntry {
            time: fix.time,
            place: place(&Estimate { position, covariance }),
            alone,
            verdict: fix.verdict.as_str().to_owned(),
            probability: fix.probability,
            landfall: fix.landfall.as_ref().map(|l| l.verdict.as_str().to_owned()),
            identities,
            echoes,
        }))
    }

    /// The record of what the program says of all that was entered so far.
    ///
    /// - `lines`: as they stand on the screen.
    pub fn said(fix: &Fix, lines: Vec<String>) -> SaidEntry {
        let stated = match fix.verdict {
            Verdict::Fixed => fix.position.zip(fix.covariance),
            _ => fix.most_probable.map(|e| (e.position, e.covariance)),
        };
        let stated = stated.map(|(position, covariance)| Estimate { position, covariance });
        SaidEntry {
            time: fix.time,
            verdict: fix.verdict.as_str().to_owned(),
            place: stated.as_ref().map(place),
            probability: fix.probability,
            identities: fix.identities.iter().map(identity).collect(),
            landfall: fix.landfall.as_ref().map(|l| l.verdict.as_str().to_owned()),
            lines: lines.into_iter().filter(|line| !line.is_empty()).collect(),
        }
    }

    /// The fixes accepted, oldest first.
    pub fn accepted(&self) -> &[AcceptEntry] {
        &self.accepted
    }

    /// What was said of the landfall with the fix accepted last, and when: while nothing is measured
    /// since, nothing newer can be. None where another landfall was planned later.
    pub fn landfall_accepted(&self) -> Option<(Timestamp, &str)> {
        let fix =
            self.accepted.get(self.planned_after..)?.last().filter(|_| !self.has_measured())?;
        Some((fix.time, fix.landfall.as_deref()?))
    }

    /// Names of the marks that the operator took a contact for, and those that accepted fixes rest
    /// on.
    pub fn reported(&self) -> impl Iterator<Item = String> + '_ {
        let named = self.held.iter().chain(&self.done_with).filter_map(|h| h.entry.mark.clone());
        let fixed = self.accepted.iter().flat_map(|fix| &fix.identities).map(|i| i.mark.clone());
        named.chain(fixed)
    }

    pub(super) fn course(&self) -> Course {
        Course {
            reckoning: self.reckoning.clone(),
            base: self.base,
            origin: self.origin,
            own: self.own.clone(),
            air_speed: self.air_speed,
            steered: self.steered.clone(),
            offer: self.offer,
        }
    }

    pub(super) fn set_course(&mut self, course: Course) {
        self.reckoning = course.reckoning;
        self.base = course.base;
        self.origin = course.origin;
        self.own = course.own;
        self.air_speed = course.air_speed;
        self.steered = course.steered;
        self.offer = course.offer;
    }

    /// The course from a fix on, with what it found beside the motion reckoned with.
    pub(super) fn restarted(&self, entry: &AcceptEntry) -> Result<Course, EntryError> {
        let (position, covariance) = read(&entry.place)?;
        let old = self.reckoning.as_ref().ok_or(EntryError::NoReckoning)?;
        let alone = entry.alone.as_ref().map(read).transpose()?;
        let right = old.put_right(entry.time, position, covariance).map_err(refused)?;
        Ok(Course {
            reckoning: Some(right),
            base: Some(Base { time: entry.time, covariance }),
            offer: alone.and_then(|alone| self.found(entry.time, alone)),
            ..self.course()
        })
    }

    /// Starts the reckoning from a fix. The contacts it rests on are done with: they are in its
    /// error already, and would count twice.
    pub(super) fn restart(&mut self, course: Course, entry: AcceptEntry) -> Before {
        let before =
            BeforeAccepted { measured: self.measurements(), done_with: self.done_with.len() };
        self.set_course(course);
        let (used, left) = std::mem::take(&mut self.held)
            .into_iter()
            .partition(|held| held.contact.time <= entry.time);
        self.held = left;
        self.done_with.extend::<Vec<_>>(used);
        self.outlines.retain(|outline| outline.time > entry.time);
        // `before` has all that stood, as it stood.
        self.turn_again();
        self.accepted.push(entry);
        Before::Accepted(Box::new(before))
    }
}

fn place(estimate: &Estimate) -> PlaceEntry {
    PlaceEntry {
        lat_deg: estimate.position.latitude(),
        lon_deg: estimate.position.longitude(),
        covariance_nm2: estimate.covariance.square_miles(),
    }
}

fn identity(identity: &crate::fix::Identity) -> IdentityEntry {
    IdentityEntry {
        contact: identity.contact.clone(),
        mark: identity.mark.clone(),
        lat_deg: identity.mark_position.latitude(),
        lon_deg: identity.mark_position.longitude(),
        probability: identity.probability,
    }
}

pub(super) fn read(place: &PlaceEntry) -> Result<(Position, Covariance), EntryError> {
    let position = Position::new(place.lat_deg, place.lon_deg).map_err(refused)?;
    let [[ee, en], [_, nn]] = place.covariance_nm2;
    let covariance = Covariance::from_square_miles(ee, en, nn).map_err(refused)?;
    Ok((position, covariance))
}
