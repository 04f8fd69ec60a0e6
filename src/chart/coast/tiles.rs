//! Land and sea told tile by tile: what lies north of a tile of one degree is settled once for it, so
//! that a place costs no more to ask about on a coast of the world than on that of an island.

use std::sync::OnceLock;

use super::Coast;
use super::run::IndexedRun;
use super::stored::ChainEnd;
use super::window::Window;
use crate::chart::geobox::GeoBox;
use crate::chart::squares::Squares;
use crate::geodesy::Position;

/// The tiles of a coast's box, each made where it is first asked for and kept. Which thread asks
/// first changes nothing.
#[derive(Default)]
pub(super) struct Tiles {
    squares: Squares,
    made: Box<[OnceLock<Window>]>,
}

impl Tiles {
    pub(super) fn new(extent: Option<GeoBox>) -> Self {
        let squares = Squares::over(extent);
        Self { squares, made: (0..squares.count()).map(|_| OnceLock::new()).collect() }
    }

    /// The tile of a place; none outside the coast's box.
    pub(super) fn of(&self, coast: &Coast, at: Position) -> Option<&Window> {
        let place = self.squares.find(at)?;
        let tile = self.made.get(place.number)?;
        let (south, west) = (self.squares.south + place.row, self.squares.west + place.column);
        Some(tile.get_or_init(|| {
            Window::of_tile(coast, GeoBox::new(south, west, (south + 1.0).min(90.0), west + 1.0))
        }))
    }
}

/// The ends of stretches of rings that are made of these runs, sorted by line and along it.
pub(super) fn ends(coast: &Coast, runs: &[&IndexedRun]) -> Vec<ChainEnd> {
    let follows = |a: &&IndexedRun, b: &&IndexedRun| {
        a.line == b.line && a.first + u32::from(a.segments) == b.first
    };
    let point = |line: u32, number: u32| {
        coast.points.get(number as usize).map(|at| ChainEnd { line, at: *at })
    };
    let mut ends = Vec::new();
    for chain in runs.chunk_by(follows) {
        let (Some(first), Some(last)) = (chain.first(), chain.last()) else { continue };
        ends.extend(point(first.line, first.first));
        ends.extend(point(last.line, last.first + u32::from(last.segments)));
    }
    ends
}
