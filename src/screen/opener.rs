//! The thread that takes in other parts of a large chart.

use std::cell::Cell;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

use super::parts::Part;
use super::state::Message;
use crate::chart::{Folders, GeoBox, Progress};

/// Its name: its panics are an answer.
pub(super) const OPENER: &str = "opener";

/// No oftener than this it is told how far it has come.
const EVERY: Duration = Duration::from_millis(200);

/// Starts it: it takes in the latest part asked for of each kind, where the craft is first, and tells what came
/// of it.
pub(super) fn start_opener(
    folders: Folders,
    answers: Sender<Message>,
) -> io::Result<Sender<(Part, GeoBox)>> {
    let (parts, asked) = channel::<(Part, GeoBox)>();
    thread::Builder::new().name(OPENER.to_owned()).spawn(move || {
        while let Ok(first) = asked.recv() {
            let (mut own, mut view) = (None, None);
            for (part, area) in std::iter::once(first).chain(asked.try_iter()) {
                match part {
                    Part::Own => own = Some((part, area)),
                    Part::View => view = Some((part, area)),
                }
            }
            for (part, area) in own.into_iter().chain(view) {
                if answers.send(open(&folders, part, area, &answers)).is_err() {
                    return;
                }
            }
        }
    })?;
    Ok(parts)
}

fn open(folders: &Folders, part: Part, area: GeoBox, answers: &Sender<Message>) -> Message {
    let told = Cell::new(Instant::now());
    let tell = |progress: Progress<'_>| {
        if told.get().elapsed() >= EVERY {
            told.set(Instant::now());
            drop(answers.send(Message::Taking(progress.words())));
        }
    };
    match catch_unwind(AssertUnwindSafe(|| folders.open_about(area, &tell))) {
        Ok(Ok(chart)) => {
            chart.coast().make_levels();
            Message::TakenIn(part, Arc::new(chart))
        }
        Ok(Err(error)) => Message::NotTakenIn(part, error.to_string()),
        Err(_) => Message::NotTakenIn(part, "the program failed on it".to_owned()),
    }
}
