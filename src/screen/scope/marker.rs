use crate::paint::{Picture, Trace};
use crate::units::{Angle, Bearing, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// Cells of range that a deflection is read over, to either side.
const READ_OVER: usize = 1;

/// The longer deflection is read as so many divisions.
const DIVISIONS: f64 = 5.0;

/// On scales up to these a range is read to a thousandth and to a hundredth of a mile, on longer ones to
/// a tenth.
const FINEST_SCALE_NM: f64 = 1.5;
const FINE_SCALE_NM: f64 = 12.0;

/// The operator's own ring and line on the radar's picture; on a range trace a range mark.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Marker {
    /// Where the ring stands, nautical miles of slant range.
    pub range_nm: Option<f64>,
    /// Where the line points.
    pub bearing: Option<Bearing<True>>,
}

impl Marker {
    /// Whether anything of it is out.
    pub fn is_out(&self) -> bool {
        self.range_nm.is_some() || self.bearing.is_some()
    }

    /// Moves the ring by a share of the scale; it comes out at half of it.
    pub fn range(&mut self, scale_nm: f64, share: f64) {
        let range = self.range_nm.map_or(0.5 * scale_nm, |range| range + share * scale_nm);
        self.range_nm = Some(range.clamp(0.0, scale_nm));
    }

    /// Turns the line by degrees; it comes out where `up` points.
    pub fn turn(&mut self, degrees: f64, up: Bearing<True>) {
        let turned = |bearing: Bearing<True>| bearing.turned(Angle::from_degrees(degrees));
        self.bearing = Some(self.bearing.map_or(up, turned));
    }

    /// Ring and line as a contact is typed; none where nothing is out, or a trace's mark is off it.
    ///
    /// - `predicted`: the picture is what should show, not what does. Its deflections are then nobody's
    ///   reading, and are left out: as a contact they would confirm the place they are predicted from.
    pub fn as_typed(&self, picture: &Picture, predicted: bool) -> Option<String> {
        match picture {
            Picture::Plan(plan) => {
                let range = self.range_nm.map(|range| figures(range, plan.scale_nm()));
                let bearing = self.bearing.map(|bearing| {
                    let tenths = (bearing.degrees() * 10.0).round() as u32 % 3_600;
                    // The line is true: behind a contact's letter it would else be of that one's kind.
                    format!("{:03}.{}t", tenths / 10, tenths % 10)
                });
                match (range, bearing) {
                    (Some(range), Some(bearing)) => Some(format!("{range} {bearing}")),
                    (Some(range), None) => Some(format!("r{range}")),
                    (None, Some(bearing)) => Some(bearing),
                    (None, None) => None,
                }
            }
            Picture::Trace(trace) => {
                let range = self.range_nm?;
                if predicted {
                    return Some(format!("r{}", figures(range, trace.scale_nm())));
                }
                let (port, starboard) = deflections(trace, range)?;
                Some(format!("{} d {port:.1}/{starboard:.1}", figures(range, trace.scale_nm())))
            }
        }
    }
}

fn figures(range_nm: f64, scale_nm: f64) -> String {
    // Three figures before the point are a bearing, unless the unit is said.
    let unit = if range_nm >= 99.95 { "nm" } else { "" };
    let places = match scale_nm {
        scale if scale <= FINEST_SCALE_NM => 3,
        scale if scale <= FINE_SCALE_NM => 2,
        _ => 1,
    };
    format!("{range_nm:.places$}{unit}")
}

/// Both deflections at a range, the longer of them [`DIVISIONS`] long.
fn deflections(trace: &Trace, range_nm: f64) -> Option<(f64, f64)> {
    let range = SlantRange::clamped_metres(range_nm * METRES_PER_NAUTICAL_MILE);
    let bin = trace.bin_at(range)?;
    let over = bin.saturating_sub(READ_OVER)..=bin + READ_OVER;
    let read = |side: &crate::paint::TraceSide| {
        // Power is what evens out, not voltage.
        let sum: f64 = over.clone().map(|bin| f64::from(side.deflection(bin)).powi(2)).sum();
        sum.sqrt()
    };
    let (port, starboard) = (read(trace.port()), read(trace.starboard()));
    let most = port.max(starboard);
    let divisions = |side: f64| (side / most * DIVISIONS).max(0.1);
    (most > 0.0).then(|| (divisions(port), divisions(starboard)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;
    use crate::paint::{Conditions, Frame, Vantage, picture};
    use crate::radar::Set;
    use crate::units::Height;
    use crate::watch::entry::{Entry, understood};

    fn pictured(set: &str, scale_nm: f64) -> Picture {
        let vantage = Vantage {
            position: crate::geodesy::Position::new(-38.2, -21.5).unwrap(),
            height: Height::from_feet(2000.0).unwrap(),
            heading: Some(Bearing::wrapped_degrees(70.0)),
        };
        let scale = SlantRange::clamped_metres(scale_nm * METRES_PER_NAUTICAL_MILE);
        let frame = Frame { bins: 64, bearings: 90, ..Frame::to(scale) };
        let set = Set::builtin(set).unwrap();
        picture(&Chart::sample().unwrap(), &vantage, &set, &Conditions::default(), &frame).unwrap()
    }

    #[test]
    fn what_is_typed_for_ring_and_line_reads_back_as_them() {
        let plan = pictured("patrol", 100.0);
        for (range, bearing) in [(17.3, 42.5), (99.97, 359.97), (100.0, 0.04), (0.4, 180.0)] {
            let marker =
                Marker { range_nm: Some(range), bearing: Some(Bearing::wrapped_degrees(bearing)) };
            let typed = marker.as_typed(&plan, true).unwrap();
            let Ok(Entry::Measured(found)) = understood(&typed) else { panic!("{typed}") };
            assert!((found.range_nm.unwrap() - range).abs() <= 0.051, "{typed}");
            let off = (found.bearing.unwrap().0 - bearing + 180.0).rem_euclid(360.0) - 180.0;
            assert!(off.abs() <= 0.051, "{typed}");
        }
    }

    #[test]
    fn deflections_are_read_off_a_real_trace_and_never_off_a_predicted_one() {
        let trace = pictured("metric", 30.0);
        let marker = Marker { range_nm: Some(10.0), bearing: None };
        assert_eq!(marker.as_typed(&trace, true).as_deref(), Some("r10.0"));
        let typed = marker.as_typed(&trace, false).unwrap();
        assert!(typed.starts_with("10.0 d ") && understood(&typed).is_ok(), "{typed}");
    }

    #[test]
    fn ring_and_line_come_out_move_and_stop() {
        let mut marker = Marker::default();
        assert!(!marker.is_out());
        marker.range(50.0, 0.01);
        assert_eq!(marker.range_nm, Some(25.0));
        marker.range(50.0, -0.02);
        assert!((marker.range_nm.unwrap() - 24.0).abs() < 1e-9);
        marker.range(50.0, -9.0);
        assert_eq!(marker.range_nm, Some(0.0));
        marker.turn(1.0, Bearing::wrapped_degrees(70.0));
        assert!((marker.bearing.unwrap().degrees() - 70.0).abs() < 1e-9);
        marker.turn(-75.0, Bearing::ZERO);
        assert!((marker.bearing.unwrap().degrees() - 355.0).abs() < 1e-9);
    }
}
