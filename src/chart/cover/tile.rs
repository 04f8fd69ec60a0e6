use super::{Area, Terrain};
use crate::chart::coast::LonLat;

/// Cells along each side of one degree: two seconds of arc each.
const SIDE: usize = 1_800;

/// One degree by one degree of classes; zero is none.
#[derive(Debug)]
pub(super) struct Tile {
    cells: Box<[u8]>,
}

impl Tile {
    /// The tile whose south-west corner is given; `None` where no polygon reaches it. It depends on
    /// the polygons alone, so that it is the same whichever thread asks first.
    pub(super) fn of(areas: &[Area], corner: LonLat) -> Option<Self> {
        let mut cells: Option<Box<[u8]>> = None;
        for area in areas {
            if area.high.lat < corner.lat || area.low.lat > corner.lat + 1.0 {
                continue;
            }
            for turn in [-360.0, 0.0, 360.0] {
                let west = corner.lon - turn;
                if area.high.lon < west || area.low.lon > west + 1.0 {
                    continue;
                }
                let cells = cells.get_or_insert_with(|| vec![0; SIDE * SIDE].into_boxed_slice());
                fill(cells, area, LonLat { lon: west, ..corner });
            }
        }
        cells.map(|cells| Self { cells })
    }

    /// The class at a place, by parts of the tile north and east of its corner.
    pub(super) fn at(&self, north: f64, east: f64) -> Option<Terrain> {
        let cell = |part: f64| ((part * SIDE as f64) as usize).min(SIDE - 1);
        let code = *self.cells.get(cell(north) * SIDE + cell(east))?;
        Terrain::ALL.get(usize::from(code).checked_sub(1)?).copied()
    }
}

/// Lays a polygon on the cells whose middles it holds, row by row, by parity.
fn fill(cells: &mut [u8], area: &Area, corner: LonLat) {
    let code = Terrain::ALL.iter().position(|class| *class == area.class).map_or(0, |i| i + 1);
    let code = u8::try_from(code).unwrap_or(0);
    let side = SIDE as f64;
    let lay = |p: &LonLat| ((p.lon - corner.lon) * side - 0.5, (p.lat - corner.lat) * side - 0.5);
    // Where each row of middles crosses a ring, as row and column.
    let mut crossings: Vec<(usize, f64)> = Vec::new();
    for pair in area.rings.iter().flat_map(|ring| ring.windows(2)) {
        let [a, b] = pair else { continue };
        let ((x1, y1), (x2, y2)) = (lay(a), lay(b));
        let (low, high) = (y1.min(y2), y1.max(y2));
        // Rows from `low` on and before `high`: each row has one of two edges that meet on it.
        let (first, after) = (low.ceil().max(0.0), high.ceil().min(side));
        for row in first as usize..after.max(first) as usize {
            crossings.push((row, x1 + (x2 - x1) * (row as f64 - y1) / (y2 - y1)));
        }
    }
    crossings.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    for row in crossings.chunk_by(|a, b| a.0 == b.0) {
        for pair in row.chunks_exact(2) {
            let [(row, from), (_, to)] = *pair else { continue };
            let first = from.ceil().max(0.0) as usize;
            let after = (to.ceil().max(0.0) as usize).min(SIDE);
            let start = row * SIDE + first;
            let inside = cells.get_mut(start..row * SIDE + after.max(first));
            inside.unwrap_or_default().fill(code);
        }
    }
}
