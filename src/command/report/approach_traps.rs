use super::planned::{Planned, told_at};
use super::words::from_nearest_mark;
use crate::chart::MarkId;
use crate::geodesy::Position;
use crate::paint::approach::{LandShows, Trap};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// A trap in plain words.
pub(super) fn trap_words(planned: &Planned<'_>, trap: &Trap) -> String {
    let words = Words { planned };
    match trap {
        Trap::GroundFirst { shore_at, ground, mark, shore } => {
            words.ground_first(*shore_at, ground, *mark, shore.as_ref())
        }
        Trap::LowShore { shore_at, closest, ground, mark } => {
            words.low_shore(*shore_at, *closest, ground.as_ref(), *mark)
        }
    }
}

struct Words<'a, 'p> {
    planned: &'a Planned<'p>,
}

impl Words<'_, '_> {
    fn place(&self, at: Position) -> String {
        from_nearest_mark(self.planned.chart, at).unwrap_or_else(|| at.to_string())
    }

    fn when(&self, land: &LandShows) -> String {
        told_at(self.planned, land.seconds)
    }

    /// The ground that answers, by the mark that stands on it where one does.
    fn ground(&self, mark: Option<MarkId>, ground: &LandShows) -> String {
        match mark.and_then(|mark| self.planned.chart.marks().get(mark)) {
            Some(mark) => {
                let (name, kind) = (&mark.name, mark.kind.as_str());
                format!("ground by {name} ({kind} of {:.0} ft)", mark.height.feet())
            }
            None => format!("ground of {:.0} ft", ground.echo.height.feet()),
        }
    }

    /// Ground inland is the first echo on the bearing of a shore.
    fn ground_first(
        &self,
        shore_at: Position,
        ground: &LandShows,
        mark: Option<MarkId>,
        shore: Option<&LandShows>,
    ) -> String {
        let behind = ground.echo.behind.nautical_miles();
        let range = ground.echo.range.nautical_miles();
        let first = format!(
            "On the bearing of the shore {} the first echo is {}, {behind:.1} NM \
             behind it: it paints at {}, {range:.1} NM off. The shore is then {behind:.1} NM \
             nearer than the echo, {:.1} NM off",
            self.place(shore_at),
            self.ground(mark, ground),
            self.when(ground),
            (range - behind).max(0.0)
        );
        match shore {
            Some(shore) => format!(
                "{first}; the shore paints {:.0} min later, at {}.",
                (shore.seconds - ground.seconds) / 60.0,
                self.when(shore)
            ),
            None => format!("{first}, and the shore does not paint on this run."),
        }
    }

    /// A shore does not paint though it comes near.
    fn low_shore(
        &self,
        shore_at: Position,
        closest: GroundRange,
        ground: Option<&LandShows>,
        mark: Option<MarkId>,
    ) -> String {
        let first = format!(
            "The shore {} does not paint on this run, though it comes within {:.1} NM",
            self.place(shore_at),
            closest.metres() / METRES_PER_NAUTICAL_MILE
        );
        match ground {
            Some(ground) => format!(
                "{first}: what paints there, from {}, is {}, {:.1} NM behind it.",
                self.when(ground),
                self.ground(mark, ground),
                ground.echo.behind.nautical_miles()
            ),
            None => format!("{first}; no ground behind it does so before it."),
        }
    }
}
