//! Layers, their tables and projections, and indexes of them.

use super::{Case, case, lines};
use crate::hostile::made::{
    dbf_of, island_shp, marks_dbf, marks_shp, point, poly, polygon, shp_of,
};

pub fn shapes() -> Vec<Case> {
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
        patched("a multipatch among polygons", 108, &31_i32.to_le_bytes()),
        case("2^31 parts of a multipatch among polygons", {
            let mut content = poly(31, &[]);
            content[36..40].copy_from_slice(&i32::MAX.to_le_bytes());
            shp_of(5, &[content])
        }),
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
        case("five thousand islands staggered along one meridian", staggered(5_000)),
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

/// Islands each a little to the north of the one before, one side of all of them along one meridian, half of
/// them to the west of it.
fn staggered(count: usize) -> Vec<u8> {
    let island = |i: usize| {
        let (far, south) = (if i.is_multiple_of(2) { -0.3 } else { 0.3 }, 0.000_01 * i as f64);
        let north = south + 0.5;
        polygon(&[ring(&[(0., south), (0., north), (far, north), (far, south), (0., south)])])
    };
    shp_of(5, &(0..count).map(island).collect::<Vec<_>>())
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

pub fn tables() -> Vec<Case> {
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
        case("more rows than shapes", dbf_of(&many)),
        case(
            "names that act",
            dbf_of(&[
                (&b"\x1b[2J\x07\x08\x0d\x0a\x09"[..], &b"\x1b"[..], &b"1e999"[..]),
                (b"\xe2\x80\xae\xe2\x81\xa6\xc2\x9b2J", b"<script>", b"nan"),
                (b"\x9b31m", b"", b"-9999"),
            ]),
        ),
    ]
}

pub fn projections() -> Vec<Case> {
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

/// Heads that are sound and announce what is not there.
pub fn indexes() -> Vec<Case> {
    // Of the form that is read: another is refused before anything else of it is looked at.
    let form = &include_bytes!("../../fuzz/corpus/prepared/island")[16..20];
    let head = |length: u64, at: u64, contents: u32| {
        let mut bytes = b"foreland index\r\n".to_vec();
        bytes.extend(form);
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
