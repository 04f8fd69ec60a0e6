//! The real program in a pseudo-terminal, its screen read back. Texts are waited for; nothing sleeps for
//! a fixed time.

#![allow(dead_code, reason = "each test uses its own part")]

use std::io::{Read, Write};
use std::num::NonZero;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread;
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

/// However slow the machine, longer than this is a failure.
const PATIENCE: Duration = Duration::from_secs(90);

fn cells(count: u16) -> NonZero<u16> {
    NonZero::new(count).unwrap()
}

/// The program in a terminal of its own.
pub struct Terminal {
    screen: Arc<Mutex<vt100::Parser>>,
    keys: Box<dyn Write + Send>,
    master: Box<dyn MasterPty + Send>,
    pub child: Box<dyn Child + Send + Sync>,
}

impl Terminal {
    pub fn start(arguments: &[&str], state: &Path) -> Self {
        let size = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_foreland"));
        command.args(arguments);
        command.env("XDG_STATE_HOME", state);
        command.env("XDG_DATA_HOME", state);
        command.env("TERM", "xterm-256color");
        command.cwd(state);
        let child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let screen = Arc::new(Mutex::new(vt100::Parser::new(cells(24), cells(80), 0)));
        let mut output = pair.master.try_clone_reader().unwrap();
        let parser = Arc::clone(&screen);
        thread::spawn(move || {
            let mut bytes = [0; 8192];
            while let Ok(count @ 1..) = output.read(&mut bytes) {
                parser.lock().unwrap().process(&bytes[..count]);
            }
        });
        let keys = pair.master.take_writer().unwrap();
        Self { screen, keys, master: pair.master, child }
    }

    pub fn screen(&self) -> MutexGuard<'_, vt100::Parser> {
        self.screen.lock().unwrap()
    }

    pub fn text(&self) -> String {
        self.screen.lock().unwrap().screen().contents()
    }

    pub fn wait(&self, what: &str, shown: impl Fn(&vt100::Screen) -> bool) {
        let start = Instant::now();
        while !shown(self.screen.lock().unwrap().screen()) {
            assert!(start.elapsed() < PATIENCE, "waited for {what}:\n{}", self.text());
            thread::yield_now();
            thread::park_timeout(Duration::from_millis(5));
        }
    }

    pub fn wait_for(&self, text: &str) {
        self.wait(text, |screen| screen.contents().contains(text));
    }

    pub fn press(&mut self, keys: &str) {
        self.keys.write_all(keys.as_bytes()).unwrap();
        self.keys.flush().unwrap();
    }

    /// Types a line and waits until it is on the disk and the fix is worked out anew.
    pub fn enter(&mut self, line: &str, kept: &str) {
        self.press(line);
        self.press("\r");
        self.wait_for(&format!("KEPT {kept}"));
        self.wait("the new fix", |screen| !screen.contents().starts_with(" WORKING"));
    }

    pub fn resize(&self, columns: u16, rows: u16) {
        self.screen.lock().unwrap().screen_mut().set_size(cells(rows), cells(columns));
        let size = PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 };
        self.master.resize(size).unwrap();
    }

    /// What another program writes on the same screen.
    pub fn write_over(&self, text: &str) {
        self.screen.lock().unwrap().process(text.as_bytes());
    }

    /// Sends what a terminal that closes sends, and waits for the end; the reader of the screen still
    /// holds the terminal itself.
    pub fn hang_up(&mut self) -> u32 {
        let id = self.child.process_id().unwrap().to_string();
        assert!(std::process::Command::new("kill").args(["-HUP", &id]).status().unwrap().success());
        let start = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.exit_code();
            }
            assert!(start.elapsed() < PATIENCE, "it does not end");
            thread::park_timeout(Duration::from_millis(5));
        }
    }

    /// Waits for the end; the terminal must be as it was.
    pub fn ended(&mut self) -> u32 {
        let start = Instant::now();
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(start.elapsed() < PATIENCE, "it does not end:\n{}", self.text());
            thread::park_timeout(Duration::from_millis(5));
        };
        self.wait("the screen given back", |screen| {
            !screen.alternate_screen() && !screen.hide_cursor() && !screen.bracketed_paste()
        });
        status.exit_code()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
    }
}

/// Sightings without contacts, and the chart beside them.
pub fn start(folder: &Path) -> (String, String) {
    let text = include_str!("../../charts-sample/landfall.toml");
    let head = text.split("[[contact]]").next().unwrap();
    let path = folder.join("start.toml");
    std::fs::write(&path, head).unwrap();
    let chart = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample");
    (chart.to_owned(), path.display().to_string())
}
