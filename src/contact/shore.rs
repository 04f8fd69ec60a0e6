//! Where on a shore an echo's edges lie: its leading edge inside the beam, its tangents, and the
//! nearest point of all.

use super::kinds::Part;
use super::measure::convergence_between;
use crate::chart::Coast;
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::units::{Angle, Bearing, GroundRange, True};

/// The widest half beam that is still a wedge; anything wider looks all round.
const WEDGE_MOST_RAD: f64 = 1.5;
/// Points of a line that are passed over together where none of them can answer.
const RUN_POINTS: usize = 4;

/// The shore about one mark, laid flat about it and cut to a disc: what can answer as that mark.
#[derive(Debug, Clone)]
pub struct Shore {
    plane: LocalPlane,
    radius_m: f64,
    lines: Vec<Vec<PlanePoint>>,
    runs: Vec<Run>,
}

/// A short run of one line, and the circle that it lies in.
#[derive(Debug, Clone)]
struct Run {
    middle: PlanePoint,
    within_m: f64,
    points: Vec<PlanePoint>,
}

impl Run {
    fn of(points: &[PlanePoint]) -> Self {
        let span = |of: &dyn Fn(&PlanePoint) -> f64| {
            points
                .iter()
                .map(of)
                .fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(v), high.max(v)))
        };
        let (east, north) = (span(&|p| p.east), span(&|p| p.north));
        let middle = PlanePoint { east: 0.5 * (east.0 + east.1), north: 0.5 * (north.0 + north.1) };
        let within_m = 0.5 * (east.1 - east.0).hypot(north.1 - north.0);
        Self { middle, within_m, points: points.to_vec() }
    }

    /// Whether nothing of it can lie inside the wedge and nearer than `squared`.
    fn is_out(&self, own: PlanePoint, wedge: Option<Wedge>, squared: f64) -> bool {
        let middle = relative(self.middle, own);
        let outside = |side: f64| side < -self.within_m;
        let aside = wedge.is_some_and(|wedge| {
            outside(-cross(wedge.left, middle)) || outside(cross(wedge.right, middle))
        });
        let clear = (middle.0 * middle.0 + middle.1 * middle.1).sqrt() - self.within_m;
        aside || clear > 0.0 && clear * clear > squared
    }
}

/// A point of the shore, as seen from own position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// The point itself.
    pub position: Position,
    /// Along the ground.
    pub range: GroundRange,
    /// True bearing at own position.
    pub bearing: Bearing<True>,
    /// Metres of range for each metre that own position goes east and north.
    pub range_by: [f64; 2],
}

/// Own position as one shore has it: a point of its plane, and the turn from that plane's north to
/// true north there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stand {
    own: PlanePoint,
    turn: Angle,
}

impl Shore {
    /// The part of `lines` (points of `plane`) within `radius` of the plane's centre.
    pub fn new<'a>(
        plane: LocalPlane,
        lines: impl IntoIterator<Item = &'a [PlanePoint]>,
        radius: GroundRange,
    ) -> Self {
        let radius_m = radius.metres();
        let lines: Vec<Vec<PlanePoint>> =
            lines.into_iter().flat_map(|line| cut(line, radius_m)).collect();
        // Each run begins where the one before it ends.
        let starts = |line: &Vec<PlanePoint>| (0..line.len().saturating_sub(1)).step_by(RUN_POINTS);
        let runs = lines
            .iter()
            .flat_map(|line| starts(line).map(move |from| (line, from)))
            .filter_map(|(line, from)| line.get(from..line.len().min(from + RUN_POINTS + 1)))
            .map(Run::of)
            .collect();
        Self { plane, radius_m, lines, runs }
    }

    /// The charted coast within `radius` of a place.
    pub fn around(coast: &Coast, about: Position, radius: GroundRange) -> Self {
        let plane = LocalPlane::new(about);
        let stretches = coast.stretches(&plane, radius);
        Self::new(plane, stretches.iter().map(|stretch| stretch.points.as_slice()), radius)
    }

    /// Whether there is any shore.
    pub fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }

    /// The nearest shore within half a beam of a bearing: where an echo's leading edge lies.
    ///
    /// In closed form for each straight piece of shore: the foot of the perpendicular where it
    /// falls inside the beam, else the nearer end of what the beam cuts out of the piece. `None`
    /// where no shore is in the beam. What is painted is not judged here, and the edge is that of
    /// the charted line: a beach that shelves paints a little behind it.
    pub fn leading_edge(
        &self,
        from: Position,
        bearing: Bearing<True>,
        half_beam: Angle,
    ) -> Option<Edge> {
        self.leading_edge_from(self.stand(from), bearing, half_beam)
    }

    /// Own position as this shore has it, and any other about the same place: to look from it more
    /// than once.
    pub(crate) fn stand(&self, from: Position) -> Stand {
        let turn = convergence_between(self.plane.centre(), from);
        Stand { own: self.plane.to_plane(from), turn }
    }

    /// As [`Shore::leading_edge`].
    pub(crate) fn leading_edge_from(
        &self,
        stand: Stand,
        bearing: Bearing<True>,
        half_beam: Angle,
    ) -> Option<Edge> {
        Some(self.edge(stand, self.foot(stand, bearing, half_beam)?.near()))
    }

    /// The range of that edge alone.
    pub(crate) fn leading_range_from(
        &self,
        stand: Stand,
        bearing: Bearing<True>,
        half_beam: Angle,
    ) -> Option<GroundRange> {
        let foot = self.foot(stand, bearing, half_beam)?;
        Some(GroundRange::clamped_metres(foot.squared.sqrt()))
    }

    fn foot(&self, stand: Stand, bearing: Bearing<True>, half_beam: Angle) -> Option<Foot> {
        let Stand { own, turn } = stand;
        let half = half_beam.radians().abs();
        let wedge = (half < WEDGE_MOST_RAD).then(|| Wedge::about(bearing.turned(-turn), half));
        let mut best: Option<Foot> = None;
        for run in &self.runs {
            let squared = best.map_or(f64::INFINITY, |foot| foot.squared);
            if run.is_out(own, wedge, squared) {
                continue;
            }
            for (a, b) in run.points.iter().zip(run.points.iter().skip(1)) {
                let foot = nearest_on(relative(*a, own), relative(*b, own), wedge);
                let nearer = |foot: &Foot| best.is_none_or(|best| foot.squared < best.squared);
                best = foot.filter(nearer).or(best);
            }
        }
        best
    }

    /// The nearest shore in any direction.
    pub fn nearest(&self, from: Position) -> Option<Edge> {
        self.nearest_from(self.stand(from))
    }

    /// As [`Shore::nearest`].
    pub(crate) fn nearest_from(&self, stand: Stand) -> Option<Edge> {
        let all_round = Angle::from_radians(std::f64::consts::PI);
        self.leading_edge_from(stand, Bearing::ZERO, all_round)
    }

    /// The land's own left or right edge as seen from outside it: the tangent to the shore.
    ///
    /// `None` for any other part, with no shore, from among it (where there is no outermost
    /// bearing), and where the shore runs on past the disc at that side.
    pub fn tangent(&self, from: Position, side: Part) -> Option<Edge> {
        let sign = match side {
            Part::Left => -1.0,
            Part::Right => 1.0,
            Part::Near | Part::Centre | Part::Shore => return None,
        };
        let stand = self.stand(from);
        let own = stand.own;
        let middle = Bearing::<True>::wrapped((-own.east).atan2(-own.north));
        let seen = self.lines.iter().flatten().map(|point| {
            let (east, north) = relative(*point, own);
            let aside = Bearing::<True>::wrapped(east.atan2(north)).minus(middle).radians();
            (sign * aside, *point)
        });
        let mut widest: Option<(f64, PlanePoint)> = None;
        let mut other_side: f64 = f64::INFINITY;
        for (aside, point) in seen {
            other_side = other_side.min(aside);
            if widest.is_none_or(|(most, _)| aside > most) {
                widest = Some((aside, point));
            }
        }
        let (aside, point) = widest?;
        // From outside, land fills less than half of the horizon.
        if aside - other_side >= std::f64::consts::PI {
            return None;
        }
        if point.east.hypot(point.north) > 0.98 * self.radius_m {
            return None;
        }
        let (east, north) = relative(point, own);
        let range = east.hypot(north);
        let by = if range > 0.0 { [-east / range, -north / range] } else { [0.0, 0.0] };
        Some(self.edge(stand, Near { range, east, north, by }))
    }

    fn edge(&self, Stand { own, turn }: Stand, near: Near) -> Edge {
        let point = PlanePoint { east: own.east + near.east, north: own.north + near.north };
        let (sin, cos) = turn.radians().sin_cos();
        let [east, north] = near.by;
        Edge {
            position: self.plane.to_position(point),
            range: GroundRange::clamped_metres(near.range),
            bearing: Bearing::<True>::wrapped(near.east.atan2(near.north)).turned(turn),
            // From the plane's axes to true ones at own position.
            range_by: [east * cos + north * sin, north * cos - east * sin],
        }
    }
}

/// The bearing of the land's own edge, from that of an edge as drawn on the screen.
///
/// The beam paints early and late by half its width, so an edge is drawn that much outside the
/// land: the left one reads low, the right one high. Other parts are not changed.
pub fn land_edge(drawn: Bearing<True>, part: Part, half_beam: Angle) -> Bearing<True> {
    match part {
        Part::Left => drawn.turned(half_beam),
        Part::Right => drawn.turned(-half_beam),
        Part::Near | Part::Centre | Part::Shore => drawn,
    }
}

/// The nearest point of a piece of shore, from own position, in the plane's axes.
#[derive(Clone, Copy)]
struct Near {
    range: f64,
    east: f64,
    north: f64,
    by: [f64; 2],
}

/// A beam: the unit vectors of its left and right side, less than half a turn apart.
#[derive(Clone, Copy)]
struct Wedge {
    left: (f64, f64),
    right: (f64, f64),
}

impl Wedge {
    fn about(bearing: Bearing<True>, half_rad: f64) -> Self {
        let half = Angle::from_radians(half_rad);
        Self { left: bearing.turned(-half).sin_cos(), right: bearing.turned(half).sin_cos() }
    }

    /// The share of the line from `a` to `b` inside, from where to where of its length.
    fn cut(self, a: (f64, f64), b: (f64, f64)) -> Option<(f64, f64)> {
        let mut span = (0.0f64, 1.0f64);
        // Inside is clockwise of the left side and counter-clockwise of the right one.
        for (at_a, at_b) in [
            (-cross(self.left, a), -cross(self.left, b)),
            (cross(self.right, a), cross(self.right, b)),
        ] {
            if at_a < 0.0 && at_b < 0.0 {
                return None;
            }
            let crossing = at_a / (at_a - at_b);
            if at_a < 0.0 {
                span.0 = span.0.max(crossing);
            } else if at_b < 0.0 {
                span.1 = span.1.min(crossing);
            }
        }
        (span.0 <= span.1).then_some(span)
    }
}

/// Positive where `b` lies counter-clockwise of `a`, both east and north.
fn cross(a: (f64, f64), b: (f64, f64)) -> f64 {
    a.0 * b.1 - a.1 * b.0
}

fn relative(point: PlanePoint, own: PlanePoint) -> (f64, f64) {
    (point.east - own.east, point.north - own.north)
}

/// The point nearest to the origin on a piece of shore, and how it came about.
#[derive(Clone, Copy)]
struct Foot {
    /// Its distance, squared.
    squared: f64,
    east: f64,
    north: f64,
    /// The direction of the piece, where the point is cut off by a side of the beam.
    slides_along: Option<(f64, f64)>,
}

impl Foot {
    fn near(self) -> Near {
        let Self { east, north, .. } = self;
        let range = self.squared.sqrt();
        let (u_east, u_north) =
            if range > 0.0 { (east / range, north / range) } else { (0.0, 0.0) };
        let by = match self.slides_along {
            // The point slides along the shore and stays on the same bearing.
            Some((d_east, d_north)) => {
                let (n_east, n_north) = (-d_north, d_east);
                let towards = n_east * u_east + n_north * u_north;
                if towards == 0.0 { [0.0, 0.0] } else { [-n_east / towards, -n_north / towards] }
            }
            None => [-u_east, -u_north],
        };
        Near { range, east, north, by }
    }
}

/// The point nearest to the origin on the line from `a` to `b`, inside the wedge.
fn nearest_on(a: (f64, f64), b: (f64, f64), wedge: Option<Wedge>) -> Option<Foot> {
    let (from, to) = match wedge {
        Some(wedge) => wedge.cut(a, b)?,
        None => (0.0, 1.0),
    };
    let (d_east, d_north) = (b.0 - a.0, b.1 - a.1);
    let length2 = d_east * d_east + d_north * d_north;
    let foot = if length2 > 0.0 { -(a.0 * d_east + a.1 * d_north) / length2 } else { 0.0 };
    let at = foot.max(from).min(to);
    let (east, north) = (a.0 + at * d_east, a.1 + at * d_north);
    let on_the_beams_side = (foot < from && from > 0.0) || (foot > to && to < 1.0);
    Some(Foot {
        squared: east * east + north * north,
        east,
        north,
        slides_along: on_the_beams_side.then_some((d_east, d_north)),
    })
}

/// The pieces of a line within a circle about the origin.
fn cut(line: &[PlanePoint], radius: f64) -> Vec<Vec<PlanePoint>> {
    let mut pieces: Vec<Vec<PlanePoint>> = Vec::new();
    let mut open = false;
    for (a, b) in line.iter().zip(line.iter().skip(1)) {
        let Some((from, to)) = chord(*a, *b, radius) else {
            open = false;
            continue;
        };
        let at = |share: f64| PlanePoint {
            east: a.east + share * (b.east - a.east),
            north: a.north + share * (b.north - a.north),
        };
        match pieces.last_mut() {
            Some(piece) if open && from <= 0.0 => piece.push(at(to)),
            _ => pieces.push(vec![at(from), at(to)]),
        }
        open = to >= 1.0;
    }
    pieces
}

/// The share of the line from `a` to `b` within a circle about the origin.
fn chord(a: PlanePoint, b: PlanePoint, radius: f64) -> Option<(f64, f64)> {
    let (d_east, d_north) = (b.east - a.east, b.north - a.north);
    let length2 = d_east * d_east + d_north * d_north;
    let outside = a.east * a.east + a.north * a.north - radius * radius;
    if length2 <= 0.0 {
        return (outside <= 0.0).then_some((0.0, 1.0));
    }
    let middle = -(a.east * d_east + a.north * d_north) / length2;
    let half2 = middle * middle - outside / length2;
    if half2 < 0.0 {
        return None;
    }
    let half = half2.sqrt();
    let (from, to) = ((middle - half).max(0.0), (middle + half).min(1.0));
    (from < to).then_some((from, to))
}

#[cfg(test)]
mod tests;
