//! Shadows held to another program's: GDAL's `gdal_viewshed`, after Wang, Robinson and White,
//! "Generating viewsheds without using sightlines", Photogrammetric Engineering & Remote Sensing 66
//! (2000) (from memory).
//!
//! On the sample chart wherever that program is on the path; `FORELAND_VIEWSHED=DIR[:DIR…]` names
//! other charts. `cargo test --test viewshed -- --nocapture` prints the table.
//!
//! Both are given the same ground: the program's own heights ([`Ground::at`](foreland::chart::Ground::at)),
//! sea at nought and voids filled, in square cells of a plane that keeps distance and direction from
//! the antenna. Cells of land on the chart whose height comes from an elevation grid are compared;
//! sea, and land of assumed height, hides but is not counted. The tool goes from cell to cell and
//! interpolates what hides between neighbours; each cell's own sightline over the same cells, crossed
//! row by row or column by column (R3 of Franklin and Ray 1994, from memory), tells how far that is
//! from exact. `gdal_viewshed` lowers a cell by
//! `cc · d² / D`, `D` the diameter of the plane's own Earth (its documentation); the drop over an
//! Earth enlarged by k is `d² / (2·k·a)`, so that `cc = 1/k` on a sphere of radius a: 0.75 at
//! k = 4/3.
#![allow(clippy::unwrap_used, clippy::panic)] // a test that cannot go on has failed

mod viewshed_tool;

use std::path::{Path, PathBuf};

use foreland::chart::{Chart, HeightSource};
use foreland::geodesy::{LocalPlane, MEAN_EARTH_RADIUS_M, PlanePoint, Position};
use foreland::paint::{Conditions, Sight, Vantage};
use foreland::radar::Set;
use foreland::units::{GroundRange, Height};
use viewshed_tool::{Raster, on_path, visible};

/// As far as is compared, in nautical miles.
const REACH_NM: f64 = 20.0;
/// Between rays: at the reach no cell's middle lies further than 10 m from one.
const STEP_DEG: f64 = 0.03;
/// An antenna on a small mast, and two aircraft.
const HEIGHTS_FT: [f64; 3] = [100.0, 1_000.0, 5_000.0];
/// How many of a chart's cells must agree, over all places and heights.
const AGREE: f64 = 0.98;

/// One place and height: numbers of cells.
#[derive(Default)]
struct Case {
    cells: usize,
    in_sight: usize,
    /// The program and the tool.
    agree: usize,
    /// The program and the cells' own sightlines.
    here_exact: usize,
    /// The tool and the cells' own sightlines.
    there_exact: usize,
    /// Where program and tool disagree further than a cell from any shadow's edge in either map.
    off_an_edge: usize,
}

impl Case {
    fn share(&self, of: usize) -> f64 {
        of as f64 / self.cells as f64
    }
}

#[test]
fn shadows_are_those_of_another_program() {
    if !on_path() {
        println!("skipped: gdal_viewshed (Debian gdal-bin) is not on the path");
        return;
    }
    let mut short = Vec::new();
    for folder in folders() {
        let chart = Chart::open(std::slice::from_ref(&folder)).unwrap();
        let (cells, agree) = table(&chart);
        let share = agree as f64 / cells as f64;
        println!("all {cells}: {:.2} % agree", 100.0 * share);
        if share < AGREE {
            short.push(format!("{}: {share}", chart.name()));
        }
    }
    assert!(short.is_empty(), "{short:#?}");
}

/// Prints a row for each place and height, and returns how many cells there were and agreed.
fn table(chart: &Chart) -> (usize, usize) {
    println!("\n{}: % of cells", chart.name());
    println!(
        "place                     feet   cells  in sight  agree  ours-exact  theirs-exact  off an edge"
    );
    let places = places(chart);
    assert_eq!(places.len(), 3, "{}: too little sea and high land", chart.name());
    let (mut cells, mut agree) = (0, 0);
    for place in places {
        let ground = ground(chart, place);
        for feet in HEIGHTS_FT {
            let case = compare(chart, place, &ground, Height::from_feet(feet).unwrap());
            assert!(case.cells > 1_000, "{place} {feet} ft: {} cells", case.cells);
            println!(
                "{place} {feet:5} {:7}  {:8.1}  {:5.2}  {:10.2}  {:12.2}  {}",
                case.cells,
                100.0 * case.share(case.in_sight),
                100.0 * case.share(case.agree),
                100.0 * case.share(case.here_exact),
                100.0 * case.share(case.there_exact),
                case.off_an_edge
            );
            cells += case.cells;
            agree += case.agree;
        }
    }
    (cells, agree)
}

fn folders() -> Vec<PathBuf> {
    match std::env::var_os("FORELAND_VIEWSHED") {
        Some(named) => std::env::split_paths(&named).collect(),
        None => vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("charts-sample")],
    }
}

/// Three places at sea, well apart, with most land of known height around them.
fn places(chart: &Chart) -> Vec<Position> {
    const SIDE: i32 = 40;
    let area = chart.coast().extent().unwrap();
    let lattice: Vec<Position> = (0..SIDE * SIDE)
        .map(|i| {
            let share = |i: i32| (f64::from(i) + 0.5) / f64::from(SIDE);
            Position::wrapped(
                area.south + share(i / SIDE) * (area.north - area.south),
                area.west + share(i % SIDE) * (area.east - area.west),
            )
        })
        .collect();
    let land: Vec<Position> = lattice.iter().copied().filter(|at| known(chart, *at)).collect();
    let off = GroundRange::from_nautical_miles(2.0).unwrap();
    let at_sea = |at: &&Position| {
        chart.ground().is_land(**at) == Some(false) && chart.coast().nearest(**at, off).is_none()
    };
    let mut seen: Vec<(usize, Position)> = lattice
        .iter()
        .filter(at_sea)
        .map(|at| (land.iter().filter(|other| miles(*at, **other) < REACH_NM).count(), *at))
        .collect();
    seen.sort_by_key(|(count, _)| std::cmp::Reverse(*count));
    let mut chosen: Vec<Position> = Vec::new();
    for (_, at) in seen {
        if chosen.len() < 3 && chosen.iter().all(|other| miles(at, *other) > 8.0) {
            chosen.push(at);
        }
    }
    chosen
}

fn miles(a: Position, b: Position) -> f64 {
    LocalPlane::new(a).to_plane(b).polar().0.nautical_miles()
}

fn known(chart: &Chart, at: Position) -> bool {
    chart.ground().at(at).source == HeightSource::Grid
}

/// The program's own heights around a place, in cells as long as its rays' step, and which of them
/// are land of known height.
struct Ground {
    raster: Raster,
    known: Vec<bool>,
}

fn ground(chart: &Chart, place: Position) -> Ground {
    let reach = GroundRange::from_nautical_miles(REACH_NM).unwrap();
    let cell_m = sight(chart, place, Height::SEA_LEVEL, 10.0).step().metres();
    let half = (reach.metres() / cell_m) as usize;
    let plane = LocalPlane::new(place);
    let mut raster = Raster { half, cell_m, heights: Vec::new() };
    let mut known = Vec::new();
    for at in raster.points() {
        let told = chart.ground().at(plane.to_position(at));
        known.push(told.source == HeightSource::Grid && at.polar().0 < reach);
        raster.heights.push(told.height.metres() as f32);
    }
    Ground { raster, known }
}

fn sight(chart: &Chart, position: Position, height: Height, step_deg: f64) -> Sight {
    let vantage = Vantage { position, height, heading: None };
    let set = Set::builtin("patrol").unwrap();
    let reach = GroundRange::from_nautical_miles(REACH_NM).unwrap();
    Sight::all_round(chart, &vantage, &set, &Conditions::default(), reach, step_deg)
}

fn compare(chart: &Chart, place: Position, ground: &Ground, own: Height) -> Case {
    let (raster, own_m) = (&ground.raster, own.metres());
    let sight = sight(chart, place, own, STEP_DEG);
    let in_sight = |(at, height): (PlanePoint, &f32)| {
        let (along, bearing) = at.polar();
        sight.of_top(bearing, along, Height::from_metres(f64::from(*height)).unwrap())
    };
    let here: Vec<bool> = raster.points().zip(&raster.heights).map(in_sight).collect();
    let k = Conditions::default().earth.k();
    let there = visible(raster, own_m, 1.0 / k, f64::MAX);
    let mut case = Case::default();
    for (i, _) in ground.known.iter().enumerate().filter(|(_, known)| **known) {
        let exact = sightline(raster, own_m, k, i);
        case.cells += 1;
        case.in_sight += usize::from(here[i]);
        case.agree += usize::from(here[i] == there[i]);
        case.here_exact += usize::from(here[i] == exact);
        case.there_exact += usize::from(there[i] == exact);
        if here[i] != there[i] {
            let near = raster.around(i);
            let edge = near.into_iter().any(|j| here[j] != here[i] || there[j] != there[i]);
            case.off_an_edge += usize::from(!edge);
        }
    }
    case
}

/// Whether a cell is in sight along its own sightline, heights between two cells interpolated where
/// it crosses from row to row or from column to column.
fn sightline(raster: &Raster, own_m: f64, k: f64, cell: usize) -> bool {
    let (side, half) = (raster.side(), raster.half as f64);
    let (down, right) = ((cell / side) as f64 - half, (cell % side) as f64 - half);
    let crossings = down.abs().max(right.abs());
    let height = |row: f64, column: f64| {
        let at = |row: f64, column: f64| {
            f64::from(raster.heights[row as usize * side + column as usize])
        };
        // One of the two is whole.
        let share = (row - row.floor()).max(column - column.floor());
        let share = if share > 1.0 - 1e-9 { 0.0 } else { share };
        at((row + 1e-9).floor(), (column + 1e-9).floor()) * (1.0 - share)
            + at((row - 1e-9).ceil(), (column - 1e-9).ceil()) * share
    };
    let slope = |crossing: f64| {
        let share = crossing / crossings;
        let along_m = down.hypot(right) * share * raster.cell_m;
        let drop_m = along_m * along_m / (2.0 * k * MEAN_EARTH_RADIUS_M);
        (height(half + down * share, half + right * share) - own_m - drop_m) / along_m
    };
    let top = slope(crossings);
    (1..crossings as usize).all(|crossing| slope(crossing as f64) <= top + 1e-12)
}
