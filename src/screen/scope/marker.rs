use crate::paint::{Picture, Trace};
use crate::units::{Angle, Bearing, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// Cells of range that a deflection is read over, to either side.
const READ_OVER: usize = 1;

/// The longer deflection is read as so many divisions.
const DIVISIONS: f64 = 5.0;

/// On scales up to this a range is read to a hundredth of a mile, on longer ones to a tenth.
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
    pub fn as_typed(&self, picture: &Picture) -> Option<String> {
        match picture {
            Picture::Plan(plan) => {
                let range = self.range_nm.map(|range| figures(range, plan.scale_nm()));
                let bearing =
                    self.bearing.map(|b| format!("{:05.1}", (b.degrees() % 359.95).abs()));
                match (range, bearing) {
                    (Some(range), Some(bearing)) => Some(format!("{range} {bearing}")),
                    (Some(range), None) => Some(format!("r{range}")),
                    (None, Some(bearing)) => Some(bearing),
                    (None, None) => None,
                }
            }
            Picture::Trace(trace) => {
                let range = self.range_nm?;
                let (port, starboard) = deflections(trace, range)?;
                Some(format!("{} d {port:.1}/{starboard:.1}", figures(range, trace.scale_nm())))
            }
        }
    }
}

fn figures(range_nm: f64, scale_nm: f64) -> String {
    if scale_nm <= FINE_SCALE_NM { format!("{range_nm:.2}") } else { format!("{range_nm:.1}") }
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
