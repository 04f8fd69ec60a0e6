//! Each thing that can be wrong with a grid of heights, and the exact message it gets.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod small_chart;

use std::fs;

use small_chart::{changed, open, told};

/// A TIFF of int16 samples, uncompressed, without or with geo tags.
fn tiff(columns: u32, rows: u32, georeferenced: bool) -> Vec<u8> {
    use tiff::encoder::{TiffEncoder, colortype::GrayI16};
    use tiff::tags::Tag;
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes).unwrap();
    let mut image = encoder.new_image::<GrayI16>(columns, rows).unwrap();
    if georeferenced {
        let keys: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326];
        let tags = image.encoder();
        tags.write_tag(Tag::ModelPixelScaleTag, &[0.1, 0.1, 0.0][..]).unwrap();
        tags.write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, -21.0, -37.0, 0.0][..]).unwrap();
        tags.write_tag(Tag::GeoKeyDirectoryTag, &keys[..]).unwrap();
    }
    let heights: Vec<i16> = (0..columns * rows).map(|i| i as i16).collect();
    image.write_data(&heights).unwrap();
    bytes.into_inner()
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
    let at = |lat, lon| {
        let place = foreland::geodesy::Position::new(lat, lon).unwrap();
        chart.ground().grid_height(place)
    };
    // The corner of the first pixel is 37 S 21 W, its middle half a step of 0.1 degrees inside.
    assert!((at(-37.15, -20.85).unwrap() - 4.0).abs() < 1e-3);
    assert!((at(-37.05, -20.85).unwrap() - 1.0).abs() < 1e-3);
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
