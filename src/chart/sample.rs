//! The sample coast, built into the program so that it opens from any folder.

use super::error::ChartError;
use super::open::Chart;

/// Names a file of `charts-sample/` and takes in its bytes.
macro_rules! sample_files {
    ($($file:literal),+ $(,)?) => {
        &[$(($file, include_bytes!(concat!("../../charts-sample/", $file)))),+]
    };
}

/// The files of the sample, without the index that is never needed.
const FILES: &[(&str, &[u8])] = sample_files![
    "chart.toml",
    "coast.cpg",
    "coast.dbf",
    "coast.prj",
    "coast.shp",
    "contours.cpg",
    "contours.dbf",
    "contours.prj",
    "contours.shp",
    "dem/relief.tif",
    "marks.cpg",
    "marks.dbf",
    "marks.prj",
    "marks.shp",
];

impl Chart {
    /// The sample: an invented coast in the open ocean, some 80 NM long.
    ///
    /// # Errors
    /// None that is not a fault of the program.
    pub fn sample() -> Result<Self, ChartError> {
        Self::from_files("charts-sample", FILES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sample_opens_from_memory_as_from_its_folder() {
        let built_in = Chart::sample().unwrap();
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/charts-sample");
        let on_disk = Chart::open(&[folder.into()]).unwrap();
        assert_eq!(built_in.name(), on_disk.name());
        assert_eq!(built_in.coast().extent(), on_disk.coast().extent());
        assert!(built_in.marks().iter().eq(on_disk.marks().iter()));
        assert!(built_in.ground().has_grid() && built_in.ground().has_contours());
        assert!(!built_in.marks().is_empty());
    }
}
