use super::displaced::{Known, Runs, displaced};
use super::facing::{Place, facing};
use super::glance::{BEHIND_SHORE_M, Glance, LandEcho, ShoreSeen, Stand};
use super::passage::{Showing, Watched, planned};
use super::plan::Plan;
use super::spread::{Spread, spread};
use crate::geodesy::{Position, destination};
use crate::units::GroundRange;

/// A place of the shore that the run comes near, standing for the miles about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The place of the shore nearest to the track.
    pub at: Position,
    /// How near the track comes.
    pub closest: GroundRange,
    /// When land on its bearing first shows, shore or ground behind it; `None` where none does.
    pub land: Option<LandShows>,
    /// When the shore itself first shows.
    pub shore: Option<LandShows>,
}

/// Land begins to show, at even chances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandShows {
    /// It did so already where the run starts.
    pub at_start: bool,
    /// Along the track.
    pub run: GroundRange,
    /// From the start.
    pub seconds: f64,
    /// What shows then.
    pub echo: LandEcho,
    /// Where that is.
    pub place: Position,
    /// When it may be, by the reckoning's error.
    pub spread: Spread,
}

/// The shore that faces a run, in the order in which land first shows, what never shows last; and how
/// many places more there may be that are not followed.
pub(super) fn shores(glance: &Glance<'_>, plan: &Plan, length_m: f64) -> (Vec<Stretch>, usize) {
    let watcher = Watcher { glance, plan, length_m };
    let facing = facing(glance.chart, plan, length_m, glance.reach_m());
    let mut stretches = watcher.watch(&facing.places);
    let when = |stretch: &Stretch| stretch.land.map_or(f64::INFINITY, |land| land.seconds);
    stretches.sort_by(|a, b| {
        when(a)
            .total_cmp(&when(b))
            .then(a.closest.metres().total_cmp(&b.closest.metres()))
            .then(a.at.longitude().total_cmp(&b.at.longitude()))
    });
    (stretches, facing.left_out)
}

struct Watcher<'a> {
    glance: &'a Glance<'a>,
    plan: &'a Plan,
    length_m: f64,
}

/// When land on the bearing of a place first shows on the planned track, and the shore itself.
type Shown = [Option<(f64, ShoreSeen)>; 2];

impl Watcher<'_> {
    fn watch(&self, places: &[Place]) -> Vec<Stretch> {
        let shown = self.shown(places);
        let others = self.displaced(places, &shown);
        let stretch = |((place, shown), others): ((&Place, &Shown), Runs)| Stretch {
            at: place.at,
            closest: GroundRange::clamped_metres(place.off_m),
            land: self.told(shown, &others, 0),
            shore: self.told(shown, &others, 1),
        };
        places.iter().zip(&shown).zip(others).map(stretch).collect()
    }

    fn shown(&self, places: &[Place]) -> Vec<Shown> {
        let passage = planned(self.glance, self.plan, self.length_m);
        let watched = |place: &Place| Watched {
            at: place.at,
            behind_m: BEHIND_SHORE_M,
            asked: 2,
            stages: passage.stages(),
            fine: passage.stages(),
        };
        let watched: Vec<Watched> = places.iter().map(watched).collect();
        let look =
            |stand: &Stand<'_>, place: usize| self.glance.shore_from(stand, places[place].at);
        passage.firsts(&watched, look).into_iter().map(|firsts| firsts.shown).collect()
    }

    /// The same on displaced tracks, of what shows on the planned one.
    fn displaced(&self, places: &[Place], shown: &[Shown]) -> Vec<Runs> {
        let known = |(place, [land, shore]): (&Place, &Shown)| Known {
            at: place.at,
            behind_m: BEHIND_SHORE_M,
            run_m: land.map_or(0.0, |land| land.0),
            asked: usize::from(land.is_some()) + usize::from(shore.is_some()),
            entry_m: Box::new(|span, _| Some(span.0)),
        };
        let known: Vec<Known<'_>> = places.iter().zip(shown).map(known).collect();
        let look =
            |stand: &Stand<'_>, place: usize| self.glance.shore_from(stand, places[place].at);
        displaced(self.glance, (self.plan, self.length_m), &known, look)
    }

    fn told(&self, shown: &Shown, others: &Runs, which: usize) -> Option<LandShows> {
        let (run_m, seen) = (*shown.get(which)?)?;
        let echo = if which == 0 { seen.land } else { seen.shore }?;
        let mut runs = others.map(|runs| runs[which]);
        if run_m > 0.0 {
            runs[2] = Some(run_m);
        }
        Some(LandShows {
            at_start: run_m <= 0.0,
            run: GroundRange::clamped_metres(run_m),
            seconds: self.plan.seconds(run_m),
            place: destination(self.plan.at(run_m), echo.bearing, echo.ground_range),
            echo,
            spread: spread(self.plan, &runs, self.length_m),
        })
    }
}

/// By the land on its bearing, and by the shore itself.
impl Showing for ShoreSeen {
    fn shows(&self, measure: usize) -> bool {
        if measure == 0 { self.land.is_some() } else { self.shore.is_some() }
    }

    fn chance(&self) -> f64 {
        self.land.map_or(0.0, |land| land.chance)
    }
}
