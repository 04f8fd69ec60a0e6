//! The cursor, the ring and line on the picture, the list of all that can be done, and the mouse.

use ratatui::crossterm::event::{KeyCode, MouseButton, MouseEvent, MouseEventKind};
use ratatui::layout::{Position as Cell, Rect};
use tui_input::Input;

use super::{enter, on_key_over_chart, preview, rescale, zoom};
use crate::screen::chart_panel::Dot;
use crate::screen::complete::completed;
use crate::screen::cursor::Cursor;
use crate::screen::palette::{Choice, Palette};
use crate::screen::scope;
use crate::screen::state::{Command, State};

/// One step of the ring, as a share of the scale, fine and coarse; and of the line, degrees.
const RING: (f64, f64) = (0.005, 0.04);
const LINE_DEG: (f64, f64) = (0.5, 5.0);

/// Completes the name that the line ends in.
pub(super) fn complete(state: &mut State) {
    if let Some(line) = completed(state.line.value(), state.chart.marks()) {
        state.line = Input::new(line);
        preview(state);
    }
}

/// Keys of the tools while nothing is typed; whether it was one of theirs.
pub(super) fn on_tool_key(state: &mut State, code: KeyCode) -> bool {
    match code {
        KeyCode::Char('*') => toggle_cursor(state),
        KeyCode::Char(':') => {
            let drill = state.practice.is_some();
            state.palette = Some(Palette { drill, ..Palette::default() });
        }
        KeyCode::Char('~') => state.theme = state.theme.lit(state.theme.light().other()),
        KeyCode::Char('[') => ring(state, -RING.0),
        KeyCode::Char(']') => ring(state, RING.0),
        KeyCode::Char('{') => line(state, -LINE_DEG.0),
        KeyCode::Char('}') => line(state, LINE_DEG.0),
        KeyCode::Left | KeyCode::Right | KeyCode::Up | KeyCode::Down => return arrow(state, code),
        KeyCode::Enter => return take_up(state),
        _ => return false,
    }
    true
}

/// The cursor comes out in the middle of the chart.
fn toggle_cursor(state: &mut State) {
    state.cursor = match state.cursor.at {
        Some(_) => Cursor::default(),
        None => Cursor { at: Some(state.focus.centre), from: None },
    };
}

/// Arrows move the cursor where it is out, else ring and line where the picture has the chart's place.
fn arrow(state: &mut State, code: KeyCode) -> bool {
    let (right, down) = match code {
        KeyCode::Left => (-1.0, 0.0),
        KeyCode::Right => (1.0, 0.0),
        KeyCode::Up => (0.0, -1.0),
        _ => (0.0, 1.0),
    };
    if covers_chart(state) {
        if right == 0.0 {
            ring(state, -down * RING.1);
        } else {
            line(state, right * LINE_DEG.1);
        }
        return true;
    }
    let (Some(at), Some((port, _))) = (state.cursor.at, &state.shore) else { return false };
    let dot = port.dot(at);
    let moved = port.position(Dot { x: dot.x + 2.0 * right, y: dot.y + 4.0 * down });
    state.cursor.at = Some(moved);
    true
}

/// Whether a page or a list stands over the display.
pub(super) fn is_covered(state: &State) -> bool {
    let page = state.practice.as_ref().is_some_and(|practice| practice.page.is_some());
    page || state.help.is_some() || state.palette.is_some()
}

/// Whether an open picture stands in the chart's place.
fn covers_chart(state: &State) -> bool {
    state.layout(state.size).is_some_and(|layout| layout.picture == Some(layout.chart))
}

fn ring(state: &mut State, share: f64) {
    if state.scope.open {
        let scale_nm = scope::scale_nm(state);
        state.scope.marker.range(scale_nm, share);
    }
}

fn line(state: &mut State, degrees: f64) {
    if state.scope.open {
        let (up, _) = state.focus.up.of(&state.watch, state.wall);
        state.scope.marker.turn(degrees, up);
    }
}

/// Enter begins a measure at the cursor, or puts ring and line into the entry line.
fn take_up(state: &mut State) -> bool {
    if let Some(at) = state.cursor.at.filter(|_| !covers_chart(state)) {
        state.cursor.from = Some(at);
        return true;
    }
    if !state.scope.marker.is_out() {
        return false;
    }
    let Some(typed) = scope::marked(state) else { return false };
    // A name may follow at once.
    state.line = Input::new(typed + " ");
    preview(state);
    true
}

/// Keys while the list of all that can be done is open.
pub(super) fn on_palette_key(state: &mut State, code: KeyCode) -> Vec<Command> {
    let Some(palette) = &mut state.palette else { return Vec::new() };
    match code {
        KeyCode::Up => palette.step(-1),
        KeyCode::Down | KeyCode::Tab => palette.step(1),
        KeyCode::Backspace => palette.back(),
        KeyCode::Char(c) => palette.typed(c),
        KeyCode::Enter => {
            let chosen = palette.chosen();
            state.palette = None;
            return chosen.map_or_else(Vec::new, |item| choose(state, item.choice));
        }
        KeyCode::Esc => state.palette = None,
        _ => {}
    }
    Vec::new()
}

fn choose(state: &mut State, choice: Choice) -> Vec<Command> {
    match choice {
        Choice::Begin(start) => {
            state.line = Input::new(start.to_owned());
            preview(state);
        }
        Choice::Enter(line) => {
            state.line = Input::new(line.to_owned());
            return enter(state);
        }
        Choice::Press(code) => return on_key_over_chart(state, code),
        Choice::Light => state.theme = state.theme.lit(state.theme.light().other()),
        Choice::Drawing => state.theme = state.theme.drawn(state.theme.drawing().next()),
    }
    Vec::new()
}

/// A click sets the cursor, or ring and line; dragging measures; the wheel zooms where it points.
pub(super) fn on_mouse(state: &mut State, mouse: MouseEvent) {
    let Some(layout) = state.layout(state.size) else { return };
    let cell = Cell { x: mouse.column, y: mouse.row };
    let within = |area: &Rect| area.contains(cell);
    if let Some(area) = layout.picture.filter(within) {
        on_picture(state, mouse.kind, (cell.x - area.x, cell.y - area.y), area);
    } else if within(&layout.chart) {
        on_chart(state, mouse.kind, (cell.x - layout.chart.x, cell.y - layout.chart.y));
    }
}

fn on_picture(state: &mut State, kind: MouseEventKind, at: (u16, u16), area: Rect) {
    match kind {
        MouseEventKind::Down(MouseButton::Left) | MouseEventKind::Drag(MouseButton::Left) => {
            if let Some((range_nm, bearing)) = scope::under(state, area, at) {
                state.scope.marker.range_nm = Some(range_nm);
                state.scope.marker.bearing = bearing.or(state.scope.marker.bearing);
            }
        }
        MouseEventKind::ScrollUp => rescale(state, -1),
        MouseEventKind::ScrollDown => rescale(state, 1),
        _ => {}
    }
}

fn on_chart(state: &mut State, kind: MouseEventKind, (column, row): (u16, u16)) {
    let Some((port, _)) = &state.shore else { return };
    let dot = Dot { x: 2.0 * f64::from(column) + 1.0, y: 4.0 * f64::from(row) + 2.0 };
    let place = port.position(dot);
    match kind {
        MouseEventKind::Down(MouseButton::Left) => {
            state.cursor = Cursor { at: Some(place), from: None };
        }
        MouseEventKind::Drag(MouseButton::Left) => {
            state.cursor.from = state.cursor.from.or(state.cursor.at);
            state.cursor.at = Some(place);
        }
        MouseEventKind::ScrollUp | MouseEventKind::ScrollDown => {
            let steps = if kind == MouseEventKind::ScrollUp { 1 } else { -1 };
            // About the pointer, wherever the cursor stands.
            let kept = state.cursor.at.replace(place);
            zoom(state, steps);
            state.cursor.at = kept;
        }
        _ => {}
    }
}
