//! One ring or line as it comes out of a file, made fit to keep.

use super::LonLat;

/// Closer than this to the date line or a pole, in degrees, a vertex lies on it.
const ON_EDGE_DEG: f64 = 1e-7;

/// Nearer a pole than this, a step in longitude says nothing about the way gone.
const POLAR_CAP_DEG: f64 = 89.9;

/// A line with longitudes that never jump.
pub(super) struct Smooth {
    pub(super) points: Vec<LonLat>,
    pub(super) closed: bool,
    /// For each segment, whether it is a cut. Empty where none is.
    pub(super) cuts: Vec<bool>,
}

/// Takes out repeated points, and makes longitudes continuous: a step of more than half a turn is
/// taken as the short way over the date line, except along a pole.
pub(in crate::chart) fn continuous(points: impl Iterator<Item = LonLat>) -> Vec<LonLat> {
    let mut smooth: Vec<LonLat> = Vec::with_capacity(points.size_hint().0 + 1);
    let mut turn = 0.0;
    for raw in points {
        let mut point = LonLat { lon: raw.lon + turn, lat: raw.lat };
        if let Some(last) = smooth.last() {
            let step = point.lon - last.lon;
            if step.abs() > 180.0 && !(polar(*last) && polar(point)) {
                turn -= 360.0 * (step / 360.0).round();
                point.lon = raw.lon + turn;
            }
            if *last == point {
                continue;
            }
        }
        smooth.push(point);
    }
    smooth
}

/// Closes a ring: repeats its first point at the end, and takes one that goes round the Earth
/// through the nearer pole. `None` where fewer than three places are left.
pub(super) fn close(mut points: Vec<LonLat>) -> Option<Smooth> {
    let (first, last) = (*points.first()?, *points.last()?);
    let round = ((last.lon - first.lon) / 360.0).round();
    let same =
        |a: LonLat, b: LonLat| (a.lat - b.lat).abs() < 1e-12 && (a.lon - b.lon).abs() < 1e-12;
    if round == 0.0 {
        if !same(first, last) {
            points.push(first);
        }
        if points.len() < 4 {
            return None;
        }
        let cuts = cuts(&points, points.len());
        return Some(Smooth { points, closed: true, cuts });
    }
    let around = LonLat { lon: first.lon + 360.0 * round, lat: first.lat };
    if !same(around, last) {
        points.push(around);
    }
    let shore = points.len();
    let mean: f64 = points.iter().map(|p| p.lat).sum::<f64>() / shore as f64;
    let pole = 90.0_f64.copysign(mean);
    points.push(LonLat { lon: around.lon, lat: pole });
    points.push(LonLat { lon: first.lon, lat: pole });
    points.push(first);
    let cuts = cuts(&points, shore);
    Some(Smooth { points, closed: true, cuts })
}

fn polar(point: LonLat) -> bool {
    point.lat.abs() > POLAR_CAP_DEG
}

/// An open line as it is, with its cuts.
pub(super) fn open(points: Vec<LonLat>) -> Option<Smooth> {
    if points.len() < 2 {
        return None;
    }
    let cuts = cuts(&points, points.len());
    Some(Smooth { points, closed: false, cuts })
}

/// Which segments are no shore: those along the date line or a pole, and all from point
/// `shore - 1` on, which were added to close the ring.
fn cuts(points: &[LonLat], shore: usize) -> Vec<bool> {
    let on_date_line = |p: &LonLat| {
        let off = (p.lon - 180.0) / 360.0;
        (off - off.round()).abs() * 360.0 < ON_EDGE_DEG
    };
    let on_pole = |p: &LonLat| p.lat.abs() > 90.0 - ON_EDGE_DEG;
    let is_cut = |(i, pair): (usize, &[LonLat])| match pair {
        [a, b] => {
            i + 1 >= shore
                || (on_date_line(a) && on_date_line(b) && (a.lon - b.lon).abs() < 1.0)
                || (on_pole(a) && on_pole(b))
        }
        _ => false,
    };
    let cuts: Vec<bool> = points.windows(2).enumerate().map(is_cut).collect();
    if cuts.contains(&true) { cuts } else { Vec::new() }
}

/// Twice the signed area in square degrees; positive where the ring runs anticlockwise.
pub(super) fn signed_area(points: &[LonLat]) -> f64 {
    let Some(origin) = points.first() else { return 0.0 };
    points
        .windows(2)
        .map(|pair| match pair {
            [a, b] => {
                (a.lon - origin.lon) * (b.lat - origin.lat)
                    - (b.lon - origin.lon) * (a.lat - origin.lat)
            }
            _ => 0.0,
        })
        .sum()
}

/// Whether a place lies inside a ring, by the parity of its crossings with the meridian northward.
pub(super) fn contains(ring: &[LonLat], at: LonLat) -> bool {
    let mut inside = false;
    for pair in ring.windows(2) {
        if let [a, b] = pair
            && crosses_north(*a, *b, at)
        {
            inside = !inside;
        }
    }
    inside
}

/// Whether a segment crosses the meridian of a place to the north of it.
pub(super) fn crosses_north(a: LonLat, b: LonLat, at: LonLat) -> bool {
    crossing_latitude(a, b, at.lon).is_some_and(|lat| lat > at.lat)
}

/// Where a segment crosses a meridian, if it does.
pub(super) fn crossing_latitude(a: LonLat, b: LonLat, lon: f64) -> Option<f64> {
    ((a.lon <= lon) != (b.lon <= lon))
        .then(|| a.lat + (b.lat - a.lat) * (lon - a.lon) / (b.lon - a.lon))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)]) -> Vec<LonLat> {
        continuous(points.iter().map(|&(lon, lat)| LonLat { lon, lat }))
    }

    #[test]
    fn longitudes_go_on_over_the_date_line() {
        let points = line(&[(179.0, 0.0), (-179.0, 0.0), (-179.0, 1.0), (179.0, 1.0)]);
        let lons: Vec<f64> = points.iter().map(|p| p.lon).collect();
        assert_eq!(lons, [179.0, 181.0, 181.0, 179.0]);
        let ring = close(points).unwrap();
        assert!(ring.cuts.is_empty());
        assert!(contains(&ring.points, LonLat { lon: 180.5, lat: 0.5 }));
    }

    #[test]
    fn a_ring_round_the_earth_is_closed_through_its_pole() {
        let ring =
            close(line(&[(-180.0, -70.0), (-60.0, -72.0), (60.0, -68.0), (180.0, -70.0)])).unwrap();
        assert!(contains(&ring.points, LonLat { lon: 10.0, lat: -80.0 }));
        assert!(!contains(&ring.points, LonLat { lon: 10.0, lat: -60.0 }));
        assert_eq!(ring.cuts, [false, false, false, true, true, true]);
    }

    #[test]
    fn a_ring_closed_along_the_date_line_and_the_pole_keeps_its_edges_as_cuts() {
        let ring = close(line(&[
            (-180.0, -90.0),
            (-180.0, -70.0),
            (0.0, -68.0),
            (180.0, -70.0),
            (180.0, -90.0),
            (-180.0, -90.0),
        ]))
        .unwrap();
        assert_eq!(ring.cuts, [true, false, false, true, true]);
        assert!(contains(&ring.points, LonLat { lon: 10.0, lat: -80.0 }));
    }

    #[test]
    fn two_places_are_no_ring() {
        assert!(close(line(&[(0.0, 0.0), (1.0, 0.0), (0.0, 0.0)])).is_none());
    }
}
