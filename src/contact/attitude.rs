//! How own ship or aircraft lay when something was read.

use super::own::{Own, ReadBearing};
use crate::units::{Angle, Bearing, True};

/// Where the bow pointed, and how far the wings were off level, when something was read.
///
/// A heading that the variation turns is kept as it was read alone: which way it truly was is another
/// once it is known better where that was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Attitude {
    /// True heading, where it was known and no variation turns it.
    heading: Option<Bearing<True>>,
    /// The heading as it was read, where that is known.
    heading_as_read: Option<ReadBearing>,
    /// Right wing down positive.
    bank: Angle,
}

impl Attitude {
    /// Whether both were on the same heading, whatever the bank.
    pub(crate) fn heads_as(&self, other: &Self) -> bool {
        (self.heading, self.heading_as_read) == (other.heading, other.heading_as_read)
    }
}

impl Own {
    /// How it lies.
    pub(crate) fn attitude(&self) -> Attitude {
        let turned = self.heading_as_read.is_some_and(|read| read.kind.is_turned_by_variation());
        Attitude {
            heading: self.heading.filter(|_| !turned),
            heading_as_read: self.heading_as_read,
            bank: self.bank,
        }
    }

    /// The same, lying so: on its own heading where none was known then.
    pub(crate) fn lying(&self, attitude: Attitude) -> Self {
        let Attitude { heading, heading_as_read, bank } = attitude;
        if heading.is_none() && heading_as_read.is_none() {
            return Self { bank, ..self.clone() };
        }
        let heading = heading.or(self.headed(heading_as_read).heading);
        Self { heading, heading_as_read, bank, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::BearingKind;
    use crate::units::{Height, Variation};

    fn on(degrees: f64, kind: BearingKind) -> Own {
        let mut own = Own::at_height(Height::from_feet(2000.0).unwrap());
        own.variation = Variation::parse("10 E");
        let read = ReadBearing { kind, degrees };
        own.heading = own.to_true(read).ok();
        own.heading_as_read = Some(read);
        own
    }

    #[test]
    fn what_was_read_lies_as_it_lay_then() {
        let now = on(100.0, BearingKind::True);
        for kind in [BearingKind::True, BearingKind::Magnetic, BearingKind::Gyro] {
            let then = Own { bank: Angle::from_degrees(10.0), ..on(70.0, kind) };
            assert_eq!(now.lying(then.attitude()), then, "{kind}");
            assert!(!now.attitude().heads_as(&then.attitude()));
        }
    }

    #[test]
    fn a_magnetic_heading_goes_by_the_variation_as_it_is_known_now() {
        let then = on(70.0, BearingKind::Magnetic);
        let west = Own { variation: Variation::parse("5 W"), ..on(100.0, BearingKind::Magnetic) };
        let heading = west.lying(then.attitude()).heading.unwrap();
        assert!((heading.degrees() - 65.0).abs() < 1e-9, "{heading}");
    }

    #[test]
    fn where_no_heading_was_known_it_is_the_one_now() {
        let then = Own::at_height(Height::from_feet(2000.0).unwrap());
        let now = on(100.0, BearingKind::True);
        assert_eq!(now.lying(then.attitude()), now);
    }
}
