//! From what is read to true, and from true to what to steer.

use thiserror::Error;

use crate::contact::{BearingKind, Own, OwnError, ReadBearing};
use crate::units::{Angle, Bearing, Compass, Deviation, GyroError, Height, True, Variation};

/// The widest hole of a deviation table, in degrees: eight headings, evenly spread, have none wider.
const WIDEST_HOLE_DEG: f64 = 45.0;

/// Deviation by the heading on that compass.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviationTable {
    /// Headings in degrees, ascending, and deviations in degrees, east positive; not empty.
    rows: Vec<(f64, f64)>,
}

/// Why a deviation table is not taken. Entries count from one.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TableError {
    /// A heading that is not above the one before.
    #[error("heading {heading:05.1} comes after {before:05.1}: headings go up")]
    Unordered {
        /// The entry.
        entry: usize,
        /// Its heading, degrees.
        heading: f64,
        /// The one before it, degrees.
        before: f64,
    },
    /// The same heading twice.
    #[error("heading {heading:05.1} is given twice")]
    Twice {
        /// The second of the two.
        entry: usize,
        /// Its heading, degrees.
        heading: f64,
    },
    /// Nothing known of a stretch of headings.
    #[error("nothing from heading {from:05.1} to {to:05.1}, a hole of {:.0}°", (to - from).rem_euclid(360.0))]
    Hole {
        /// The entry before the hole.
        entry: usize,
        /// Its heading, degrees.
        from: f64,
        /// The next one, degrees.
        to: f64,
    },
    /// No entries at all.
    #[error("the table has no entry")]
    Empty,
}

impl TableError {
    /// The entry to mend, from one.
    pub fn entry(self) -> usize {
        match self {
            Self::Unordered { entry, .. }
            | Self::Twice { entry, .. }
            | Self::Hole { entry, .. } => entry,
            Self::Empty => 1,
        }
    }
}

impl DeviationTable {
    /// From headings by that compass, ascending, and the deviation on each.
    ///
    /// # Errors
    /// No entry; a heading out of order or given twice; a hole wider than 45°, also from the last
    /// heading round to the first.
    pub fn new(rows: &[(Bearing<Compass>, Deviation)]) -> Result<Self, TableError> {
        let rows: Vec<(f64, f64)> =
            rows.iter().map(|(heading, d)| (heading.degrees(), d.east().degrees())).collect();
        for (index, pair) in rows.windows(2).enumerate() {
            let [(before, _), (heading, _)] = *pair else { continue };
            if (heading - before).abs() < 1e-9 {
                return Err(TableError::Twice { entry: index + 2, heading });
            }
            if heading < before {
                return Err(TableError::Unordered { entry: index + 2, heading, before });
            }
        }
        let first = rows.first().ok_or(TableError::Empty)?.0;
        let nexts = rows.iter().skip(1).map(|(heading, _)| *heading).chain([first + 360.0]);
        for (index, ((from, _), to)) in rows.iter().zip(nexts).enumerate() {
            if to - from > WIDEST_HOLE_DEG + 1e-9 {
                return Err(TableError::Hole { entry: index + 1, from: *from, to: to % 360.0 });
            }
        }
        Ok(Self { rows })
    }

    /// On a heading by that compass: in proportion between the two nearest, round through north.
    pub fn at(&self, heading: Bearing<Compass>) -> Deviation {
        let degrees = heading.degrees();
        let after = self.rows.partition_point(|(row, _)| *row <= degrees);
        let wrapped = |row: Option<&(f64, f64)>, turn: f64| row.map(|(h, d)| (h + turn, *d));
        let next = self.rows.get(after).copied().or_else(|| wrapped(self.rows.first(), 360.0));
        let last = match after.checked_sub(1) {
            Some(index) => self.rows.get(index).copied(),
            None => wrapped(self.rows.last(), -360.0),
        };
        let (Some((from, low)), Some((to, high))) = (last, next) else {
            return Deviation::from_east(Angle::ZERO);
        };
        let share = if to > from { (degrees - from) / (to - from) } else { 0.0 };
        Deviation::from_east(Angle::from_degrees(low + share * (high - low)))
    }
}

/// What stands between a compass and true north at one place and time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Compasses {
    /// Magnetic variation.
    pub variation: Option<Variation>,
    /// One deviation for every heading.
    pub deviation: Option<Deviation>,
    /// Deviation by heading, where no single one is stated.
    pub table: Option<DeviationTable>,
    /// Error of the gyro.
    pub gyro_error: Option<GyroError>,
}

/// A true direction as it is to be read off the instrument it is steered by.
#[derive(Debug, Clone, PartialEq)]
pub struct Steering {
    /// What it is read off.
    pub kind: BearingKind,
    /// Degrees by that instrument.
    pub degrees: f64,
    /// How it came about, in words: `T 294.4, var 10.3 E, M 284.1, dev 2.0 W, C 286.1`. Empty for true.
    pub chain: String,
}

impl Compasses {
    /// The deviation on a heading by compass: none stated is none.
    pub fn deviation_on(&self, heading: Bearing<Compass>) -> Deviation {
        let by_table = || self.table.as_ref().map(|table| table.at(heading));
        self.deviation.or_else(by_table).unwrap_or_else(|| Deviation::from_east(Angle::ZERO))
    }

    /// A direction that was read, as a true one, and the chain in words; empty where it was true.
    ///
    /// # Errors
    /// Outside 0° to 360°; magnetic or compass without the variation; relative.
    pub fn to_true(&self, read: ReadBearing) -> Result<(Bearing<True>, String), OwnError> {
        let own = self.own(Bearing::wrapped_degrees(read.degrees));
        Ok((own.to_true(read)?, own.chain(read)?))
    }

    /// A bearing of a mark, as a true one, and the chain in words; empty where it was true.
    ///
    /// The compass's deviation is that of the heading, not of the bearing.
    ///
    /// # Errors
    /// Outside 0° to 360°; magnetic or compass without the variation; relative, or by a compass with a
    /// table of deviation, without the heading.
    pub fn bearing_to_true(
        &self,
        read: ReadBearing,
        heading: Option<Bearing<True>>,
    ) -> Result<(Bearing<True>, String), OwnError> {
        let needs = read.kind == BearingKind::Compass && self.deviation.is_none();
        let by_compass = match heading {
            Some(heading) if needs => self.to_steer(heading, BearingKind::Compass)?.degrees,
            None if needs && self.table.is_some() => return Err(OwnError::NoHeading),
            _ => 0.0,
        };
        let own = Own { heading, ..self.own(Bearing::wrapped_degrees(by_compass)) };
        Ok((own.to_true(read)?, own.chain(read)?))
    }

    /// Whether a bearing of this kind is not turned to true without own heading.
    pub fn need_heading(&self, kind: BearingKind) -> bool {
        match kind {
            BearingKind::Relative => true,
            BearingKind::Compass => self.deviation.is_none() && self.table.is_some(),
            BearingKind::True | BearingKind::Magnetic | BearingKind::Gyro => false,
        }
    }

    /// The compasses as those of own craft, on a heading by compass.
    fn own(&self, heading: Bearing<Compass>) -> Own {
        Own {
            variation: self.variation,
            deviation: Some(self.deviation_on(heading)),
            gyro_error: self.gyro_error,
            ..Own::at_height(Height::SEA_LEVEL)
        }
    }

    /// A true direction as it is to be steered: the same chain taken the other way.
    ///
    /// From true to magnetic, easterly variation is taken off ("east is least"); from magnetic to
    /// compass the deviation of the compass heading that it leads to.
    ///
    /// # Errors
    /// Magnetic or compass without the variation.
    pub fn to_steer(&self, wanted: Bearing<True>, kind: BearingKind) -> Result<Steering, OwnError> {
        let east = || self.variation.ok_or(OwnError::NoVariation(kind));
        let steering = |degrees: f64, chain: String| Steering { kind, degrees, chain };
        Ok(match kind {
            BearingKind::True => steering(wanted.degrees(), String::new()),
            BearingKind::Relative => return Err(OwnError::NoHeading),
            BearingKind::Gyro => {
                let error = self.gyro_error.unwrap_or_else(|| GyroError::from_east(Angle::ZERO));
                let gyro = wanted.turned(-error.east());
                steering(gyro.degrees(), format!("T {wanted}, error {error}, G {gyro}"))
            }
            BearingKind::Magnetic => {
                let variation = east()?;
                let magnetic = wanted.turned(-variation.east());
                steering(magnetic.degrees(), format!("T {wanted}, var {variation}, M {magnetic}"))
            }
            BearingKind::Compass => {
                let variation = east()?;
                let magnetic = wanted.turned(-variation.east());
                let (compass, deviation) = self.compass_for(magnetic.degrees());
                steering(
                    compass.degrees(),
                    format!(
                        "T {wanted}, var {variation}, M {magnetic}, dev {deviation}, C {compass}"
                    ),
                )
            }
        })
    }

    /// The heading by compass that is a magnetic one, and its deviation.
    ///
    /// c + dev(c) = m, by repetition: it closes as deviations change by less than their headings.
    fn compass_for(&self, magnetic_deg: f64) -> (Bearing<Compass>, Deviation) {
        let mut compass = Bearing::<Compass>::wrapped_degrees(magnetic_deg);
        for _ in 0..60 {
            let deviation = self.deviation_on(compass);
            compass = Bearing::wrapped_degrees(magnetic_deg - deviation.east().degrees());
        }
        (compass, self.deviation_on(compass))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bearing(degrees: f64) -> Bearing<True> {
        Bearing::from_degrees(degrees).unwrap()
    }

    fn compasses(variation: &str, deviation: &str) -> Compasses {
        Compasses {
            variation: Variation::parse(variation),
            deviation: Deviation::parse(deviation),
            ..Compasses::default()
        }
    }

    fn table(rows: &[(f64, &str)]) -> Result<DeviationTable, TableError> {
        let rows: Vec<_> = rows
            .iter()
            .map(|(h, d)| (Bearing::from_degrees(*h).unwrap(), Deviation::parse(d).unwrap()))
            .collect();
        DeviationTable::new(&rows)
    }

    const EIGHT: [(f64, &str); 8] = [
        (0.0, "2.0 W"),
        (45.0, "1.0 W"),
        (90.0, "1.0 E"),
        (135.0, "3.0 E"),
        (180.0, "2.0 E"),
        (225.0, "0.0 E"),
        (270.0, "2.0 W"),
        (315.0, "4.0 W"),
    ];

    #[test]
    fn true_to_magnetic_to_compass() {
        // T 090, variation 15 W: M 105; deviation 5 W: C 110 (an exercise seen second-hand).
        let steered =
            compasses("15 W", "5 W").to_steer(bearing(90.0), BearingKind::Compass).unwrap();
        assert!((steered.degrees - 110.0).abs() < 1e-9);
        assert_eq!(steered.chain, "T 090.0, var 15.0 W, M 105.0, dev 5.0 W, C 110.0");
        let (back, _) = compasses("15 W", "5 W")
            .to_true(ReadBearing { kind: BearingKind::Compass, degrees: 110.0 })
            .unwrap();
        assert!((back.degrees() - 90.0).abs() < 1e-9);
        // T 090, 6 W, deviation 2 E: M 096, C 094, compass error 4 W (computed).
        let steered =
            compasses("6 W", "2 E").to_steer(bearing(90.0), BearingKind::Compass).unwrap();
        assert_eq!(steered.chain, "T 090.0, var 6.0 W, M 096.0, dev 2.0 E, C 094.0");
    }

    #[test]
    fn compass_error_is_the_sum_of_the_two() {
        // 10 W and 5 W make 15 W; 10 W and 5 E make 5 W (seen second-hand).
        for (variation, deviation, error) in [("10 W", "5 W", 15.0), ("10 W", "5 E", 5.0)] {
            let steered = compasses(variation, deviation)
                .to_steer(bearing(200.0), BearingKind::Compass)
                .unwrap();
            assert!((steered.degrees - 200.0 - error).abs() < 1e-9);
        }
    }

    #[test]
    fn the_chain_is_told_from_compass_to_true() {
        // C 286.1, deviation 2.0 W, variation 10.3 E: M 284.1, T 294.4 (computed).
        let read = ReadBearing { kind: BearingKind::Compass, degrees: 286.1 };
        let (truly, chain) = compasses("10.3 E", "2.0 W").to_true(read).unwrap();
        assert!((truly.degrees() - 294.4).abs() < 1e-9);
        assert_eq!(chain, "C 286.1, dev 2.0 W, M 284.1, var 10.3 E, T 294.4");
    }

    #[test]
    fn gyro_courses_with_leeway() {
        // Gyro course 281, gyro error 2 W: T 279; variation and deviation are beside the point. True
        // course 023, gyro error 1 W, 4° leeway in an east wind: steer 028 by gyro. Questions of a US
        // deck examination, seen second-hand; answers computed.
        let mut gyro = compasses("10 W", "5 W");
        gyro.gyro_error = GyroError::parse("2 W");
        let read = ReadBearing { kind: BearingKind::Gyro, degrees: 281.0 };
        assert!((gyro.to_true(read).unwrap().0.degrees() - 279.0).abs() < 1e-9);
        gyro.gyro_error = GyroError::parse("1 W");
        // The wind sets her to the west: the bow is laid 4° to windward.
        let bow = bearing(23.0).turned(Angle::from_degrees(4.0));
        let steered = gyro.to_steer(bow, BearingKind::Gyro).unwrap();
        assert!((steered.degrees - 28.0).abs() < 1e-9);
    }

    #[test]
    fn deviation_goes_round_the_circle() {
        let table = table(&EIGHT).unwrap();
        let at = |degrees: f64| table.at(Bearing::wrapped_degrees(degrees)).east().degrees();
        assert!((at(90.0) - 1.0).abs() < 1e-9);
        assert!((at(112.5) - 2.0).abs() < 1e-9);
        assert!((at(337.5) - -3.0).abs() < 1e-9);
        assert!((at(359.999) - -2.0).abs() < 1e-3);
        assert!((at(0.0) - -2.0).abs() < 1e-9);
    }

    #[test]
    fn the_heading_to_steer_takes_the_deviation_it_leads_to() {
        let mut compasses = compasses("10.0 E", "0 E");
        compasses.deviation = None;
        compasses.table = table(&EIGHT).ok();
        for truth in 0..360 {
            let wanted = bearing(f64::from(truth));
            let steered = compasses.to_steer(wanted, BearingKind::Compass).unwrap();
            let read = ReadBearing { kind: BearingKind::Compass, degrees: steered.degrees };
            let (back, _) = compasses.to_true(read).unwrap();
            assert!(back.minus(wanted).degrees().abs() < 1e-9, "{truth}");
        }
    }

    #[test]
    fn a_table_with_holes_is_refused() {
        let mut rows = EIGHT.to_vec();
        rows.remove(2);
        let error = table(&rows).unwrap_err();
        assert_eq!(error.to_string(), "nothing from heading 045.0 to 135.0, a hole of 90°");
        assert_eq!(error.entry(), 2);
        let error = table(&EIGHT[..7]).unwrap_err();
        assert_eq!(error.to_string(), "nothing from heading 270.0 to 000.0, a hole of 90°");
        rows.swap(3, 4);
        assert!(matches!(table(&rows), Err(TableError::Unordered { entry: 5, .. })));
        let mut rows = EIGHT.to_vec();
        rows.insert(3, rows[2]);
        assert!(matches!(table(&rows), Err(TableError::Twice { entry: 4, .. })));
        assert_eq!(table(&[]), Err(TableError::Empty));
        assert!(table(&[(0.0, "1 E")]).is_err());
    }
}
