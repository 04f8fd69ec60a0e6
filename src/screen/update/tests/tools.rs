use ratatui::crossterm::event::{MouseButton, MouseEvent, MouseEventKind};

use super::*;

fn mouse(state: &mut State, kind: MouseEventKind, (column, row): (u16, u16)) {
    let event = MouseEvent { kind, column, row, modifiers: KeyModifiers::NONE };
    assert!(update(state, Message::Mouse(event)).is_empty());
}

#[test]
fn the_cursor_moves_measures_and_is_put_away() {
    let mut state = state();
    assert_eq!(state.cursor.at, None);
    key(&mut state, KeyCode::Char('*'));
    let start = state.cursor.at.unwrap();
    assert_eq!(start, state.focus.centre);
    key(&mut state, KeyCode::Enter);
    for _ in 0..5 {
        key(&mut state, KeyCode::Right);
    }
    let (from, at) = (state.cursor.from.unwrap(), state.cursor.at.unwrap());
    assert_eq!(from, start);
    assert!(at.longitude() > from.longitude());
    assert!((at.latitude() - from.latitude()).abs() < 1e-3);
    // The chart stays where it is, and is zoomed about the cursor.
    let (port, _) = state.shore.clone().unwrap();
    let before = port.dot(at);
    key(&mut state, KeyCode::Char('+'));
    let (port, _) = state.shore.clone().unwrap();
    let after = port.dot(at);
    assert!((after.x - before.x).abs() < 0.5 && (after.y - before.y).abs() < 0.5);
    key(&mut state, KeyCode::Esc);
    assert_eq!(state.cursor, Cursor::default());
}

#[test]
fn a_click_sets_the_cursor_a_drag_measures_and_the_wheel_zooms_at_the_pointer() {
    let mut state = state();
    mouse(&mut state, MouseEventKind::Down(MouseButton::Left), (10, 8));
    let at = state.cursor.at.unwrap();
    mouse(&mut state, MouseEventKind::Drag(MouseButton::Left), (14, 8));
    assert_eq!(state.cursor.from, Some(at));
    assert!(state.cursor.at.unwrap().longitude() > at.longitude());
    let span = state.shore.as_ref().unwrap().0.span_nm();
    mouse(&mut state, MouseEventKind::ScrollUp, (10, 8));
    assert!(state.shore.as_ref().unwrap().0.span_nm() < span);
    // Off every panel nothing happens.
    mouse(&mut state, MouseEventKind::Down(MouseButton::Left), (79, 23));
}

#[test]
fn what_is_typed_is_completed_and_the_selection_left_alone() {
    let mut state = state();
    "mark A gan".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    key(&mut state, KeyCode::Tab);
    assert_eq!(state.line.value(), "mark A Gannet Head");
    assert_eq!(state.selected, None);
}

#[test]
fn the_list_of_all_that_can_be_done_filters_and_does_it() {
    let mut state = state();
    enter_line(&mut state, "hdg 071");
    update(&mut state, kept(1));
    key(&mut state, KeyCode::Char(':'));
    "note".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    key(&mut state, KeyCode::Enter);
    assert_eq!((state.palette.as_ref(), state.line.value()), (None, "# "));
    key(&mut state, KeyCode::Esc);
    key(&mut state, KeyCode::Char(':'));
    "last entry".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    assert!(matches!(key(&mut state, KeyCode::Enter).as_slice(), [Command::Keep { .. }]));
    // Light and signs change nothing but the look.
    let before = state.theme.light();
    key(&mut state, KeyCode::Char('~'));
    assert_ne!(state.theme.light(), before);
}

#[test]
fn track_or_heading_is_brought_up_where_it_is_known() {
    let mut state = state();
    let up = |state: &State| state.shore.as_ref().unwrap().0.up().degrees();
    assert!(up(&state).abs() < 1e-9);
    key(&mut state, KeyCode::Char('^'));
    assert!((up(&state) - 74.0).abs() < 1e-6);
    key(&mut state, KeyCode::Char('^'));
    assert!((up(&state) - 70.0).abs() < 1e-6);
    key(&mut state, KeyCode::Char('^'));
    assert!(up(&state).abs() < 1e-9);
}

#[test]
fn an_alarm_is_said_kept_and_acknowledged() {
    let mut state = state();
    let answer = crate::screen::work::solve(&CHART, &state.watch.sightings().unwrap());
    let mut odds = answer.clone();
    odds.fix.verdict = crate::fix::Verdict::AtOdds;
    let asked = state.asked;
    let commands = update(&mut state, Message::Answered { asked, answer: Box::new(odds) });
    let raised = |commands: &[Command]| {
        commands.iter().any(|command| {
            matches!(command, Command::Record { what, .. } if matches!(**what, What::Alarm { .. }))
        })
    };
    assert!(raised(&commands));
    assert_eq!(state.alarming().len(), 1);
    let commands = key(&mut state, KeyCode::Char('!'));
    let [Command::Record { what, .. }, ..] = commands.as_slice() else { panic!("{commands:?}") };
    assert!(matches!(&**what, What::Acknowledged { alarms } if alarms[0].contains("AT ODDS")));
    assert!(state.alarming().is_empty());
    // The same goes on: it is not raised again. Once it has passed and comes back, it is.
    let asked = state.asked;
    let commands =
        update(&mut state, Message::Answered { asked, answer: Box::new(answer.clone()) });
    assert!(!raised(&commands));
    let mut odds = answer;
    odds.fix.verdict = crate::fix::Verdict::AtOdds;
    let commands = update(&mut state, Message::Answered { asked, answer: Box::new(odds) });
    assert!(raised(&commands) && state.alarming().len() == 1);
}

#[test]
fn nothing_lapses_and_nothing_is_raised_while_a_fix_is_worked_out() {
    let mut state = state();
    let mut odds = crate::screen::work::solve(&CHART, &state.watch.sightings().unwrap());
    odds.fix.verdict = crate::fix::Verdict::AtOdds;
    let asked = state.asked;
    update(&mut state, Message::Answered { asked, answer: Box::new(odds) });
    key(&mut state, KeyCode::Char('!'));
    let alarm = |command: &Command| matches!(command, Command::Record { what, .. } if matches!(**what, What::Alarm { .. }));
    enter_line(&mut state, "17.3 042");
    let commands = update(&mut state, kept(1));
    assert!(!state.is_current() && !commands.iter().any(alarm));
    assert!(state.alarming().is_empty());
}

#[test]
fn a_page_over_the_display_takes_keys_alone() {
    let mut state = state();
    key(&mut state, KeyCode::Char('?'));
    mouse(&mut state, MouseEventKind::Down(MouseButton::Left), (10, 8));
    update(&mut state, Message::Pasted("17.3 042".to_owned()));
    assert_eq!((state.cursor, state.line.value()), (Cursor::default(), ""));
}

#[test]
fn a_name_can_follow_at_once_on_what_ring_and_line_put_into_the_entry_line() {
    let mut state = state();
    let Some(Command::Solve { asked, sightings }) = state.first_question() else { panic!() };
    let answer = Box::new(crate::screen::solve(&CHART, &sightings));
    update(&mut state, Message::Answered { asked, answer });
    let commands = key(&mut state, KeyCode::Char('/'));
    let [Command::Draw(ask)] = commands.as_slice() else { panic!("{commands:?}") };
    let conditions = crate::paint::Conditions::default();
    let picture =
        crate::paint::picture(&CHART, &ask.vantage, &ask.set, &conditions, &ask.frame).unwrap();
    update(&mut state, Message::Drawn(ask.clone(), Ok(Arc::new(picture))));
    key(&mut state, KeyCode::Char(']'));
    key(&mut state, KeyCode::Char('}'));
    key(&mut state, KeyCode::Enter);
    assert_eq!(state.line.value(), "25.0 000.0t ");
    "Great Ember".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    let Echo::Understood(said) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(said.contains("Great Ember"), "{said}");
    assert!(matches!(key(&mut state, KeyCode::Enter).as_slice(), [Command::Keep { .. }]));
}
