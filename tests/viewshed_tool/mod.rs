//! Runs `gdal_viewshed` on heights in square cells around an antenna.

use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use foreland::geodesy::{MEAN_EARTH_RADIUS_M, PlanePoint};

/// Heights in square cells, row by row from the north, with the antenna over the middle one.
pub struct Raster {
    /// Cells to each side of the middle one.
    pub half: usize,
    pub cell_m: f64,
    /// Metres.
    pub heights: Vec<f32>,
}

impl Raster {
    pub fn side(&self) -> usize {
        2 * self.half + 1
    }

    /// The middle of each cell.
    pub fn points(&self) -> impl Iterator<Item = PlanePoint> + use<> {
        let (side, half, cell_m) = (self.side(), self.half as f64, self.cell_m);
        (0..side * side).map(move |i| PlanePoint {
            east: ((i % side) as f64 - half) * cell_m,
            north: (half - (i / side) as f64) * cell_m,
        })
    }

    /// The cells around one.
    #[allow(dead_code)] // the bench has no use for it
    pub fn around(&self, cell: usize) -> Vec<usize> {
        let side = self.side();
        let (row, column) = (cell / side, cell % side);
        let within = |at: usize| at.saturating_sub(1)..=(at + 1).min(side - 1);
        within(row).flat_map(|r| within(column).map(move |c| r * side + c)).collect()
    }

    /// Writes it as a raw raster with an ENVI header, on a plane around the antenna that keeps
    /// distance and direction, over a sphere of the mean radius.
    pub fn write(&self, path: &Path) {
        let bytes: Vec<u8> = self.heights.iter().flat_map(|height| height.to_le_bytes()).collect();
        fs::write(path, bytes).unwrap();
        let (side, cell_m) = (self.side(), self.cell_m);
        let corner = (self.half as f64 + 0.5) * cell_m;
        let mut header = String::from("ENVI\n");
        write!(
            header,
            "samples = {side}\nlines = {side}\nbands = 1\nheader offset = 0\ndata type = 4\n\
             interleave = bsq\nbyte order = 0\n\
             map info = {{Plane, 1, 1, {}, {corner}, {cell_m}, {cell_m}}}\n\
             coordinate system string = {{PROJCS[\"plane\",GEOGCS[\"sphere\",DATUM[\"sphere\",\
             SPHEROID[\"sphere\",{MEAN_EARTH_RADIUS_M:.1},0.0]],PRIMEM[\"Greenwich\",0.0],\
             UNIT[\"Degree\",0.0174532925199433]],PROJECTION[\"Azimuthal_Equidistant\"],\
             PARAMETER[\"False_Easting\",0.0],PARAMETER[\"False_Northing\",0.0],\
             PARAMETER[\"Central_Meridian\",0.0],PARAMETER[\"Latitude_Of_Origin\",0.0],\
             UNIT[\"Meter\",1.0]]}}\n",
            -corner
        )
        .unwrap();
        fs::write(path.with_extension("hdr"), header).unwrap();
    }
}

/// Whether the tool is there.
pub fn on_path() -> bool {
    // Some of its releases refuse even to tell their version without a file.
    let asked = Command::new("gdal_viewshed").stdout(Stdio::null()).stderr(Stdio::null()).status();
    asked.is_ok()
}

/// Runs the tool on a raster that is written, as far as `reach_m`; the answer is a raster of bytes
/// beside it, 255 where the ground is in sight.
pub fn run(heights: &Path, answer: &Path, own_m: f64, cc: f64, reach_m: f64) {
    let mut command = Command::new("gdal_viewshed");
    command.args(["-q", "-f", "ENVI", "-ox", "0", "-oy", "0", "-tz", "0"]);
    command.args(["-oz", &own_m.to_string(), "-cc", &cc.to_string()]);
    if reach_m < f64::MAX {
        command.args(["-md", &reach_m.to_string()]);
    }
    let status = command.arg(heights).arg(answer).status().unwrap();
    assert!(status.success(), "gdal_viewshed: {status}");
}

/// Which cells the tool finds in sight.
#[allow(dead_code)] // the bench has no use for it
pub fn visible(raster: &Raster, own_m: f64, cc: f64, reach_m: f64) -> Vec<bool> {
    let folder = tempfile::tempdir().unwrap();
    let (heights, answer) = (folder.path().join("heights.img"), folder.path().join("seen.img"));
    raster.write(&heights);
    run(&heights, &answer, own_m, cc, reach_m);
    let seen = fs::read(&answer).unwrap();
    assert_eq!(seen.len(), raster.heights.len(), "the tool answers for every cell");
    seen.into_iter().map(|cell| cell == 255).collect()
}
