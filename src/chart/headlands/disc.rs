use std::f64::consts::{PI, TAU};

/// Adds up the land inside a circle about the origin, edge by edge, by Green's theorem.
///
/// Edges run with their land to the left. Each is clipped by the circle and adds its triangle with
/// the centre; where the shore leaves the circle, the rim is land from there on round to where it
/// comes in again, so that each crossing adds its own angle and none has to be matched with
/// another. Exact for straight edges: how the vertices are spaced does not matter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Disc {
    square: f64,
    /// Twice the area of the triangles.
    twice: f64,
    /// Sum of the angles where the shore comes in, less those where it leaves.
    rim: f64,
    /// First moments: east and north.
    moment: [f64; 2],
    inward: i32,
    outward: i32,
    /// What cuts have inside: the vector sum and the length of their clipped edges.
    cut: [f64; 2],
    cut_length: f64,
}

/// What lies within a circle about a point of the shore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Share {
    /// The part of the circle that is land, 0 to 1: one half on a straight coast.
    pub(super) land: f64,
    /// The middle of the land, east and north of the circle's centre in the unit of the edges.
    pub(super) middle: [f64; 2],
}

impl Disc {
    pub(super) fn new(radius: f64) -> Self {
        Self {
            square: radius * radius,
            twice: 0.0,
            rim: 0.0,
            moment: [0.0; 2],
            inward: 0,
            outward: 0,
            cut: [0.0; 2],
            cut_length: 0.0,
        }
    }

    /// One edge. `cut`: it bounds the land only because the chart ends there.
    pub(super) fn edge(&mut self, from: [f64; 2], to: [f64; 2], cut: bool) {
        let along = [to[0] - from[0], to[1] - from[1]];
        let length = along[0] * along[0] + along[1] * along[1];
        if length <= 0.0 {
            return;
        }
        let (from_in, to_in) = (dot(from, from) < self.square, dot(to, to) < self.square);
        if from_in && to_in {
            return self.inside(from, to, cut);
        }
        // Where the edge's line meets the circle, as parts of the edge.
        let nearest = -dot(from, along) / length;
        let half = nearest * nearest - (dot(from, from) - self.square) / length;
        if half <= 0.0 {
            return;
        }
        let half = half.sqrt();
        let at = |t: f64| [from[0] + t * along[0], from[1] + t * along[1]];
        let (first, second) = (nearest - half, nearest + half);
        match (from_in, to_in) {
            (true, _) => {
                self.inside(from, at(second), cut);
                self.crossing(at(second), false);
            }
            (_, true) => {
                self.crossing(at(first), true);
                self.inside(at(first), to, cut);
            }
            _ if first > 0.0 && second < 1.0 => {
                self.crossing(at(first), true);
                self.inside(at(first), at(second), cut);
                self.crossing(at(second), false);
            }
            _ => {}
        }
    }

    fn inside(&mut self, from: [f64; 2], to: [f64; 2], cut: bool) {
        let cross = from[0] * to[1] - from[1] * to[0];
        self.twice += cross;
        self.moment[0] += cross * (from[0] + to[0]) / 6.0;
        self.moment[1] += cross * (from[1] + to[1]) / 6.0;
        if cut {
            let along = [to[0] - from[0], to[1] - from[1]];
            self.cut = [self.cut[0] + along[0], self.cut[1] + along[1]];
            self.cut_length += along[0].hypot(along[1]);
        }
    }

    fn crossing(&mut self, at: [f64; 2], inward: bool) {
        let sign = if inward { 1.0 } else { -1.0 };
        self.rim += sign * at[1].atan2(at[0]);
        // The rim's sectors, each from a way out to the next way in.
        let third = self.square / 3.0;
        self.moment[0] += sign * third * at[1];
        self.moment[1] -= sign * third * at[0];
        if inward {
            self.inward += 1;
        } else {
            self.outward += 1;
        }
    }

    /// The share of land, or `None` where the chart does not tell it: a line ends inside, or an
    /// edge of the chart runs through with nothing known beyond.
    ///
    /// The rim's angle is known but for whole turns. A point of the shore has some land about it
    /// and some sea, so that the share itself settles them.
    pub(super) fn share(&self) -> Option<Share> {
        // Cuts along both sides of one line, as at the date line, take each other away.
        let unpaired = self.cut[0].hypot(self.cut[1]);
        if self.inward != self.outward || unpaired > 0.02 * self.cut_length {
            return None;
        }
        let disc = PI * self.square;
        let land = (0.5 * self.twice / disc + self.rim / TAU).rem_euclid(1.0);
        let area = (land * disc).max(f64::MIN_POSITIVE);
        Some(Share { land, middle: [self.moment[0] / area, self.moment[1] / area] })
    }
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn land(edges: &[[f64; 2]], closed: bool, radius: f64) -> Share {
        let mut disc = Disc::new(radius);
        for pair in edges.windows(2) {
            disc.edge(pair[0], pair[1], false);
        }
        if closed {
            disc.edge(edges[edges.len() - 1], edges[0], false);
        }
        disc.share().unwrap()
    }

    #[test]
    fn a_straight_coast_is_half_land() {
        let share =
            land(&[[-9.0, 0.0], [-0.4, 0.0], [0.0, 0.0], [5.0, 0.0], [9.0, 0.0]], false, 3.0);
        assert!((share.land - 0.5).abs() < 1e-12);
        // Middle of a half disc: 4r/3π from the straight side (textbook value).
        assert!((share.middle[1] - 4.0 / PI).abs() < 1e-12 && share.middle[0].abs() < 1e-12);
    }

    #[test]
    fn a_square_headland_has_its_own_area() {
        // A square bluff of side 2 standing out by its whole side, circle of radius 3 on its
        // seaward corner's side: from the middle of the seaward edge the circle holds the bluff
        // and what lies beyond y = 2 of the coast behind it (a circular segment, textbook value).
        let edges = [
            [20.0, 2.0],
            [1.0, 2.0],
            [1.0, 0.0],
            [0.0, 0.0],
            [-1.0, 0.0],
            [-1.0, 2.0],
            [-20.0, 2.0],
        ];
        let reversed: Vec<_> = edges.iter().rev().copied().collect();
        let share = land(&reversed, false, 3.0);
        let segment = 9.0 * (2.0f64 / 3.0).acos() - 2.0 * 5.0f64.sqrt();
        assert!((share.land - (4.0 + segment) / (9.0 * PI)).abs() < 1e-12);
    }

    #[test]
    fn an_island_within_is_its_own_area_and_a_lake_the_rest() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert!((land(&square, true, 5.0).land - 1.0 / (25.0 * PI)).abs() < 1e-12);
        let lake: Vec<_> = square.iter().rev().copied().collect();
        assert!((land(&lake, true, 5.0).land - (1.0 - 1.0 / (25.0 * PI))).abs() < 1e-12);
    }

    #[test]
    fn what_the_chart_does_not_tell_is_not_made_up() {
        let mut ends = Disc::new(2.0);
        ends.edge([-5.0, 0.0], [0.0, 0.0], false);
        assert_eq!(ends.share(), None);
        let mut edge = Disc::new(2.0);
        edge.edge([-5.0, 0.0], [0.0, 0.0], false);
        edge.edge([0.0, 0.0], [0.0, 5.0], true);
        assert_eq!(edge.share(), None);
        // Land on both sides of the date line: two polygons, closed along the same meridian.
        let mut pair = Disc::new(2.0);
        pair.edge([-5.0, 0.0], [0.0, 0.0], false);
        pair.edge([0.0, 0.0], [0.0, 5.0], true);
        pair.edge([0.0, 5.0], [0.0, 0.0], true);
        pair.edge([0.0, 0.0], [5.0, 0.0], false);
        assert!((pair.share().unwrap().land - 0.5).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn a_wedge_is_its_own_angle(opening in 0.05f64..6.2, axis in -3.0f64..3.0, cuts in 1usize..6) {
            // A wedge of opening w about its apex holds w/2π of the circle, exactly.
            let (low, high) = (axis - 0.5 * opening, axis + 0.5 * opening);
            let arm = |angle: f64, reach: f64| [reach * angle.cos(), reach * angle.sin()];
            let mut edges: Vec<[f64; 2]> =
                (0..cuts).map(|i| arm(high, 9.0 - 8.0 * i as f64 / cuts as f64)).collect();
            edges.push([0.0, 0.0]);
            edges.push(arm(low, 9.0));
            let share = land(&edges, false, 1.0);
            prop_assert!((share.land - opening / TAU).abs() < 1e-9);
            // Its middle lies on the axis, 4 sin(w/2) / 3w from the apex (textbook value).
            let reach = 4.0 * (0.5 * opening).sin() / (3.0 * opening);
            prop_assert!((share.middle[0] - reach * axis.cos()).abs() < 1e-9);
            prop_assert!((share.middle[1] - reach * axis.sin()).abs() < 1e-9);
        }
    }
}
