use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

/// Echoes nearer to each other than this are one: half a nautical mile.
const GAP_M: f64 = 0.5 * METRES_PER_NAUTICAL_MILE;

/// An unbroken echo of land on one ray's bearing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Echo {
    /// Near edge, metres along the ground.
    pub start_m: f64,
    /// Far edge.
    pub end_m: f64,
    /// Height of the ground at the near edge.
    pub height: Height,
    /// Its strongest cell.
    pub signal_to_noise_db: f64,
    /// That cell's chance to show.
    pub chance: f64,
}

/// Adds an echo to a list in order of range; one that lies within half a mile goes on the last.
pub(super) fn join(echoes: &mut Vec<Echo>, next: Echo) {
    match echoes.last_mut() {
        Some(last) if next.start_m - last.end_m < GAP_M => {
            last.end_m = last.end_m.max(next.end_m);
            if next.signal_to_noise_db > last.signal_to_noise_db {
                last.signal_to_noise_db = next.signal_to_noise_db;
            }
            last.chance = last.chance.max(next.chance);
        }
        _ => echoes.push(next),
    }
}

/// The nearest echo of several rays together.
pub(super) fn nearest<'e>(rays: impl Iterator<Item = &'e [Echo]>) -> Option<Echo> {
    let mut all: Vec<Echo> = rays.flatten().copied().collect();
    all.sort_by(|a, b| a.start_m.total_cmp(&b.start_m).then(a.end_m.total_cmp(&b.end_m)));
    let mut joined: Vec<Echo> = Vec::new();
    for echo in all {
        if joined.len() == 1 && joined.last().is_some_and(|one| echo.start_m - one.end_m >= GAP_M) {
            break;
        }
        join(&mut joined, echo);
    }
    joined.first().copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn echoes_join_over_less_than_half_a_mile() {
        let echo = |start_m: f64, end_m: f64| Echo {
            start_m,
            end_m,
            height: Height::SEA_LEVEL,
            signal_to_noise_db: start_m / 100.0,
            chance: 0.9,
        };
        let one = [echo(5_000.0, 5_500.0), echo(9_000.0, 9_100.0)];
        let other = [echo(6_000.0, 6_200.0)];
        let joined = nearest([&one[..], &other[..]].into_iter()).unwrap();
        assert!((joined.start_m - 5_000.0).abs() < 1e-9);
        assert!((joined.end_m - 6_200.0).abs() < 1e-9);
        assert!((joined.signal_to_noise_db - 60.0).abs() < 1e-9);
        assert!(nearest(std::iter::empty()).is_none());
    }
}
