//! Outlines of one stretch of shore, traced more than once.
//!
//! The chart errs under a stretch of shore once, however often that is traced: traced again it would bear
//! itself out. The outline of most points counts, of as many the latest.

use geo::{Distance, Euclidean};
use geo_types::{Coord, LineString, Point};

use crate::contact::{Outline, Sightings};
use crate::geodesy::PlanePoint;
use crate::radar::geometry::{EarthRadius, ground_range};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, True};

/// Traces of one shore lie no farther apart than this, in metres: ranges and the run between them err (our own
/// figure).
const APART_M: f64 = METRES_PER_NAUTICAL_MILE;
/// Two are of one stretch where so much of either lies along the other.
const SHARED: f64 = 0.5;

/// An outline that is left out, and the one of the same shore that counts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Retraced {
    left_out: String,
    counts: String,
}

/// The sightings with one outline of each stretch of shore, and those left out.
pub(super) fn one_trace_each(mut sightings: Sightings) -> (Sightings, Vec<Retraced>) {
    if sightings.outlines.len() < 2 {
        return (sightings, Vec::new());
    }
    let mut order: Vec<(usize, LineString)> =
        sightings.outlines.iter().map(|outline| line(&sightings, outline)).enumerate().collect();
    let outline = |index: usize| sightings.outlines.get(index);
    order.sort_by_key(|(index, line)| {
        std::cmp::Reverse((line.0.len(), outline(*index).map(|it| it.time), *index))
    });
    let mut kept: Vec<(usize, LineString)> = Vec::new();
    let mut retraced = Vec::new();
    for (index, line) in order {
        let known = kept.iter().find(|(_, other)| is_of_one_stretch(&line, other));
        let known = known.and_then(|(known, _)| outline(*known).zip(outline(index)));
        match known {
            Some((counts, out)) => retraced
                .push(Retraced { left_out: out.label.clone(), counts: counts.label.clone() }),
            None => kept.push((index, line)),
        }
    }
    kept.sort_by_key(|(index, _)| *index);
    sightings.outlines = kept.iter().filter_map(|(index, _)| outline(*index).cloned()).collect();
    (sightings, retraced)
}

/// Where an outline lies from own place at the reckoning's time, by the run.
fn line(sightings: &Sightings, outline: &Outline) -> LineString {
    let reckoning = &sightings.reckoning;
    let run = reckoning.displacement(reckoning.time, outline.time);
    let radius = EarthRadius::towards(reckoning.position, Bearing::<True>::ZERO);
    let points = outline.points.iter().map(|point| {
        let along = ground_range(point.range, outline.own_height, Height::SEA_LEVEL, radius)
            .unwrap_or(GroundRange::ZERO);
        let PlanePoint { east, north } = PlanePoint::at(along, point.bearing);
        Coord { x: east + run.east, y: north + run.north }
    });
    LineString::new(points.collect())
}

fn is_of_one_stretch(one: &LineString, other: &LineString) -> bool {
    let shared = |of: &LineString, by: &LineString| {
        let near = of.0.iter().filter(|at| Euclidean.distance(&Point(**at), by) <= APART_M);
        near.count() as f64 >= SHARED * of.0.len().max(1) as f64
    };
    shared(one, other) || shared(other, one)
}

/// In words, of each left out.
pub(super) fn cautions(retraced: &[Retraced]) -> Vec<String> {
    let said = |Retraced { left_out, counts }: &Retraced| {
        format!(
            "outline {left_out} is of the shore that {counts} is of, and is left out: one stretch of shore \
             counts once, however often it is traced"
        )
    };
    retraced.iter().map(said).collect()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::chart::Chart;
    use crate::fix::{Options, fix};

    fn outline_of_the_sample() -> (String, String) {
        let text = include_str!("../../charts-sample/outline.toml");
        let at = text.find("[[outline]]").unwrap();
        (text.get(..at).unwrap().to_owned(), text.get(at..).unwrap().to_owned())
    }

    #[test]
    fn a_shore_traced_twice_counts_once() {
        let chart = Chart::sample().unwrap();
        let (head, outline) = outline_of_the_sample();
        let again = outline.replace("\"K\"", "\"L\"");
        let read = |text: &str| Sightings::parse(text, "outline.toml", Path::new("")).unwrap();
        let once = fix(&chart, &read(&format!("{head}{outline}")), &Options::default());
        let twice = fix(&chart, &read(&format!("{head}{outline}{again}")), &Options::default());
        assert_eq!((twice.probability, twice.ellipse), (once.probability, once.ellipse));
        assert_eq!(twice.outlines.len(), 1);
        let told = "outline K is of the shore that L is of, and is left out";
        assert!(
            twice.cautions.iter().any(|caution| caution.starts_with(told)),
            "{:?}",
            twice.cautions
        );
        assert!(!once.cautions.iter().any(|caution| caution.contains("counts once")));
    }

    #[test]
    fn shores_apart_are_two() {
        let line = |north: f64| {
            let points = (0..20).map(|at| Coord { x: 500.0 * f64::from(at), y: north });
            LineString::new(points.collect())
        };
        assert!(is_of_one_stretch(&line(0.0), &line(1800.0)));
        assert!(!is_of_one_stretch(&line(0.0), &line(1900.0)));
        // A short piece of a long one.
        let piece = LineString::new(line(300.0).0.into_iter().take(4).collect());
        assert!(is_of_one_stretch(&piece, &line(0.0)));
    }
}
