/// How well two things agree that have no reason to differ but their errors.
///
/// The one rule by which a fix and a reckoning, or contacts among themselves, are called unusual or at
/// odds: in every report, on the display and in the debrief.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grade {
    /// As nineteen in twenty do with nothing wrong: within 95 %.
    Allowed,
    /// Beyond that, as one in twenty do with nothing wrong: to be looked at.
    Unusual,
    /// As one in a thousand do with nothing wrong: nothing is averaged, and no position stated.
    AtOdds,
}

impl Grade {
    /// A smaller chance than this is unusual.
    pub const UNUSUAL: f64 = 0.05;

    /// A smaller chance than this is at odds: the alarm is false that often.
    pub const AT_ODDS: f64 = 1e-3;

    /// Of the chance that two which agree differ by as much or more. What is no number is at odds.
    pub fn of_chance(chance: f64) -> Self {
        if chance >= Self::UNUSUAL {
            Self::Allowed
        } else if chance >= Self::AT_ODDS {
            Self::Unusual
        } else {
            Self::AtOdds
        }
    }

    /// Of a squared statistical distance in the plane: χ² of two degrees of freedom in closed form.
    ///
    /// 5.991 is the border of 95 % and 13.816 that of 99.9 % (published table).
    pub fn of_distance(chi2: f64) -> Self {
        Self::of_chance((-0.5 * chi2).exp())
    }

    /// Whether both may be right.
    pub fn agrees(self) -> bool {
        self != Self::AtOdds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_borders_are_those_of_the_table() {
        // χ², two degrees of freedom: 5.991 at 95 %, 13.816 at 99.9 % (published table).
        for (chi2, grade) in [
            (0.0, Grade::Allowed),
            (5.990, Grade::Allowed),
            (5.993, Grade::Unusual),
            (13.81, Grade::Unusual),
            (13.82, Grade::AtOdds),
            (f64::INFINITY, Grade::AtOdds),
            (f64::NAN, Grade::AtOdds),
        ] {
            assert_eq!(Grade::of_distance(chi2), grade, "{chi2}");
        }
    }
}
