use crate::paint::ExpectedCoast;
use crate::units::{Bearing, SlantRange, True};

/// A jump in range from one bearing to the next that parts two sectors: this many nautical miles,
/// or this share of the range.
const JUMP_NM: f64 = 1.0;
const JUMP_SHARE: f64 = 0.1;

/// Neighbouring bearings on which one coast paints.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sector {
    /// Its first bearing, clockwise.
    pub from: Bearing<True>,
    /// Its last.
    pub to: Bearing<True>,
    /// The row with the nearest land.
    pub nearest: ExpectedCoast,
    /// Range on its first bearing.
    pub at_from: SlantRange,
    /// Range on its last.
    pub at_to: SlantRange,
}

impl Sector {
    fn of(row: &ExpectedCoast) -> Self {
        Self {
            from: row.bearing,
            to: row.bearing,
            nearest: *row,
            at_from: row.range,
            at_to: row.range,
        }
    }

    /// This sector carried on by the one after it.
    fn with(self, next: &Self) -> Self {
        let nearer = next.nearest.range < self.nearest.range;
        Self {
            to: next.to,
            at_to: next.at_to,
            nearest: if nearer { next.nearest } else { self.nearest },
            ..self
        }
    }

    fn leads_on_to(&self, next: &Self, step_deg: f64) -> bool {
        let (near, far) = (self.at_to.nautical_miles(), next.at_from.nautical_miles());
        let turn = next.from.minus(self.to).degrees();
        turn > 0.0
            && turn < 1.5 * step_deg
            && (near - far).abs() < JUMP_NM.max(JUMP_SHARE * near.min(far))
    }
}

/// Rows of coast, in order of bearing, as sectors; one that runs through north is told whole, last.
pub(super) fn sectors(rows: &[ExpectedCoast], step_deg: f64) -> Vec<Sector> {
    let mut sectors: Vec<Sector> = Vec::new();
    for row in rows.iter().map(Sector::of) {
        match sectors.last_mut() {
            Some(last) if last.leads_on_to(&row, step_deg) => *last = last.with(&row),
            _ => sectors.push(row),
        }
    }
    if let [first, .., last] = sectors.as_slice()
        && last.leads_on_to(first, step_deg)
    {
        let joined = last.with(first);
        sectors.pop();
        sectors.remove(0);
        sectors.push(joined);
    }
    sectors
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::GroundRange;

    fn row(bearing: f64, miles: f64) -> ExpectedCoast {
        ExpectedCoast {
            bearing: Bearing::from_degrees(bearing).unwrap(),
            range: SlantRange::from_nautical_miles(miles).unwrap(),
            depth: GroundRange::ZERO,
            signal_to_noise_db: 20.0,
            paint_probability: 0.9,
        }
    }

    #[test]
    fn a_coast_parts_where_bearings_or_ranges_jump() {
        let rows = [(0.0, 9.0), (0.5, 9.2), (40.0, 20.0), (40.5, 20.5), (41.0, 30.0), (359.5, 9.1)];
        let found = sectors(&rows.map(|(bearing, miles)| row(bearing, miles)), 0.5);
        let told: Vec<(f64, f64)> =
            found.iter().map(|s| (s.from.degrees(), s.to.degrees())).collect();
        let expected = [(40.0, 40.5), (41.0, 41.0), (359.5, 0.5)];
        assert_eq!(told.len(), expected.len(), "{told:?}");
        for (one, other) in told.iter().zip(expected) {
            assert!((one.0 - other.0).abs() < 1e-9 && (one.1 - other.1).abs() < 1e-9, "{told:?}");
        }
        assert!((found[2].nearest.range.nautical_miles() - 9.0).abs() < 1e-9);
    }

    #[test]
    fn no_rows_no_sectors() {
        assert!(sectors(&[], 0.5).is_empty());
    }
}
