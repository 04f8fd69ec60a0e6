//! A fix accepted: the reckoning starts from it, and what was found beside the motion reckoned with
//! is offered.

use jiff::Timestamp;

use super::{Base, Before, BeforeAccepted, Course, EntryError, Watch, refused};
use crate::contact::Reckoning;
use crate::fix::{Estimate, Fix, Verdict};
use crate::geodesy::{Covariance, LocalPlane, Position};
use crate::units::{Angle, Bearing, METRES_PER_NAUTICAL_MILE, Speed};
use crate::watch::log::{
    AcceptEntry, DriftEntry, EchoEntry, IdentityEntry, PlaceEntry, SaidEntry, What,
};

/// Nothing is said of a wind or stream by fixes nearer in time than this, in seconds.
const LEAST_RUN_S: f64 = 240.0;

/// The fix's own error is in the drift and in the place that the run goes on from: after as long a run
/// again the two together vary by twice what each by itself would, the fixes being alike.
const TOGETHER: f64 = 2.0;

/// What a fix found beside the motion reckoned with: a wind or stream not reckoned, or an error of
/// heading and speed that looks like one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offer {
    /// The velocity found beside the one reckoned, knots: east, north.
    pub beside_kn: [f64; 2],
    /// Its error, knots squared: east, covariance, north.
    pub covariance_kn2: [f64; 3],
    /// Velocity over the ground with it, knots: east, north.
    pub made_good_kn: [f64; 2],
    /// Over how long it was found.
    pub seconds: f64,
}

impl Offer {
    /// Its squared statistical distance from none, of two degrees of freedom.
    pub fn chi2(&self) -> f64 {
        let [ee, en, nn] = self.covariance_kn2;
        let [e, n] = self.beside_kn;
        let determinant = ee * nn - en * en;
        if determinant <= 0.0 {
            return 0.0;
        }
        (nn * e * e - 2.0 * en * e * n + ee * n * n) / determinant
    }

    /// The course and speed that it sets toward.
    pub fn toward(&self) -> (Bearing<crate::units::True>, Speed) {
        polar(self.beside_kn)
    }

    /// Track and speed made good with it.
    pub fn made_good(&self) -> (Bearing<crate::units::True>, Speed) {
        polar(self.made_good_kn)
    }

    /// One standard deviation on an axis, knots: the root of the mean of both.
    pub fn sigma_kn(&self) -> f64 {
        let [ee, _, nn] = self.covariance_kn2;
        (0.5 * (ee + nn)).max(0.0).sqrt()
    }
}

fn polar([east, north]: [f64; 2]) -> (Bearing<crate::units::True>, Speed) {
    let metres = east.hypot(north) * METRES_PER_NAUTICAL_MILE / 3600.0;
    (Bearing::wrapped(east.atan2(north)), Speed::clamped_metres_per_second(metres))
}

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

    /// What the last fix accepted has found beside the motion reckoned with, with its error; none once
    /// it is used, and none once track or reckoning are entered anew.
    pub fn offer(&self) -> Option<&Offer> {
        self.offer.as_ref()
    }

    /// A place carried on to another time, by the track and speed made good; the reckoning where no
    /// place stands.
    pub fn carried(
        &self,
        stands: Option<(Timestamp, Position, Covariance)>,
        now: Timestamp,
    ) -> Option<(Position, Covariance)> {
        let mut reckoning = self.reckoning.clone()?;
        if let Some((time, position, covariance)) = stands {
            reckoning = reckoning.restarted(time, position, covariance).ok()?;
        }
        reckoning.carried_to(now).ok().or(Some((reckoning.position, reckoning.covariance)))
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
            steady: self.steady,
            offer: self.offer,
        }
    }

    pub(super) fn set_course(&mut self, course: Course) {
        self.reckoning = course.reckoning;
        self.base = course.base;
        self.origin = course.origin;
        self.own = course.own;
        self.air_speed = course.air_speed;
        self.steady = course.steady;
        self.offer = course.offer;
    }

    /// Starts the reckoning from a fix. The contacts it rests on are done with: they are in its
    /// error already, and would count twice.
    pub(super) fn restart(&mut self, entry: &AcceptEntry) -> Result<Before, EntryError> {
        let (position, covariance) = read(&entry.place)?;
        let old = self.reckoning.clone().ok_or(EntryError::NoReckoning)?;
        let before = BeforeAccepted {
            course: self.course(),
            held: self.held.clone(),
            outlines: self.outlines.clone(),
            done_with: self.done_with.len(),
        };
        let alone = entry.alone.as_ref().map(read).transpose()?;
        self.offer =
            alone.zip(self.base).and_then(|(alone, base)| offered(&old, &base, entry.time, alone));
        self.base = Some(Base { time: entry.time, covariance });
        self.reckoning = Some(old.restarted(entry.time, position, covariance).map_err(refused)?);
        let (used, left) = std::mem::take(&mut self.held)
            .into_iter()
            .partition(|held| held.contact.time <= entry.time);
        self.held = left;
        self.done_with.extend::<Vec<_>>(used);
        self.outlines.retain(|outline| outline.time > entry.time);
        self.accepted.push(entry.clone());
        Ok(Before::Accepted(Box::new(before)))
    }

    /// The record that the offer is used from now on.
    pub(super) fn drift_entry(&self, now: Timestamp) -> Result<DriftEntry, EntryError> {
        let offer = self.offer.as_ref().ok_or(EntryError::NoDrift)?;
        let (track, speed) = offer.made_good();
        let [ee, en, nn] = offer.covariance_kn2;
        let [east_kn, north_kn] = offer.beside_kn;
        // From the fix on: it is the run since then that it mends.
        let time = self.reckoning.as_ref().map_or(now, |r| r.time);
        Ok(DriftEntry {
            time,
            east_kn,
            north_kn,
            covariance_kn2: [[ee, en], [en, nn]],
            track_deg: track.degrees(),
            speed_kn: speed.knots(),
        })
    }

    /// Uses a wind or stream found: track and speed with it, and their errors as it is known.
    pub(super) fn drift(&mut self, entry: &DriftEntry) -> Result<Before, EntryError> {
        let track = Bearing::from_degrees(entry.track_deg).map_err(refused)?;
        let speed = Speed::from_knots(entry.speed_kn).map_err(refused)?;
        let before = self.course();
        let reckoning = self.reckoning.as_mut().ok_or(EntryError::NoReckoning)?;
        if entry.time > reckoning.time && reckoning.track.is_some() {
            *reckoning = reckoning.altered(entry.time, track, speed).map_err(refused)?;
        }
        (reckoning.track, reckoning.speed) = (Some(track), Some(speed));
        let [[ee, en], [_, nn]] = entry.covariance_kn2;
        let (sin, cos) = track.sin_cos();
        let along = (ee * sin * sin + 2.0 * en * sin * cos + nn * cos * cos).max(0.0).sqrt();
        let across = (ee * cos * cos - 2.0 * en * sin * cos + nn * sin * sin).max(0.0).sqrt();
        reckoning.speed_sigma = Speed::from_knots(along).map_err(refused)?;
        reckoning.track_sigma = Angle::from_radians(across / entry.speed_kn.max(1.0));
        self.offer = None;
        Ok(Before::Course(Box::new(before)))
    }
}

/// What contacts alone found beside the reckoning that was carried to their time: by the run's time.
///
/// The error is that of the place the run started from and of the fix by contacts alone. Where both
/// rest on one chart shift or one heading error, these cancel in part: the error told is the greater.
fn offered(
    old: &Reckoning,
    base: &Base,
    time: Timestamp,
    (position, covariance): (Position, Covariance),
) -> Option<Offer> {
    let seconds = time.duration_since(base.time).as_secs_f64();
    let (track, speed) = (old.track?, old.speed?);
    if seconds < LEAST_RUN_S {
        return None;
    }
    let (reckoned, _) = old.carried_to(time).ok()?;
    let off = LocalPlane::new(reckoned).to_plane(position);
    let by = 3600.0 / METRES_PER_NAUTICAL_MILE / seconds;
    let beside_kn = [off.east * by, off.north * by];
    let covariance_kn2 = base
        .covariance
        .plus(covariance)
        .square_metres()
        .map(|variance| TOGETHER * variance * by * by);
    let (sin, cos) = track.sin_cos();
    let made_good_kn = [speed.knots() * sin + beside_kn[0], speed.knots() * cos + beside_kn[1]];
    Some(Offer { beside_kn, covariance_kn2, made_good_kn, seconds })
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

fn read(place: &PlaceEntry) -> Result<(Position, Covariance), EntryError> {
    let position = Position::new(place.lat_deg, place.lon_deg).map_err(refused)?;
    let [[ee, en], [_, nn]] = place.covariance_nm2;
    let covariance = Covariance::from_square_miles(ee, en, nn).map_err(refused)?;
    Ok((position, covariance))
}
