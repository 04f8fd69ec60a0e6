//! What must not be overlooked, said as it comes up: also while nothing is typed.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;

use jiff::{SignedDuration, Timestamp};

use super::super::Sitting;
use super::Out;
use crate::chart::Chart;
use crate::command::failure::Failure;
use crate::screen::{Answer, Said, Scene};
use crate::watch::alarm::{Alarm, GroundAhead, ground_ahead};
use crate::watch::along::{Due, Run, due_on};
use crate::watch::log::What;

/// What is not acknowledged is said again so long after.
const AGAIN: SignedDuration = SignedDuration::from_secs(60);

/// A run and what should come to paint on it; nothing where that could not be worked out.
type Listed = (Box<Run>, Option<Vec<Due>>);

/// The alarms of a sitting.
pub(super) struct Alarms {
    runs: Sender<Box<Run>>,
    listed: Receiver<Listed>,
    run: Option<Run>,
    due: Vec<Due>,
    said: Said,
    standing: Vec<Alarm>,
    spoken: Option<Timestamp>,
}

impl Alarms {
    /// With a thread of its own for what takes longer than a line may wait.
    pub fn new(chart: &Arc<Chart>) -> Self {
        let (runs, asked) = channel::<Box<Run>>();
        let (told, listed) = channel();
        let chart = Arc::clone(chart);
        drop(thread::Builder::new().name("lookout".to_owned()).spawn(move || {
            while let Ok(first) = asked.recv() {
                let run = asked.try_iter().last().unwrap_or(first);
                let due = catch_unwind(AssertUnwindSafe(|| due_on(&chart, &run))).ok();
                if told.send((run, due)).is_err() {
                    return;
                }
            }
        }));
        Self {
            runs,
            listed,
            run: None,
            due: Vec::new(),
            said: Said::default(),
            standing: Vec::new(),
            spoken: None,
        }
    }

    /// Says and logs what has newly come up, and once a minute what still stands unacknowledged.
    pub fn look(
        &mut self,
        sitting: &mut Sitting,
        answer: Option<&Answer>,
        wall: Timestamp,
        out: &mut Out,
    ) -> Result<(), Failure> {
        self.look_along(sitting, wall, out)?;
        let ground = ground(sitting, answer, wall);
        let watch = &sitting.watch;
        self.standing = Scene { watch, answer, due: &self.due, ground, wall }.alarms();
        for alarm in self.said.raise(self.standing.clone()) {
            out.say("alarm", &format!("{}; ! acknowledges it", alarm.words))?;
            record(sitting, wall, What::Alarm { words: alarm.words });
            self.spoken = Some(wall);
        }
        if self.spoken.is_none_or(|spoken| wall.duration_since(spoken).abs() >= AGAIN) {
            self.spoken = Some(wall);
            for alarm in self.unseen() {
                out.say("alarm", &format!("{}; still not acknowledged: !", alarm.words))?;
            }
        }
        Ok(())
    }

    /// The operator has heard them.
    pub fn acknowledge(
        &mut self,
        sitting: &mut Sitting,
        wall: Timestamp,
        out: &mut Out,
    ) -> Result<(), Failure> {
        let unseen: Vec<Alarm> = self.unseen().cloned().collect();
        if unseen.is_empty() {
            return out.say("acknowledged", "no alarm stands");
        }
        for alarm in &unseen {
            self.said.acknowledge(alarm);
            out.say("acknowledged", &alarm.words)?;
        }
        let alarms = unseen.into_iter().map(|alarm| alarm.words).collect();
        record(sitting, wall, What::Acknowledged { alarms });
        Ok(())
    }

    fn unseen(&self) -> impl Iterator<Item = &Alarm> {
        self.standing.iter().filter(|alarm| !self.said.is_acknowledged(alarm))
    }

    /// Asks for what should come to paint on the run, where it is another than was asked about last.
    fn look_along(
        &mut self,
        sitting: &Sitting,
        wall: Timestamp,
        out: &mut Out,
    ) -> Result<(), Failure> {
        let run = sitting.watch.run(sitting.watch.own_time(wall));
        if run != self.run {
            if !run.as_ref().zip(self.run.as_ref()).is_some_and(|(run, last)| run.goes_on(last)) {
                self.due.clear();
            }
            self.run.clone_from(&run);
            if let Some(run) = run {
                // Without the thread that lists, nothing is told as late.
                drop(self.runs.send(Box::new(run)));
            }
        }
        for (run, due) in self.listed.try_iter().collect::<Vec<_>>() {
            if self.run.as_ref() != Some(run.as_ref()) {
                continue;
            }
            match due {
                Some(due) => self.due = due,
                None => out.say("caution", "what should come to paint could not be worked out")?,
            }
        }
        Ok(())
    }
}

/// The highest charted ground ahead of where we are by now, while the watch runs with the clock.
fn ground(sitting: &Sitting, answer: Option<&Answer>, wall: Timestamp) -> Option<GroundAhead> {
    let watch = &sitting.watch;
    if !watch.is_live(wall) {
        return None;
    }
    let reckoning = watch.reckoning()?;
    let (track, speed) = (reckoning.track?, reckoning.speed?);
    let here = watch.carried(answer.and_then(Answer::estimate), wall)?;
    catch_unwind(AssertUnwindSafe(|| ground_ahead(&sitting.chart, here, track, speed))).ok()?
}

fn record(sitting: &mut Sitting, wall: Timestamp, what: What) {
    let time = sitting.watch.own_time(wall);
    if sitting.keeper.is_open() {
        // What fails here waits in memory for the next entry, which tells of it.
        let _ = sitting.keeper.keep(time, what, None);
    }
}
