//! What was read of a chart's folders, joined into the chart.

use std::collections::HashMap;
use std::sync::Arc;

use super::LandSide;
use super::accuracy::Accuracy;
use super::coast::Coast;
use super::disagreement::disagreement;
use super::error::ChartError;
use super::geobox::GeoBox;
use super::grid_survey::{survey_heights, survey_of, told_newly};
use super::ground::{ByDegree, Ground, Told, numbers_at};
use super::headlands::{self, Scope, found_marks, may_be};
use super::layers::ChartedMark;
use super::marks::{Mark, MarkKind, Marks};
use super::open::{Chart, Read};
use super::opening::{Doing, How, Progress};
use super::outside::ground_outside;
use super::parts::Parts;
use super::prepared::Part;
use super::source::Source;
use super::survey::{Disagreement, GridSurvey, Survey};
use super::without_grid::without_grid;
use crate::geodesy::{Position, destination, distance};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// A charted point this near a headland found under its name is that headland, in metres.
const SAME_MARK_M: f64 = 3.0 * METRES_PER_NAUTICAL_MILE;

/// How far round a mark on the shoreline its ground is looked for, in metres.
const BESIDE_M: f64 = 200.0;

/// Grids with wider steps than this are cautioned, in metres: cliffs and islets fall between them.
const COARSE_M: f64 = 1_000.0;

/// So many layers that were not read are named where a chart is empty.
const MOST_ODD_TOLD: usize = 3;

impl Parts {
    /// Joins what was read into a chart.
    pub(super) fn finish(self, sources: &[Source<'_>], how: &How<'_>) -> Result<Read, ChartError> {
        self.grids.check()?;
        let progress = |doing: Doing<'_>| (how.progress)(Progress { doing, share: 0.0 });
        let near = how.near.filter(|_| self.grids.are_fetched());
        let scope = near.map_or(how.scope, |area| Scope::Within(area, 0));
        progress(Doing::Indexing);
        let ((grids, left_out), contours) = (self.grids.into_grids(), self.contours.finish());
        let by_degree = ByDegree::of(&grids);
        let height = |at: Position| {
            let numbers = numbers_at(by_degree.as_ref(), grids.len(), at);
            let here = numbers.filter_map(|number| grids.get(number));
            Told::trusted(here.filter_map(|grid| grid.height(at)))
        };
        let coast = Arc::new(self.coast.finish(&height));
        if coast.line_count() == 0 && self.marks.is_empty() {
            let layers: Vec<&str> = self.layers.iter().map(|layer| layer.file.as_str()).collect();
            return Err(empty(sources, &layers, &self.odd));
        }
        let without_grid = without_grid(&coast, &grids, by_degree.as_ref());
        let mut cautions = self.cautions;
        cautions.extend(without_grid.map(|bare| bare.caution()));
        let mut survey_grids: Vec<GridSurvey> = grids.iter().map(survey_of).collect();
        let stated = stated(&self.marks);
        let profile = self.profile.unwrap_or_default();
        let cover = self.cover.finish(self.terrain);
        let ground = Ground::new(Arc::clone(&coast), grids, contours, &stated, profile, cover);
        let mut ground = ground.with_left_out(left_out);
        let mut accuracy = self.accuracy.unwrap_or_default();
        let disagreement = disagreement(&coast, &ground, near.as_ref());
        cautions.extend(widened(&mut accuracy, disagreement.as_ref(), &ground));
        let outside = ground_outside(&coast, &ground, near.as_ref());
        cautions.extend(outside.and_then(|outside| outside.caution()));
        let ground_outside = outside.map(|outside| outside.share);
        cautions.extend(of_ground(&ground));
        cautions.extend(of_coast(&coast));
        progress(Doing::SeekingMarks);
        let charted = with_heights(self.marks, &ground, near.as_ref());
        let found = found_marks(&coast, &mut ground, &accuracy, &charted, &scope);
        cautions.extend(found.cautions);
        let count = found.marks.len();
        let marks = Marks::new(merged(charted, found.marks));
        survey_heights(&mut survey_grids, &ground, near.is_none());
        cautions.extend(told_newly(&cautions, &ground));
        let (layers, grids, odd) = (self.layers, survey_grids, self.odd);
        let survey = Survey { layers, grids, disagreement, ground_outside, without_grid, odd };
        let charted = marks.len().saturating_sub(count);
        let name = self.names.join(" + ");
        let opened_about = found.about;
        let chart = Chart { name, coast, ground, marks, accuracy, cautions, survey, opened_about };
        Ok(Read { chart, charted, coast_layers: self.coast_layers })
    }

    /// A chart of what was read of it now, and of what an index holds of the rest.
    pub(super) fn complete(self, part: Part) -> Chart {
        let (coast, stated) = (Arc::new(part.coast), stated(&self.marks));
        let profile = self.profile.unwrap_or_default();
        let (contours, cover) = (self.contours.finish(), self.cover.finish(self.terrain));
        let (grids, left_out) = self.grids.into_grids();
        let ground = Ground::new(Arc::clone(&coast), grids, contours, &stated, profile, cover)
            .with_cells(part.cells)
            .with_left_out(left_out);
        let mut cautions = part.cautions;
        cautions.extend(told_newly(&cautions, &ground));
        Chart {
            name: part.name,
            coast,
            ground,
            marks: Marks::new(part.marks),
            accuracy: part.accuracy,
            cautions,
            survey: part.survey,
            opened_about: None,
        }
    }
}

/// The marks whose height the chart states.
fn stated(marks: &[ChartedMark]) -> Vec<Mark> {
    marks.iter().filter(|charted| charted.has_height).map(|charted| charted.mark.clone()).collect()
}

/// The refusal of a chart with nothing in it; the first `odd` layers that were not read are named with it.
fn empty(sources: &[Source<'_>], layers: &[&str], odd: &[String]) -> ChartError {
    let folders: Vec<String> = sources.iter().map(Source::name).collect();
    let nothing = match layers {
        [] => "no layer of coast or marks".to_owned(),
        _ => format!("no coast and no marks in {}", layers.join(", ")),
    };
    let told = odd.iter().take(MOST_ODD_TOLD).map(String::as_str);
    let why: Vec<&str> = std::iter::once(nothing.as_str()).chain(told).collect();
    ChartError::Empty { folder: folders.join(", "), why: why.join("; ") }
}

/// Takes what coast and grid lie apart as the chart's common error, where that is more, and says so.
fn widened(
    accuracy: &mut Accuracy,
    disagreement: Option<&Disagreement>,
    ground: &Ground,
) -> Option<String> {
    let apart = disagreement?.beyond_the_step(ground.cell_m());
    if apart <= accuracy.shift_sigma {
        return None;
    }
    let stated = std::mem::replace(&mut accuracy.shift_sigma, apart);
    Some(format!(
        "coast and grid lie {:.2} NM apart (median, beyond what the grid's step explains): \
         the chart's common error is taken as that instead of {:.2} NM",
        apart.nautical_miles(),
        stated.nautical_miles()
    ))
}

/// What an operator must know of how well heights are known.
fn of_ground(ground: &Ground) -> Vec<String> {
    let mut cautions = Vec::new();
    if let Some(cell) = ground.cell_m().filter(|cell| *cell > COARSE_M) {
        cautions.push(format!(
            "the elevation grid has one height every {:.1} NM: heights near the shore are \
             smoothed, and it cannot check where the coast lies",
            cell / METRES_PER_NAUTICAL_MILE
        ));
    }
    if !ground.has_grid() && !ground.has_contours() {
        let profile = ground.assumed_profile();
        cautions.push(format!(
            "no grid and no contours: ground is assumed to rise from {:.0} ft at the shore by \
             {:.1} % to {:.0} ft",
            profile.shore.feet(),
            100.0 * profile.rise,
            profile.cap.feet()
        ));
    }
    cautions
}

/// What an operator must know of where land is.
fn of_coast(coast: &Coast) -> Vec<String> {
    let mut cautions = Vec::new();
    if coast.lines().any(|(_, line)| line.land_side == LandSide::Unknown) {
        cautions.push("some open shorelines do not tell on which side their land lies".to_owned());
    }
    if coast.has_seams_unsought() {
        cautions.push(
            "polygons lie on each other along the same meridian or parallel so often that not all of \
             their seams were sought: some shore may be told where land goes on"
                .to_owned(),
        );
    }
    cautions.extend(headlands::cut_caution(coast));
    cautions
}

/// Gives marks without a height that of the ground they stand on; those outside an area, where there is
/// one, stay without.
///
/// A headland is charted at its tip, on the shoreline itself or a hair outside it: such a mark takes
/// the highest ground near by.
fn with_heights(marks: Vec<ChartedMark>, ground: &Ground, near: Option<&GeoBox>) -> Vec<Mark> {
    let stands = |charted: ChartedMark| {
        let mut mark = charted.mark;
        if !charted.has_height && near.is_none_or(|near| near.contains(mark.position)) {
            mark.height = ground_near(ground, mark.position);
        }
        mark
    };
    marks.into_iter().map(stands).collect()
}

/// The height of a place, or of the highest ground within `BESIDE_M` of one on or off the shore.
fn ground_near(ground: &Ground, at: Position) -> Height {
    let here = ground.at(at).height;
    if here > ground.assumed_profile().shore {
        return here;
    }
    let directions = (0..8).map(|i| Bearing::wrapped_degrees(45.0 * f64::from(i)));
    directions
        .map(|bearing| destination(at, bearing, GroundRange::clamped_metres(BESIDE_M)))
        .map(|beside| ground.at(beside).height)
        .fold(here, |high, height| if height > high { height } else { high })
}

/// Charted marks first, then those found; a charted point that lent its name to a headland found
/// near it gives way to it. A light or a town that is called as the headland it stands on stays, with
/// what it is behind its name.
fn merged(charted: Vec<Mark>, found: Vec<Mark>) -> Vec<Mark> {
    let mut marks: Vec<Mark> = {
        let mut lent: HashMap<&str, Vec<(Position, MarkKind)>> = HashMap::new();
        for mark in found.iter().filter(|mark| mark.named) {
            lent.entry(&mark.name).or_default().push((mark.position, mark.kind));
        }
        let beside = |mark: Mark| {
            let alike = lent.get(mark.name.as_str()).into_iter().flatten();
            let near = |(at, _): &&(Position, MarkKind)| {
                distance(*at, mark.position).metres() < SAME_MARK_M
            };
            let mut kinds = alike.filter(near).map(|(_, kind)| may_be(mark.kind, *kind)).peekable();
            if kinds.peek().is_none() {
                Some(mark)
            } else if kinds.any(|same| same) {
                None
            } else {
                let name = format!("{} ({})", mark.name, mark.kind.as_str());
                Some(Mark { name, ..mark })
            }
        };
        charted.into_iter().filter_map(beside).collect()
    };
    marks.extend(found);
    marks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_light_that_is_called_as_its_headland_stays_beside_it() {
        let at = |lat: f64| Position::new(lat, 10.0).unwrap();
        let mark = |name: &str, kind: MarkKind, lat: f64| Mark {
            name: name.to_owned(),
            named: true,
            kind,
            position: at(lat),
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 1.0,
        };
        let charted = vec![
            mark("Cape One", MarkKind::Light, 50.01),
            mark("Cape Two", MarkKind::Headland, 51.01),
            mark("Cape Three", MarkKind::Other, 52.01),
            // Another of that name, an hour's sailing away.
            mark("Cape One", MarkKind::Light, 55.0),
        ];
        let names = ["Cape One", "Cape Two", "Cape Three"];
        let found = names.iter().zip([50.0, 51.0, 52.0]);
        let found = found.map(|(name, lat)| mark(name, MarkKind::Headland, lat)).collect();
        let told: Vec<(String, MarkKind)> =
            merged(charted, found).into_iter().map(|mark| (mark.name, mark.kind)).collect();
        let expected = [
            ("Cape One (light)", MarkKind::Light),
            ("Cape One", MarkKind::Light),
            ("Cape One", MarkKind::Headland),
            ("Cape Two", MarkKind::Headland),
            ("Cape Three", MarkKind::Headland),
        ];
        assert_eq!(told, expected.map(|(name, kind)| (name.to_owned(), kind)));
    }
}
