//! A packed tree of boxes on disk: leaves of items that lie near one another, and above them nodes
//! that hold box, place, length and checksum of each child.
//!
//! The checksum of every piece stands in its parent, that of the root in the table of contents: a
//! piece is never looked at before it is known to be the one that was written. The packing is by
//! the Hilbert curve through the middles of the items (Kamel and Faloutsos, "On packing R-trees",
//! 1993, from memory).

use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};

use crate::chart::bytes::{Damage, Decoder, Encoder};
use crate::chart::geobox::GeoBox;

/// Children of a node.
const CHILDREN: usize = 32;
/// Bytes of one child in its parent.
const ENTRY_BYTES: usize = 48;
/// No tree is deeper: with 32 children to a node that would be more than any disk holds.
const DEEPEST: u8 = 10;
/// No leaf is larger, in bytes.
const LARGEST_LEAF: u32 = 1 << 20;
/// No other piece is larger, in bytes.
const LARGEST_PIECE: u32 = 1 << 28;

/// A box in degrees; the longitudes of one in the usual turn may go on beyond 180.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub(super) low: [f64; 2],
    pub(super) high: [f64; 2],
}

impl Bounds {
    fn joined(self, other: Self) -> Self {
        let [a, b] = [self, other];
        Self {
            low: [a.low[0].min(b.low[0]), a.low[1].min(b.low[1])],
            high: [a.high[0].max(b.high[0]), a.high[1].max(b.high[1])],
        }
    }

    /// Whether it touches an area, in whatever turn.
    fn touches(&self, area: &GeoBox) -> bool {
        self.low[1] <= area.north
            && self.high[1] >= area.south
            && [-360.0, 0.0, 360.0]
                .into_iter()
                .any(|turn| self.low[0] <= area.east + turn && self.high[0] >= area.west + turn)
    }

    /// How far along the Hilbert curve its middle lies.
    fn along(&self) -> u64 {
        let side = f64::from(1_u32 << 20);
        let step = |low: f64, high: f64, from: f64, to: f64| {
            let share = (0.5 * (low + high) - from) / (to - from);
            (share.clamp(0.0, 1.0) * (side - 1.0)) as u64
        };
        let x = step(self.low[0], self.high[0], -180.0, 540.0);
        let y = step(self.low[1], self.high[1], -90.0, 90.0);
        hilbert(x, y)
    }
}

/// The place of a cell along the Hilbert curve over a square of 2^20 cells a side.
fn hilbert(mut x: u64, mut y: u64) -> u64 {
    let mut along = 0;
    let mut half = 1_u64 << 19;
    while half > 0 {
        let right = u64::from(x & half > 0);
        let upper = u64::from(y & half > 0);
        along += half * half * ((3 * right) ^ upper);
        // Each quarter holds the curve turned its own way.
        if upper == 0 {
            if right == 1 {
                x = (half - 1).wrapping_sub(x & (half - 1)) & (half - 1);
                y = (half - 1).wrapping_sub(y & (half - 1)) & (half - 1);
            }
            std::mem::swap(&mut x, &mut y);
        }
        half /= 2;
    }
    along
}

/// A piece of the file, and how to know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Piece {
    pub(super) at: u64,
    pub(super) length: u32,
    pub(super) crc: u32,
}

impl Piece {
    pub(super) fn write(&self, out: &mut Encoder) {
        out.u64(self.at);
        out.u32(self.length);
        out.u32(self.crc);
    }

    pub(super) fn read(input: &mut Decoder<'_>) -> Result<Self, Damage> {
        Ok(Self { at: input.u64()?, length: input.u32()?, crc: input.u32()? })
    }
}

/// The top of a tree; one without items has no piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Root {
    pub(super) top: Option<Piece>,
    /// Levels of nodes above the leaves.
    depth: u8,
}

impl Root {
    pub(super) fn write(&self, out: &mut Encoder) {
        out.option(self.top.as_ref(), |out, top| top.write(out));
        out.u8(self.depth);
    }

    pub(super) fn read(input: &mut Decoder<'_>) -> Result<Self, Damage> {
        let (top, depth) = (input.option(Piece::read)?, input.u8()?);
        if depth > DEEPEST {
            return Err(Damage::new(format!("a tree in it is {depth} deep")));
        }
        Ok(Self { top, depth })
    }
}

/// Whether these bytes are those that were written. A fuzzer, which would never guess a checksum, is let
/// past: what lies behind must stand whatever it is given.
pub(super) fn are_whole(bytes: &[u8], crc: u32) -> bool {
    cfg!(fuzzing) || crc32fast::hash(bytes) == crc
}

/// The file being written.
pub(super) struct Out {
    file: BufWriter<File>,
    at: u64,
}

impl Out {
    pub(super) fn new(file: File) -> Self {
        Self { file: BufWriter::with_capacity(1 << 20, file), at: 0 }
    }

    /// Adds bytes and says how to find them.
    pub(super) fn piece(&mut self, bytes: &[u8]) -> io::Result<Piece> {
        let length = u32::try_from(bytes.len()).map_err(io::Error::other)?;
        let piece = Piece { at: self.at, length, crc: crc32fast::hash(bytes) };
        self.file.write_all(bytes)?;
        self.at += u64::from(length);
        Ok(piece)
    }

    /// How many bytes there are so far.
    pub(super) fn len(&self) -> u64 {
        self.at
    }

    /// Hands the file back with all bytes in it.
    pub(super) fn finish(self) -> io::Result<File> {
        self.file.into_inner().map_err(io::IntoInnerError::into_error)
    }
}

/// Packs items into leaves of so many, and the leaves into a tree.
pub(super) fn write<T>(
    mut items: Vec<(Bounds, T)>,
    per_leaf: usize,
    out: &mut Out,
    encode: impl Fn(&T, &mut Encoder),
) -> io::Result<Root> {
    items.sort_by_cached_key(|(bounds, _)| bounds.along());
    let mut level: Vec<(Bounds, Piece)> = Vec::with_capacity(items.len() / per_leaf + 1);
    let mut bytes = Encoder::default();
    for leaf in items.chunks(per_leaf) {
        bytes.clear();
        for (_, item) in leaf {
            encode(item, &mut bytes);
        }
        let around = leaf.iter().map(|(bounds, _)| *bounds).reduce(Bounds::joined);
        level.extend(around.zip(Some(out.piece(bytes.bytes())?)));
    }
    let mut depth = 0;
    while level.len() > 1 {
        let mut above = Vec::with_capacity(level.len() / CHILDREN + 1);
        for node in level.chunks(CHILDREN) {
            bytes.clear();
            for (bounds, piece) in node {
                bounds.low.iter().chain(&bounds.high).for_each(|value| bytes.f64(*value));
                piece.write(&mut bytes);
            }
            let around = node.iter().map(|(bounds, _)| *bounds).reduce(Bounds::joined);
            above.extend(around.zip(Some(out.piece(bytes.bytes())?)));
        }
        (level, depth) = (above, depth + 1);
    }
    Ok(Root { top: level.first().map(|(_, piece)| *piece), depth })
}

/// A file that is read piece by piece, each held against its checksum.
#[derive(Debug)]
pub(super) struct Pieces {
    file: File,
    length: u64,
}

impl Pieces {
    pub(super) fn new(file: File) -> io::Result<Self> {
        let length = file.metadata()?.len();
        Ok(Self { file, length })
    }

    pub(super) fn len(&self) -> u64 {
        self.length
    }

    /// Bytes from a place on, no more than are there.
    pub(super) fn read_at(&self, at: u64, length: u32) -> Result<Vec<u8>, Damage> {
        if at.checked_add(u64::from(length)).is_none_or(|end| end > self.length) {
            return Err(Damage::new("it is cut short"));
        }
        let mut bytes = vec![0; length as usize];
        let mut file = &self.file;
        file.seek(SeekFrom::Start(at))
            .and_then(|_| file.read_exact(&mut bytes))
            .map_err(|error| Damage::new(format!("it cannot be read: {error}")))?;
        Ok(bytes)
    }

    pub(super) fn piece(&self, piece: &Piece) -> Result<Vec<u8>, Damage> {
        if piece.length > LARGEST_PIECE {
            return Err(Damage::new(format!("a piece of it has {} bytes", piece.length)));
        }
        let bytes = self.read_at(piece.at, piece.length)?;
        if !are_whole(&bytes, piece.crc) {
            return Err(Damage::new("its checksum is wrong"));
        }
        Ok(bytes)
    }

    /// Hands on every leaf whose box touches an area; all of them where none is given.
    pub(super) fn leaves(
        &self,
        root: &Root,
        area: Option<&GeoBox>,
        each: &mut dyn FnMut(&[u8]) -> Result<(), Damage>,
    ) -> Result<(), Damage> {
        let Some(top) = root.top else { return Ok(()) };
        // No piece has two parents, so that all together are no more than the file.
        let mut budget = self.length;
        self.descend(&top, root.depth, area, &mut budget, each)
    }

    fn descend(
        &self,
        piece: &Piece,
        depth: u8,
        area: Option<&GeoBox>,
        budget: &mut u64,
        each: &mut dyn FnMut(&[u8]) -> Result<(), Damage>,
    ) -> Result<(), Damage> {
        let left = budget.checked_sub(u64::from(piece.length.max(1)));
        *budget = left.ok_or_else(|| Damage::new("a tree in it holds a piece twice"))?;
        if depth == 0 {
            if piece.length > LARGEST_LEAF {
                return Err(Damage::new(format!("a leaf of it has {} bytes", piece.length)));
            }
            return each(&self.piece(piece)?);
        }
        if piece.length as usize > CHILDREN * ENTRY_BYTES {
            return Err(Damage::new(format!("a node of it has {} bytes", piece.length)));
        }
        let bytes = self.piece(piece)?;
        let mut input = Decoder::new(&bytes);
        while !input.is_done() {
            let low = [input.finite()?, input.finite()?];
            let high = [input.finite()?, input.finite()?];
            let child = Piece::read(&mut input)?;
            if area.is_none_or(|area| Bounds { low, high }.touches(area)) {
                self.descend(&child, depth - 1, area, budget, each)?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hilbert_curve_goes_from_cell_to_neighbour() {
        // Over the first 64 × 64 cells, which the curve fills before it leaves them.
        let mut cells: Vec<(u64, u64, u64)> =
            (0..64).flat_map(|x| (0..64).map(move |y| (hilbert(x, y), x, y))).collect();
        cells.sort_unstable();
        for (i, pair) in cells.windows(2).enumerate() {
            assert_eq!(pair[0].0, i as u64);
            assert_eq!(pair[0].1.abs_diff(pair[1].1) + pair[0].2.abs_diff(pair[1].2), 1);
        }
    }

    #[test]
    fn every_leaf_that_touches_is_found_and_all_without_an_area() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("tree");
        let items: Vec<(Bounds, u32)> = (0..5_000_u32)
            .map(|i| {
                let low = [f64::from(i * 37 % 360) - 180.0, f64::from(i * 11 % 170) - 85.0];
                (Bounds { low, high: [low[0] + 1.5, low[1] + 0.5] }, i)
            })
            .collect();
        let mut out = Out::new(File::create(&path).unwrap());
        let root = write(items.clone(), 7, &mut out, |i, out| out.u32(*i)).unwrap();
        out.finish().unwrap();
        let pieces = Pieces::new(File::open(&path).unwrap()).unwrap();
        let found = |area: Option<&GeoBox>| {
            let mut found = Vec::new();
            let mut leaf = |bytes: &[u8]| {
                let mut input = Decoder::new(bytes);
                while !input.is_done() {
                    found.push(input.u32()?);
                }
                Ok(())
            };
            pieces.leaves(&root, area, &mut leaf).unwrap();
            found.sort_unstable();
            found
        };
        assert_eq!(found(None), (0..5_000).collect::<Vec<_>>());
        for area in [GeoBox::new(-10.0, 170.0, 20.0, 200.0), GeoBox::new(60.0, -5.0, 61.0, 5.0)] {
            let held = found(Some(&area));
            assert!(held.len() < 2_000, "{}", held.len());
            for (bounds, i) in &items {
                assert!(!bounds.touches(&area) || held.binary_search(i).is_ok(), "{i}");
            }
        }
    }
}
