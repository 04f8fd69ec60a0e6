use std::f64::consts::TAU;

use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

use super::index::Index;
use super::places::Place;
use super::{DROPPED_NATS, GATE, RIVAL};
use crate::identity::budget::LogSum;

/// Partial sets that one thread works out or sums at a time.
const AT_ONCE: usize = 256;

/// A partial set of identities, with a normal estimate of own place and bearing bias.
#[derive(Clone)]
pub(super) struct Node {
    pub parent: usize,
    pub target: Option<usize>,
    pub log_weight: f64,
    pub mean: Vector3<f64>,
    pub covariance: Matrix3<f64>,
    /// A bit for each mark that a contact of it is; many marks share a bit.
    marks: u64,
}

impl Node {
    /// Before any contact.
    pub fn root(covariance: Matrix3<f64>) -> Self {
        let mean = Vector3::zeros();
        Self { parent: 0, target: None, log_weight: 0.0, mean, covariance, marks: 0 }
    }

    /// Whether a contact of it may be this mark; where not, none is.
    pub fn may_hold(&self, candidate: usize) -> bool {
        self.marks & bit_of(candidate) != 0
    }
}

fn bit_of(candidate: usize) -> u64 {
    1 << (candidate % 64)
}

/// A partial set with one contact more, worked out no further than it takes to rank it: most go no
/// further.
#[derive(Clone, Copy)]
pub(super) struct Child {
    parent: u32,
    /// Which of the places that the contact allows; none where it is nothing on the chart.
    place: Option<u32>,
    log_weight: f64,
    /// East and north of its estimate, and their variances.
    at: [f64; 2],
    variance: [f64; 2],
}

impl Child {
    /// With the contact nothing on the chart.
    pub fn without(node: &Node, parent: usize, off_chart: f64) -> Self {
        Self {
            parent: parent as u32,
            place: None,
            log_weight: node.log_weight + off_chart,
            at: [node.mean[0], node.mean[1]],
            variance: [node.covariance[(0, 0)], node.covariance[(1, 1)]],
        }
    }

    /// With the contact at one of its places.
    pub fn with(node: &Node, parent: usize, (number, place): (usize, &Place), gain: &Gain) -> Self {
        let [by_east, by_north] = gain.factors();
        let [to_east, to_north] = gain.cross;
        let at = |i: usize| node.mean[i] + by_east[i] * gain.off[0] + by_north[i] * gain.off[1];
        let variance = |i: usize| {
            node.covariance[(i, i)] - by_east[i] * to_east[i] - by_north[i] * to_north[i]
        };
        Self {
            parent: parent as u32,
            place: Some(number as u32),
            log_weight: node.log_weight + place.log_prior
                - 0.5 * gain.squared
                - 0.5 * gain.determinant.ln()
                - TAU.ln(),
            at: [at(0), at(1)],
            variance: [variance(0), variance(1)],
        }
    }

    /// The same, heavier by so many nats.
    pub fn heavier(self, nats: f64) -> Self {
        Self { log_weight: self.log_weight + nats, ..self }
    }

    /// Worked out in full.
    fn grown(&self, last: &[Node], places: &Index) -> Option<Node> {
        let node = last.get(self.parent as usize)?;
        let (parent, log_weight) = (self.parent as usize, self.log_weight);
        let Some(number) = self.place else {
            return Some(Node { parent, target: None, log_weight, ..node.clone() });
        };
        let place = places.place(number as usize)?;
        let gain = gain(node, place)?;
        let (mean, covariance) = updated(node, &gain);
        let target = Some(place.candidate);
        let marks = node.marks | bit_of(place.candidate);
        Some(Node { parent, target, log_weight, mean, covariance, marks })
    }

    /// Whether it is some way from another partial set: on one axis alone, where that shows it.
    fn is_rival(&self, best: &Node, last: &[Node], places: &Index) -> bool {
        let plainly = (0..2).any(|i| {
            let off = self.at[i] - best.mean[i];
            off * off > RIVAL * (self.variance[i].max(0.0) + best.covariance[(i, i)])
        });
        plainly || self.grown(last, places).is_none_or(|node| !is_within(&node, best, RIVAL))
    }
}

/// Whether two estimates are within a squared statistical distance of each other.
pub(super) fn is_within(one: &Node, other: &Node, squared: f64) -> bool {
    let off = one.mean - other.mean;
    let sum = one.covariance + other.covariance;
    sum.try_inverse().is_some_and(|inverse| off.dot(&(inverse * off)) < squared)
}

/// How a place bears on a partial set that it agrees with.
pub(super) struct Gain {
    off: [f64; 2],
    squared: f64,
    /// Of their difference: east by east, east by north, north by north.
    spread: [f64; 3],
    determinant: f64,
    /// Covariance of the estimate with the place.
    cross: [[f64; 3]; 2],
}

impl Gain {
    /// What each metre that the place lies off east, and north, adds to the estimate.
    fn factors(&self) -> [[f64; 3]; 2] {
        let &Self { spread: [ee, en, nn], determinant, cross: [east, north], .. } = self;
        [
            std::array::from_fn(|i| (east[i] * nn - north[i] * en) / determinant),
            std::array::from_fn(|i| (north[i] * ee - east[i] * en) / determinant),
        ]
    }
}

/// None where the place does not agree with the estimate: most do not, so that this comes first,
/// number by number.
#[inline]
pub(super) fn gain(node: &Node, place: &Place) -> Option<Gain> {
    let [east, north, bias]: [f64; 3] = node.mean.into();
    let (by_east, by_north) = (place.by_bias[0], place.by_bias[1]);
    let off = [place.at[0] - east - by_east * bias, place.at[1] - north - by_north * bias];
    // Each column of the covariance: what goes with an error east, north, of the bias.
    let [e, n, b]: [[f64; 3]; 3] = node.covariance.into();
    let cross = [
        [e[0] + by_east * b[0], e[1] + by_east * b[1], e[2] + by_east * b[2]],
        [n[0] + by_north * b[0], n[1] + by_north * b[1], n[2] + by_north * b[2]],
    ];
    let [to_east, to_north] = cross;
    let ee = to_east[0] + by_east * to_east[2] + place.noise[(0, 0)];
    let en = to_north[0] + by_east * to_north[2] + place.noise[(0, 1)];
    let nn = to_north[1] + by_north * to_north[2] + place.noise[(1, 1)];
    let determinant = ee * nn - en * en;
    if determinant <= 0.0 || !determinant.is_finite() {
        return None;
    }
    let squared =
        (nn * off[0] * off[0] - 2.0 * en * off[0] * off[1] + ee * off[1] * off[1]) / determinant;
    (squared <= GATE).then_some(Gain { off, squared, spread: [ee, en, nn], determinant, cross })
}

/// Whether a place agrees with an estimate.
pub(super) fn explains(node: &Node, place: &Place) -> bool {
    gain(node, place).is_some()
}

/// The estimate of a partial set with one contact more, and its covariance.
fn updated(node: &Node, gain: &Gain) -> (Vector3<f64>, Matrix3<f64>) {
    let [by_east, by_north] = gain.factors();
    let [east, north] = gain.cross;
    // Symmetric to the last digit: by_east goes with east as by_north with north.
    let taken_off = |i: usize, k: usize| {
        0.5 * (by_east[i] * east[k] + by_north[i] * north[k])
            + 0.5 * (by_east[k] * east[i] + by_north[k] * north[i])
    };
    let mut covariance = node.covariance;
    for i in 0..3 {
        for k in 0..3 {
            covariance[(i, k)] -= taken_off(i.min(k), i.max(k));
        }
    }
    let [off_east, off_north] = gain.off;
    let mean =
        Vector3::from_fn(|i, _| node.mean[i] + by_east[i] * off_east + by_north[i] * off_north);
    (mean, covariance)
}

/// A level that one contact, whose mark is in no doubt, leaves as it is.
pub(super) fn passed_on(last: &[Node], target: Option<usize>) -> Vec<Node> {
    let nodes = last.iter().enumerate();
    nodes.map(|(parent, node)| Node { parent, target, ..node.clone() }).collect()
}

/// A child's weight, and where it is: in which part, and there at which place.
type Ranked = (f64, u32, u32);

/// The best of a level's children, in order, and the weight of the rest: of those that are rivals of
/// the best of all. The children come in parts, one after the other.
pub(super) fn kept(
    last: &[Node],
    parts: &[Vec<Child>],
    places: &Index,
    most: usize,
) -> (Vec<Node>, LogSum) {
    let mut order: Vec<Ranked> = Vec::with_capacity(parts.iter().map(Vec::len).sum());
    for (part, children) in (0..).zip(parts) {
        order.extend((0..).zip(children).map(|(at, child)| (child.log_weight, part, at)));
    }
    let child =
        |&(_, part, at): &Ranked| parts.get(part as usize).and_then(|part| part.get(at as usize));
    let better =
        |a: &Ranked, b: &Ranked| b.0.total_cmp(&a.0).then_with(|| (a.1, a.2).cmp(&(b.1, b.2)));
    let beyond = if order.len() > most {
        order.select_nth_unstable_by(most, better);
        order.split_off(most)
    } else {
        Vec::new()
    };
    order.par_sort_unstable_by(better);
    let least = order.first().map_or(0.0, |best| best.0) - DROPPED_NATS;
    let behind = order.split_off(order.partition_point(|(log_weight, ..)| *log_weight >= least));
    let nodes: Vec<Option<Node>> = order
        .par_iter()
        .with_min_len(AT_ONCE)
        .map(|ranked| child(ranked)?.grown(last, places))
        .collect();
    let nodes: Vec<Node> = nodes.into_iter().flatten().collect();
    let is_rival = |child: &Child| {
        // So far behind it adds nothing that matters, rival or not.
        let is_far_behind = child.log_weight < least;
        is_far_behind || nodes.first().is_none_or(|best| child.is_rival(best, last, places))
    };
    let sums: Vec<LogSum> = beyond
        .par_chunks(AT_ONCE)
        .map(|some| {
            let some = some.iter().filter_map(child);
            some.filter(|child| is_rival(child)).map(|child| child.log_weight).collect()
        })
        .collect();
    let mut let_go: LogSum = behind.iter().map(|(log_weight, ..)| *log_weight).collect();
    for sum in sums {
        let_go.join(sum);
    }
    (nodes, let_go)
}

#[cfg(test)]
mod tests {
    use nalgebra::{Matrix2, Vector2};

    use super::*;

    /// Own place to 20 km east and 10 km north, bearings to 0.03, the first two going together.
    fn root() -> Node {
        let covariance = Matrix3::new(4e8, 5e7, 0.0, 5e7, 1e8, 0.0, 0.0, 0.0, 9e-4);
        Node::root(covariance)
    }

    fn place(candidate: usize, east: f64, north: f64) -> Place {
        Place {
            candidate,
            at: Vector2::new(east, north),
            by_bias: Vector2::new(30_000.0, -5_000.0),
            noise: Matrix2::new(4e4, 1e4, 1e4, 9e4),
            log_prior: -3.0,
        }
    }

    #[test]
    fn a_child_is_where_it_turns_out_to_be_when_it_is_grown() {
        let (last, places) = ([root()], Index::new(&[place(7, 9_000.0, -4_000.0)]));
        let (number, there) = (0, places.place(0).unwrap());
        let gain = gain(&last[0], there).unwrap();
        let child = Child::with(&last[0], 0, (number, there), &gain);
        let node = child.grown(&last, &places).unwrap();
        assert!(node.target == Some(7) && node.may_hold(7) && !node.may_hold(8));
        for i in 0..2 {
            assert!((child.at[i] - node.mean[i]).abs() < 1e-6);
            assert!((child.variance[i] - node.covariance[(i, i)]).abs() < 1e-3);
        }
        // Kalman's update by the general formula, the gain C Hᵀ (H C Hᵀ + N)⁻¹.
        let h = nalgebra::Matrix2x3::new(1.0, 0.0, 30_000.0, 0.0, 1.0, -5_000.0);
        let (c, n) = (last[0].covariance, there.noise);
        let by = c * h.transpose() * (h * c * h.transpose() + n).try_inverse().unwrap();
        assert!((by * there.at - node.mean).amax() < 1e-6);
        assert!(((c - by * h * c) - node.covariance).amax() < 1e-3);
    }

    #[test]
    fn what_is_let_go_is_counted_but_for_the_best_s_own_place() {
        let at = |east: f64| place(1, east, 0.0);
        // Two next to each other, one far off, and the contact as nothing on the chart.
        let (last, places) = ([root()], Index::new(&[at(0.0), at(200.0), at(30_000.0)]));
        let mut children = vec![Child::without(&last[0], 0, -40.0)];
        for (number, there) in
            places.within(places.window(&last[0].mean, &last[0].covariance, GATE).unwrap())
        {
            let gain = gain(&last[0], there).unwrap();
            children.push(Child::with(&last[0], 0, (number, there), &gain));
        }
        assert_eq!(children.len(), 4);
        let weight = |east: f64| {
            let found = children.iter().find(|c| {
                c.place
                    .and_then(|n| places.place(n as usize))
                    .is_some_and(|p| (p.at[0] - east).abs() < 1.0)
            });
            found.unwrap().log_weight
        };
        let (nodes, let_go) = kept(&last, std::slice::from_ref(&children), &places, 1);
        assert_eq!(nodes.len(), 1);
        // The neighbour is the same place, and so is the best with a contact less.
        let rival = weight(30_000.0);
        assert!((let_go.log() - rival).abs() < 1e-9, "{} {rival}", let_go.log());
    }
}
