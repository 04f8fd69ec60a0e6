//! What the grids of a chart hold, as far as their heights have been read.

use super::ground::{Facts, Grid, Ground, height_of};
use super::survey::{GridHeights, GridSurvey};

/// What is told of heights that were read on the way, and has not been told.
pub(super) fn told_newly(told: &[String], ground: &Ground) -> Vec<String> {
    ground.told_late().into_iter().filter(|caution| !told.contains(caution)).collect()
}

/// Adds what became known of heights read on the way; with `all`, of all others too.
pub(super) fn survey_heights(survey: &mut [GridSurvey], ground: &Ground, all: bool) {
    for told in survey.iter_mut().filter(|told| told.heights.is_none()) {
        let grid = ground.grids().iter().find(|grid| grid.file == told.file);
        let facts = grid.and_then(|grid| if all { grid.facts() } else { grid.known_facts() });
        told.heights = facts.map(heights_of);
    }
}

/// Of a grid, its heights where they are known.
pub(super) fn survey_of(grid: &Grid) -> GridSurvey {
    GridSurvey {
        file: grid.file.clone(),
        columns: grid.frame.columns,
        rows: grid.frame.rows,
        step_deg: grid.step_deg(),
        extent: grid.extent(),
        heights: grid.known_facts().map(heights_of),
    }
}

fn heights_of(facts: Facts) -> GridHeights {
    let Facts { voids, lowest, highest } = facts;
    GridHeights { lowest: height_of(lowest), highest: height_of(highest), voids }
}
