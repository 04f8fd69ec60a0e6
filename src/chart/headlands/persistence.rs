/// A low that stands out from its surroundings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Low {
    /// Where it is deepest.
    pub(super) at: usize,
    /// How far one has to climb from it before a deeper low can be reached; for the deepest of
    /// all, up to the highest value.
    pub(super) persistence: f64,
}

/// The lows of a row of values, with their persistence, in the order of the row.
///
/// Values are taken up from the lowest; each starts a low or joins those beside it, and where two
/// lows meet the shallower one is done (persistent homology of dimension nought; Edelsbrunner,
/// Letscher and Zomorodian 2002, from memory). What has no value parts the row. A low at an end of
/// the row or beside a missing value is left out: how deep it would have gone is not known.
/// `round`: the last value is beside the first. Time goes with n log n.
pub(super) fn lows(values: &[Option<f64>], round: bool) -> Vec<Low> {
    let mut order: Vec<(usize, f64)> =
        values.iter().enumerate().filter_map(|(i, value)| value.map(|v| (i, v))).collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let mut pools = Pools { parent: vec![None; values.len()], values, found: Vec::new() };
    let mut highest: Vec<f64> = vec![f64::MIN; values.len()];
    for &(i, value) in &order {
        pools.fill(i, value, [before(i, values.len(), round), after(i, values.len(), round)]);
    }
    for &(i, value) in &order {
        let root = pools.root(i);
        if let Some(high) = highest.get_mut(root) {
            *high = high.max(value);
        }
    }
    for &(i, value) in &order {
        if pools.root(i) == i && highest.get(i).is_some_and(|high| *high > value) {
            let persistence = highest.get(i).map_or(0.0, |high| high - value);
            pools.found.push(Low { at: i, persistence });
        }
    }
    let known =
        |beside: Option<usize>| beside.is_some_and(|i| matches!(values.get(i), Some(Some(_))));
    let mut found = pools.found;
    found.retain(|low| {
        known(before(low.at, values.len(), round)) && known(after(low.at, values.len(), round))
    });
    found.sort_by_key(|low| low.at);
    found
}

fn before(i: usize, count: usize, round: bool) -> Option<usize> {
    i.checked_sub(1).or_else(|| (round && count > 2).then(|| count - 1))
}

fn after(i: usize, count: usize, round: bool) -> Option<usize> {
    if i + 1 < count { Some(i + 1) } else { (round && count > 2).then_some(0) }
}

/// The lows as they fill: each value points towards the deepest of its pool.
struct Pools<'a> {
    parent: Vec<Option<usize>>,
    values: &'a [Option<f64>],
    found: Vec<Low>,
}

impl Pools<'_> {
    fn fill(&mut self, i: usize, value: f64, beside: [Option<usize>; 2]) {
        self.point(i, i);
        for neighbour in beside.into_iter().flatten() {
            if self.parent.get(neighbour).copied().flatten().is_none() {
                continue;
            }
            let (mine, other) = (self.root(i), self.root(neighbour));
            if mine == other {
                continue;
            }
            let (deep, shallow) =
                if self.deeper(mine, other) { (mine, other) } else { (other, mine) };
            self.point(shallow, deep);
            let persistence = value - self.value(shallow);
            if persistence > 0.0 {
                self.found.push(Low { at: shallow, persistence });
            }
        }
    }

    fn point(&mut self, from: usize, to: usize) {
        if let Some(parent) = self.parent.get_mut(from) {
            *parent = Some(to);
        }
    }

    fn value(&self, i: usize) -> f64 {
        self.values.get(i).copied().flatten().unwrap_or(f64::MAX)
    }

    fn deeper(&self, a: usize, b: usize) -> bool {
        self.value(a).total_cmp(&self.value(b)).then(a.cmp(&b)).is_lt()
    }

    fn root(&mut self, mut i: usize) -> usize {
        while let Some(parent) = self.parent.get(i).copied().flatten().filter(|&p| p != i) {
            // Halving the path keeps later climbs short.
            let above = self.parent.get(parent).copied().flatten().unwrap_or(parent);
            self.point(i, above);
            i = above;
        }
        i
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some(values: &[f64]) -> Vec<Option<f64>> {
        values.iter().map(|v| Some(*v)).collect()
    }

    fn found(values: &[Option<f64>], round: bool) -> Vec<(usize, f64)> {
        lows(values, round).iter().map(|low| (low.at, low.persistence)).collect()
    }

    #[test]
    fn a_low_lasts_until_it_meets_a_deeper_one() {
        // By hand: 2 meets 1 over 6, and 3 meets 1 over 5; 1, the deepest, reaches to 9.
        let values = some(&[9.0, 2.0, 6.0, 1.0, 5.0, 3.0, 8.0]);
        assert_eq!(found(&values, false), [(1, 4.0), (3, 8.0), (5, 2.0)]);
    }

    #[test]
    fn a_ring_has_no_ends() {
        // By hand: the low spans the seam.
        let values = some(&[1.0, 4.0, 7.0, 4.0, 2.0, 3.0]);
        assert_eq!(found(&values, true), [(0, 6.0), (4, 1.0)]);
        assert_eq!(found(&values, false), [(4, 5.0)]);
    }

    #[test]
    fn what_is_beside_the_unknown_is_no_low() {
        let mut values = some(&[5.0, 1.0, 5.0, 0.5, 0.2]);
        values.push(None);
        values.extend(some(&[0.1, 4.0, 2.0, 6.0]));
        // 0.2 and 0.1 lie at the gap; 1 meets 0.2 over 5, 2 meets 0.1 over 4.
        assert_eq!(found(&values, true), [(1, 4.0), (8, 2.0)]);
    }

    #[test]
    fn level_ground_has_no_lows() {
        assert!(lows(&some(&[3.0; 8]), true).is_empty());
        assert!(lows(&[], true).is_empty());
        assert!(lows(&some(&[1.0]), true).is_empty());
    }
}
