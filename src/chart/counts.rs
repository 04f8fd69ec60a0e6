//! What a layer holds, counted shape by shape, and what is odd in it, in words.

use super::coast::{LonLat, ReadOddities, box_of, continuous};
use super::shapes::Geometry;
use super::survey::LayerSurvey;

/// Counts one shape into a survey.
pub(super) fn count(survey: &mut LayerSurvey, geometry: &Geometry) {
    let mut add = |points: &[LonLat]| {
        survey.parts += 1;
        survey.vertices += points.len();
        let plain = box_of(points);
        // Only one as wide as that may have longitudes that jump over the date line.
        let bounds = if plain.is_some_and(|plain| plain.east - plain.west > 180.0) {
            box_of(&continuous(points.iter().copied()))
        } else {
            plain
        };
        if let Some(bounds) = bounds {
            survey.extent = Some(survey.extent.map_or(bounds, |all| all.joined(&bounds)));
        }
    };
    match geometry {
        Geometry::Empty => survey.empty += 1,
        Geometry::Points(points) => points.chunks(1).for_each(&mut add),
        Geometry::Lines(parts) | Geometry::Rings(parts) => {
            for part in parts {
                add(part);
            }
        }
    }
}

/// What was odd, in words.
pub(super) fn in_words(odd: ReadOddities, without_height: usize, empty: usize) -> Vec<String> {
    let told = [
        (empty, "empty shapes"),
        (odd.slivers, "rings of fewer than three places, left out"),
        (odd.reversed, "rings that run against the format's way round, taken the other way"),
        (odd.stray_holes, "holes outside any ring, taken as land"),
        (without_height, "contours without a height, left out"),
    ];
    told.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{n} {what}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_jumps_over_the_date_line_is_no_wider_for_it() {
        let point = |lon, lat| LonLat { lon, lat };
        let line = vec![point(179.5, 1.0), point(-179.5, 2.0), point(-179.0, 1.5)];
        let mut survey = LayerSurvey::default();
        count(&mut survey, &Geometry::Lines(vec![line]));
        let area = survey.extent.unwrap();
        assert!((area.west - 179.5).abs() < 1e-9 && (area.east - 181.0).abs() < 1e-9, "{area:?}");
        assert_eq!((survey.parts, survey.vertices), (1, 3));
    }
}
