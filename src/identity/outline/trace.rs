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
    /// Its points, clockwise.
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
        let points = in_order(points);
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

/// Points in order of bearing, the widest gap between the last and the first: an edge has one range
/// on each bearing, so that the order it was written down in tells nothing.
fn in_order(mut points: Vec<TracePoint>) -> Vec<TracePoint> {
    points.sort_by(|a, b| a.bearing.total_cmp(&b.bearing).then(a.range.total_cmp(&b.range)));
    let before = points.iter().skip(points.len().saturating_sub(1)).chain(&points);
    let gaps = before.zip(&points).map(|(a, b)| (b.bearing - a.bearing).rem_euclid(TAU));
    let widest = gaps.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(first, _)| first);
    points.rotate_left(widest);
    points
}

/// Walks along the trace: a point counts once it lies far enough from every one that did, so that
/// the noise of a dense trace, or one that leaps to and fro, makes it no longer.
fn anchors(points: &[TracePoint], half_beam: f64) -> Vec<Anchor> {
    let Some(first) = points.first() else { return Vec::new() };
    let mut anchors = vec![Anchor { share: 1.0, step: 0.0, apart: LEAST_APART_M }];
    let mut counted = vec![first];
    // How far off the nearest that counts is, over what it takes.
    let off = |counted: &[&TracePoint], point: &TracePoint, apart: f64| {
        let far = counted.iter().map(|other| distance(other, point)).fold(f64::INFINITY, f64::min);
        far / apart
    };
    let mut last = first;
    for (number, point) in points.iter().enumerate() {
        let apart = LEAST_APART_M.max(BEAMS_APART * 2.0 * half_beam * point.range);
        let share = off(&counted, point, apart);
        // What is left over at the end counts for its part.
        if share >= NEARLY || number + 1 == points.len() {
            let share = if share >= NEARLY { 1.0 } else { share };
            anchors.push(Anchor { share, step: point.range - last.range, apart });
            counted.push(point);
            last = point;
        }
    }
    anchors
}

/// Metres between two points.
fn distance(one: &TracePoint, other: &TracePoint) -> f64 {
    let ((es, ec), (os, oc)) = (one.bearing.sin_cos(), other.bearing.sin_cos());
    (one.range * es - other.range * os).hypot(one.range * ec - other.range * oc)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One radian.
    const ARC_DEG: f64 = 57.295_779_513_082_32;

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
        // An arc of a radian at 10 NM is 10 NM long. Eleven points a mile of arc apart, the chord
        // 0.9996 of it: each counts.
        let spread = trace(11, ARC_DEG, 0.0).effective();
        assert!((spread - 11.0).abs() < 1e-9, "{spread}");
        // 399 steps of 0.02506 NM. Forty of them are the first chord over 0.98 NM: nine such, and
        // 39 left over with a chord of 0.9770 NM (computed).
        let dense = trace(400, ARC_DEG, 0.0).effective();
        assert!((dense - 10.977).abs() < 1e-3, "{dense}");
        // Points 200 m long and short in turn: one across the trace from the last may lie no more
        // than 0.956 NM along it, and at the end what is left is 0.216 NM across at least: no more
        // than 1 + 10 / 0.956 + 0.22 (computed). It tells no more for its noise.
        let noisy = trace(400, ARC_DEG, 200.0).effective();
        assert!((10.9..=11.68).contains(&noisy), "{noisy}");
        // Never more than there are points.
        assert!(trace(3, ARC_DEG, 0.0).effective() <= 3.0);
        assert!((trace(400, ARC_DEG, 0.0).temper() * 400.0 - dense).abs() < 1e-9);
    }

    #[test]
    fn the_order_of_the_points_tells_nothing() {
        let whole = trace(400, ARC_DEG, 50.0);
        let mut points = whole.points.clone();
        // 400 and 7 have no divisor in common: every point once, neighbours far apart.
        points = (0..400).map(|i| points[(7 * i) % 400]).collect();
        assert_eq!(Trace::new(points, 0.01, radians(0.5)), whole);
    }

    #[test]
    fn a_trace_that_leaps_to_and_fro_counts_as_both_edges() {
        // Every other point lies six miles behind: an arc of 7 NM and one of 13 NM, each with no
        // more points than one for every 0.98 NM and one to begin with, and the last.
        let leaping = trace(400, ARC_DEG, 3.0 * 1852.0).effective();
        assert!(leaping <= 1.0 + 7.0 / 0.98 + 1.0 + 13.0 / 0.98 + 1.0, "{leaping}");
    }

    #[test]
    fn a_trace_across_north_begins_after_its_widest_gap() {
        let about_north: Vec<f64> = [350.0, 355.0, 0.0, 5.0, 10.0].map(radians).to_vec();
        let points = about_north.iter().rev().map(|bearing| TracePoint {
            bearing: bearing.rem_euclid(TAU),
            range: 18_520.0,
            stretch: 1.0,
            sigma: 200.0,
        });
        let trace = Trace::new(points.collect(), 0.01, radians(0.5));
        let found: Vec<f64> = trace
            .points
            .iter()
            .map(|p| crate::units::Angle::from_radians(p.bearing).degrees())
            .collect();
        for (found, laid) in found.iter().zip([-10.0, -5.0, 0.0, 5.0, 10.0]) {
            assert!((found - laid).abs() < 1e-9, "{found} {laid}");
        }
    }

    #[test]
    fn what_is_nothing_is_weighed_by_its_wandering() {
        let smooth = trace(11, ARC_DEG, 0.0).log_nothing(50.0 * 1852.0);
        let wild = trace(11, ARC_DEG, 3.0 * 1852.0).log_nothing(50.0 * 1852.0);
        assert!(smooth > wild);
        assert!(wild.is_finite());
    }
}
