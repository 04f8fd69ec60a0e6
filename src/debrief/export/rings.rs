//! Ellipses and tracks on a map that ends at 180°.

use std::f64::consts::TAU;

use crate::fix::Estimate;
use crate::geodesy::{LocalPlane, PlanePoint, Position};

/// Corners of an ellipse as drawn.
const CORNERS: usize = 48;

/// A longitude and a latitude, degrees; as maps write it.
pub type Point = [f64; 2];

/// The 95 % ellipse as rings, each closed and counter-clockwise: one, or two where it lies across
/// 180° (RFC 7946, 3.1.6 and 3.1.9).
///
/// One about a pole runs along 180° to the pole and back.
pub fn ellipse(place: &Estimate) -> Vec<Vec<Point>> {
    let ellipse = place.ellipse();
    let (long, short) =
        (ellipse.semi_major.metres().max(1.0), ellipse.semi_minor.metres().max(1.0));
    let (sin, cos) = ellipse.major_axis.sin_cos();
    let plane = LocalPlane::new(place.position);
    let corner = |at: usize| {
        // Counter-clockwise, seen from above with east to the right.
        let (up, along) = (TAU * at as f64 / CORNERS as f64).sin_cos();
        let (a, b) = (long * along, short * up);
        plane.to_position(PlanePoint { east: a * sin - b * cos, north: a * cos + b * sin })
    };
    let corners: Vec<Position> = (0..CORNERS).map(corner).collect();
    cut_ring(&unwrapped(&corners))
}

/// Longitudes without jumps.
fn unwrapped(places: &[Position]) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::with_capacity(places.len());
    for place in places {
        let lon = points.last().map_or(place.longitude(), |[before, _]| {
            before + (place.longitude() - before + 180.0).rem_euclid(360.0) - 180.0
        });
        points.push([lon, place.latitude()]);
    }
    points
}

/// A ring of unwrapped longitudes, not closed, cut at 180°.
fn cut_ring(ring: &[Point]) -> Vec<Vec<Point>> {
    let (Some(first), Some(last)) = (ring.first(), ring.last()) else { return Vec::new() };
    let turn = (first[0] - last[0] + 180.0).rem_euclid(360.0) - 180.0;
    let mut ring = ring.to_vec();
    let closes = last[0] + turn;
    if (closes - first[0]).abs() > 180.0 {
        // Once round a pole: on to where it began, and back along that meridian over the pole.
        let pole = 90.0_f64.copysign(first[1]);
        ring.extend([[closes, first[1]], [closes, pole], [first[0], pole]]);
    }
    let (west, east) =
        ring.iter().fold((f64::MAX, f64::MIN), |(w, e), [lon, _]| (w.min(*lon), e.max(*lon)));
    let first_turn = ((west + 180.0) / 360.0).floor() as i64;
    let last_turn = ((east + 180.0) / 360.0).ceil() as i64 - 1;
    (first_turn..=last_turn.max(first_turn).min(first_turn + 2))
        .filter_map(|turn| {
            let low = turn as f64 * 360.0 - 180.0;
            let kept = clipped(&clipped(&ring, low, 1.0), low + 360.0, -1.0);
            closed(kept.iter().map(|[lon, lat]| [lon - turn as f64 * 360.0, *lat]).collect())
        })
        .collect()
}

/// The part of a ring on one side of a meridian (I. E. Sutherland and G. W. Hodgman, 1974).
fn clipped(ring: &[Point], meridian: f64, side: f64) -> Vec<Point> {
    let inside = |point: &Point| side * (point[0] - meridian) >= 0.0;
    let mut kept = Vec::new();
    for (at, point) in ring.iter().enumerate() {
        let before = ring.get((at + ring.len() - 1) % ring.len()).unwrap_or(point);
        if inside(before) != inside(point) {
            kept.push(crossing(*before, *point, meridian));
        }
        if inside(point) {
            kept.push(*point);
        }
    }
    kept
}

fn crossing(from: Point, to: Point, meridian: f64) -> Point {
    let share = (meridian - from[0]) / (to[0] - from[0]);
    [meridian, from[1] + share * (to[1] - from[1])]
}

/// Closed and counter-clockwise; none where nothing is left of it.
fn closed(mut ring: Vec<Point>) -> Option<Vec<Point>> {
    ring.dedup();
    let twice: f64 =
        ring.iter().zip(ring.iter().cycle().skip(1)).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    if ring.len() < 3 || twice == 0.0 {
        return None;
    }
    if twice < 0.0 {
        ring.reverse();
    }
    let first = *ring.first()?;
    if ring.last() != Some(&first) {
        ring.push(first);
    }
    Some(ring)
}

/// A line cut where it crosses 180°: each piece on its own side.
pub fn line(places: &[Position]) -> Vec<Vec<Point>> {
    let mut pieces: Vec<Vec<Point>> = vec![Vec::new()];
    let mut before: Option<Point> = None;
    for place in places {
        let here = [place.longitude(), place.latitude()];
        if let Some(last) = before
            && (here[0] - last[0]).abs() > 180.0
        {
            let edge = 180.0_f64.copysign(last[0]);
            let beyond = [here[0] + 2.0 * edge, here[1]];
            let [_, lat] = crossing(last, beyond, edge);
            if let Some(piece) = pieces.last_mut() {
                piece.push([edge, lat]);
            }
            pieces.push(vec![[-edge, lat]]);
        }
        if let Some(piece) = pieces.last_mut() {
            piece.push(here);
        }
        before = Some(here);
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::Covariance;

    fn at(latitude: f64, longitude: f64) -> Estimate {
        let covariance = Covariance::from_square_miles(4.0, 1.0, 1.0).unwrap();
        Estimate { position: Position::new(latitude, longitude).unwrap(), covariance }
    }

    fn area(ring: &[Point]) -> f64 {
        let pairs = ring.iter().zip(ring.iter().skip(1));
        pairs.map(|(a, b)| 0.5 * (a[0] * b[1] - b[0] * a[1])).sum()
    }

    #[test]
    fn rings_are_closed_counter_clockwise_and_stay_on_the_map() {
        for (latitude, longitude, count) in
            [(-38.0, -21.5, 1), (-16.0, 179.99, 2), (-16.0, -179.99, 2), (89.99, 30.0, 1)]
        {
            let rings = ellipse(&at(latitude, longitude));
            assert!(rings.len() == count || latitude > 89.0, "{latitude} {longitude}");
            for ring in &rings {
                assert_eq!(ring.first(), ring.last());
                assert!(area(ring) > 0.0);
                assert!(ring.iter().all(|[lon, lat]| lon.abs() <= 180.0 && lat.abs() <= 90.0));
            }
        }
    }

    #[test]
    fn cutting_keeps_the_area() {
        let whole: f64 = ellipse(&at(-16.0, 100.0)).iter().map(|ring| area(ring)).sum();
        for longitude in [179.99, -180.0, -179.98] {
            let cut: f64 = ellipse(&at(-16.0, longitude)).iter().map(|ring| area(ring)).sum();
            assert!((cut / whole - 1.0).abs() < 1e-6, "{longitude}: {cut} {whole}");
        }
        // π a b by the 48-sided figure, 5.991 √det of square miles, in degrees (computed).
        let degrees = 3.0_f64.sqrt() * 5.991 * 24.0 * (TAU / 48.0).sin() / 3600.0;
        let cos = (16.0 * TAU / 360.0).cos();
        assert!((whole / (degrees / cos) - 1.0).abs() < 0.01, "{whole} {degrees}");
    }

    #[test]
    fn a_line_over_the_date_line_is_cut_there() {
        let places = [(-16.0, 179.9), (-16.2, -179.9), (-16.3, -179.8)];
        let places = places.map(|(lat, lon)| Position::new(lat, lon).unwrap());
        let pieces = line(&places);
        assert_eq!(pieces.len(), 2);
        let (west, east) = (pieces[0].last().unwrap(), pieces[1].first().unwrap());
        assert!((west[0] - 180.0).abs() < 1e-12 && (east[0] + 180.0).abs() < 1e-12);
        assert!((west[1] + 16.1).abs() < 1e-9 && (east[1] + 16.1).abs() < 1e-9);
    }
}
