//! What must not be overlooked, said as it comes up: also while nothing is typed.

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use jiff::{SignedDuration, Timestamp};

use super::super::Sitting;
use super::Out;
use crate::chart::Chart;
use crate::command::failure::Failure;
use crate::geodesy::{Position, distance};
use crate::screen::{AlarmScene, AlarmsSaid, Answer};
use crate::units::{Bearing, Height, Speed, True};
use crate::watch::alarm::{Alarm, GroundAhead, NEW_LOOK, NEW_LOOK_NM, ground_along};
use crate::watch::along::{Coming, Due, Run, start_lookout};
use crate::watch::log::What;

/// What is not acknowledged is said again so long after.
const AGAIN: SignedDuration = SignedDuration::from_secs(60);

/// What the ground ahead was asked for from.
#[derive(Debug, Clone)]
struct Asked {
    wall: Timestamp,
    from: Position,
    /// Track and speed of each stretch of the run.
    over: Vec<(Bearing<True>, Speed)>,
    own: Height,
}

impl Asked {
    /// Whether what was found then still stands: not for long, nor far on.
    fn stands(&self, now: &Self) -> bool {
        (&self.over, self.own) == (&now.over, now.own)
            && now.wall.duration_since(self.wall).abs() < NEW_LOOK
            && distance(self.from, now.from).nautical_miles() < NEW_LOOK_NM
    }
}

/// The alarms of a sitting.
pub(super) struct Alarms {
    /// None where no thread can be had: nothing is then told as late.
    runs: Option<Sender<(Arc<Chart>, Box<Run>)>>,
    listed: Receiver<(Box<Run>, Coming)>,
    run: Option<Run>,
    /// What comes to paint on it has been asked, by a coast that is at hand.
    is_run_asked: bool,
    due: Arc<Vec<Due>>,
    ground: Option<(Asked, GroundAhead)>,
    said: AlarmsSaid,
    standing: Vec<Alarm>,
    /// When each was last spoken of.
    spoken: BTreeMap<String, Timestamp>,
}

impl Alarms {
    /// With a thread of its own for what takes longer than a line may wait.
    pub fn new(out: &mut Out) -> Result<Self, Failure> {
        let (told, listed) = channel();
        let tell = move |run, due| told.send((run, due)).is_ok();
        let runs = start_lookout(tell);
        if let Err(error) = &runs {
            out.say("caution", &format!("nothing will be told as late to paint: {error}"))?;
        }
        Ok(Self {
            runs: runs.ok(),
            listed,
            run: None,
            is_run_asked: false,
            due: Arc::default(),
            ground: None,
            said: AlarmsSaid::default(),
            standing: Vec::new(),
            spoken: BTreeMap::new(),
        })
    }

    /// Says and logs what has newly come up, and once a minute what still stands unacknowledged.
    ///
    /// - `lacks`: the coast about here is not at hand.
    pub fn look(
        &mut self,
        sitting: &mut Sitting,
        (answer, lacks): (Option<&Answer>, bool),
        wall: Timestamp,
        out: &mut Out,
    ) -> Result<(), Failure> {
        self.look_along(sitting, lacks, wall, out)?;
        let ground = self.ground(sitting, answer, wall);
        let watch = &sitting.watch;
        self.standing = AlarmScene { watch, answer, due: &self.due, ground, wall }.alarms();
        for alarm in self.said.raise(self.standing.clone(), wall) {
            out.say("alarm", &format!("{}; ! acknowledges it", alarm.words))?;
            record(sitting, wall, What::Alarm { words: alarm.words });
            self.spoken.insert(alarm.of, wall);
        }
        let standing = &self.standing;
        self.spoken.retain(|of, _| standing.iter().any(|alarm| alarm.of == *of));
        for alarm in unseen(&self.said, &self.standing) {
            let spoken = self.spoken.get(&alarm.of).copied();
            if spoken.is_none_or(|spoken| wall.duration_since(spoken).abs() >= AGAIN) {
                out.say("alarm", &format!("{}; still not acknowledged: !", alarm.words))?;
                self.spoken.insert(alarm.of.clone(), wall);
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
        let unseen: Vec<Alarm> = unseen(&self.said, &self.standing).cloned().collect();
        if unseen.is_empty() {
            let still = self.standing.iter().map(|alarm| alarm.words.as_str()).collect::<Vec<_>>();
            return match still[..] {
                [] => out.say("acknowledged", "no alarm stands"),
                _ => out.say("acknowledged", &format!("before, still so: {}", still.join("; "))),
            };
        }
        for alarm in &unseen {
            self.said.acknowledge(alarm);
            out.say("acknowledged", &alarm.words)?;
        }
        let alarms = unseen.into_iter().map(|alarm| alarm.words).collect();
        record(sitting, wall, What::Acknowledged { alarms });
        Ok(())
    }

    /// Asks for what should come to paint on the run, where it is another than was asked about last. By a
    /// coast that is not at hand nothing is asked: it is once that is.
    fn look_along(
        &mut self,
        sitting: &Sitting,
        lacks: bool,
        wall: Timestamp,
        out: &mut Out,
    ) -> Result<(), Failure> {
        let run = sitting.watch.run(sitting.watch.own_time(wall));
        if run != self.run {
            if Run::is_another(run.as_ref(), self.run.as_ref()) {
                self.due = Arc::default();
            }
            self.run.clone_from(&run);
            self.is_run_asked = false;
        }
        // What was due stays so meanwhile: an alarm does not go silent because coast is wanting.
        if lacks {
            self.is_run_asked = false;
        } else if !self.is_run_asked {
            self.is_run_asked = true;
            if let Some((runs, run)) = self.runs.as_ref().zip(run) {
                drop(runs.send((Arc::clone(&sitting.chart), Box::new(run))));
            }
        }
        for (run, due) in self.listed.try_iter().collect::<Vec<_>>() {
            if self.run.as_ref() != Some(run.as_ref()) {
                continue;
            }
            match due {
                Coming::Told(due) => self.due = due,
                Coming::Failed => {
                    out.say("caution", "what should come to paint could not be worked out")?;
                }
            }
        }
        Ok(())
    }

    /// What the chart says of the ground ahead of where we are by now, while the watch runs with the clock.
    fn ground(
        &mut self,
        sitting: &Sitting,
        answer: Option<&Answer>,
        wall: Timestamp,
    ) -> Option<GroundAhead> {
        let watch = &sitting.watch;
        if !watch.is_live(wall) {
            return None;
        }
        let here = watch.carried(answer.and_then(Answer::estimate), wall)?;
        let run = watch.run_for_ground(here, wall);
        let over = run.iter().map(|stretch| stretch.over).collect();
        let asked = Asked { wall, from: here.0, over, own: watch.own().least_height() };
        if !self.ground.as_ref().is_some_and(|(before, _)| before.stands(&asked)) {
            let look = || ground_along(&sitting.chart, &run, asked.own);
            let found = catch_unwind(AssertUnwindSafe(look)).unwrap_or(Some(GroundAhead::FAILED));
            self.ground = found.map(|found| (asked, found));
        }
        self.ground.as_ref().map(|(_, found)| *found)
    }
}

fn unseen<'a>(said: &AlarmsSaid, standing: &'a [Alarm]) -> impl Iterator<Item = &'a Alarm> {
    standing.iter().filter(|alarm| !said.is_acknowledged(alarm))
}

fn record(sitting: &mut Sitting, wall: Timestamp, what: What) {
    let time = sitting.watch.own_time(wall);
    if sitting.keeper.is_open() {
        // What fails here waits in memory for the next entry, which tells of it.
        let _ = sitting.keeper.keep(time, what, None);
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::chart::Folders;
    use crate::command::common::{Common, Format};
    use crate::contact::Sightings;
    use crate::screen::Tour;
    use crate::watch::{Keeper, Watch};

    #[test]
    fn what_comes_to_paint_is_asked_once_the_coast_is_at_hand() {
        let text = include_str!("../../../../charts-sample/landfall.toml");
        let sightings = Sightings::parse(text, "landfall", Path::new("")).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let sitting = Sitting {
            chart: Arc::new(Chart::sample().unwrap()),
            folders: Folders::default(),
            watch: Watch::from_sightings(&sightings),
            keeper: Keeper::later(folder.path().join("watch.log"), Vec::new()),
            notices: Vec::new(),
            tour: Tour::default(),
        };
        let output = Some(folder.path().join("out.txt"));
        let common = Common { chart: Vec::new(), format: Format::Text, output };
        let mut out = Out::new(&common).unwrap();
        let mut alarms = Alarms::new(&mut out).unwrap();
        let wall = sightings.reckoning.time;
        let (runs, asked) = channel();
        alarms.runs = Some(runs);
        // By a coast that is not at hand nothing is asked.
        alarms.look_along(&sitting, true, wall, &mut out).unwrap();
        assert!(asked.try_recv().is_err());
        alarms.look_along(&sitting, false, wall, &mut out).unwrap();
        let (_, run) = asked.try_recv().unwrap();
        assert_eq!(Some(*run), sitting.watch.run(wall));
        alarms.look_along(&sitting, false, wall, &mut out).unwrap();
        assert!(asked.try_recv().is_err(), "the same is not asked twice");
        // Coast is wanting again: what was due stays, and is asked for anew afterwards.
        let due = Arc::clone(&alarms.due);
        alarms.look_along(&sitting, true, wall, &mut out).unwrap();
        assert!(Arc::ptr_eq(&alarms.due, &due) && asked.try_recv().is_err());
        alarms.look_along(&sitting, false, wall, &mut out).unwrap();
        assert!(Arc::ptr_eq(&alarms.due, &due) && asked.try_recv().is_ok());
    }

    #[test]
    fn ground_is_asked_for_anew_from_another_height_track_or_place_and_in_time() {
        let wall: Timestamp = "2031-03-09T03:40:00Z".parse().unwrap();
        let place = |lat: f64| Position::new(lat, -21.0).unwrap();
        let knots = |value: f64| Speed::from_knots(value).unwrap();
        let feet = |value: f64| Height::from_feet(value).unwrap();
        let over = |degrees, speed| vec![(Bearing::wrapped_degrees(degrees), knots(speed))];
        let asked = Asked { wall, from: place(-38.0), over: over(74.0, 165.0), own: feet(6_000.0) };
        let later = |seconds| wall + SignedDuration::from_secs(seconds);
        assert!(asked.stands(&Asked { wall: later(8), from: place(-38.005), ..asked.clone() }));
        for now in [
            Asked { wall: later(10), ..asked.clone() },
            Asked { from: place(-38.01), ..asked.clone() },
            Asked { over: over(80.0, 165.0), ..asked.clone() },
            Asked { over: over(74.0, 150.0), ..asked.clone() },
            // A turn typed ahead.
            Asked { over: [over(74.0, 165.0), over(80.0, 165.0)].concat(), ..asked.clone() },
            Asked { own: feet(2_000.0), ..asked.clone() },
        ] {
            assert!(!asked.stands(&now), "{now:?}");
        }
    }
}
