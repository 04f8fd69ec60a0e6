use std::io::Read;

use super::grid::{Frame, Grid};
use super::tile::{Heights, Tile, is_unsaid_void};
use crate::chart::error::ChartError;
use crate::chart::geobox::GeoBox;

/// What a missing height reads in an SRTM tile.
const VOID: i16 = -32_768;

/// Reads an SRTM tile: a square of big-endian heights of two bytes, the north-west one first,
/// which covers one degree with its outermost heights on the edges. The file's name tells its
/// south-west corner (SRTM documentation, US Geological Survey; from memory).
pub(in crate::chart) fn read_hgt(file: &str, bytes: &[u8]) -> Result<Grid, ChartError> {
    let frame = hgt_frame(file, bytes.len() as u64)?;
    let tile = hgt_tile(file, &frame, &mut &*bytes)?;
    Ok(Grid::held(file, frame, tile))
}

/// Where the heights of a tile stand, by its name and size.
pub(super) fn hgt_frame(file: &str, bytes: u64) -> Result<Frame, ChartError> {
    let side = match bytes {
        2_884_802 => 1201,
        25_934_402 => 3601,
        _ => return Err(ChartError::HgtSize { file: file.to_owned(), bytes }),
    };
    let (south, west) =
        corner(file).ok_or_else(|| ChartError::HgtName { file: file.to_owned() })?;
    let step = 1.0 / f64::from(side - 1);
    let side = side as usize;
    Ok(Frame {
        north: south + 1.0,
        west,
        step_lat: step,
        step_lon: step,
        columns: side,
        rows: side,
    })
}

/// Reads the heights themselves, row by row.
pub(super) fn hgt_tile(
    file: &str,
    frame: &Frame,
    input: &mut dyn Read,
) -> Result<Tile, ChartError> {
    let mut heights: Vec<i16> = Vec::with_capacity(frame.rows * frame.columns);
    let mut row = vec![0; 2 * frame.columns];
    for _ in 0..frame.rows {
        input.read_exact(&mut row).map_err(|error| ChartError::Unreadable {
            file: file.to_owned(),
            why: error.to_string(),
        })?;
        heights.extend(row.chunks_exact(2).map(|pair| i16::from_be_bytes([pair[0], pair[1]])));
    }
    let void = |height: f64| height <= f64::from(VOID) || is_unsaid_void(height);
    Tile::new(file, frame, Heights::Whole(heights), &void)
}

/// The box that a tile tells heights in, by its name; a little more, for the places between tiles.
pub(in crate::chart) fn tile_box(file: &str) -> Option<GeoBox> {
    /// More than half a step of the coarsest tile.
    const BESIDE_DEG: f64 = 0.001;
    let (south, west) = corner(file)?;
    let (north, east) = (south + 1.0 + BESIDE_DEG, west + 1.0 + BESIDE_DEG);
    Some(GeoBox::new(south - BESIDE_DEG, west - BESIDE_DEG, north, east))
}

/// Latitude and longitude of the south-west corner from a name like `N22W160.hgt`.
fn corner(file: &str) -> Option<(f64, f64)> {
    let name = file.rsplit(['/', '\\']).next()?.split('.').next()?.to_ascii_uppercase();
    if !name.is_ascii() || name.len() != 7 {
        return None;
    }
    let (latitude, longitude) = name.split_at(3);
    let signed = |text: &str, positive: char, negative: char, most: f64| {
        let (letter, digits) = text.split_at(1);
        let degrees: u32 = digits.parse().ok()?;
        let degrees = f64::from(degrees);
        match letter.chars().next()? {
            c if c == positive => Some(degrees),
            c if c == negative => Some(-degrees),
            _ => None,
        }
        .filter(|degrees| degrees.abs() <= most)
    };
    Some((signed(latitude, 'N', 'S', 90.0)?, signed(longitude, 'E', 'W', 180.0)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geodesy::Position;

    /// A 3-second tile with one height set, and one void.
    fn tile() -> Vec<u8> {
        let mut bytes = vec![0; 2_884_802];
        let mut set = |row: usize, column: usize, height: i16| {
            let at = 2 * (row * 1201 + column);
            bytes[at..at + 2].copy_from_slice(&height.to_be_bytes());
        };
        set(0, 0, 100);
        set(1200, 1200, 300);
        set(600, 600, VOID);
        bytes
    }

    #[test]
    fn the_first_height_is_the_north_west_corner() {
        let grid = read_hgt("dem/S05W160.hgt", &tile()).unwrap();
        let at = |lat, lon| grid.height(Position::new(lat, lon).unwrap()).unwrap().metres;
        assert!((at(-4.0, -160.0) - 100.0).abs() < 1e-9);
        assert!((at(-5.0, -159.0) - 300.0).abs() < 1e-6);
        assert!(at(-4.5, -159.5).abs() < 1e-9, "the void is filled, not read as depth");
        assert_eq!(grid.facts().unwrap().voids, 1);
    }

    /// One cell among heights of 100 m: its rim is 100 m all round, and so is what fills it. Believed, it was
    /// the lowest height, and sea.
    #[test]
    fn a_height_that_producers_write_for_none_is_missing() {
        let filled_with = |height: i16| {
            let mut bytes = 100_i16.to_be_bytes().repeat(1201 * 1201);
            let at = 2 * (600 * 1201 + 600);
            bytes[at..at + 2].copy_from_slice(&height.to_be_bytes());
            let grid = read_hgt("S05W160.hgt", &bytes).unwrap();
            let told = grid.height(Position::new(-4.5, -159.5).unwrap()).unwrap();
            (grid.facts().unwrap(), told.metres)
        };
        let (facts, height) = filled_with(-9999);
        assert_eq!(facts.voids, 1);
        assert!((facts.lowest - 100.0).abs() < 1e-9 && (height - 100.0).abs() < 1e-9, "{height}");
        // A metre beside it is a height as any other.
        assert_eq!(filled_with(-9998).0.voids, 0);
    }

    #[test]
    fn other_sizes_and_names_are_refused() {
        let told = read_hgt("N01E001.hgt", b"no heights at all").unwrap_err().to_string();
        assert_eq!(told, "N01E001.hgt: holds 17 bytes, which is no .hgt grid");
        assert!(matches!(read_hgt("x.hgt", &tile()), Err(ChartError::HgtName { .. })));
        assert!(matches!(read_hgt("N01\u{e9}001.hgt", &tile()), Err(ChartError::HgtName { .. })));
    }
}
