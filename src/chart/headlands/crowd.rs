//! Whether so much shore lies in so little room that no coast could.

use super::shore::Shore;
use super::space::Space;

/// The share of land about a place of the shore takes time by the edges about it. Ten thousand polygons laid
/// on each other would take the square of their number: hours. No more edges are gone over than this for
/// each vertex of the shore. Seven coasts of Natural Earth have 43 to 157 (measured by the test below).
const EDGES_FOR_EACH_VERTEX: f64 = 5_000.0;
/// So many edges are always looked at: some seconds.
const ALWAYS: f64 = 2e8;
/// Vertices at which it is asked how many edges lie about them.
const TRIES: usize = 500;

/// Whether discs of this radius, in metres, about so many places of the shore would go over far more
/// edges than any coast has.
pub(super) fn is_crowded(shore: &Shore, places: f64, radius: f64) -> bool {
    let most = ALWAYS.max(EDGES_FOR_EACH_VERTEX * vertices(shore) as f64);
    places * edges_about_each(shore, radius) > most
}

fn vertices(shore: &Shore) -> usize {
    shore.lines.iter().map(|line| line.points.len()).sum()
}

/// The mean of the edges about a vertex, by some of them.
fn edges_about_each(shore: &Shore, radius: f64) -> f64 {
    let every = vertices(shore).div_ceil(TRIES).max(1);
    let tried: Vec<Space> =
        shore.lines.iter().flat_map(|line| &line.points).step_by(every).copied().collect();
    let edges: usize = tried.iter().map(|at| shore.edges_about(*at, radius)).sum();
    edges as f64 / tried.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::super::outlines;
    use super::super::shore::Outline;
    use super::*;
    use crate::chart::Chart;

    fn islands(count: usize, apart_deg: f64) -> Shore {
        let island = |number: usize| {
            let (west, south) = (-21.0 + apart_deg * number as f64, -38.0);
            let ring = [(0.0, 0.0), (0.2, 0.0), (0.2, 0.2), (0.0, 0.2), (0.0, 0.0)];
            let points: Vec<(f64, f64)> = ring.iter().map(|(x, y)| (west + x, south + y)).collect();
            Outline::new(&points, |_| false, true, true)
        };
        Shore::new((0..count).map(island).collect())
    }

    #[test]
    fn islands_beside_each_other_are_a_coast_and_on_each_other_none() {
        // A place each 0.125 NM of some 43 NM of shore to an island.
        let places = |count: usize| count as f64 * 43.0 / 0.125;
        for (count, apart_deg, crowded) in
            [(1_000, 0.3, false), (1_000, 0.0, true), (1_000, 1e-6, true), (20, 0.0, false)]
        {
            let shore = islands(count, apart_deg);
            assert_eq!(is_crowded(&shore, places(count), 1_400.0), crowded, "{count} {apart_deg}");
        }
    }

    /// Natural Earth's coasts at 1 : 10 million (public domain), at the finest and the coarsest disc, with six
    /// places to a radius of shore.
    #[test]
    fn real_coasts_are_far_from_crowded() {
        for name in
            ["aegean", "brittany", "galicia", "hebrides", "hokkaido", "iceland", "south-island"]
        {
            let folder =
                concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/natural-earth-coasts/");
            let shp = std::fs::read(format!("{folder}{name}.shp")).unwrap();
            let chart = Chart::from_files(name, &[("coast.shp", &shp)]).unwrap();
            let shore = Shore::new(outlines(chart.coast(), None));
            let length: f64 = shore.lines.iter().map(|line| line.size().0).sum();
            for radius in [0.75 * 1852.0, 6.0 * 1852.0] {
                let places = 6.0 * length / radius;
                let each = places * edges_about_each(&shore, radius) / vertices(&shore) as f64;
                println!("{name}, {radius:.0} m: {each:.0} edges for each vertex");
                assert!(each < 0.2 * EDGES_FOR_EACH_VERTEX, "{name} {radius}: {each}");
            }
        }
    }
}
