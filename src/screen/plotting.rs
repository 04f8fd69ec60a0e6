//! Where own place and a contact are drawn: the chart and the picture lay them down alike.

use std::borrow::Cow;

use jiff::Timestamp;

use super::chart_panel::Ink;
use super::drill;
use super::state::State;
use super::work::{Answer, Stand};
use crate::contact::{Contact, Outline, Reckoning, TracedPoint};
use crate::geodesy::{LocalPlane, Position, course, destination};
use crate::radar::geometry::{EarthRadius, ground_range, slant_range};
use crate::units::{Bearing, GroundRange, Height, SlantRange, True};

/// Where we most probably are, and what that rests on.
pub fn stand(state: &State) -> Option<(Position, Stand)> {
    if state.practice.is_some() {
        return drill::stand(state).map(|place| (place, Stand::Reckoning));
    }
    let reckoned = || reckoning(state).map(|r| (r.position, Stand::Reckoning));
    state.answer().map(Answer::stand).or_else(reckoned)
}

/// The reckoning as it is by now: where a turn typed for later will begin is nowhere that we are.
pub fn reckoning(state: &State) -> Option<Cow<'_, Reckoning>> {
    state.watch.in_force(state.watch.own_time(state.wall))
}

/// Where own position was when a contact was measured.
pub fn origin(state: &State, contact: &Contact) -> Option<Position> {
    origin_at(state, contact.time)
}

/// Where own position was at a time.
fn origin_at(state: &State, time: Timestamp) -> Option<Position> {
    if state.practice.is_some() {
        return drill::origin_at(state, time);
    }
    let (stand, _) = stand(state)?;
    let Some(answer) = state.answer() else { return Some(stand) };
    let reckoning = state.watch.reckoning()?;
    let moved = reckoning.displacement(answer.fix.time, time);
    Some(LocalPlane::new(stand).to_position(moved))
}

/// A slant range laid on the chart, for an echo at the sea's level.
///
/// - `own`: the antenna's height when it was read.
pub fn on_the_sea(range: SlantRange, own: Height, from: Position) -> GroundRange {
    let radius = EarthRadius::towards(from, Bearing::ZERO);
    ground_range(range, own, Height::SEA_LEVEL, radius)
        .unwrap_or(GroundRange::clamped_metres(range.metres()))
}

/// Where the echo of a contact lies on one of its bearings.
pub fn echo(contact: &Contact, origin: Position, bearing: Bearing<True>) -> Position {
    destination(origin, bearing, along(contact, origin).unwrap_or(GroundRange::ZERO))
}

/// The range of a contact laid on the chart; none where it has none.
pub fn along(contact: &Contact, origin: Position) -> Option<GroundRange> {
    contact.range.map(|range| on_the_sea(range, contact.own_height, origin))
}

/// Where each point of a traced outline lies.
pub fn traced(state: &State, outline: &Outline) -> Vec<Position> {
    let Some(origin) = origin_at(state, outline.time) else { return Vec::new() };
    let along = |range| on_the_sea(range, outline.own_height, origin);
    let place = |point: &TracedPoint| destination(origin, point.bearing, along(point.range));
    outline.points.iter().map(place).collect()
}

/// Where the echoes of a contact with range and bearing stand on the screen as seen from a place, carried
/// there from where they were measured.
pub fn on_the_screen(
    state: &State,
    contact: &Contact,
    from: Position,
) -> Vec<(Bearing<True>, SlantRange)> {
    let (Some(origin), Some(_)) = (origin(state, contact), contact.range) else {
        return Vec::new();
    };
    let own = state.watch.own().height;
    let place = |bearing: Bearing<True>| {
        let line = course(from, echo(contact, origin, bearing));
        let radius = EarthRadius::towards(from, line.initial);
        (line.initial, slant_range(own, Height::SEA_LEVEL, line.distance, radius))
    };
    contact.bearings().into_iter().map(|(bearing, _)| place(bearing)).collect()
}

/// The ink of a contact.
pub fn ink(state: &State, contact: &Contact) -> Ink {
    let selected = state.selected.as_ref() == Some(&contact.label);
    if selected { Ink::Selected } else { Ink::Contact }
}
