//! What a layer holds, counted shape by shape, and what is odd in it, in words.

use super::coast::{LonLat, ReadOddities};
use super::geobox::GeoBox;
use super::shapes::Geometry;
use super::survey::LayerSurvey;

/// Counts one shape into a survey.
pub(super) fn count(survey: &mut LayerSurvey, geometry: &Geometry) {
    let mut add = |points: &[LonLat]| {
        survey.parts += 1;
        survey.vertices += points.len();
        // Longitudes may jump over the date line inside one part: a box of each point joins right.
        let first = points.first().copied();
        let bounds = points.iter().fold(None::<(LonLat, LonLat)>, |bounds, p| {
            let (low, high) = bounds.unwrap_or((*p, *p));
            Some((
                LonLat { lon: low.lon.min(p.lon), lat: low.lat.min(p.lat) },
                LonLat { lon: high.lon.max(p.lon), lat: high.lat.max(p.lat) },
            ))
        });
        if let (Some(_), Some((low, high))) = (first, bounds) {
            let bounds = GeoBox::new(low.lat, low.lon, high.lat, high.lon);
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
