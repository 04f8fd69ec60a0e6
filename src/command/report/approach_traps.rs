use super::planned::{Planned, clock_at};
use super::words::{from_nearest_mark, hour};
use crate::paint::approach::{LandShows, Trap};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// A trap in plain words.
pub(super) fn trap_words(planned: &Planned<'_>, trap: &Trap) -> String {
    let place = |at| from_nearest_mark(planned.chart, at).unwrap_or_else(|| at.to_string());
    let when = |land: &LandShows| hour(clock_at(planned.start, land.seconds));
    let name = |mark: &Option<crate::chart::MarkId>, ground: &LandShows| {
        let mark = mark.and_then(|mark| planned.chart.marks().get(mark));
        let height = ground.echo.height.feet();
        match mark {
            Some(mark) => {
                format!(
                    "ground by {} ({} of {:.0} ft)",
                    mark.name,
                    mark.kind.as_str(),
                    mark.height.feet()
                )
            }
            None => format!("ground of {height:.0} ft"),
        }
    };
    match trap {
        Trap::GroundFirst { shore_at, ground, mark, shore } => {
            let behind = ground.echo.behind.nautical_miles();
            let range = ground.echo.range.nautical_miles();
            let first = format!(
                "On the bearing of the shore {} the first echo is {}, {behind:.1} NM \
                 behind it: it paints at {}, {range:.1} NM off. The shore is then {behind:.1} NM \
                 nearer than the echo, {:.1} NM off",
                place(*shore_at),
                name(mark, ground),
                when(ground),
                (range - behind).max(0.0)
            );
            match shore {
                Some(shore) => format!(
                    "{first}; the shore paints {:.0} min later, at {}.",
                    (shore.seconds - ground.seconds) / 60.0,
                    when(shore)
                ),
                None => format!("{first}, and the shore does not paint on this run."),
            }
        }
        Trap::LowShore { shore_at, closest, ground, mark } => {
            let first = format!(
                "The shore {} does not paint on this run, though it comes within {:.1} NM",
                place(*shore_at),
                closest.metres() / METRES_PER_NAUTICAL_MILE
            );
            match ground {
                Some(ground) => format!(
                    "{first}: what paints there, from {}, is {}, {:.1} NM behind it.",
                    when(ground),
                    name(mark, ground),
                    ground.echo.behind.nautical_miles()
                ),
                None => format!("{first}; no ground behind it does so before it."),
            }
        }
    }
}
