//! Each thing that can be wrong with a grid of heights, and the exact message it gets.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod small_chart;

use std::fs;
use std::process::Command;

use foreland::chart::{Chart, HeightSource};
use foreland::geodesy::Position;
use small_chart::{changed, open, told};

/// Keys of a geographic raster of areas in WGS84.
const KEYS: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326];

/// A TIFF of int16 samples, uncompressed, without or with geo tags.
fn tiff(columns: u32, rows: u32, georeferenced: bool) -> Vec<u8> {
    tiff_with(columns, rows, georeferenced.then_some(&KEYS[..]))
}

fn tiff_with(columns: u32, rows: u32, keys: Option<&[u16]>) -> Vec<u8> {
    let heights: Vec<i16> = (0..columns * rows).map(|i| i as i16).collect();
    tiff_of((columns, rows), keys, None, &heights)
}

/// One of these heights, with geo tags and the text of its makers' own where they are given.
fn tiff_of(
    (columns, rows): (u32, u32),
    keys: Option<&[u16]>,
    text: Option<&str>,
    heights: &[i16],
) -> Vec<u8> {
    use tiff::encoder::{TiffEncoder, colortype::GrayI16};
    use tiff::tags::Tag;
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes).unwrap();
    let mut image = encoder.new_image::<GrayI16>(columns, rows).unwrap();
    if let Some(keys) = keys {
        let tags = image.encoder();
        tags.write_tag(Tag::ModelPixelScaleTag, &[0.1, 0.1, 0.0][..]).unwrap();
        tags.write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, -21.0, -37.0, 0.0][..]).unwrap();
        tags.write_tag(Tag::GeoKeyDirectoryTag, keys).unwrap();
    }
    if let Some(text) = text {
        image.encoder().write_tag(Tag::Unknown(42_112), text).unwrap();
    }
    image.write_data(heights).unwrap();
    bytes.into_inner()
}

/// The numbers of units and of systems of heights: EPSG registry, from memory.
#[test]
fn heights_in_feet_are_refused_and_heights_in_metres_are_not() {
    let keyed = |key: u16, value: u16| {
        let mut keys = KEYS.to_vec();
        keys[3] = 4;
        keys.extend([key, 0, 1, value]);
        changed(|f| fs::write(f.join("dem.tif"), tiff_with(3, 3, Some(&keys))).unwrap())
    };
    for (key, value) in [(4099, 9002), (4099, 9003), (4096, 6360), (4096, 8228)] {
        let (what, help) = told(keyed(key, value).path());
        let expected =
            format!("CHART/dem.tif: has its heights in another unit than metres (EPSG:{value})");
        assert_eq!(
            (what, help.as_str()),
            (expected, "turn its heights into metres and export it again")
        );
    }
    for (key, value) in [(4099, 9001), (4096, 5773), (4096, 5703)] {
        assert!(open(keyed(key, value).path()).is_ok(), "{key} {value}");
    }
}

/// The numbers of the systems: EPSG registry, from memory.
#[test]
fn heights_above_the_ellipsoid_are_refused() {
    let of = |system: u16| {
        let mut keys = KEYS;
        keys[15] = system;
        changed(|f| fs::write(f.join("dem.tif"), tiff_with(3, 3, Some(&keys))).unwrap())
    };
    for system in [4979, 4937, 4957] {
        let why = "has its heights above the ellipsoid, not above mean sea level";
        let help = "take the height of the geoid off and export it again in EPSG:4326, or leave the \
                    grid out";
        assert_eq!(
            told(of(system).path()),
            (format!("CHART/dem.tif: {why} (EPSG:{system})"), help.to_owned())
        );
    }
    for system in [4326, 4258, 4269] {
        assert!(open(of(system).path()).is_ok(), "{system}");
    }
}

#[test]
fn heights_that_the_makers_own_text_says_are_scaled_or_in_feet_are_refused() {
    let with = |role: &str, value: &str| {
        let text = format!(
            "<GDALMetadata>\n  <Item name=\"X\" sample=\"0\" role=\"{role}\">{value}</Item>\n\
             </GDALMetadata>\n"
        );
        let grid = tiff_of((3, 3), Some(&KEYS), Some(&text), &[100; 9]);
        changed(|f| fs::write(f.join("dem.tif"), grid).unwrap())
    };
    for (role, value, why) in [
        ("unittype", "ft", "has its heights in another unit than metres (\"ft\")"),
        ("scale", "0.1", "has its heights scaled: scale 0.1"),
        ("offset", "-500", "has its heights scaled: offset -500"),
    ] {
        let help = "turn its heights into metres and export it again".to_owned();
        assert_eq!(told(with(role, value).path()), (format!("CHART/dem.tif: {why}"), help));
    }
    for (role, value) in [("unittype", "m"), ("scale", "1"), ("offset", "0"), ("scale", "?")] {
        assert!(open(with(role, value).path()).is_ok(), "{role} {value}");
    }
}

#[test]
fn grids_that_are_none_are_refused() {
    let folder = changed(|f| fs::write(f.join("N01E001.hgt"), "these are no heights").unwrap());
    assert_eq!(
        told(folder.path()),
        (
            "CHART/N01E001.hgt: holds 20 bytes, which is no .hgt grid".to_owned(),
            "a .hgt file holds 1201 x 1201 (2884802 bytes) or 3601 x 3601 (25934402 bytes) heights"
                .to_owned()
        )
    );
    let folder = changed(|f| fs::write(f.join("dem.tif"), tiff(3, 1, true)).unwrap());
    assert_eq!(told(folder.path()).0, "CHART/dem.tif: a grid of 3 by 1 heights is too small");
    let folder = changed(|f| fs::write(f.join("dem.tif"), tiff(3, 3, false)).unwrap());
    assert_eq!(
        told(folder.path()),
        (
            "CHART/dem.tif: has no georeference".to_owned(),
            "export it as a GeoTIFF in geographic WGS84, or take it out of the folder".to_owned()
        )
    );
    let folder = changed(|f| fs::write(f.join("dem.tif"), "plain text").unwrap());
    assert!(told(folder.path()).0.starts_with("CHART/dem.tif: cannot be read as a TIFF"));
}

#[test]
fn a_pixel_that_is_an_area_has_its_height_in_its_middle() {
    let folder = changed(|f| fs::write(f.join("dem.tif"), tiff(3, 3, true)).unwrap());
    let chart = open(folder.path()).unwrap();
    let at = |lat, lon| chart.ground().grid_height(Position::new(lat, lon).unwrap());
    // The corner of the first pixel is 37 S 21 W, its middle half a step of 0.1 degrees inside.
    assert!((at(-37.15, -20.85).unwrap() - 4.0).abs() < 1e-3);
    assert!((at(-37.05, -20.85).unwrap() - 1.0).abs() < 1e-3);
}

/// Five by five heights of 100 m but for the middle one: what fills it is 100 m by its rim.
#[test]
fn a_height_that_producers_write_for_none_is_missing_without_a_word_of_it() {
    let mut heights = [100_i16; 25];
    heights[12] = -9999;
    let grid = tiff_of((5, 5), Some(&KEYS), None, &heights);
    let folder = changed(|f| fs::write(f.join("dem.tif"), grid).unwrap());
    let chart = open(folder.path()).unwrap();
    // The middle of the middle cell: two and a half steps of 0.1 degrees from the corner at 37 S 21 W.
    let middle = Position::new(-37.25, -20.75).unwrap();
    let height = chart.ground().grid_height(middle).unwrap();
    assert!((height - 100.0).abs() < 1e-3, "{height}");
    assert_eq!(chart.survey().grids[0].heights.unwrap().voids, 1);
}

#[test]
fn a_grid_of_voids_alone_and_a_picture_of_heights_are_refused() {
    let folder = changed(|folder| {
        let void = (-32768_i16).to_be_bytes().repeat(1201 * 1201);
        fs::write(folder.join("S38W021.hgt"), void).unwrap();
    });
    assert_eq!(
        told(folder.path()),
        (
            "CHART/S38W021.hgt: all 1201 by 1201 heights are missing".to_owned(),
            "leave this grid out: ground is then reckoned from the rest of the chart".to_owned()
        )
    );
    let folder = changed(|folder| {
        let mut bytes = std::io::Cursor::new(Vec::new());
        tiff::encoder::TiffEncoder::new(&mut bytes)
            .unwrap()
            .write_image::<tiff::encoder::colortype::RGB8>(8, 8, &[9; 8 * 8 * 3])
            .unwrap();
        fs::write(folder.join("shade.tif"), bytes.into_inner()).unwrap();
    });
    assert_eq!(told(folder.path()).0, "CHART/shade.tif: holds 3 samples a cell, as a picture does");
    let folder = changed(|folder| {
        let mut bytes = std::io::Cursor::new(Vec::new());
        tiff::encoder::TiffEncoder::new(&mut bytes)
            .unwrap()
            .write_image::<tiff::encoder::colortype::Gray8>(8, 8, &[180; 8 * 8])
            .unwrap();
        fs::write(folder.join("shade.tif"), bytes.into_inner()).unwrap();
    });
    assert_eq!(
        told(folder.path()),
        (
            "CHART/shade.tif: holds samples of 8 bits, as a picture does".to_owned(),
            "export the heights, not the shaded picture of them, as int16, int32 or float32"
                .to_owned()
        )
    );
}

#[test]
fn a_grid_larger_than_its_file_is_refused_before_anything_is_set_aside() {
    // The count of rows is the second entry of the directory, which this writer puts last.
    let mut bytes = tiff(3, 3, true);
    let at = u32::from_le_bytes(bytes[4..8].try_into().unwrap()) as usize + 2;
    let entry = |tag: u16| {
        (0..20).map(|i| at + 12 * i).find(|at| bytes[*at..at + 2] == tag.to_le_bytes()).unwrap()
    };
    let (columns, rows) = (entry(256), entry(257));
    bytes[columns + 8..columns + 12].copy_from_slice(&20_000_u32.to_le_bytes());
    bytes[rows + 8..rows + 12].copy_from_slice(&20_000_u32.to_le_bytes());
    let held = bytes.len();
    let folder = changed(|folder| fs::write(folder.join("dem.tif"), &bytes).unwrap());
    assert_eq!(
        told(folder.path()),
        (
            format!(
                "CHART/dem.tif: announces 20000 by 20000 heights, which {held} bytes cannot hold"
            ),
            "the file is truncated or damaged: copy it again whole".to_owned()
        )
    );
}

/// A tile of sea, and one of ground.
const SEA: [u8; 2] = [0, 0];
const GROUND: [u8; 2] = [1, 0];

fn tile(height: [u8; 2]) -> Vec<u8> {
    height.repeat(1201 * 1201)
}

#[test]
fn a_bad_grid_among_good_ones_is_left_out_and_told() {
    // Cut short, of missing heights alone, and a picture: over the islands, with sound tiles beside.
    let bad: [(&str, Vec<u8>, &str); 3] = [
        ("S38W021.hgt", tile(GROUND)[..9].to_vec(), "holds 9 bytes, which is no .hgt grid"),
        ("S38W021.hgt", tile((-32768_i16).to_be_bytes()), "all 1201 by 1201 heights are missing"),
        ("dem.tif", tiff(3, 3, false), "has no georeference"),
    ];
    for (name, bytes, why) in bad {
        let folder = changed(|folder| {
            fs::write(folder.join("S37W021.hgt"), tile(SEA)).unwrap();
            fs::write(folder.join("S38W020.hgt"), tile(GROUND)).unwrap();
            fs::write(folder.join(name), bytes).unwrap();
        });
        let chart = open(folder.path()).unwrap();
        let of_it = |told: &&String| told.contains(name);
        let told: Vec<&String> = chart.cautions().iter().filter(of_it).collect();
        let fault = format!("{name}: {why}: LEFT OUT, it tells no heights: ground there");
        assert!(told.len() == 1 && told[0].contains(&fault), "{told:?}");
        assert_eq!(chart.ground().faults().len(), 1);
        // All else is as without it.
        fs::remove_file(folder.path().join(name)).unwrap();
        let without = open(folder.path()).unwrap();
        let others = |told: &&String| !told.contains(name);
        let others: Vec<&String> = chart.cautions().iter().filter(others).collect();
        assert_eq!(others, without.cautions().iter().collect::<Vec<_>>());
        let height = |chart: &Chart| chart.ground().at(Position::new(-37.9, -20.9).unwrap());
        assert_eq!(height(&chart), height(&without));
        assert_eq!(height(&chart).source, HeightSource::Assumed);
    }
}

#[test]
fn a_bad_grid_ends_the_survey_with_its_status_and_no_index_is_written() {
    let folder = changed(|folder| {
        fs::write(folder.join("S38W021.hgt"), tile(GROUND)).unwrap();
        fs::write(folder.join("S37W021.hgt"), "cut short").unwrap();
    });
    let run = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
        let output = command.args(arguments).arg("--chart").arg(folder.path()).output().unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    let (status, text) = run(&["chart", "check"]);
    assert!(status == Some(2) && text.contains("S37W021.hgt: holds 9 bytes"), "{text}");
    assert_eq!(run(&["chart", "prepare", "--beside"]).0, Some(2));
    let at = ["expect", "--at", "38 20 S, 21 0 W", "--height-ft", "500", "--set", "patrol"];
    let (status, text) = run(&at);
    let words: Vec<&str> = text.split_whitespace().collect();
    assert!(status == Some(0) && words.join(" ").contains("LEFT OUT, it tells no"), "{text}");
}

#[test]
fn a_chart_whose_grids_are_all_bad_is_refused_and_so_is_a_tile_of_no_place() {
    let folder = changed(|folder| {
        fs::write(folder.join("S37W021.hgt"), "cut").unwrap();
        fs::write(folder.join("S38W021.hgt"), "cut short").unwrap();
    });
    assert_eq!(told(folder.path()).0, "CHART/S37W021.hgt: holds 3 bytes, which is no .hgt grid");
    let folder = changed(|folder| {
        fs::write(folder.join("S38W021.hgt"), tile(GROUND)).unwrap();
        fs::write(folder.join("heights.hgt"), tile(SEA)).unwrap();
    });
    assert!(told(folder.path()).0.starts_with("CHART/heights.hgt: the name of a .hgt file"));
}
