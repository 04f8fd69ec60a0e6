//! What becomes of a line that is refused, and of what is typed after it.

use super::*;

#[test]
fn what_is_typed_after_a_refusal_is_never_glued_to_it() {
    let mut state = state();
    enter_line(&mut state, "17 3");
    assert!(matches!(state.echo, Echo::Refused(_)));
    assert_eq!(state.line.value(), "17 3");
    for c in "17.3".chars() {
        key(&mut state, KeyCode::Char(c));
    }
    assert_eq!(state.line.value(), "17.3");
    // Any other key keeps what stands, to be mended.
    let mut mended = super::state();
    enter_line(&mut mended, "17 3");
    key(&mut mended, KeyCode::Backspace);
    for c in "042".chars() {
        key(&mut mended, KeyCode::Char(c));
    }
    assert_eq!(mended.line.value(), "17 042");
}

#[test]
fn a_line_refused_while_another_is_typed_takes_nothing_of_it_and_is_not_lost() {
    let mut state = state();
    enter_line(&mut state, "13.8 062");
    assert!(enter_line(&mut state, "17 42").is_empty());
    "9.1 1".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    update(&mut state, kept(1));
    let Echo::Refused(why) = &state.echo else { panic!("{:?}", state.echo) };
    assert!(why.starts_with("\"17 42\": two ranges"), "{why}");
    "01".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    assert_eq!(state.line.value(), "9.1 101");
    key(&mut state, KeyCode::Up);
    assert_eq!(state.line.value(), "17 42");
    // Nor is anything lost to a key that has nothing to take back.
    let mut state = super::state();
    "17.3".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    control(&mut state, 'z');
    assert!(matches!(&state.echo, Echo::Refused(why) if why == "nothing to undo"));
    " 042".chars().for_each(|c| drop(key(&mut state, KeyCode::Char(c))));
    assert_eq!(state.line.value(), "17.3 042");
}

#[test]
fn of_two_waiting_lines_refused_the_first_still_gives_way() {
    let mut state = state();
    enter_line(&mut state, "13.8 062");
    assert!(enter_line(&mut state, "17 42").is_empty());
    assert!(enter_line(&mut state, "9 5").is_empty());
    update(&mut state, kept(1));
    assert_eq!(state.line.value(), "17 42");
    // What is typed now is a new line, not glued to the refused one.
    key(&mut state, KeyCode::Char('0'));
    assert_eq!(state.line.value(), "0");
}
