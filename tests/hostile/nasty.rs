//! Inputs made to break a reader: too large for a corpus, or told better by how they are made.

use super::hostile::{SIGHTINGS, island_shp, marks_dbf, marks_shp, point, poly, polygon, shp_of};

/// A name and the bytes.
pub type Case = (String, Vec<u8>);

fn case(name: &str, bytes: impl Into<Vec<u8>>) -> Case {
    (name.to_owned(), bytes.into())
}

/// All for one target.
pub fn nasty(target: &str) -> Vec<Case> {
    match target {
        "shp" => shapes(),
        "dbf" => tables(),
        "prj" => projections(),
        "geotiff" => tiffs(),
        "hgt" => tiles(),
        "prepared" => indexes(),
        "log" | "log_records" => logs(),
        "chart_toml" | "set" | "sightings" | "legs" | "declare" => texts(target),
        "entry" | "position" | "progress" | "cpg" => lines(),
        _ => Vec::new(),
    }
}

/// What is wrong in any text, and what is wrong in any TOML or JSON.
fn texts(target: &str) -> Vec<Case> {
    let sound = if target == "sightings" { SIGHTINGS } else { "" };
    let mut all = lines();
    all.extend([
        case("brackets", "[".repeat(200_000)),
        case("nested list", format!("a = {}", "[".repeat(200_000))),
        case("nested list, closed", format!("a = {}{}", "[".repeat(5_000), "]".repeat(5_000))),
        case("nested table", format!("a = {}", "{a=".repeat(100_000))),
        case("nested JSON", "{\"a\":".repeat(100_000)),
        case("nested JSON list", format!("{{\"a\":{}", "[".repeat(100_000))),
        case("dotted key", format!("{} = 1", "a.".repeat(50_000).trim_end_matches('.'))),
        case("dotted table", format!("[{}]", "a.".repeat(50_000).trim_end_matches('.'))),
        case("many tables", "[[contact]]\n".repeat(100_000)),
        case("many keys", keys(60_000, " = 1\n")),
        case(
            "many keys on a line",
            format!("a = {{{}}}", keys(60_000, " = 1, ").trim_end_matches(", ")),
        ),
        case("the same key again", "a = 1\n".repeat(10_000)),
        case("one long number", format!("a = {}", "9".repeat(1_000_000))),
        case("one long text", format!("name = \"{}\"", "x".repeat(4_000_000))),
        case("a fault of many lines", format!("contact = [\n{}]\n", "1,\n".repeat(300_000))),
        case("a long line before a fault", format!("# {}\nnone = 1\n", "x".repeat(900_000))),
        case("a long line after a fault", format!("none = 1\n# {}\n", "x".repeat(900_000))),
        case("one long key", format!("{} = 1", "x".repeat(4_000_000))),
        case("one long list", format!("scales_nm = [{}]", "1,".repeat(500_000))),
        case(
            "one long word where one of few is asked",
            format!("polarisation = \"{}\"", "y".repeat(900_000)),
        ),
        case("a set without end", sound.replace("\"patrol\"", "\"/dev/zero\"")),
        case("a set that is a folder", sound.replace("\"patrol\"", "\"/\"")),
        case("a time without end", sound.replace("03:40:00Z", &"0".repeat(100_000))),
    ]);
    let acting = "\u{1b}]0;x\u{7}\u{9b}2J\u{202e}\u{2066}\u{200b}\u{8}\r\t<script>";
    for key in ["name", "label", "mark", "position", "set", "kind", "craft", acting] {
        all.push(case("what acts", format!("[[\"{key}\"]]\n\"{key}\" = '{acting}'\n")));
        all.push(case("what acts, escaped", format!("\"{key}\" = \"\\u001b[2J\\u202e\"\n")));
    }
    for spoilt in
        ["17.3", "42.5", "\"A\"", "\"patrol\"", "\"Gannet Head\"", "\"near\"", "\"relative\""]
    {
        let with = |word: &str| sound.replace(spoilt, word);
        all.push(case("what acts in its place", with(&format!("\"\\u001b\\u202e{}\"", "\\u200f"))));
        all.push(case("nan in its place", with("nan")));
        all.push(case("inf in its place", with("-inf")));
        all.push(case("1e308 in its place", with("1e308")));
        all.push(case("a list in its place", with("[[1, 2], 3]")));
    }
    all
}

/// So many keys, each with its value after it.
fn keys(count: usize, value: &str) -> String {
    let keys: Vec<String> = (0..count).map(|number| format!("k{number}{value}")).collect();
    keys.concat()
}

fn lines() -> Vec<Case> {
    vec![
        case("nothing", ""),
        case("NUL", vec![0; 1_000]),
        case("byte order mark", "\u{feff}"),
        case("byte order mark of UTF-16", vec![0xff, 0xfe, b'a', 0]),
        case("no UTF-8", vec![0xc3, 0x28, 0xf0, 0x9f, 0xff, 0x80]),
        case("CR alone", "a = 1\rb = 2\r"),
        case("CR LF", "17.3 042\r\n"),
        case("a line of 10 MB", "x".repeat(10_000_000)),
        case("10 MB of digits", "9".repeat(10_000_000)),
        case("a million lines", "\n".repeat(1_000_000)),
        case("a million blanks", " ".repeat(1_000_000)),
        case("ten thousand words", "a ".repeat(10_000)),
        case("ten thousand quotes", "\"".repeat(10_000)),
        case("what acts", "\u{1b}]0;x\u{7}\u{9b}2J\u{202e}\u{2066}\u{200b}\u{8}\t<script>"),
        case("degrees", "°".repeat(79)),
        case("letters that grow", "ŉ".repeat(60)),
        case("İ", "İ".repeat(60)),
    ]
}

fn shapes() -> Vec<Case> {
    let island = island_shp();
    let patched = |name: &str, at: usize, with: &[u8]| {
        let mut bytes = island.clone();
        bytes[at..at + with.len()].copy_from_slice(with);
        case(name, bytes)
    };
    let mut all = vec![
        patched("file code", 0, &0_i32.to_be_bytes()),
        patched("length of the file", 24, &i32::MAX.to_be_bytes()),
        patched("length of the file, negative", 24, &i32::MIN.to_be_bytes()),
        patched("length of a record", 104, &i32::MAX.to_be_bytes()),
        patched("length of a record, negative", 104, &(-5_i32).to_be_bytes()),
        patched("length of a record, none", 104, &0_i32.to_be_bytes()),
        patched("2^31 parts", 100 + 8 + 36, &i32::MAX.to_le_bytes()),
        patched("2^31 points", 100 + 8 + 40, &i32::MAX.to_le_bytes()),
        patched("negative parts", 100 + 8 + 36, &(-1_i32).to_le_bytes()),
        patched("negative points", 100 + 8 + 40, &(-1_i32).to_le_bytes()),
        patched("a part before the first point", 100 + 8 + 44, &(-3_i32).to_le_bytes()),
        patched("a part after the last point", 100 + 8 + 44, &5_i32.to_le_bytes()),
        patched("a multipatch", 32, &31_i32.to_le_bytes()),
        patched("an unknown shape", 32, &77_i32.to_le_bytes()),
        patched("points said, a polygon there", 32, &1_i32.to_le_bytes()),
        case("2^31 points in 100 bytes", poly_of_nothing(i32::MAX, i32::MAX)),
        case("parts that overlap", overlapping()),
        case("no records", shp_of(5, &[])),
        case("null shapes", shp_of(5, &vec![0_i32.to_le_bytes().to_vec(); 1_000])),
    ];
    for (name, value) in [
        ("NaN", f64::NAN),
        ("inf", f64::INFINITY),
        ("1e308", 1e308),
        ("-1e308", -1e308),
        ("5e-324", 5e-324),
        ("91", 91.0),
        ("-90", -90.0),
        ("359.999", 359.999),
    ] {
        for at in [0, 8, 16, 24] {
            all.push(patched(name, 100 + 8 + 48 + at, &value.to_le_bytes()));
        }
    }
    all.extend([
        case("a thousand rings of one polygon", shp_of(5, &[polygon(&squares(1_000))])),
        case("two thousand islands", {
            let each = |ring: Vec<[f64; 2]>| polygon(&[ring]);
            shp_of(5, &squares(2_000).into_iter().map(each).collect::<Vec<_>>())
        }),
        case("a thousand islands in one place", shp_of(5, &vec![island[108..].to_vec(); 1_000])),
        case("five thousand lines of two points", {
            let line =
                |i: usize| poly(3, &[vec![[0.001 * i as f64, 1.0], [0.001 * (i + 1) as f64, 1.0]]]);
            shp_of(3, &(0..5_000).rev().map(line).collect::<Vec<_>>())
        }),
        case("lines that all end in one place", {
            let line = |i: usize| poly(3, &[vec![[0.0, 0.0], [1.0, 0.001 * i as f64]]]);
            shp_of(3, &(0..2_000).map(line).collect::<Vec<_>>())
        }),
        case(
            "an hourglass",
            shp_of(5, &[polygon(&[ring(&[(0., 0.), (1., 1.), (1., 0.), (0., 1.), (0., 0.)])])]),
        ),
        case("a spike", shp_of(5, &[polygon(&[ring(&[(0., 0.), (5., 0.), (0., 0.), (0., 0.)])])])),
        case("one place again and again", shp_of(5, &[polygon(&[vec![[1.0, 1.0]; 5_000]])])),
        case("round the Earth", shp_of(5, &[polygon(&[zigzag(60, 360.0)])])),
        case("to and fro over half the Earth", shp_of(5, &[polygon(&[zigzag(3_000, 170.0)])])),
        case("to and fro over a mile", shp_of(5, &[polygon(&[zigzag(3_000, 0.02)])])),
        case("to and fro over a mile, a polyline", shp_of(3, &[poly(3, &[zigzag(3_000, 0.02)])])),
        case(
            "at the poles",
            shp_of(5, &[polygon(&[ring(&[(0., 90.), (90., 90.), (180., 89.9), (0., 90.)])])]),
        ),
        case(
            "both poles",
            shp_of(5, &[polygon(&[ring(&[(0., -90.), (0., 90.), (179., 90.), (0., -90.)])])]),
        ),
        case("marks alone", marks_shp()),
        case("ten thousand marks in one place", shp_of(1, &vec![point(1.0, 1.0); 10_000])),
    ]);
    all
}

fn ring(points: &[(f64, f64)]) -> Vec<[f64; 2]> {
    points.iter().map(|(x, y)| [*x, *y]).collect()
}

fn squares(count: usize) -> Vec<Vec<[f64; 2]>> {
    let square = |i: usize| {
        let (x, y) = (0.01 * (i % 50) as f64, 0.01 * (i / 50) as f64);
        ring(&[(x, y), (x, y + 0.005), (x + 0.005, y + 0.005), (x + 0.005, y), (x, y)])
    };
    (0..count).map(square).collect()
}

/// A line that goes from one side to the other, a little to the north each time.
fn zigzag(turns: usize, width: f64) -> Vec<[f64; 2]> {
    let mut line: Vec<[f64; 2]> =
        (0..turns).map(|i| [width * (i % 2) as f64 - 0.5 * width, 0.00001 * i as f64]).collect();
    line.push(line[0]);
    line
}

fn poly_of_nothing(parts: i32, points: i32) -> Vec<u8> {
    let mut content = poly(5, &[]);
    content[36..40].copy_from_slice(&parts.to_le_bytes());
    content[40..44].copy_from_slice(&points.to_le_bytes());
    shp_of(5, &[content])
}

/// The second part starts before the first.
fn overlapping() -> Vec<u8> {
    let square = ring(&[(0., 0.), (0., 1.), (1., 1.), (1., 0.), (0., 0.)]);
    let mut content = polygon(&[square.clone(), square]);
    content[44..48].copy_from_slice(&5_i32.to_le_bytes());
    content[48..52].copy_from_slice(&2_i32.to_le_bytes());
    shp_of(5, &[content])
}

/// Heads that are sound and announce what is not there.
fn indexes() -> Vec<Case> {
    let head = |length: u64, at: u64, contents: u32| {
        let mut bytes = b"foreland index\r\n".to_vec();
        bytes.extend(1_u32.to_le_bytes());
        bytes.extend(length.to_le_bytes());
        bytes.extend(at.to_le_bytes());
        bytes.extend(contents.to_le_bytes());
        bytes.extend(0_u32.to_le_bytes());
        bytes.extend(crc32fast::hash(&bytes).to_le_bytes());
        bytes
    };
    vec![
        case("nothing", ""),
        case("contents of 4 GB", head(48, 48, u32::MAX)),
        case("contents beyond the end", head(48, u64::MAX, 16)),
        case("contents of nothing", head(48, 48, 0)),
        case("contents that are the head", head(48, 0, 48)),
        case("a length that is not its own", head(u64::MAX, 48, 0)),
    ]
}

fn tables() -> Vec<Case> {
    let sound = marks_dbf();
    let patched = |name: &str, at: usize, with: &[u8]| {
        let mut bytes = sound.clone();
        bytes[at..at + with.len()].copy_from_slice(with);
        case(name, bytes)
    };
    let many: Vec<(&[u8], &[u8], &[u8])> = vec![(&b"x"[..], &b"y"[..], &b"1"[..]); 70_000];
    vec![
        patched("2^32 rows", 4, &u32::MAX.to_le_bytes()),
        patched("no rows", 4, &0_u32.to_le_bytes()),
        patched("a header of nothing", 8, &0_u16.to_le_bytes()),
        patched("a header of 65535", 8, &u16::MAX.to_le_bytes()),
        patched("rows of nothing", 10, &0_u16.to_le_bytes()),
        patched("rows of 65535", 10, &u16::MAX.to_le_bytes()),
        patched("a column of 255", 48, &[255]),
        patched("a column of nothing", 48, &[0]),
        patched("a column's name that acts", 32, b"\x1b[2J\x9b\x07"),
        case("rows of nothing, and 2^32 of them", {
            let mut bytes = vec![0; 33];
            bytes[4..8].copy_from_slice(&u32::MAX.to_le_bytes());
            bytes[8] = 33;
            bytes
        }),
        case("more rows than shapes", super::hostile::dbf_of(&many)),
        case(
            "names that act",
            super::hostile::dbf_of(&[
                (&b"\x1b[2J\x07\x08\x0d\x0a\x09"[..], &b"\x1b"[..], &b"1e999"[..]),
                (b"\xe2\x80\xae\xe2\x81\xa6\xc2\x9b2J", b"<script>", b"nan"),
                (b"\x9b31m", b"", b"-9999"),
            ]),
        ),
    ]
}

fn projections() -> Vec<Case> {
    let mut all = lines();
    all.extend([
        case("brackets", "A[".repeat(100_000)),
        case("brackets, round", "A(".repeat(100_000)),
        case(
            "brackets in a known place",
            format!("GEOGCS[\"x\",{}", "DATUM[\"x\",".repeat(50_000)),
        ),
        case("closed", format!("{}\"x\"{}", "GEOGCS[".repeat(2_000), "]".repeat(2_000))),
        case("commas", format!("GEOGCS[{}]", ",".repeat(200_000))),
        case("quotes", format!("GEOGCS[{}]", "\"\",".repeat(100_000))),
        case("a spheroid of nothing", WGS.replace("6378137", "0")),
        case("a spheroid of NaN", WGS.replace("6378137", "nan")),
        case("a spheroid turned", WGS.replace("298.257223563", "-1")),
        case("a spheroid flat", WGS.replace("298.257223563", "0")),
        case("a spheroid as a disc", WGS.replace("298.257223563", "1")),
        case("a spheroid beyond number", WGS.replace("6378137", "1e999")),
    ]);
    for projection in [
        "Transverse_Mercator",
        "Mercator_1SP",
        "Mercator_2SP",
        "Lambert_Conformal_Conic_2SP",
        "Lambert_Conformal_Conic_1SP",
        "Albers_Conic_Equal_Area",
        "Polar_Stereographic",
        "Oblique_Stereographic",
        "Lambert_Azimuthal_Equal_Area",
        "Cassini_Soldner",
        "Polyconic",
        "Hotine_Oblique_Mercator",
        "Sinusoidal",
        "Mollweide",
        "Krovak",
        "Equirectangular",
        "None_Such",
    ] {
        for value in ["0", "90", "-90", "180", "1e308", "nan", "-1"] {
            let names = [
                "latitude_of_origin",
                "central_meridian",
                "scale_factor",
                "false_easting",
                "false_northing",
                "standard_parallel_1",
                "standard_parallel_2",
                "azimuth",
                "latitude_of_center",
                "longitude_of_center",
                "rectified_grid_angle",
            ];
            let parameters: Vec<String> =
                names.iter().map(|name| format!("PARAMETER[\"{name}\",{value}],")).collect();
            let parameters = parameters.concat();
            let text = format!(
                "PROJCS[\"p\",{WGS},PROJECTION[\"{projection}\"],{parameters}UNIT[\"metre\",1]]"
            );
            all.push(case(&format!("{projection} {value}"), text));
        }
    }
    all
}

const WGS: &str = r#"GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563],TOWGS84[0,0,0,0,0,0,0]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#;

/// A TIFF of one strip, little-endian, its georeference sound, from these entries (tag, type, count,
/// value).
pub fn tiff_of(columns: u32, rows: u32, more: &[(u16, u16, u32, u32)], data: &[u8]) -> Vec<u8> {
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

fn tiffs() -> Vec<Case> {
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

fn tiles() -> Vec<Case> {
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

fn logs() -> Vec<Case> {
    let most = u64::MAX;
    let record = |number: u64, rest: &str| format!("{number} 2031-03-09T03:42:55Z {rest}\n");
    let contact = |field: &str, value: &str| {
        record(
            1,
            &format!(
                "contact {{\"label\":\"A\",\"range_nm\":17.3,\"bearing_deg\":42.0,\"{field}\":{value}}}"
            ),
        )
    };
    let mut all = lines();
    all.extend([
        case("the last number there is", [record(most, "undo {}"), record(most, "redo {}"), record(1, "undo {}")].concat()),
        case("the first number there is", record(0, "undo {}")),
        case("numbers far apart", [record(1, "undo {}"), record(most, "undo {}")].concat()),
        case("undo without end", (1..1_500).map(|n| record(n, "undo {}")).collect::<String>()),
        case("redo without end", (1..1_500).map(|n| record(n, "redo {}")).collect::<String>()),
        case("nested", record(1, &format!("note {{\"text\":{}", "[".repeat(100_000)))),
        case("a time beyond", "1 9999-12-31T23:59:59Z note {\"text\":\"x\"}\n".to_owned()),
        case("times at both ends", [
            "1 -9999-01-02T01:59:59Z reckoning {\"time\":\"-9999-01-02T01:59:59Z\",\"lat_deg\":1,\"lon_deg\":1,\"covariance_nm2\":[[1,0],[0,1]]}\n",
            "2 9999-12-30T22:00:00Z height {\"height_ft\":1000}\n",
            "3 9999-12-30T22:00:00Z contact {\"label\":\"A\",\"range_nm\":17.3,\"bearing_deg\":42.0,\"time\":\"9999-12-30T21:00:00Z\"}\n",
            "4 9999-12-30T22:00:00Z track {\"track_deg\":90,\"speed_kn\":600}\n",
        ].concat()),
        case("what acts", record(1, "note {\"text\":\"\\u001b[2J\\u202e\\u0000\\u009b<script>alert(1)</script>\"}")),
        case("what acts, called", [contact("mark", "\"\\u001b]0;x\\u0007\\u202e<script>\""), record(2, "call {\"label\":\"A\",\"name\":\"\\u001b<script>\"}")].concat()),
    ]);
    for value in ["1e308", "-1e308", "1e-320", "0", "-0.0", "null", "\"x\"", "[]", "1e999"] {
        for field in [
            "range_nm",
            "bearing_deg",
            "height_ft",
            "range_sigma_nm",
            "bearing_sigma_deg",
            "confidence",
            "heading_deg",
        ] {
            all.push(case(field, contact(field, value)));
        }
        all.push(case("height", record(1, &format!("height {{\"height_ft\":{value}}}"))));
        all.push(case(
            "heading",
            record(1, &format!("heading {{\"degrees\":{value},\"kind\":\"true\"}}")),
        ));
        all.push(case("bank", record(1, &format!("bank {{\"bank_deg\":{value}}}"))));
        all.push(case("air", record(1, &format!("air {{\"speed_kn\":{value}}}"))));
        all.push(case(
            "track",
            record(1, &format!("track {{\"track_deg\":{value},\"speed_kn\":{value}}}")),
        ));
        all.push(case(
            "landfall",
            record(1, &format!("landfall {{\"lat_deg\":{value},\"lon_deg\":{value}}}")),
        ));
        all.push(case("reckoning", record(1, &format!(
            "reckoning {{\"time\":\"2031-03-09T03:42:55Z\",\"lat_deg\":{value},\"lon_deg\":{value},\"covariance_nm2\":[[{value},{value}],[{value},{value}]]}}"
        ))));
        all.push(case(
            "blank",
            record(1, &format!("blank {{\"set\":\"\",\"height_ft\":{value}}}")),
        ));
    }
    all
}
