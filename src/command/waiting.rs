use std::io::{self, IsTerminal, Write};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

/// What takes no longer than this is not told of.
const AT_ONCE: Duration = Duration::from_millis(200);
const EACH: Duration = Duration::from_secs(1);

/// Does something that may take a while; on a terminal a line on standard error tells what, from a fifth
/// of a second on, and is taken away again.
pub fn while_telling<T>(what: &str, work: impl FnOnce() -> T) -> T {
    if io::stderr().is_terminal() { telling(what, io::stderr(), work) } else { work() }
}

fn telling<T>(what: &str, mut out: impl Write + Send, work: impl FnOnce() -> T) -> T {
    let (done, waits) = channel::<()>();
    thread::scope(|scope| {
        // Without that thread nothing is told, and the work is done all the same.
        let told = thread::Builder::new().spawn_scoped(scope, move || {
            let (mut wait, mut seconds) = (AT_ONCE, 0);
            while waits.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                let so_long = if seconds > 0 { format!(" {seconds} s") } else { String::new() };
                let _ = write!(out, "\r{what} …{so_long}").and_then(|()| out.flush());
                (wait, seconds) = (EACH, seconds + 1);
            }
            if wait != AT_ONCE {
                let _ = write!(out, "\r\x1b[K").and_then(|()| out.flush());
            }
        });
        let found = work();
        drop(done);
        drop(told);
        found
    })
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex};

    use super::*;

    #[derive(Clone, Default)]
    struct Screen(Arc<Mutex<Vec<u8>>>);

    impl Write for Screen {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn what_takes_long_is_told_and_taken_away_and_what_does_not_is_not() {
        for (ms, told) in [(0, ("", "")), (500, ("\rreading the chart …", "\r\x1b[K"))] {
            let screen = Screen::default();
            let found = telling("reading the chart", screen.clone(), || {
                thread::sleep(Duration::from_millis(ms));
                ms
            });
            assert_eq!(found, ms);
            // A machine that does other things may let it tell again.
            let shown = String::from_utf8_lossy(&screen.0.lock().unwrap()).into_owned();
            assert!(shown.starts_with(told.0) && shown.ends_with(told.1), "{shown:?}");
            assert_eq!(shown.is_empty(), ms == 0);
        }
    }
}
