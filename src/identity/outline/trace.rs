use std::f64::consts::TAU;

use crate::units::METRES_PER_NAUTICAL_MILE;

/// Points nearer to each other than this are never taken for independent, metres.
const LEAST_APART_M: f64 = METRES_PER_NAUTICAL_MILE;
/// And nearer than this many beam widths: one beam paints them both.
const BEAMS_APART: f64 = 2.0;
/// A point this near to being so far off counts for itself: a chord is a little less than its arc.
const NEARLY: f64 = 0.98;
/// How often the edge of what is no land jumps to another range altogether.
const JUMPS: f64 = 0.1;

/// One point of a traced edge in plain numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TracePoint {
    /// True bearing as read, radians.
    pub bearing: f64,
    /// Along the ground, metres.
    pub range: f64,
    /// Metres along the ground for each metre of slant range.
    pub stretch: f64,
    /// Error of the range along the ground, one standard deviation in metres.
    pub sigma: f64,
}

/// An edge of painted coast as it was traced, in plain numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Its points, in the order of the trace.
    pub points: Vec<TracePoint>,
    /// Error of each bearing, radians.
    pub bearing_sigma: f64,
    /// Half the width of the beam, radians.
    pub half_beam: f64,
    anchors: Vec<Anchor>,
}

/// A point that counts for itself.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Anchor {
    /// How much of a point it counts for.
    share: f64,
    /// Metres of range from the one before.
    step: f64,
    /// How far apart independent points are here, metres.
    apart: f64,
}

impl Trace {
    /// A trace, with how many of its points count for themselves.
    pub fn new(points: Vec<TracePoint>, bearing_sigma: f64, half_beam: f64) -> Self {
        let anchors = anchors(&points, half_beam);
        Self { points, bearing_sigma, half_beam, anchors }
    }

    /// How many independent points it is worth: the error of one point is that of its neighbours,
    /// out to a mile or two beam widths, whichever is more (common practice, no published source).
    pub fn effective(&self) -> f64 {
        let count = self.points.len() as f64;
        self.anchors.iter().map(|anchor| anchor.share).sum::<f64>().min(count)
    }

    /// The power to which the likelihood of each point is taken.
    pub fn temper(&self) -> f64 {
        self.effective() / self.points.len().max(1) as f64
    }

    /// Its greatest range, metres.
    pub fn farthest(&self) -> f64 {
        self.points.iter().map(|p| p.range).fold(0.0, f64::max)
    }

    /// Its mean range, metres.
    pub fn mean_range(&self) -> f64 {
        self.points.iter().map(|p| p.range).sum::<f64>() / self.points.len().max(1) as f64
    }

    /// Logarithm of the density of its ranges where it is the edge of nothing charted: it starts
    /// anywhere within reach, and wanders from one independent point to the next by as much as it
    /// goes aside, now and then by anything.
    pub fn log_nothing(&self, reach: f64) -> f64 {
        let reach = reach.max(1.0);
        let step = |anchor: &Anchor| {
            let off = anchor.step / anchor.apart;
            let near = (-0.5 * off * off).exp() / (anchor.apart * TAU.sqrt());
            ((1.0 - JUMPS) * near + JUMPS / reach).ln()
        };
        let steps: f64 =
            self.anchors.iter().skip(1).map(|anchor| anchor.share * step(anchor)).sum();
        steps - reach.ln()
    }
}

/// Walks along the trace: a point counts once it lies far enough from the last that did, whatever
/// way the trace took between them, so that the noise of a dense trace makes it no longer.
fn anchors(points: &[TracePoint], half_beam: f64) -> Vec<Anchor> {
    let Some(first) = points.first() else { return Vec::new() };
    let mut anchors = vec![Anchor { share: 1.0, step: 0.0, apart: LEAST_APART_M }];
    let mut last = first;
    let between = |a: &TracePoint, b: &TracePoint| {
        let (ea, na) = (a.range * a.bearing.sin(), a.range * a.bearing.cos());
        let (eb, nb) = (b.range * b.bearing.sin(), b.range * b.bearing.cos());
        let apart = LEAST_APART_M.max(BEAMS_APART * 2.0 * half_beam * b.range);
        ((ea - eb).hypot(na - nb), apart)
    };
    for point in points {
        let (far, apart) = between(last, point);
        if far >= NEARLY * apart {
            anchors.push(Anchor { share: 1.0, step: point.range - last.range, apart });
            last = point;
        }
    }
    if let Some(point) = points.last() {
        let (far, apart) = between(last, point);
        let share = (far / apart).min(1.0);
        anchors.push(Anchor { share, step: point.range - last.range, apart });
    }
    anchors
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(count: usize, span_deg: f64, noise: f64) -> Trace {
        let points = (0..count)
            .map(|i| TracePoint {
                bearing: radians(span_deg * i as f64 / (count - 1) as f64),
                range: 10.0 * 1852.0 + if i % 2 == 0 { noise } else { -noise },
                stretch: 1.0,
                sigma: 200.0,
            })
            .collect();
        Trace::new(points, 0.01, radians(0.5))
    }

    fn radians(degrees: f64) -> f64 {
        crate::units::Angle::from_degrees(degrees).radians()
    }

    #[test]
    fn points_closer_than_a_mile_share_their_error() {
        // An arc of 57.3° at 10 NM is 10 NM long: eleven points at a mile apart (computed).
        let spread = trace(11, 57.2958, 0.0).effective();
        assert!((spread - 11.0).abs() < 1.2, "{spread}");
        let dense = trace(400, 57.2958, 0.0).effective();
        assert!((dense - 11.0).abs() < 0.6, "{dense}");
        // Noise makes a dense trace longer, and tells no more.
        let noisy = trace(400, 57.2958, 200.0).effective();
        assert!((noisy - 11.0).abs() < 1.5, "{noisy}");
        // Never more than there are points.
        assert!(trace(3, 57.2958, 0.0).effective() <= 3.0);
        assert!((trace(400, 57.2958, 0.0).temper() * 400.0 - dense).abs() < 1e-9);
    }

    #[test]
    fn what_is_nothing_is_weighed_by_its_wandering() {
        let smooth = trace(11, 57.2958, 0.0).log_nothing(50.0 * 1852.0);
        let wild = trace(11, 57.2958, 3.0 * 1852.0).log_nothing(50.0 * 1852.0);
        assert!(smooth > wild);
        assert!(wild.is_finite());
    }
}
