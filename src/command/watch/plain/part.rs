//! Another part of a large chart, taken in where the sitting needs it.

use std::sync::Arc;

use jiff::Timestamp;

use super::super::super::common::Format;
use super::super::super::failure::Failure;
use super::super::super::progress::Line;
use super::super::{Sitting, now};
use super::Out;
use crate::chart::Progress;
use crate::screen::Answer;
use crate::watch::area::{cover, may_try_again};

/// Said in place of what the chart at hand cannot tell.
pub(super) const LACKING: &str =
    "the coast about here is not taken in: nothing is worked out by it";

/// How it stands with the part of the chart at hand.
#[derive(Debug, Default)]
pub(super) struct Part {
    failed: Option<Timestamp>,
    lacks: bool,
}

impl Part {
    /// Some of what the sitting asks about is not at hand, and could not be taken in.
    pub(super) fn lacks(&self) -> bool {
        self.lacks
    }
}

/// Takes in another part of the chart where one is wanted; tells whether all that is asked about is at
/// hand. `answer`: the latest, where it is of the sitting as it stands.
pub(super) fn take_in(
    sitting: &mut Sitting,
    answer: Option<&Answer>,
    part: &mut Part,
    out: &mut Out,
) -> Result<bool, Failure> {
    let wall = now();
    let at = sitting.watch.own_time(wall);
    let here = sitting.watch.carried(answer.and_then(Answer::estimate), at);
    let asked = sitting.watch.asks_about(here, at);
    let now = cover(&sitting.chart, &asked);
    part.lacks = !now.is_enough();
    let tried = part.failed.is_some_and(|at| !may_try_again(at, wall));
    if let Some(area) = now.wanted().filter(|_| !tried) {
        out.say("chart", &format!("taking in the coast about {}", area.centre()))?;
        let line = Line::new(out.format == Format::Text);
        let opened = sitting.folders.open_about(area, &|it: Progress<'_>| line.tell(it));
        match opened {
            Ok(chart) => {
                let before = std::mem::replace(&mut sitting.chart, Arc::new(chart));
                let known = before.cautions();
                for caution in sitting.chart.cautions().iter().filter(|told| !known.contains(told))
                {
                    out.say("caution", caution)?;
                }
                *part = Part { failed: None, lacks: !cover(&sitting.chart, &asked).is_enough() };
            }
            Err(error) => {
                part.failed = Some(wall);
                out.say("caution", &format!("the coast about here is not taken in: {error}"))?;
            }
        }
    }
    Ok(!part.lacks)
}
