//! The wind or stream that two fixes show beside the motion reckoned with, and its use.

use jiff::Timestamp;
use nalgebra::Matrix2;

use super::{Base, Course, EntryError, Watch, refused};
use crate::contact::{FlowChange, FlowError, Reckoning};
use crate::fix::Grade;
use crate::geodesy::{Covariance, LocalPlane, Position};
use crate::radar::Set;
use crate::reckon::{Craft, ErrorModel};
use crate::units::{Bearing, Height, KNOT, METRES_PER_NAUTICAL_MILE, Speed, True};
use crate::watch::log::DriftEntry;

/// Nothing is said of a wind or stream by fixes nearer in time than this, in seconds.
const LEAST_RUN_S: f64 = 240.0;

/// No drift is known so badly, one standard deviation on an axis.
const MOST_SIGMA_KN: f64 = 500.0;

/// That and a place somewhere on the Earth.
const MOST_SHARED_NM_KN: f64 = 6000.0 * MOST_SIGMA_KN;

/// What a fix found beside the motion reckoned with: a wind or stream not reckoned, or an error of
/// heading and speed that looks like one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offer {
    /// The velocity found beside the one reckoned, knots: east, north.
    pub beside_kn: [f64; 2],
    /// Its error, knots squared: east, covariance, north.
    pub covariance_kn2: [f64; 3],
    /// What its error and that of the position at the fix have in common, NM·kn: position by row.
    pub with_position_nm_kn: [[f64; 2]; 2],
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

    /// Whether chance alone gives as much in five cases of a hundred.
    pub fn is_chance(&self) -> bool {
        Grade::of_distance(self.chi2()) == Grade::Allowed
    }

    /// The course and speed that it sets toward.
    pub fn toward(&self) -> (Bearing<True>, Speed) {
        polar(self.beside_kn)
    }

    /// Track and speed made good with it.
    pub fn made_good(&self) -> (Bearing<True>, Speed) {
        polar(self.made_good_kn)
    }

    /// One standard deviation on an axis, knots: the root of the mean of both.
    pub fn sigma_kn(&self) -> f64 {
        let [ee, _, nn] = self.covariance_kn2;
        (0.5 * (ee + nn)).max(0.0).sqrt()
    }
}

fn polar([east, north]: [f64; 2]) -> (Bearing<True>, Speed) {
    let metres = east.hypot(north) * METRES_PER_NAUTICAL_MILE / 3600.0;
    (Bearing::wrapped(east.atan2(north)), Speed::clamped_metres_per_second(metres))
}

impl Watch {
    /// What the last fix accepted has found beside the motion reckoned with, with its error; none once
    /// it is used, and none once track or reckoning are entered anew.
    pub fn offer(&self) -> Option<&Offer> {
        self.offer.as_ref()
    }

    /// What is reckoned: an aircraft by its set, its height or a speed that no vessel has, and where
    /// nothing tells, since a wind is less known than a stream.
    pub fn craft(&self) -> Craft {
        let made_good = self.reckoning.as_ref().and_then(|r| r.speed);
        craft_of(&self.radar.set, self.own.height, self.air_speed, made_good)
    }

    /// What a fix by contacts alone finds beside the reckoning, before it restarts it.
    ///
    /// A fix of before the last alteration finds nothing that could be used: it was on another track.
    pub(super) fn found(&self, time: Timestamp, alone: (Position, Covariance)) -> Option<Offer> {
        let (old, base) = (self.reckoning.as_ref()?, self.base.as_ref()?);
        let wander = ErrorModel::of(self.craft()).wander;
        if time < old.time { None } else { offered(old, base, (time, alone), wander) }
    }

    /// How the error of a wind or stream found goes on: as that of one stated without an error does in
    /// a reckoning by legs.
    fn flow_change(&self, course: &Course, speed: Speed) -> FlowChange {
        let through = course.air_speed;
        let craft = craft_of(&self.radar.set, course.own.height, through, Some(speed));
        let model = ErrorModel::of(craft);
        let spread = model.spread(None, true, through.unwrap_or(speed));
        FlowChange {
            spread: spread.metres_per_second(),
            seconds: model.flow_seconds,
            wander: model.wander,
        }
    }

    /// What a speed or height said anew tells of the wind or stream in use: one taken for a stream may
    /// turn out to be a wind.
    pub(super) fn flow_anew(&self, course: &mut Course) {
        let speed = course.reckoning.as_ref().and_then(|r| r.speed);
        let Some(change) = speed.map(|speed| self.flow_change(course, speed)) else { return };
        if let Some(reckoning) = &mut course.reckoning
            && let Some(flow) = reckoning.flow
        {
            let (covariance, flow) = flow.changing(reckoning.covariance, change);
            reckoning.covariance = covariance;
            reckoning.with_flow(flow);
        }
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
            with_position_nm_kn: Some(offer.with_position_nm_kn),
            found_over_s: Some(offer.seconds),
            track_deg: track.degrees(),
            speed_kn: speed.knots(),
        })
    }

    /// Uses a wind or stream found: track and speed with it, and from now on its error for theirs.
    pub(super) fn drift(&self, entry: &DriftEntry, course: &mut Course) -> Result<(), EntryError> {
        sound(entry)?;
        let track = Bearing::from_degrees(entry.track_deg).map_err(refused)?;
        let speed = Speed::from_knots(entry.speed_kn).map_err(refused)?;
        let change = self.flow_change(course, speed);
        let reckoning = course.reckoning.as_mut().ok_or(EntryError::NoReckoning)?;
        if entry.time > reckoning.time && reckoning.track.is_some() {
            *reckoning = reckoning.altered(entry.time, track, speed).map_err(refused)?;
        }
        (reckoning.track, reckoning.speed) = (Some(track), Some(speed));
        reckoning.with_flow(error_of(entry, reckoning.covariance, change));
        course.offer = None;
        Ok(())
    }
}

/// An error that is none would make us surer than anyone is.
fn sound(entry: &DriftEntry) -> Result<(), EntryError> {
    let of = entry.covariance_kn2;
    let [[ee, en], [ne, nn]] = of;
    let most = MOST_SIGMA_KN * MOST_SIGMA_KN;
    let whole = Covariance::from_square_metres(ee, en, nn).is_ok() && ee <= most && nn <= most;
    if !whole || (en - ne).abs() > 1e-6 * (ee + nn) || !ne.is_finite() {
        return Err(refused(format!(
            "the error of the drift, {of:?} kn², is no covariance of up to {MOST_SIGMA_KN} kn on an axis"
        )));
    }
    let over = entry.found_over_s.unwrap_or(0.0);
    if !(0.0..=86_400.0).contains(&over) {
        return Err(refused(format!(
            "the drift was found over {over} s: a time from nought to 24 h is taken"
        )));
    }
    let shared = entry.with_position_nm_kn.unwrap_or_default();
    if !shared.iter().flatten().all(|v| v.abs() <= MOST_SHARED_NM_KN) {
        return Err(refused(format!(
            "what the drift's error shares with the position, {shared:?} NM·kn, is no covariance"
        )));
    }
    Ok(())
}

/// The error of a drift from its fix on: that of the mean it was found as, and what it has changed
/// by since.
fn error_of(entry: &DriftEntry, position: Covariance, change: FlowChange) -> FlowError {
    let [[ee, en], [_, nn]] = entry.covariance_kn2.map(|row| row.map(|v| v * KNOT * KNOT));
    let over = entry.found_over_s.unwrap_or(0.0);
    let shared = entry.with_position_nm_kn.unwrap_or_default();
    let shared = shared.map(|row| row.map(|v| v * METRES_PER_NAUTICAL_MILE * KNOT));
    FlowError::found([ee, en, nn], over, shared, position, change)
}

/// A vessel only where nothing speaks for an aircraft and a speed is known that a vessel has: a low
/// and slow aircraft whose airspeed nobody said is told by its set, else by its height.
fn craft_of(set: &Set, height: Height, through: Option<Speed>, made_good: Option<Speed>) -> Craft {
    let mut speeds = through.iter().chain(&made_good).map(|speed| speed.knots()).peekable();
    let known = speeds.peek().is_some();
    let flies = set.is_airborne()
        || height.feet() > Craft::FLIES_FT
        || speeds.any(|knots| knots > Craft::FLIES_KN);
    if known && !flies { Craft::Vessel } else { Craft::Aircraft }
}

/// What contacts alone found beside the reckoning that was carried to their time: by the run's time.
///
/// With a the error of the contacts' place and b that of the place the run started from, of covariance
/// A and B, its error is (a − b)/t and its covariance W = (A + B)/t². The fix that the run goes on
/// from is weighed from the contacts and the reckoning, of covariance R, by K = R(R + A)⁻¹: its error
/// has K a and (I − K) b in it, so that the two share C = (K A − (I − K) B)/t. What helm and gusts
/// add over the run counts with b. Left out is what the run's own velocity error shares with b: it has
/// (I − K) for a factor, and the contacts weigh most. Where both places rest on one chart shift or one
/// heading error, these cancel in part: the error told is the greater.
///
/// - `wander`: metres in the root of a second.
fn offered(
    old: &Reckoning,
    base: &Base,
    (time, (position, covariance)): (Timestamp, (Position, Covariance)),
    wander: f64,
) -> Option<Offer> {
    let seconds = time.duration_since(base.time).as_secs_f64();
    let (track, speed) = (old.track?, old.speed?);
    if seconds < LEAST_RUN_S {
        return None;
    }
    let (reckoned, of_reckoned) = old.carried_to(time).ok()?;
    let off = LocalPlane::new(reckoned).to_plane(position);
    let by = 1.0 / KNOT / seconds;
    let beside_kn = [off.east * by, off.north * by];
    let (a, r) = (covariance.matrix(), of_reckoned.matrix());
    let b = base.covariance.matrix() + Matrix2::identity() * (wander * wander * seconds);
    let w = (a + b) * (by * by);
    let gain = r * (r + a).try_inverse()?;
    let shared = (gain * a - (Matrix2::identity() - gain) * b) * (by / METRES_PER_NAUTICAL_MILE);
    let (sin, cos) = track.sin_cos();
    let made_good_kn = [speed.knots() * sin + beside_kn[0], speed.knots() * cos + beside_kn[1]];
    Some(Offer {
        beside_kn,
        covariance_kn2: [w[(0, 0)], w[(0, 1)], w[(1, 1)]],
        with_position_nm_kn: [[shared[(0, 0)], shared[(0, 1)]], [shared[(1, 0)], shared[(1, 1)]]],
        made_good_kn,
        seconds,
    })
}
