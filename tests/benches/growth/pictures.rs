//! Pictures of more and more cells beside a bare pass over them, and what is in sight beside what
//! `gdal_viewshed` takes for it.

use std::fs;
use std::hint::black_box;
use std::path::Path;

use foreland::chart::Chart;
use foreland::geodesy::{LocalPlane, Position};
use foreland::paint::{Conditions, Frame, Vantage, expect, picture};
use foreland::radar::Set;
use foreland::units::{Bearing, GroundRange, Height, SlantRange};

use crate::took::{fastest, load, seconds};
use crate::{Growth, viewshed_tool};

/// Off the sample coast, where the worked landfall begins, at 2,000 ft.
fn vantage() -> Vantage {
    Vantage {
        position: Position::wrapped(-38.25, -21.41),
        height: Height::from_feet(2000.0).unwrap(),
        heading: Some(Bearing::wrapped_degrees(70.0)),
    }
}

pub fn painted() -> Growth {
    println!("picture of the sample coast to 50 NM, patrol");
    let mut growth = Growth::new("picture", "cells");
    let chart = Chart::sample().unwrap();
    let set = Set::builtin("patrol").unwrap();
    let whole = Frame::to(SlantRange::from_nautical_miles(50.0).unwrap());
    for (bins, bearings) in [(256, 180), (512, 360), (1_024, 720), (2_048, 1_440), (4_096, 2_880)] {
        let frame = Frame { bins, bearings, ..whole };
        let taken =
            fastest(20, || picture(&chart, &vantage(), &set, &Conditions::default(), &frame));
        let cells = bins * bearings;
        let bare = fastest(20, || {
            let mut all: Vec<f32> = (0..cells).map(|cell| cell as f32).collect();
            black_box(&mut all).iter().sum::<f32>()
        });
        println!(
            "  {bins:>5} by {bearings:>5}: {taken}, {:.0} ns a cell; each cell once written and once read \
             {}: {:.0} times; {}",
            taken.clock / cells as f64 * 1e9,
            seconds(bare.clock),
            taken.clock / bare.clock,
            load()
        );
        growth.points.push((cells as f64, taken.clock));
    }
    growth
}

/// All round on heights at 3″, as far as 15, 30 and 60 NM.
pub fn in_sight() {
    println!(
        "expect all round every half degree, heights at 3″, and gdal_viewshed on the same heights"
    );
    let chart = fine_chart();
    let set = Set::builtin("patrol").unwrap();
    let is_there = viewshed_tool::on_path();
    for reach_nm in [15.0, 30.0, 60.0] {
        let reach = GroundRange::from_nautical_miles(reach_nm).unwrap();
        let weather = Conditions::default();
        let taken = fastest(20, || expect(&chart, &vantage(), &set, &weather, reach, 0.5));
        println!("  to {reach_nm} NM: {taken}; {}", load());
        if !is_there {
            println!("    gdal_viewshed (Debian gdal-bin) is not on the path: not compared");
            continue;
        }
        let cell_m = chart.ground().cell_m().unwrap();
        let half = (reach.metres() / cell_m) as usize;
        let mut raster = viewshed_tool::Raster { half, cell_m, heights: Vec::new() };
        let plane = LocalPlane::new(vantage().position);
        let height = |at| chart.ground().at(plane.to_position(at)).height.metres() as f32;
        raster.heights = raster.points().map(height).collect();
        let folder = tempfile::tempdir().unwrap();
        let (heights, answer) = (folder.path().join("heights.img"), folder.path().join("seen.img"));
        raster.write(&heights);
        let theirs =
            fastest(5, || viewshed_tool::run(&heights, &answer, 609.6, 0.75, reach.metres()));
        println!(
            "    gdal_viewshed, {:.1} million cells: {}, {:.1} times",
            raster.heights.len() as f64 / 1e6,
            seconds(theirs.clock),
            theirs.clock / taken.clock
        );
    }
}

/// The sample coast with its ground as a grid of 3″, in four files of one degree.
fn fine_chart() -> Chart {
    const ROW: usize = 1201;
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample");
    let chart = Chart::open(std::slice::from_ref(&sample)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(&sample).unwrap().flatten() {
        if entry.path().is_file() {
            fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
        }
    }
    let told = fs::read_to_string(sample.join("chart.toml")).unwrap();
    let told = told.replace("dem/relief.tif", "dem/*.hgt");
    fs::write(folder.path().join("chart.toml"), told).unwrap();
    fs::create_dir(folder.path().join("dem")).unwrap();
    for (south, west) in [(38, 22), (38, 21), (39, 22), (39, 21)] {
        let step = |i: usize| i as f64 / (ROW - 1) as f64;
        let heights = (0..ROW * ROW).flat_map(|i| {
            let at = Position::wrapped(
                1.0 - f64::from(south) - step(i / ROW),
                step(i % ROW) - f64::from(west),
            );
            (chart.ground().at(at).height.metres().round() as i16).to_be_bytes()
        });
        let name = format!("dem/S{south:02}W{west:03}.hgt");
        fs::write(folder.path().join(name), heights.collect::<Vec<u8>>()).unwrap();
    }
    Chart::open(&[folder.path().to_path_buf()]).unwrap()
}
