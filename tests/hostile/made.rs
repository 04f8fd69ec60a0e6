//! Sound files, as they are made for the readers.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, UNIX_EPOCH};

/// Geographic WGS84 as `.prj` files have it.
pub const WGS84: &str = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;

/// A square island with a corner at 21 W 38 S, as a polygon of a `.shp`.
pub fn island_shp() -> Vec<u8> {
    let corners = [(0.0, 0.0), (0.0, 0.2), (0.2, 0.2), (0.2, 0.0), (0.0, 0.0)];
    let points: Vec<[f64; 2]> = corners.iter().map(|(x, y)| [x - 21.0, y - 38.0]).collect();
    shp_of(5, &[polygon(&[points])])
}

/// A record's content: a polygon of these rings.
pub fn polygon(rings: &[Vec<[f64; 2]>]) -> Vec<u8> {
    poly(5, rings)
}

/// A record's content: a polyline (3) or a polygon (5) of these parts, its box left at nothing.
pub fn poly(kind: i32, parts: &[Vec<[f64; 2]>]) -> Vec<u8> {
    let mut content = Vec::new();
    content.extend(kind.to_le_bytes());
    content.extend([0; 32]);
    content.extend(int(parts.len()).to_le_bytes());
    content.extend(int(parts.iter().map(Vec::len).sum()).to_le_bytes());
    let mut start = 0_i32;
    for part in parts {
        content.extend(start.to_le_bytes());
        start += int(part.len());
    }
    content.extend(parts.iter().flatten().flatten().flat_map(|value| value.to_le_bytes()));
    content
}

/// A count as a `.shp` has it. No file of these tests is so large that it would not fit.
fn int(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

/// A record's content: a point.
pub fn point(x: f64, y: f64) -> Vec<u8> {
    [&1_i32.to_le_bytes()[..], &x.to_le_bytes(), &y.to_le_bytes()].concat()
}

/// A `.shp` of these records.
pub fn shp_of(kind: i32, records: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = vec![0; 100];
    bytes[..4].copy_from_slice(&9994_i32.to_be_bytes());
    bytes[28..32].copy_from_slice(&1000_i32.to_le_bytes());
    bytes[32..36].copy_from_slice(&kind.to_le_bytes());
    for (number, content) in records.iter().enumerate() {
        bytes.extend(int(number + 1).to_be_bytes());
        bytes.extend(int(content.len() / 2).to_be_bytes());
        bytes.extend(content);
    }
    let words = int(bytes.len() / 2);
    bytes[24..28].copy_from_slice(&words.to_be_bytes());
    bytes
}

/// Three marks as a `.shp` of points.
pub fn marks_shp() -> Vec<u8> {
    shp_of(1, &[point(-20.9, -37.9), point(-20.85, -37.85), point(-20.95, -37.82)])
}

/// A table of a name, a kind and a height, with these rows of 24, 10 and 8 bytes.
pub fn dbf_of(rows: &[(&[u8], &[u8], &[u8])]) -> Vec<u8> {
    let columns: [(&[u8], u8, u8); 3] =
        [(b"NAME", b'C', 24), (b"KIND", b'C', 10), (b"ELEV_M", b'N', 8)];
    let mut bytes = vec![3, 126, 1, 1];
    bytes.extend((rows.len() as u32).to_le_bytes());
    bytes.extend((32 + 32 * 3 + 1_u16).to_le_bytes());
    bytes.extend((1 + 24 + 10 + 8_u16).to_le_bytes());
    bytes.resize(32, 0);
    for (name, kind, length) in columns {
        let start = bytes.len();
        bytes.extend(name);
        bytes.resize(start + 11, 0);
        bytes.push(kind);
        bytes.resize(start + 16, 0);
        bytes.push(length);
        bytes.resize(start + 32, 0);
    }
    bytes.push(0x0d);
    for (name, kind, height) in rows {
        bytes.push(b' ');
        for (cell, width) in [(name, 24), (kind, 10), (height, 8)] {
            let start = bytes.len();
            bytes.extend(cell.iter().take(width));
            bytes.resize(start + width, b' ');
        }
    }
    bytes
}

/// The table of [`marks_shp`].
pub fn marks_dbf() -> Vec<u8> {
    dbf_of(&[
        (b"Gannet Head", b"headland", b"120.5"),
        (b"Left Rock", b"islet", b""),
        (b"Caf\xc3\xa9 \xe9", b"light", b"********"),
    ])
}

/// A folder with the island in it, always changed at the same time, so that an index kept in the corpus is of it.
pub fn island_chart(within: &Path) -> PathBuf {
    const CHANGED: Duration = Duration::from_secs(1_900_000_000);
    let chart = within.join("island");
    fs::create_dir(&chart).unwrap();
    let coast = chart.join("coast.shp");
    fs::write(&coast, island_shp()).unwrap();
    let file = fs::File::options().append(true).open(&coast).unwrap();
    file.set_modified(UNIX_EPOCH + CHANGED).unwrap();
    chart
}

/// Sightings of every section, all sound.
pub const SIGHTINGS: &str = r#"[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 4.0
track_deg = 74.0
speed_kn = 165.0
[own]
height_ft = 2000
heading_deg = 70.0
heading_kind = "compass"
variation = "18.2 W"
[radar]
set = "patrol"
[landfall]
position = "38 01.0 S, 21 11.4 W"
[[contact]]
label = "A"
time = "2031-03-09T03:41:10Z"
range_nm = 17.3
bearing_deg = 42.5
bearing_kind = "relative"
part = "near"
mark = "Gannet Head"
[[contact]]
label = "B"
range_nm = 22.5
bearing_deg = 99.6
part = "centre"
"#;
