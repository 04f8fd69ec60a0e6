//! What the display sends to its terminal, held to what a slow line carries: 9,600 baud are 960 bytes a
//! second.
#![allow(clippy::unwrap_used)] // a test helper may fail the test

#[allow(dead_code, reason = "the captures use more of it")]
mod show;
mod wire;

use foreland::screen::Colours;
use ratatui::crossterm::event::KeyCode;

use show::Show;
use wire::Wired;

/// What a character sends that changes no more than the line, an eighth of a second at 9,600 baud.
const MOST_IN_LINE: usize = 120;

/// What a character sends on the average, those with it that have the line's meaning said anew.
const MOST_ON_AVERAGE: usize = 260;

/// No character sends more: the first changes the keys at the foot, and some the whole of two lines.
/// At 9,600 baud it is on the screen within 0.8 s.
const MOST_PER_CHARACTER: usize = 760;

fn wired(size: (u16, u16), colours: Colours) -> Wired {
    Wired::new(Show::of_sample(show::LANDFALL, size, colours))
}

#[test]
fn a_typed_character_sends_little() {
    for colours in [Colours::None, Colours::Sixteen, Colours::Full] {
        for size in [(80, 24), (160, 50)] {
            let mut wired = wired(size, colours);
            let mut all = Vec::new();
            for line in ["13.4 064 Corbel Point", "337 rel 21.5", "trk 074 165"] {
                let sent = wired.typed(line);
                println!("{colours:?} {size:?} {line}: {sent:?}");
                all.extend(sent);
                wired.sent(|show| show.press(KeyCode::Esc));
            }
            // The echo stays as it is while a name is spelled out.
            let name = wired.typed("13.4 064 Corbel Point").split_off(11);
            assert!(
                name.iter().all(|sent| *sent <= MOST_IN_LINE),
                "{colours:?} {size:?}: {name:?}"
            );
            let average = all.iter().sum::<usize>() / all.len();
            println!("{colours:?} {size:?}: {average} on the average");
            assert!(average <= MOST_ON_AVERAGE, "{colours:?} {size:?}: {average}");
            assert!(
                all.iter().all(|sent| *sent <= MOST_PER_CHARACTER),
                "{colours:?} {size:?}: {all:?}"
            );
        }
    }
}

/// Nothing is sent again that stands on the screen already.
#[test]
fn a_screen_that_has_not_changed_sends_no_cell() {
    let mut wired = wired((80, 24), Colours::Full);
    let nothing = wired.sent(|_| ());
    // The cursor is put where it is.
    assert!(nothing < 40, "{nothing}");
    for key in [KeyCode::Tab, KeyCode::Char('-'), KeyCode::Left, KeyCode::Char('/')] {
        let sent = wired.sent(|show| show.press(key));
        println!("{key:?}: {sent}");
        // At most the panel and its colours; a screen of 80 by 24 has 1,920 cells.
        assert!((41..16_000).contains(&sent), "{key:?}: {sent}");
        assert_eq!(wired.sent(|_| ()), nothing, "after {key:?}");
    }
}
