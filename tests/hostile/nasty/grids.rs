//! Grids of heights.

use super::{Case, case};

/// A TIFF of one strip, little-endian, its georeference sound, from these entries (tag, type, count,
/// value).
fn tiff_of(columns: u32, rows: u32, more: &[(u16, u16, u32, u32)], data: &[u8]) -> Vec<u8> {
    let mut entries: Vec<(u16, u16, u32, u32)> = vec![
        (256, 4, 1, columns),
        (257, 4, 1, rows),
        (258, 3, 1, 16),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, 1, 0),
        (277, 3, 1, 1),
        (278, 4, 1, rows),
        (279, 4, 1, data.len() as u32),
        (339, 3, 1, 2),
        (33_550, 12, 3, 0),
        (33_922, 12, 6, 0),
        (34_735, 3, 16, 0),
    ];
    for entry in more {
        entries.retain(|known| known.0 != entry.0);
        entries.push(*entry);
    }
    entries.sort_unstable();
    let after = 8 + 2 + 12 * entries.len() as u32 + 4;
    let mut extra: Vec<u8> = Vec::new();
    let mut place = |bytes: Vec<u8>| {
        let at = after + extra.len() as u32;
        extra.extend(bytes);
        at
    };
    let reals = |values: &[f64]| values.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>();
    let scale = place(reals(&[0.1, 0.1, 0.0]));
    let tie = place(reals(&[0.0, 0.0, 0.0, -21.0, -37.0, 0.0]));
    let keys: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326];
    let keys = place(keys.iter().flat_map(|v| v.to_le_bytes()).collect());
    let strip = place(data.to_vec());
    let mut bytes = b"II\x2a\0\x08\0\0\0".to_vec();
    bytes.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        let value = match (tag, value) {
            (33_550, 0) => scale,
            (33_922, 0) => tie,
            (34_735, 0) => keys,
            (273, 0) => strip,
            _ => value,
        };
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 4]);
    bytes.extend(extra);
    bytes
}

pub fn tiffs() -> Vec<Case> {
    let data: Vec<u8> = (0..18).collect();
    let tiff = |name: &str, columns, rows, more: &[(u16, u16, u32, u32)]| {
        case(name, tiff_of(columns, rows, more, &data))
    };
    let mut all = vec![
        tiff("sound", 3, 3, &[]),
        tiff("no columns", 0, 3, &[]),
        tiff("no rows", 3, 0, &[]),
        tiff("nothing", 0, 0, &[]),
        tiff("65535 by 65535", 65_535, 65_535, &[]),
        tiff("20000 by 20000", 20_000, 20_000, &[]),
        tiff("20000 by 20000, in strips of one", 20_000, 20_000, &[(278, 4, 1, 1)]),
        tiff("2^32 by 2", u32::MAX, 2, &[]),
        tiff("2 by 2^32", 2, u32::MAX, &[]),
        tiff("2^32 by 2^32", u32::MAX, u32::MAX, &[]),
        tiff("a strip of 2^32 bytes", 3, 3, &[(279, 4, 1, u32::MAX)]),
        tiff("a strip of nothing", 3, 3, &[(279, 4, 1, 0)]),
        tiff("a strip beyond the end", 3, 3, &[(273, 4, 1, u32::MAX - 8)]),
        tiff("2^32 strips", 3, 3, &[(273, 4, u32::MAX, 8)]),
        tiff("2^30 rows a strip", 3, 3, &[(278, 4, 1, 1 << 30)]),
        tiff("no rows a strip", 3, 3, &[(278, 4, 1, 0)]),
        tiff("64 bits a sample", 3, 3, &[(258, 3, 1, 64)]),
        tiff("no bits a sample", 3, 3, &[(258, 3, 1, 0)]),
        tiff("65535 bits a sample", 3, 3, &[(258, 3, 1, 65_535)]),
        tiff("65535 samples", 3, 3, &[(277, 3, 1, 65_535)]),
        tiff("no samples", 3, 3, &[(277, 3, 1, 0)]),
        tiff(
            "tiles of 2^31",
            3,
            3,
            &[(322, 4, 1, 1 << 31), (323, 4, 1, 1 << 31), (324, 4, 1, 8), (325, 4, 1, 9)],
        ),
        tiff(
            "tiles of nothing",
            3,
            3,
            &[(322, 4, 1, 0), (323, 4, 1, 0), (324, 4, 1, 8), (325, 4, 1, 9)],
        ),
        tiff("georeference of 2^32", 3, 3, &[(33_550, 12, u32::MAX, 8)]),
        tiff("keys of 2^32", 3, 3, &[(34_735, 3, u32::MAX, 8)]),
        tiff("metadata of 2^32", 3, 3, &[(42_112, 2, u32::MAX, 8)]),
        tiff("metadata of 2^32 reals", 3, 3, &[(42_112, 12, u32::MAX, 8)]),
        tiff("metadata beyond the end", 3, 3, &[(42_112, 2, 99, u32::MAX - 8)]),
        tiff("metadata of nothing", 3, 3, &[(42_112, 2, 0, 0)]),
        tiff("a directory that is its own next", 3, 3, &[(330, 13, 1, 8)]),
    ];
    for compression in [2, 3, 4, 5, 6, 7, 8, 32_773, 32_946, 50_000, 50_001] {
        all.push(tiff("compressed", 3, 3, &[(259, 3, 1, compression)]));
        all.push(tiff("compressed, 4000 by 4000", 4_000, 4_000, &[(259, 3, 1, compression)]));
    }
    for predictor in [2, 3, 77] {
        all.push(tiff("predicted", 3, 3, &[(317, 3, 1, predictor)]));
    }
    for (name, value) in [
        ("NaN", f64::NAN),
        ("inf", f64::INFINITY),
        ("1e308", 1e308),
        ("-1", -1.0),
        ("0", 0.0),
        ("5e-324", 5e-324),
    ] {
        for field in 0..9 {
            let mut bytes = tiff_of(3, 3, &[], &data);
            let at = 8 + 2 + 12 * 13 + 4 + 8 * field;
            bytes[at..at + 8].copy_from_slice(&value.to_le_bytes());
            all.push(case(name, bytes));
        }
    }
    all
}

pub fn tiles() -> Vec<Case> {
    const TILE: usize = 2 * 1201 * 1201;
    let named = |name: &str, data: &[u8]| [name.as_bytes(), b"\n", data].concat();
    let mut one = [0x80, 0x00].repeat(TILE / 2);
    one[0] = 0;
    vec![
        case("a tile all void but for a corner", named("S38W021", &one)),
        case("a tile all void", named("S38W021", &[0x80, 0x00].repeat(TILE / 2))),
        case("a tile of the highest heights", named("S38W021", &[0x7f, 0xff].repeat(TILE / 2))),
        case("short by one", named("S38W021", &vec![0; TILE - 1])),
        case("nowhere", named("S99W999", &[0; 4])),
        case("at the pole", named("N90E180", &[1, 2])),
        case("no name", named("", &[0; 4])),
        case("letters of two bytes", named("éééé", &[0; 4])),
        case("signs", named("N+1E-01", &[0; 4])),
        case("what acts", named("\u{1b}[2J\u{202e}", &[0; 4])),
    ]
}
