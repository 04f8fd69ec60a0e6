use super::{STATES, Square, State};
use crate::geodesy::Covariance;

type Triangle = [[f64; STATES]; STATES];

/// Cholesky's factor of an information matrix of all states: L with L Lᵀ the matrix.
///
/// The states stand in it from the last to the first. East and north so come at the end, and what is
/// known of own place alone follows from the last corner of the factor, the rest not inverted.
pub(crate) struct Factor {
    lower: Triangle,
    /// One over each entry of the diagonal.
    inverse_diagonal: [f64; STATES],
}

/// Where a state stands in the factor, and which stands there.
const fn turned(index: usize) -> usize {
    STATES - 1 - index
}

impl Factor {
    /// None where the matrix holds some direction not at all.
    pub fn of(matrix: &Square) -> Option<Self> {
        let mut lower = [[0.0; STATES]; STATES];
        for (i, row) in lower.iter_mut().enumerate() {
            for (k, entry) in row.iter_mut().enumerate().take(i + 1) {
                *entry = matrix[(turned(i), turned(k))];
            }
        }
        let mut inverse_diagonal = [0.0; STATES];
        for j in 0..STATES {
            let root = lower[j][j].sqrt();
            let is_sound = root > 0.0;
            if !is_sound {
                return None;
            }
            inverse_diagonal[j] = 1.0 / root;
            lower[j][j] = root;
            let mut column = [0.0; STATES];
            for i in j + 1..STATES {
                lower[i][j] *= inverse_diagonal[j];
                column[i] = lower[i][j];
            }
            for i in j + 1..STATES {
                // Many states have nothing to do with each other.
                if column[i] != 0.0 {
                    for k in j + 1..=i {
                        lower[i][k] -= column[i] * column[k];
                    }
                }
            }
        }
        Some(Self { lower, inverse_diagonal })
    }

    /// What the matrix makes this of.
    pub fn solve(&self, right: &State) -> State {
        let mut at = self.forward(right);
        for i in (0..STATES).rev() {
            at[i] *= self.inverse_diagonal[i];
            for k in 0..i {
                at[k] -= self.lower[i][k] * at[i];
            }
        }
        State::from_fn(|index, _| at[turned(index)])
    }

    /// L⁻¹ times this, in the factor's order.
    fn forward(&self, right: &State) -> [f64; STATES] {
        let mut at: [f64; STATES] = std::array::from_fn(|i| right[turned(i)]);
        for k in 0..STATES {
            at[k] *= self.inverse_diagonal[k];
            for i in k + 1..STATES {
                at[i] -= self.lower[i][k] * at[k];
            }
        }
        at
    }

    /// East and north of what the matrix makes this of, and their covariance.
    pub fn own_place(&self, right: &State) -> ([f64; 2], Covariance) {
        const EAST: usize = turned(0);
        const NORTH: usize = turned(1);
        let halfway = self.forward(right);
        let [by_east, by_north] = [EAST, NORTH].map(|i| self.inverse_diagonal[i]);
        let slant = self.lower[EAST][NORTH] * by_east * by_north;
        let east = halfway[EAST] * by_east;
        let north = by_north * (halfway[NORTH] - self.lower[EAST][NORTH] * east);
        let (ee, en) = (by_east * by_east, -slant * by_east);
        let nn = by_north * by_north + slant * slant;
        ([east, north], Covariance::nearest(ee, en, nn).unwrap_or_else(Covariance::unknown))
    }

    /// The inverse of the matrix.
    pub fn inverse(&self) -> Square {
        // Row by row of L⁻¹.
        let mut root = [[0.0; STATES]; STATES];
        for i in 0..STATES {
            let mut row = [0.0; STATES];
            for (m, above) in root.iter().enumerate().take(i) {
                let by = self.lower[i][m];
                if by != 0.0 {
                    for k in 0..=m {
                        row[k] -= by * above[k];
                    }
                }
            }
            row[i] = 1.0;
            root[i] = row.map(|entry| entry * self.inverse_diagonal[i]);
        }
        let mut inverse = [[0.0; STATES]; STATES];
        for (m, row) in root.iter().enumerate() {
            for i in 0..=m {
                for k in 0..=i {
                    inverse[i][k] += row[i] * row[k];
                }
            }
        }
        Square::from_fn(|i, k| inverse[turned(i.min(k))][turned(i.max(k))])
    }

    /// Half the logarithm of the determinant.
    pub fn half_log_det(&self) -> f64 {
        (0..STATES).map(|i| self.lower[i][i].ln()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::super::covariance_of;
    use super::*;

    /// A matrix of two unknowns coupled with the last state, the rest by themselves.
    fn matrix() -> Square {
        let mut matrix = Square::from_diagonal(&State::from_fn(|i, _| 1.0 + i as f64));
        for (i, k, value) in [(0, 1, 0.4), (0, 8, -0.9), (1, 8, 1.1), (1, 2, 0.3), (2, 5, -0.7)] {
            matrix[(i, k)] = value;
            matrix[(k, i)] = value;
        }
        matrix
    }

    #[test]
    fn it_agrees_with_a_general_decomposition() {
        let matrix = matrix();
        let right = State::from_fn(|i, _| 3.0 - i as f64);
        let factor = Factor::of(&matrix).unwrap();
        let general = matrix.lu();
        let inverse = general.try_inverse().unwrap();
        assert!((factor.inverse() - inverse).amax() < 1e-14);
        let step = general.solve(&right).unwrap();
        assert!((factor.solve(&right) - step).amax() < 1e-14);
        assert!((factor.half_log_det() - 0.5 * general.determinant().ln()).abs() < 1e-13);
        let (place, covariance) = factor.own_place(&right);
        assert!((place[0] - step[0]).abs() < 1e-14 && (place[1] - step[1]).abs() < 1e-14);
        let told = covariance_of(&inverse).square_metres();
        for (found, known) in covariance.square_metres().into_iter().zip(told) {
            assert!((found - known).abs() < 1e-14, "{found} {known}");
        }
    }

    #[test]
    fn a_direction_that_nothing_holds_has_no_factor() {
        let mut free = matrix();
        free.fill_row(4, 0.0);
        free.fill_column(4, 0.0);
        assert!(Factor::of(&free).is_none());
        free[(4, 4)] = f64::NAN;
        assert!(Factor::of(&free).is_none());
    }
}
