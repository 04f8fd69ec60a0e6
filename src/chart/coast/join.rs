//! Lines whose ends meet, made into longer lines and rings.

use std::collections::HashMap;

use super::LonLat;

/// Ends meet that are the same in whole steps of this, in degrees (some 10 cm): all that are the same to the
/// last digit, and most that are nearer than a step.
const SAME_PLACE_DEG: f64 = 1e-6;

/// A place as ends are compared: longitude in the usual turn.
type End = (i64, i64);

fn end_of(point: LonLat) -> End {
    let steps = |degrees: f64| (degrees / SAME_PLACE_DEG).round() as i64;
    let turn = steps(360.0);
    (steps(point.lon).rem_euclid(turn), steps(point.lat))
}

/// Joins lines head to tail where exactly two ends meet, and says which are rings now. Lines keep
/// the order of their first piece. A line is turned round only where two heads or two tails meet.
pub(super) fn join(lines: Vec<Vec<LonLat>>) -> Vec<(Vec<LonLat>, bool)> {
    let mut meeting: HashMap<End, Vec<usize>> = HashMap::new();
    let mut done = Vec::with_capacity(lines.len());
    let mut pieces: Vec<Option<Vec<LonLat>>> = Vec::with_capacity(lines.len());
    for points in lines {
        let number = pieces.len();
        match (points.first(), points.last()) {
            (Some(first), Some(last)) if end_of(*first) == end_of(*last) => {
                done.push((number, points, true));
                pieces.push(None);
            }
            (Some(first), Some(last)) => {
                meeting.entry(end_of(*first)).or_default().push(number);
                meeting.entry(end_of(*last)).or_default().push(number);
                pieces.push(Some(points));
            }
            _ => pieces.push(None),
        }
    }
    for number in 0..pieces.len() {
        let Some(mut chain) = pieces.get_mut(number).and_then(Option::take) else { continue };
        grow(&mut chain, number, &mut pieces, &meeting);
        let closed = ends_meet(&chain);
        if !closed {
            // On at the other end as well.
            chain.reverse();
            grow(&mut chain, number, &mut pieces, &meeting);
            chain.reverse();
        }
        let closed = closed || ends_meet(&chain);
        done.push((number, chain, closed));
    }
    done.sort_by_key(|(number, ..)| *number);
    done.into_iter().map(|(_, points, closed)| (points, closed)).collect()
}

fn ends_meet(points: &[LonLat]) -> bool {
    match (points.first(), points.last()) {
        (Some(first), Some(last)) => points.len() > 2 && end_of(*first) == end_of(*last),
        _ => false,
    }
}

/// Adds to the end of a chain the pieces that follow on.
fn grow(
    chain: &mut Vec<LonLat>,
    number: usize,
    pieces: &mut [Option<Vec<LonLat>>],
    meeting: &HashMap<End, Vec<usize>>,
) {
    let mut tail = number;
    while let Some(last) = chain.last().copied() {
        let Some([a, b]) = meeting.get(&end_of(last)).map(Vec::as_slice) else { return };
        let next = if *a == tail { *b } else { *a };
        let Some(mut piece) = pieces.get_mut(next).and_then(Option::take) else { return };
        if piece.first().is_some_and(|first| end_of(*first) != end_of(last)) {
            piece.reverse();
        }
        // Longitudes go on from where the chain ended.
        let turn =
            piece.first().map_or(0.0, |first| 360.0 * ((last.lon - first.lon) / 360.0).round());
        chain.extend(piece.into_iter().skip(1).map(|p| LonLat { lon: p.lon + turn, lat: p.lat }));
        tail = next;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)]) -> Vec<LonLat> {
        points.iter().map(|&(lon, lat)| LonLat { lon, lat }).collect()
    }

    #[test]
    fn pieces_of_a_ring_come_together() {
        let joined = join(vec![
            line(&[(0.0, 0.0), (1.0, 0.0)]),
            line(&[(5.0, 5.0), (6.0, 5.0)]),
            line(&[(1.0, 1.0), (0.0, 1.0), (0.0, 0.0)]),
            line(&[(1.0, 0.0), (1.0, 1.0)]),
        ]);
        assert_eq!(joined.len(), 2);
        assert!(joined[0].1 && joined[0].0.len() == 5, "{joined:?}");
        assert!(!joined[1].1);
    }

    #[test]
    fn a_piece_that_runs_the_other_way_is_turned_round() {
        let joined = join(vec![
            line(&[(0.0, 0.0), (1.0, 0.0)]),
            line(&[(2.0, 0.0), (1.0, 0.0)]),
            line(&[(-1.0, 0.0), (0.0, 0.0)]),
        ]);
        let lons: Vec<f64> = joined[0].0.iter().map(|p| p.lon).collect();
        assert_eq!(joined.len(), 1);
        assert_eq!(lons, [-1.0, 0.0, 1.0, 2.0]);
    }

    #[test]
    fn three_ends_in_one_place_are_left_apart() {
        let joined = join(vec![
            line(&[(0.0, 0.0), (1.0, 0.0)]),
            line(&[(0.0, 0.0), (0.0, 1.0)]),
            line(&[(0.0, 0.0), (-1.0, 0.0)]),
        ]);
        assert_eq!(joined.len(), 3);
    }

    #[test]
    fn ends_meet_over_the_date_line() {
        let joined =
            join(vec![line(&[(179.0, 0.0), (180.0, 0.0)]), line(&[(-180.0, 0.0), (-179.0, 1.0)])]);
        assert_eq!(joined.len(), 1);
        assert_eq!(joined[0].0[2], LonLat { lon: 181.0, lat: 1.0 });
    }
}
