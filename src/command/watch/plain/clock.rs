//! The machine's clock, where it goes back.

use jiff::Timestamp;

use super::super::Sitting;
use super::Out;
use crate::command::failure::Failure;
use crate::watch::log::What;

/// Says and logs that the clock went back: what is entered from then on is by the new one.
///
/// - `shown`: what it showed when it was last looked at; it is brought up to `wall`.
pub(super) fn look(
    sitting: &mut Sitting,
    shown: &mut Timestamp,
    wall: Timestamp,
    out: &mut Out,
) -> Result<(), Failure> {
    let before = std::mem::replace(shown, wall);
    let Some(what) = What::clock_back(before, wall) else { return Ok(()) };
    out.say("caution", &sitting.watch.say(&what))?;
    if sitting.keeper.is_open() {
        let time = sitting.watch.own_time(wall);
        // What fails here waits in memory for the next entry, which tells of it.
        let _ = sitting.keeper.keep(time, what, None);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::Arc;

    use jiff::SignedDuration;

    use super::*;
    use crate::chart::{Chart, Folders};
    use crate::command::common::{Common, Format};
    use crate::command::landfall::SIGHTINGS;
    use crate::contact::Sightings;
    use crate::screen::Tour;
    use crate::watch::log::Log;
    use crate::watch::{Keeper, Watch};

    #[test]
    fn a_clock_that_goes_back_is_said_and_logged_once() {
        let sightings = Sightings::parse(SIGHTINGS, "landfall", Path::new("")).unwrap();
        let from = sightings.reckoning.time;
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("watch.log");
        let (open, replay) = Log::open(&log).unwrap();
        let mut sitting = Sitting {
            chart: Arc::new(Chart::sample().unwrap()),
            folders: Folders::default(),
            watch: Watch::from_sightings(&sightings),
            keeper: Keeper::in_log(open, &replay.records, from, Vec::new()).unwrap(),
            notices: Vec::new(),
            tour: Tour::default(),
        };
        let output = folder.path().join("out.txt");
        let common =
            Common { chart: Vec::new(), format: Format::Text, output: Some(output.clone()) };
        let mut out = Out::new(&common).unwrap();
        let mut shown = from;
        for seconds in [0, 2, 1, -60, -58] {
            let wall = from + SignedDuration::from_secs(seconds);
            look(&mut sitting, &mut shown, wall, &mut out).unwrap();
        }
        let said = std::fs::read_to_string(output).unwrap();
        let back = What::Clock {
            from: from + SignedDuration::from_secs(1),
            to: from - SignedDuration::from_secs(60),
        };
        assert_eq!(said, format!("caution: {}\n", sitting.watch.say(&back)));
        drop(sitting);
        let (_, replay) = Log::open(&log).unwrap();
        let told: Vec<What> = replay.records.into_iter().map(|record| record.what).collect();
        assert_eq!(told, [back]);
    }
}
