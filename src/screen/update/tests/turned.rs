//! A turn typed for later, or for the wrong hour: until then nothing is altered.

use super::*;
use crate::screen::focus::Up;
use crate::screen::plotting;
use crate::watch::{KnownBy, words};

/// Enters a line, and has it kept and answered.
fn put(state: &mut State, line: &str, count: u64) {
    enter_line(state, line);
    let asked = update(state, kept(count)).into_iter().find_map(|command| match command {
        Command::Solve { asked, sightings } => Some((asked, sightings)),
        _ => None,
    });
    let (asked, sightings) = asked.unwrap();
    let answer = Box::new(crate::screen::solve(&CHART, &sightings));
    update(state, Message::Answered { asked, answer });
}

fn second(state: &mut State, time: &str) {
    update(state, Message::Time(time.parse().unwrap()));
}

/// Tracks of the run along which ground is looked for.
fn tracks(state: &State) -> Vec<f64> {
    let outlook = state.outlook.as_ref().filter(|outlook| outlook.asked == state.asked).unwrap();
    outlook.run.iter().map(|stretch| stretch.over.0.degrees().round()).collect()
}

#[test]
fn until_a_turn_typed_ahead_the_place_is_carried_on_the_leg_in_force() {
    for (turn, looked_along) in [("@0353", vec![74.0, 110.0]), ("@0444", vec![74.0])] {
        let mut state = live(7);
        put(&mut state, "accept", 1);
        second(&mut state, "2031-03-09T03:49:56Z");
        let before = state.carried().unwrap();
        let run = state.watch.run(before.time);
        put(&mut state, &format!("trk 110 165 {turn}"), 2);
        second(&mut state, "2031-03-09T03:49:56Z");
        assert_eq!(state.carried(), Some(before), "{turn}");
        assert_eq!(state.watch.run(before.time), run, "{turn}");
        assert_eq!(tracks(&state), looked_along, "{turn}");
        let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
        terminal.draw(|frame| crate::screen::view(&state, frame)).unwrap();
        let drawn: String = terminal
            .backend()
            .buffer()
            .content()
            .iter()
            .map(ratatui::buffer::Cell::symbol)
            .collect();
        assert!(drawn.contains("DR now "), "{drawn}");
    }
}

#[test]
fn a_turn_makes_own_place_no_better_known() {
    let mut state = live(7);
    put(&mut state, "accept", 1);
    put(&mut state, "trk 110 165 @0353", 2);
    second(&mut state, "2031-03-09T03:53:30Z");
    let carried = state.carried().unwrap();
    let turn: jiff::Timestamp = "2031-03-09T03:53:00Z".parse().unwrap();
    assert_eq!((carried.from, carried.known.by), (turn, KnownBy::Fix));
    assert_eq!(tracks(&state), [110.0]);
    let [full, short, _] = wording::carried_lines(&carried);
    assert!(
        full.ends_with("; by track and speed, 11 min from the fix accepted of 03:42:55Z"),
        "{full}"
    );
    assert!(short.ends_with("; 11 min from fix"), "{short}");
    let since = words::since(&state.watch, state.wall);
    assert_eq!(since, "11 min since the fix accepted of 03:42:55Z");
    put(&mut state, "dr 38 12.9 S, 21 30.5 W sigma 4", 3);
    second(&mut state, "2031-03-09T03:53:35Z");
    let since = words::since(&state.watch, state.wall);
    assert_eq!(since, "5 s since the reckoning of 03:53:30Z");
}

#[test]
fn a_line_for_a_time_to_come_is_cautioned_before_it_is_entered() {
    let mut state = live(7);
    for c in "trk 110 165 @0444".chars() {
        key(&mut state, KeyCode::Char(c));
    }
    let Echo::Understood(said) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(said.contains("; CAUTION: 54 min ahead of the clock"), "{said}");
}

#[test]
fn until_a_turn_typed_ahead_the_track_of_now_is_up_and_the_reckoning_is_of_its_leg() {
    let mut state = live(7);
    put(&mut state, "accept", 1);
    state.focus.up = Up::Track;
    put(&mut state, "trk 110 165 @0355", 2);
    for (time, up, from) in [
        ("2031-03-09T03:49:57Z", 74.0, "2031-03-09T03:42:55Z"),
        ("2031-03-09T03:55:01Z", 110.0, "2031-03-09T03:55:00Z"),
    ] {
        second(&mut state, time);
        let (way, word) = state.focus.up.of(&state.watch, state.wall);
        assert_eq!((way.degrees().round(), word), (up, "TRACK"), "{time}");
        let reckoning = plotting::reckoning(&state).unwrap();
        assert_eq!(reckoning.time, from.parse().unwrap(), "{time}");
    }
}
