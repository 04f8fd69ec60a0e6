//! What the ground is: its class at any place, from polygons of land cover.
//!
//! Polygons are laid on cells of two seconds of arc (some 60 m), as fine as the samples of a sweep,
//! one degree at a time and only where asked for: an answer costs some tens of nanoseconds, however
//! many polygons there are. A cell is of the polygon that holds its middle; where several do, of
//! the one read last. What is narrower than a cell may be lost.

mod tally;
mod tile;

use std::sync::OnceLock;

pub(super) use self::tally::ClassTally;
use self::tile::Tile;
use super::coast::{LonLat, continuous};
use crate::geodesy::Position;

/// Classes of ground by what they send back, from the smoothest.
///
/// How much each sends back is told by [`crate::radar::terrain_gamma_db`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Terrain {
    /// Sand, mud, marsh, a road: very smooth.
    VerySmooth,
    /// Flat land: grass, plain.
    Flat,
    /// Fields.
    Farmland,
    /// Bare ground.
    Desert,
    /// Woods.
    Woods,
    /// Rolling hills.
    RollingHills,
    /// Wooded hills.
    WoodedHills,
    /// Mountains.
    Mountains,
    /// Towns.
    Urban,
    /// Rugged mountains.
    RuggedMountains,
    /// The heart of a great city.
    Metropolitan,
}

impl Terrain {
    /// All of them, from the smoothest.
    pub const ALL: [Self; 11] = [
        Self::VerySmooth,
        Self::Flat,
        Self::Farmland,
        Self::Desert,
        Self::Woods,
        Self::RollingHills,
        Self::WoodedHills,
        Self::Mountains,
        Self::Urban,
        Self::RuggedMountains,
        Self::Metropolitan,
    ];

    /// The word for it in reports and files.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::VerySmooth => "very smooth",
            Self::Flat => "flat land",
            Self::Farmland => "farmland",
            Self::Desert => "desert",
            Self::Woods => "woods",
            Self::RollingHills => "rolling hills",
            Self::WoodedHills => "wooded hills",
            Self::Mountains => "mountains",
            Self::Urban => "urban",
            Self::RuggedMountains => "rugged mountains",
            Self::Metropolitan => "metropolitan",
        }
    }

    /// From a word of a chart; words that mean the same are taken too, in any case, with hyphens or
    /// underscores for spaces. `None` of a word not known.
    pub fn from_word(text: &str) -> Option<Self> {
        let plain = text.trim().to_lowercase().replace(['_', '-'], " ");
        Some(match plain.split_whitespace().collect::<Vec<_>>().join(" ").as_str() {
            "very smooth" | "smooth" | "sand" | "beach" | "sand beach" | "sandy beach" | "mud"
            | "mudflat" | "mud flat" | "tidal flat" | "marsh" | "salt marsh" | "saltmarsh"
            | "wetland" | "road" | "runway" => Self::VerySmooth,
            "flat" | "flat land" | "flatland" | "plain" | "grass" | "grassland" | "meadow"
            | "pasture" => Self::Flat,
            "farmland" | "farm" | "farms" | "field" | "fields" | "crop" | "crops" | "cropland"
            | "arable" | "arable land" | "agriculture" | "orchard" | "vineyard" => Self::Farmland,
            "desert" | "bare" | "bare ground" | "barren" | "dune" | "dunes" => Self::Desert,
            "woods" | "wood" | "woodland" | "forest" | "trees" | "mangrove" => Self::Woods,
            "rolling hills" | "rolling" | "hills" | "hill" => Self::RollingHills,
            "wooded hills" | "wooded hill" | "forested hills" => Self::WoodedHills,
            "mountains" | "mountain" => Self::Mountains,
            "urban" | "town" | "village" | "suburb" | "suburban" | "residential" | "industrial"
            | "built up" | "built up area" => Self::Urban,
            "rugged mountains" | "rugged mountain" | "rugged" => Self::RuggedMountains,
            "metropolitan" | "metropolis" | "city" | "city centre" => Self::Metropolitan,
            _ => return None,
        })
    }
}

/// A polygon of one class: its rings, longitudes without jumps, and its box.
#[derive(Debug)]
struct Area {
    class: Terrain,
    rings: Vec<Vec<LonLat>>,
    low: LonLat,
    high: LonLat,
}

/// The classes of a chart's ground.
#[derive(Debug, Default)]
pub(super) struct Cover {
    areas: Vec<Area>,
    /// By degree of latitude from the south, then of longitude from 180° W; empty with no polygon.
    tiles: Box<[OnceLock<Option<Tile>>]>,
    /// What ground is that nothing classes.
    rest: Option<Terrain>,
}

impl Cover {
    /// Whether nothing at all is classed.
    pub(super) fn is_empty(&self) -> bool {
        self.areas.is_empty() && self.rest.is_none()
    }

    /// The class of a place, and whether a polygon gives it; else it is what the chart says of all
    /// the rest.
    pub(super) fn at(&self, at: Position) -> Option<(Terrain, bool)> {
        let rest = || self.rest.map(|class| (class, false));
        if self.areas.is_empty() {
            return rest();
        }
        let (up, right) = (at.latitude() + 90.0, (at.longitude() + 180.0).rem_euclid(360.0));
        let (row, column) = ((up as usize).min(179), (right as usize).min(359));
        let corner = LonLat { lon: column as f64 - 180.0, lat: row as f64 - 90.0 };
        let tile = self
            .tiles
            .get(row * 360 + column)
            .and_then(|tile| tile.get_or_init(|| Tile::of(&self.areas, corner)).as_ref());
        let class = tile.and_then(|tile| tile.at(up - row as f64, right - column as f64));
        class.map(|class| (class, true)).or_else(rest)
    }
}

/// Takes in polygons, the last on top.
#[derive(Debug, Default)]
pub(super) struct CoverBuilder {
    areas: Vec<Area>,
}

impl CoverBuilder {
    /// Takes in one polygon: its rings as the file has them. Holes are told by parity.
    pub(super) fn polygon(&mut self, rings: &[Vec<LonLat>], class: Terrain) {
        let rings = beside_each_other(rings.iter().map(|ring| closed(ring)).collect());
        let all = || rings.iter().flatten();
        let Some(first) = all().next().copied() else { return };
        let (low, high) = all().fold((first, first), |(low, high), p| {
            (
                LonLat { lon: low.lon.min(p.lon), lat: low.lat.min(p.lat) },
                LonLat { lon: high.lon.max(p.lon), lat: high.lat.max(p.lat) },
            )
        });
        self.areas.push(Area { class, rings, low, high });
    }

    /// `rest`: what ground is that no polygon holds.
    pub(super) fn finish(self, rest: Option<Terrain>) -> Cover {
        let tiles = if self.areas.is_empty() { 0 } else { 180 * 360 };
        let tiles = (0..tiles).map(|_| OnceLock::new()).collect();
        Cover { areas: self.areas, tiles, rest }
    }
}

/// The rings of one polygon moved by whole turns to where the widest lies: a hole over the date line may
/// be drawn on its other side.
fn beside_each_other(mut rings: Vec<Vec<LonLat>>) -> Vec<Vec<LonLat>> {
    let span = |ring: &Vec<LonLat>| {
        ring.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), point| {
            (low.min(point.lon), high.max(point.lon))
        })
    };
    let widest = rings.iter().map(span).max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
    let Some((west, east)) = widest else { return rings };
    for ring in &mut rings {
        let (low, high) = span(ring);
        let shift = 360.0 * ((0.5 * (west + east) - 0.5 * (low + high)) / 360.0).round();
        if shift.abs() > 0.0 {
            for point in ring {
                point.lon += shift;
            }
        }
    }
    rings
}

/// A ring with longitudes that never jump, closed.
fn closed(ring: &[LonLat]) -> Vec<LonLat> {
    let mut points = continuous(ring.iter().copied());
    if points.first() != points.last() {
        points.extend(points.first().copied());
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(west: f64, south: f64, side: f64) -> Vec<LonLat> {
        let (east, north) = (west + side, south + side);
        [(west, south), (west, north), (east, north), (east, south), (west, south)]
            .map(|(lon, lat)| LonLat { lon, lat })
            .to_vec()
    }

    fn at(cover: &Cover, lat: f64, lon: f64) -> Option<Terrain> {
        cover.at(Position::new(lat, lon).unwrap()).map(|(class, _)| class)
    }

    #[test]
    fn every_class_has_its_own_word_and_words_that_mean_the_same() {
        for class in Terrain::ALL {
            assert_eq!(Terrain::from_word(class.as_str()), Some(class));
        }
        for (word, class) in [
            ("Sand", Terrain::VerySmooth),
            (" salt_marsh ", Terrain::VerySmooth),
            ("FOREST", Terrain::Woods),
            ("built-up", Terrain::Urban),
            ("City", Terrain::Metropolitan),
        ] {
            assert_eq!(Terrain::from_word(word), Some(class), "{word}");
        }
        assert_eq!(Terrain::from_word("water"), None);
    }

    #[test]
    fn the_polygon_read_last_lies_on_top_and_holes_are_bare() {
        let mut builder = CoverBuilder::default();
        builder.polygon(&[square(10.2, 50.2, 1.5), square(11.0, 51.0, 0.2)], Terrain::Farmland);
        builder.polygon(&[square(10.4, 50.4, 0.1)], Terrain::Urban);
        let cover = builder.finish(None);
        assert_eq!(at(&cover, 50.3, 10.3), Some(Terrain::Farmland));
        assert_eq!(at(&cover, 50.45, 10.45), Some(Terrain::Urban));
        assert_eq!(at(&cover, 51.1, 11.1), None);
        assert_eq!(at(&cover, 51.3, 11.3), Some(Terrain::Farmland));
        assert_eq!(at(&cover, 50.1, 10.3), None);
        assert_eq!(at(&cover, -50.0, 100.0), None);
    }

    #[test]
    fn cells_agree_with_the_polygons_to_half_a_cell() {
        let mut builder = CoverBuilder::default();
        builder.polygon(&[square(-21.0001, -38.0001, 0.5)], Terrain::Woods);
        let cover = builder.finish(Some(Terrain::Flat));
        let cell = 2.0 / 3600.0;
        for off in [-0.5 * cell, 0.5 * cell] {
            let class = if off > 0.0 { Terrain::Woods } else { Terrain::Flat };
            assert_eq!(at(&cover, -37.8, -21.0001 + 1.01 * off), Some(class));
            assert_eq!(at(&cover, -38.0001 + 1.01 * off, -20.8), Some(class));
        }
        let told = |lat, lon| cover.at(Position::new(lat, lon).unwrap());
        assert_eq!(told(-37.8, -20.8), Some((Terrain::Woods, true)));
        assert_eq!(told(-30.0, -20.8), Some((Terrain::Flat, false)));
    }

    #[test]
    fn a_polygon_over_the_date_line_lies_on_both_sides() {
        let mut builder = CoverBuilder::default();
        let jumps = square(179.5, 0.2, 1.0);
        let jumps: Vec<LonLat> = jumps
            .iter()
            .map(|p| LonLat { lon: if p.lon > 180.0 { p.lon - 360.0 } else { p.lon }, ..*p })
            .collect();
        builder.polygon(&[jumps], Terrain::Desert);
        let cover = builder.finish(None);
        for lon in [179.6, 179.999, -179.999, -179.6] {
            assert_eq!(at(&cover, 0.5, lon), Some(Terrain::Desert), "{lon}");
        }
        assert_eq!(at(&cover, 0.5, 179.4), None);
        assert_eq!(at(&cover, 0.5, -179.4), None);
    }

    #[test]
    fn a_hole_drawn_on_the_other_side_of_the_date_line_is_bare() {
        let mut builder = CoverBuilder::default();
        let hole = square(-179.9, 0.4, 0.1);
        builder.polygon(&[square(179.0, 0.0, 2.0), hole], Terrain::Woods);
        let cover = builder.finish(None);
        assert_eq!(at(&cover, 0.45, -179.85), None);
        for lon in [179.5, -179.95, -179.5] {
            assert_eq!(at(&cover, 0.45, lon), Some(Terrain::Woods), "{lon}");
        }
    }

    /// Measured on request: `cargo test --lib cover -- --ignored --nocapture`.
    #[test]
    #[ignore = "a measurement of time"]
    fn a_million_answers_among_a_hundred_thousand_polygons() {
        let mut builder = CoverBuilder::default();
        for i in 0..100_000_u32 {
            let (x, y) = (f64::from(i % 400), f64::from(i / 400));
            let class = Terrain::ALL[(i % 11) as usize];
            builder.polygon(&[square(-22.0 + 0.005 * x, -38.5 + 0.005 * y, 0.0049)], class);
        }
        let cover = builder.finish(None);
        let start = std::time::Instant::now();
        let ask = || {
            let places = (0..1_000_000_u32).map(|i| {
                let (x, y) = (f64::from(i % 1_000), f64::from(i / 1_000));
                (-38.5 + 0.00125 * y, -22.0 + 0.002 * x)
            });
            places.filter(|(lat, lon)| at(&cover, *lat, *lon).is_some()).count()
        };
        let first = (ask(), start.elapsed());
        let start = std::time::Instant::now();
        let again = (ask(), start.elapsed());
        println!("{first:?}, again {again:?}");
        assert!(first.0 == again.0 && again.1.as_secs_f64() < 0.5);
    }
}
