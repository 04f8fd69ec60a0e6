//! The picture panel: the screen of the radar as it is predicted, with the operator's contacts on
//! it where they were measured; in a drill the screen as it is. A turning beam has a plan picture,
//! fixed lobes a range trace.

mod cells;
mod marker;
mod plan;
mod trace;

use std::sync::Arc;

use jiff::Timestamp;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use self::cells::write;
pub use self::marker::Marker;
use super::focus::land_ahead;
use super::plotting;
use super::state::State;
use super::theme::{Light, Theme};
use super::wording::hours_minutes;
use super::work::{Carried, Stand};
use crate::contact::Own;
use crate::geodesy::{Position, distance};
use crate::paint::{Frame, Picture, PictureError, Vantage};
use crate::radar::Set;
use crate::units::{Bearing, METRES_PER_NAUTICAL_MILE, SlantRange, True};
use crate::watch::entry::spoken_bearing;
use crate::watch::words::{bank_words, clock};

/// Cells of range and of bearing: as fine as a terminal can show.
const CELLS: (usize, usize) = (512, 360);

/// Said where fixed lobes have no heading to look along.
const NO_HEADING: [&str; 2] = [
    "no picture: fixed lobes look where the bow points,",
    "and own heading is not known: type hdg 070",
];

/// What the picture panel shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scope {
    /// The panel is open.
    pub open: bool,
    /// The scale the operator chose, by its place among the set's; else the smallest that holds
    /// every contact, or before there is one the coast that should show.
    pub scale: Option<usize>,
    /// The operator's own ring and line.
    pub marker: Marker,
    /// What was asked of the worker last.
    pub asked: Option<Ask>,
    /// What it drew last, and of what.
    pub drawn: Option<(Ask, Drawn)>,
}

/// A picture, or why there is none.
pub type Drawn = Result<Arc<Picture>, PictureError>;

/// What a picture is drawn of.
#[derive(Debug, Clone, PartialEq)]
pub struct Ask {
    /// From where.
    pub vantage: Vantage,
    /// What that rests on.
    pub stand: Stand,
    /// When we are there.
    pub time: Timestamp,
    /// Whether it was carried there from an earlier place.
    pub carried: bool,
    /// With which set.
    pub set: Set,
    /// How it is laid out.
    pub frame: Frame,
    /// Which look of an exercise it is: what shows, and not what should.
    pub look: Option<Look>,
}

/// A look round of an exercise's set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// When.
    pub time: Timestamp,
    /// Tells its noise from that of others.
    pub number: u64,
}

impl Scope {
    /// One scale up or down.
    pub fn rescale(&mut self, set: &Set, contacts: &[SlantRange], step: isize) {
        let at = self.scale_place(set, contacts);
        let last = set.scales_nm.len().saturating_sub(1);
        self.scale = Some(at.saturating_add_signed(step).min(last));
    }

    fn scale_place(&self, set: &Set, contacts: &[SlantRange]) -> usize {
        let last = set.scales_nm.len().saturating_sub(1);
        let farthest = contacts.iter().map(|range| range.nautical_miles()).fold(0.0, f64::max);
        let holding = || {
            // With nothing to hold, the largest shows most.
            let holds = |scale: &f64| farthest > 0.0 && *scale >= farthest;
            set.scales_nm.iter().position(holds).unwrap_or(last)
        };
        self.scale.map_or_else(holding, |place| place.min(last))
    }

    fn scale(&self, set: &Set, contacts: &[SlantRange]) -> SlantRange {
        let miles = set.scales_nm.get(self.scale_place(set, contacts)).copied();
        let miles = miles.unwrap_or_else(|| set.greatest_scale().nautical_miles());
        SlantRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE)
    }
}

/// What the smallest scale has to hold: every range measured; on a watch with nothing measured how far
/// off the nearest land is that should paint, and the planned landfall where the sea is in sight as far.
pub fn ranges(state: &State) -> Vec<SlantRange> {
    if state.watch.has_measured() || state.practice.is_some() {
        return state.watch.contacts().iter().filter_map(|held| held.contact.range).collect();
    }
    let Some(answer) = state.answer() else { return Vec::new() };
    let here = by_now(state).map_or(answer.stand().0, |carried| carried.position);
    let height = state.watch.own().height.metres();
    let (land, planned) = (land_ahead(&state.watch, answer), state.watch.landfall());
    let planned = planned.filter(|at| distance(here, *at) <= answer.expected.horizon);
    let off = |at: Position| SlantRange::clamped_metres(distance(here, at).metres().hypot(height));
    land.into_iter().chain(planned).map(off).collect()
}

/// Where we are by now, as far as it was asked what should show from there.
fn by_now(state: &State) -> Option<Carried> {
    let outlook = state.carried_off().and(state.outlook.as_ref());
    outlook.filter(|outlook| outlook.asked == state.asked).map(|outlook| outlook.from)
}

/// The picture that should be shown; `None` where none should, or while the fix is being worked
/// out.
pub fn wanted(state: &State) -> Option<Ask> {
    if !state.scope.open || !state.is_current() {
        return None;
    }
    // By now, as far as it was asked what should show; else where the answer has us.
    let by_now = by_now(state);
    let from = by_now.map(|from| (from.position, from.stand, from.time));
    let answered = || {
        let answer = state.answer()?;
        let (position, stand) = answer.stand();
        Some((position, stand, answer.fix.time))
    };
    let reckoned = || plotting::reckoning(state).map(|r| (r.position, Stand::Reckoning, r.time));
    let (position, stand, time) = from.or_else(answered).or_else(reckoned)?;
    let Own { height, mut heading, mut bank, .. } = state.watch.own().clone();
    let look = state.practice.as_ref().map(|practice| {
        let look = practice.look(state.wall);
        let (by_compass, by_horizon) = practice.exercise.compass(look.time);
        (heading, bank) = (Some(by_compass), by_horizon);
        look
    });
    let set = state.watch.radar().set.clone();
    let scale = state.scope.scale(&set, &ranges(state));
    let frame = Frame { bins: CELLS.0, bearings: CELLS.1, bank, ..Frame::to(scale) };
    let vantage = Vantage { position, height, heading };
    Some(Ask { vantage, stand, time, carried: by_now.is_some(), set, frame, look })
}

/// Draws the panel into its place.
pub fn draw(state: &State, area: Rect, buffer: &mut Buffer) {
    let theme = by_night(state);
    for row in 0..i32::from(area.height) {
        write(buffer, area, (0, row), &" ".repeat(area.width.into()), theme.text());
    }
    draw_picture(state, area, buffer);
    if let Some(told) = marked(state) {
        let row = i32::from(area.height) - 2;
        write(buffer, area, (0, row), &format!("{told}{} ", marker_keys(state)), theme.selected());
    }
    if state.scope.drawn.as_ref().is_some_and(|drawn| is_stale(state, drawn)) {
        let told = "drawing …";
        write(buffer, area, (i32::from(area.width) - 10, 1), told, theme.doubt());
    }
}

/// What was drawn last, or why there is nothing.
fn draw_picture(state: &State, area: Rect, buffer: &mut Buffer) {
    let theme = by_night(state);
    match &state.scope.drawn {
        Some((ask, Ok(picture))) => match picture.as_ref() {
            Picture::Plan(picture) => plan::draw(state, ask, picture, area, buffer),
            Picture::Trace(picture) => trace::draw(state, ask, picture, area, buffer),
        },
        Some((_, Err(PictureError::NoHeading))) => {
            for (row, line) in (1..).zip(NO_HEADING) {
                write(buffer, area, (1, row), line, theme.doubt());
            }
        }
        None if state.watch.reckoning().is_none() => {
            write(buffer, area, (1, 1), "no picture: no position yet", theme.quiet());
        }
        None => write(buffer, area, (1, 1), "the picture is being drawn …", theme.quiet()),
    }
}

/// What the keys make of ring and line.
fn marker_keys(state: &State) -> &'static str {
    match &state.practice {
        // Off a prediction nothing is measured: it is set to what the set itself shows.
        None => ": as on the set? Enter",
        Some(practice) if practice.ended.is_none() => ": Enter takes it",
        // The exercise is over, and takes no contact.
        Some(_) => "",
    }
}

/// Whether another picture is wanted than the one that stands.
fn is_stale(state: &State, (ask, _): &(Ask, Drawn)) -> bool {
    match (wanted(state), ask.look) {
        // The head of the picture says of what time it is.
        (Some(wanted), Some(_)) => wanted.frame.scale != ask.frame.scale,
        (wanted, _) => wanted.as_ref() != Some(ask),
    }
}

/// The look of the panel: light on dark, by day too.
fn by_night(state: &State) -> Theme {
    state.theme.lit(Light::Night)
}

/// The operator's own ring and line on the picture that is shown, as a contact is typed.
pub fn marked(state: &State) -> Option<String> {
    let (ask, drawn) = state.scope.drawn.as_ref().filter(|_| state.scope.open)?;
    state.scope.marker.as_typed(drawn.as_ref().ok()?, ask.look.is_none())
}

/// The bearing and slant range, nautical miles, under a cell of the panel; a range alone on a trace;
/// `None` where the cell is off the picture.
pub fn under(state: &State, area: Rect, at: (u16, u16)) -> Option<(f64, Option<Bearing<True>>)> {
    let (ask, drawn) = state.scope.drawn.as_ref()?;
    match drawn.as_ref().ok()?.as_ref() {
        Picture::Plan(_) => plan::under(state, ask, area, at).map(|(nm, b)| (nm, Some(b))),
        Picture::Trace(picture) => trace::under(picture, area, at).map(|nm| (nm, None)),
    }
}

/// The scale in use, nautical miles.
pub fn scale_nm(state: &State) -> f64 {
    state.scope.scale(&state.watch.radar().set, &ranges(state)).nautical_miles()
}

/// What the picture shows, for its upper left corner, and what it is drawn from.
fn told(ask: &Ask, way: &str) -> [String; 2] {
    let of = match ask.stand {
        Stand::Fix => "the fix",
        Stand::MostProbable => "the likeliest place",
        Stand::Reckoning => "the reckoning",
    };
    let at = hours_minutes(ask.time);
    let from = match (ask.carried, ask.stand) {
        (true, Stand::Reckoning) => format!("from DR {at}"),
        (true, _) => format!("from EP {at}, {of} carried on"),
        (false, _) => format!("from {of}, {at}"),
    };
    let scale = ask.frame.scale.nautical_miles();
    if let Some(look) = ask.look {
        let scale = (scale * 100.0).round() / 100.0;
        let heading = ask.vantage.heading.map_or(0.0, |heading| heading.degrees().round() % 360.0);
        let compass = format!(
            "compass {}, {}",
            spoken_bearing(heading),
            bank_words(ask.frame.bank.degrees())
        );
        return [format!("SCOPE {} {way}, {scale} NM", clock(look.time)), compass];
    }
    [format!("PREDICTED {way}, {} NM", (scale * 100.0).round() / 100.0), from]
}
