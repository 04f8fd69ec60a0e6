use std::io::{self, Stdout, stdout};
use std::panic;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use jiff::Timestamp;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::event::{
    self, DisableBracketedPaste, DisableMouseCapture, EnableBracketedPaste, EnableMouseCapture,
    Event,
};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::layout::Size;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGTERM, SIGTSTP};
use signal_hook::iterator::Signals;
use signal_hook::low_level::emulate_default_handler;
use thiserror::Error;

use super::opener::{OPENER, start_opener};
use super::parts::Part;
use super::state::{Command, Message, State};
use super::tour::remember;
use super::update::update;
use super::view::view;
use super::work::{Question, worker};
use crate::chart::{Chart, GeoBox};
use crate::drill::{Entry, Progress};
use crate::watch::Keeper;
use crate::watch::along::{LOOKOUT, Run, start_lookout};

/// Names of the threads that compute: their panics, and those of the unnamed threads that they set to
/// work, are an answer and not the end of the display.
const WORKER: &str = "worker";

/// How often the clock on the screen is brought up to date, at least.
const TICK: Duration = Duration::from_millis(500);

/// Why the display cannot go on.
#[derive(Debug, Error)]
pub enum ScreenError {
    /// The terminal refuses.
    #[error("the terminal cannot be used: {0}")]
    Terminal(#[from] io::Error),
}

/// What is written to the disk while the display runs.
enum Books {
    /// What is entered.
    Log(Keeper),
    /// The score of a drill, with those of before.
    Scores(PathBuf),
}

/// Runs the display until the operator leaves; returns the state as it then is.
///
/// The terminal is put back as it was on leaving, on an error, on a panic and on the signals to
/// end.
///
/// # Errors
/// The terminal cannot be used.
pub fn run(state: State, keeper: Keeper) -> Result<State, ScreenError> {
    run_with(state, Books::Log(keeper))
}

/// The same on an exercise: nothing is written but its score, to the file that the state names.
///
/// # Errors
/// The terminal cannot be used.
pub fn run_drill(state: State) -> Result<State, ScreenError> {
    let scores = state.practice.as_ref().map(|practice| practice.scores.clone());
    run_with(state, Books::Scores(scores.unwrap_or_default()))
}

fn run_with(mut state: State, books: Books) -> Result<State, ScreenError> {
    let (messages, inbox) = channel();
    let _screen = Screen::enter()?;
    let mut terminal = Terminal::new(CrosstermBackend::new(stdout()))?;
    listen(&messages)?;
    let workers = Workers::start(&state, books, &messages)?;
    state.size = terminal.size()?;
    let first = state.first_question();
    workers.order(&state, first)?;
    let commands = update(&mut state, Message::Time(now()));
    workers.order(&state, commands)?;
    let shown = display(&mut terminal, &mut state, &inbox, &workers);
    workers.finish();
    // What came to be kept after the last key is counted with the rest.
    for message in inbox.try_iter().filter(is_of_the_log) {
        update(&mut state, message);
    }
    shown.map(|()| state)
}

/// Whether a message tells what is in the log.
fn is_of_the_log(message: &Message) -> bool {
    matches!(message, Message::Kept(_) | Message::NotKept(..) | Message::Counted(_))
}

fn display(
    terminal: &mut Terminal<CrosstermBackend<Stdout>>,
    state: &mut State,
    inbox: &Receiver<Message>,
    workers: &Workers,
) -> Result<(), ScreenError> {
    while !state.quit {
        terminal.draw(|frame| view(state, frame))?;
        let first = match inbox.recv_timeout(TICK) {
            Ok(first) => Some(first),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => break,
        };
        let commands = update(state, Message::Time(now()));
        workers.order(state, commands)?;
        // All that waits is taken in, then the screen is drawn once.
        let mut anew = false;
        for message in first.into_iter().chain(inbox.try_iter()) {
            let message = match message {
                // Between two frames: nothing of one is left on the shell's screen.
                Message::Stop => {
                    restore();
                    // Stops the program here, until it is gone on with.
                    emulate_default_handler(SIGTSTP)?;
                    continue;
                }
                Message::GoneOn => {
                    // Whatever the shell did to the terminal meanwhile.
                    disable_raw_mode()?;
                    take_terminal()?;
                    Message::Resized(terminal.size()?)
                }
                message => message,
            };
            anew |= matches!(message, Message::Resized(_));
            let commands = update(state, message);
            workers.order(state, commands)?;
        }
        if anew {
            // A screen made small and large again has lost what stood on it, though its size is the same.
            let size = terminal.size()?;
            terminal.resize(size.into())?;
        }
    }
    Ok(())
}

/// The wall clock, which reaches the state as messages.
#[expect(clippy::disallowed_methods, reason = "the display is where the clock comes in")]
pub(crate) fn now() -> Timestamp {
    let now = Timestamp::now();
    // Nobody reads a radar to less than a second.
    Timestamp::from_second(now.as_second()).unwrap_or(now)
}

/// The threads that compute and that keep.
struct Workers {
    questions: Sender<(Arc<Chart>, Question)>,
    runs: Sender<(Arc<Chart>, Box<Run>)>,
    /// None where there is no other part of the chart to take in.
    parts: Option<Sender<(Part, GeoBox)>>,
    changes: Sender<Command>,
    keeper: JoinHandle<()>,
}

/// How often it is looked whether all is kept.
const SOON: Duration = Duration::from_millis(5);

/// Entries handed over before the display was left by force are waited for no longer than this: the disk
/// may be gone.
const LAST: Duration = Duration::from_secs(3);

impl Workers {
    fn start(state: &State, books: Books, messages: &Sender<Message>) -> io::Result<Self> {
        let (questions, asked) = channel();
        let chart = Arc::clone(&state.chart);
        // What a picture of much of a great coast is drawn of, before it is asked for.
        thread::Builder::new()
            .name(WORKER.to_owned())
            .spawn(move || chart.coast().make_levels())?;
        let answers = messages.clone();
        let exercise = state.practice.as_ref().map(|practice| Arc::clone(&practice.exercise));
        thread::Builder::new()
            .name(WORKER.to_owned())
            .spawn(move || worker(exercise.as_deref(), &asked, &answers))?;
        let answers = messages.clone();
        let tell = move |run, due| answers.send(Message::Ahead(run, due)).is_ok();
        let runs = start_lookout(tell)?;
        let parts = match &state.parts.folders {
            Some(folders) => Some(start_opener(folders.clone(), messages.clone())?),
            None => None,
        };
        let (changes, wanted) = channel();
        let kept = messages.clone();
        let keeper =
            thread::Builder::new().name("keeper".to_owned()).spawn(move || match books {
                Books::Log(keeper) => keep_log(keeper, &wanted, &kept),
                Books::Scores(path) => keep_scores(&path, &wanted, &kept),
            })?;
        Ok(Self { questions, runs, parts, changes, keeper })
    }

    /// Waits until what was handed over is kept.
    fn finish(self) {
        let Self { changes, keeper, .. } = self;
        drop(changes);
        let mut left = LAST;
        while !keeper.is_finished() && !left.is_zero() {
            thread::sleep(SOON);
            left = left.saturating_sub(SOON);
        }
    }

    /// Has what is wanted done, on the chart in use.
    fn order(&self, state: &State, commands: impl IntoIterator<Item = Command>) -> io::Result<()> {
        let chart = || Arc::clone(&state.chart);
        let ask = |question| {
            let sent = self.questions.send((chart(), question));
            sent.map_err(|_| io::Error::other("the worker is gone"))
        };
        for command in commands {
            match command {
                Command::Solve { asked, sightings } => ask(Question::Solve { asked, sightings })?,
                Command::Draw(picture) => ask(Question::Draw(picture))?,
                Command::Expect(from) => ask(Question::Expect(from))?,
                Command::Score(answer) => ask(Question::Score(answer))?,
                // Without a lookout nothing is listed ahead; all else goes on.
                Command::Look(run) => drop(self.runs.send((chart(), run))),
                Command::TakeIn(part, area) => {
                    let parts = self.parts.as_ref().map(|parts| parts.send((part, area)));
                    parts.transpose().map_err(|_| io::Error::other("the opener is gone"))?;
                }
                keep @ (Command::Keep { .. }
                | Command::Record { .. }
                | Command::Begin { .. }
                | Command::Remember { .. }
                | Command::KeepScore(_)) => {
                    self.changes
                        .send(keep)
                        .map_err(|_| io::Error::other("the keeper of the log is gone"))?;
                }
            }
        }
        Ok(())
    }
}

/// Writes changes to the log as they come, until nobody sends any.
fn keep_log(mut keeper: Keeper, wanted: &Receiver<Command>, kept: &Sender<Message>) {
    while let Ok(command) = wanted.recv() {
        let message = match command {
            Command::Keep { time, what, typed } => match keeper.keep(time, *what, Some(typed)) {
                Ok(()) => Message::Kept(keeper.tally()),
                Err(error) => Message::NotKept(keeper.tally(), error.to_string()),
            },
            Command::Begin { time, what } => {
                let _ = keeper.begin_anew(time, *what);
                Message::Counted(keeper.tally())
            }
            Command::Remember { path, told } => {
                let _ = remember(&path, told, now());
                continue;
            }
            // A look at a chart leaves no file; what fails waits for the next entry.
            Command::Record { time, what } => {
                let before = keeper.tally();
                if keeper.is_open() {
                    let _ = keeper.keep(time, *what, None);
                }
                let now = keeper.tally();
                if now == before {
                    continue;
                }
                Message::Counted(now)
            }
            _ => continue,
        };
        if kept.send(message).is_err() {
            return;
        }
    }
}

/// Writes the score of a drill with those of before.
fn keep_scores(path: &Path, wanted: &Receiver<Command>, kept: &Sender<Message>) {
    let keep = |entry: &Entry| Progress::keep(path, entry).map_err(|error| error.to_string());
    while let Ok(command) = wanted.recv() {
        let Command::KeepScore(entry) = command else { continue };
        if kept.send(Message::ScoreKept(keep(&entry))).is_err() {
            return;
        }
    }
}

/// Starts the threads that wait for keys and for signals.
fn listen(messages: &Sender<Message>) -> io::Result<()> {
    let keys = messages.clone();
    thread::Builder::new().name("keys".to_owned()).spawn(move || {
        loop {
            let message = match event::poll(TICK) {
                Ok(false) => None,
                Ok(true) => match event::read() {
                    Ok(Event::Key(key)) => Some(Message::Key(key)),
                    Ok(Event::Mouse(mouse)) => Some(Message::Mouse(mouse)),
                    Ok(Event::Paste(text)) => Some(Message::Pasted(text)),
                    Ok(Event::Resize(columns, rows)) => {
                        Some(Message::Resized(Size::new(columns, rows)))
                    }
                    Ok(_) => None,
                    Err(_) => Some(Message::Quit),
                },
                // The terminal is gone.
                Err(_) => Some(Message::Quit),
            };
            let last = matches!(message, Some(Message::Quit));
            if message.is_some_and(|message| keys.send(message).is_err()) || last {
                return;
            }
        }
    })?;
    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP, SIGTSTP, SIGCONT])?;
    let told = messages.clone();
    thread::Builder::new().name("signals".to_owned()).spawn(move || {
        for signal in &mut signals {
            let message = match signal {
                SIGTSTP => Message::Stop,
                SIGCONT => Message::GoneOn,
                _ => Message::Quit,
            };
            if told.send(message).is_err() {
                return;
            }
        }
    })?;
    Ok(())
}

/// The terminal while it is ours: given back when dropped, and before a panic is told.
struct Screen;

impl Screen {
    fn enter() -> io::Result<Self> {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |told| {
            // The worker's panics are answers; its words would only break the picture.
            if !matches!(thread::current().name(), None | Some(WORKER | LOOKOUT | OPENER)) {
                restore();
                before(told);
            }
        }));
        // Given back also where only a part of it could be had.
        let screen = Self;
        take_terminal()?;
        Ok(screen)
    }
}

fn take_terminal() -> io::Result<()> {
    enable_raw_mode()?;
    execute!(stdout(), EnterAlternateScreen, EnableBracketedPaste, EnableMouseCapture)
}

impl Drop for Screen {
    fn drop(&mut self) {
        restore();
    }
}

/// Puts the terminal back; where that fails there is no terminal left to put back.
fn restore() {
    let _ =
        execute!(stdout(), DisableMouseCapture, DisableBracketedPaste, LeaveAlternateScreen, Show);
    let _ = disable_raw_mode();
}
