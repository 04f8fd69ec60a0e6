//! A screen drawn anew over more and more shore, beside ratatui's redraw of an empty one.

use foreland::contact::Radar;
use foreland::radar::Set;
use foreland::screen::{Colours, view};
use foreland::units::Height;
use foreland::watch::Watch;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::KeyCode;

use crate::show::Show;
use crate::took::{fastest, load, seconds};
use crate::{Growth, great_coast};

const SIZE: (u16, u16) = (160, 50);

pub fn redrawn() -> Growth {
    println!("screen of 160 by 50, one island all in view");
    let mut growth = Growth::new("redraw, moved", "vertices");
    for vertices in [1_000, 10_000, 100_000, 1_000_000] {
        let mut show = great(vertices);
        let mut terminal = Terminal::new(TestBackend::new(SIZE.0, SIZE.1)).unwrap();
        let mut empty = Terminal::new(TestBackend::new(SIZE.0, SIZE.1)).unwrap();
        let bare = fastest(200, || empty.draw(|_| {}).unwrap().count);
        let still = fastest(200, || terminal.draw(|frame| view(&show.state, frame)).unwrap().count);
        // Over and back, so that nearly all of the shore stays in view.
        let mut keys = [KeyCode::Left, KeyCode::Right].into_iter().cycle();
        let moved = fastest(50, || {
            show.press(keys.next().unwrap());
            terminal.draw(|frame| view(&show.state, frame)).unwrap().count
        });
        println!(
            "  {vertices:>8} vertices: where it was {}, moved by a fifth {moved}; an empty redraw {}: \
             {:.1} and {:.0} times; {}",
            seconds(still.clock),
            seconds(bare.clock),
            still.clock / bare.clock,
            moved.clock / bare.clock,
            load()
        );
        growth.points.push((vertices as f64, moved.clock));
    }
    growth
}

fn great(vertices: usize) -> Show {
    let radar = Radar {
        set: Set::builtin("patrol").unwrap(),
        set_name: "patrol".to_owned(),
        range_sigma_nm: None,
        bearing_sigma_deg: None,
    };
    let watch = Watch::blank(radar, Height::from_feet(2000.0).unwrap());
    Show::new(great_coast::chart(vertices), watch, SIZE, Colours::Sixteen)
}
