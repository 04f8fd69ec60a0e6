//! A terminal that counts what is sent to it.

use std::cell::Cell;
use std::io::{self, Write};
use std::rc::Rc;

use foreland::screen::view;
use ratatui::Terminal;
use ratatui::backend::{Backend, ClearType, CrosstermBackend, WindowSize};
use ratatui::buffer::Cell as Drawn;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::{Position, Size};

use super::show::Show;

/// Counts bytes and lets them go.
#[derive(Clone, Default)]
struct Counter(Rc<Cell<usize>>);

impl Write for Counter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.set(self.0.get() + bytes.len());
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The backend that the program writes to its terminal with, its size told and not asked for.
struct Wire {
    sends: CrosstermBackend<Counter>,
    size: Size,
}

impl Backend for Wire {
    type Error = io::Error;

    fn draw<'a, I: Iterator<Item = (u16, u16, &'a Drawn)>>(
        &mut self,
        content: I,
    ) -> io::Result<()> {
        self.sends.draw(content)
    }

    fn hide_cursor(&mut self) -> io::Result<()> {
        self.sends.hide_cursor()
    }

    fn show_cursor(&mut self) -> io::Result<()> {
        self.sends.show_cursor()
    }

    fn get_cursor_position(&mut self) -> io::Result<Position> {
        Ok(Position::ORIGIN)
    }

    fn set_cursor_position<P: Into<Position>>(&mut self, position: P) -> io::Result<()> {
        self.sends.set_cursor_position(position)
    }

    fn clear(&mut self) -> io::Result<()> {
        self.sends.clear()
    }

    fn clear_region(&mut self, region: ClearType) -> io::Result<()> {
        self.sends.clear_region(region)
    }

    fn size(&self) -> io::Result<Size> {
        Ok(self.size)
    }

    fn window_size(&mut self) -> io::Result<WindowSize> {
        Ok(WindowSize { columns_rows: self.size, pixels: Size::ZERO })
    }

    fn flush(&mut self) -> io::Result<()> {
        Backend::flush(&mut self.sends)
    }
}

/// A display and the wire to its terminal.
pub struct Wired {
    pub show: Show,
    terminal: Terminal<Wire>,
    count: Counter,
}

impl Wired {
    /// A display whose first screen is sent.
    pub fn new(show: Show) -> Self {
        let count = Counter::default();
        let sends = CrosstermBackend::new(count.clone());
        let wire = Wire { sends, size: show.state.size };
        let mut wired = Self { show, terminal: Terminal::new(wire).unwrap(), count };
        wired.sent(|_| ());
        wired
    }

    /// Bytes that the screen after a change takes.
    pub fn sent(&mut self, change: impl FnOnce(&mut Show)) -> usize {
        change(&mut self.show);
        self.terminal.backend_mut().size = self.show.state.size;
        let before = self.count.0.get();
        self.terminal.draw(|frame| view(&self.show.state, frame)).unwrap();
        self.count.0.get() - before
    }

    /// The same for each character of a text as it is typed.
    pub fn typed(&mut self, text: &str) -> Vec<usize> {
        text.chars().map(|c| self.sent(|show| show.press(KeyCode::Char(c)))).collect()
    }
}
