use std::sync::Arc;

use miette::{Diagnostic, NamedSource, SourceSpan};
use thiserror::Error;

/// Why a chart cannot be opened. Each names the file, the record where there is one, and what
/// would be right.
#[derive(Debug, Clone, PartialEq, Error, Diagnostic)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each field is named in the message above it")]
pub enum ChartError {
    /// There is no such folder.
    #[error("{folder}: no such folder")]
    #[diagnostic(help("a chart is a folder of shapefiles: give the path of one"))]
    NoFolder { folder: String },

    /// The path is a file.
    #[error("{folder}: is a file, not a folder")]
    #[diagnostic(help("a chart is a folder of shapefiles: give the folder the file lies in"))]
    NotAFolder { folder: String },

    /// A file cannot be read.
    #[error("{file}: cannot be read: {why}")]
    #[diagnostic(help("make the file readable, or take it out of the chart folder"))]
    Unreadable { file: String, why: String },

    /// Nothing in the folder is a layer.
    #[error("{folder}: holds no chart: {found}")]
    #[diagnostic(help("a chart folder holds at least one .shp file of coast or marks"))]
    NoLayers { folder: String, found: String },

    /// There are layers and nothing is in them, or nothing that is read.
    #[error("{folder}: the chart is empty: {why}")]
    #[diagnostic(help(
        "at least one layer must hold a shape of coast or marks: export it again, or name under \
         [layers] in chart.toml what is to be read"
    ))]
    Empty { folder: String, why: String },

    /// The file does not start as a shapefile does.
    #[error("{file}: is no shapefile: {why}")]
    #[diagnostic(help("a .shp file starts with file code 9994 and a header of 100 bytes"))]
    NotAShapefile { file: String, why: String },

    /// The file ends too early.
    #[error("{file}: record {record} is cut short: it needs {needs} bytes, {holds} are left")]
    #[diagnostic(help("the file is truncated: copy it again whole"))]
    Truncated { file: String, record: usize, needs: u64, holds: u64 },

    /// The parts of a record do not add up.
    #[error("{file}: record {record} is damaged: {why}")]
    #[diagnostic(help("export the layer again, or take the record out"))]
    Damaged { file: String, record: usize, why: String },

    /// Shapes this program does not draw.
    #[error("{file}: record {record} is a {kind}, which is no coast, relief or mark")]
    #[diagnostic(help("use a layer of points, multipoints, polylines or polygons"))]
    ShapeKind { file: String, record: usize, kind: String },

    /// A coordinate is not a number.
    #[error("{file}: record {record}, point {point}: coordinate {value} is no finite number")]
    #[diagnostic(help("mend or take out the point and export the layer again"))]
    NotFinite { file: String, record: usize, point: usize, value: f64 },

    /// A latitude beyond a pole.
    #[error("{file}: record {record}, point {point}: latitude {latitude} is outside -90 to 90")]
    #[diagnostic(help(
        "x must be the longitude and y the latitude in degrees; a projected layer needs its .prj"
    ))]
    Latitude { file: String, record: usize, point: usize, latitude: f64 },

    /// A longitude further than once round.
    #[error("{file}: record {record}, point {point}: longitude {longitude} is outside -360 to 360")]
    #[diagnostic(help(
        "x must be the longitude and y the latitude in degrees; a projected layer needs its .prj"
    ))]
    Longitude { file: String, record: usize, point: usize, longitude: f64 },

    /// The attributes do not belong to the shapes.
    #[error("{file}: holds {rows} records, its .shp holds {shapes}")]
    #[diagnostic(help(
        "the two belong together record by record: export the layer again, or \
                       take the .dbf away to do without names and heights"
    ))]
    DbfCount { file: String, rows: usize, shapes: usize },

    /// The attribute table cannot be read.
    #[error("{file}: {place}the attribute table is damaged: {why}")]
    #[diagnostic(help(
        "export the layer again, or take the .dbf away to do without names and heights"
    ))]
    Dbf { file: String, place: String, why: String },

    /// An encoding the program cannot read.
    #[error("{file}: encoding \"{encoding}\" is not known")]
    #[diagnostic(help("use UTF-8, ISO-8859-1 or windows-1252"))]
    Encoding { file: String, encoding: String },

    /// A projection or datum that cannot be turned into WGS84.
    #[error("{file}: \"{name}\" is refused: {why}")]
    #[diagnostic(help("reproject the layer to geographic WGS84 (EPSG:4326) and export it again"))]
    Projection { file: String, name: String, why: String },

    /// A layer that chart.toml names and the folder does not hold.
    #[error("{file}: {key} names \"{layer}\", which is not in the folder")]
    NoLayer {
        file: String,
        key: String,
        layer: String,
        #[help]
        help: String,
    },

    /// A path in chart.toml that leaves the chart's folder.
    #[error("{file}: {key} names \"{path}\", which is outside the chart's folder")]
    #[diagnostic(help("name files of this folder only, with no \"..\" and no leading \"/\""))]
    Outside { file: String, key: String, path: String },

    /// A file that a link takes out of the chart's folder.
    #[error("{file}: is a link to {to}, which is outside the chart's folder")]
    #[diagnostic(help("put the file itself into the folder"))]
    Linked { file: String, to: String },

    /// A layer whose geometry does not fit its role.
    #[error("{file}: is named under {key}, but holds {holds}")]
    #[diagnostic(help(
        "coast is polygons or polylines, relief polylines, marks points, cover polygons"
    ))]
    Role { file: String, key: String, holds: String },

    /// An attribute that chart.toml names and no layer has.
    #[error("{file}: attribute \"{attribute}\" is in none of the layers")]
    NoAttribute {
        file: String,
        attribute: String,
        #[help]
        help: String,
    },

    /// chart.toml cannot be understood.
    #[error("{message}")]
    Manifest {
        message: String,
        #[source_code]
        text: Arc<NamedSource<String>>,
        #[label("here")]
        place: Option<SourceSpan>,
        #[help]
        help: Option<String>,
    },

    /// A value of chart.toml outside its range.
    #[error("{file}: {key} = {value} is outside {least} to {most}")]
    #[diagnostic(help("give a value in that range, or leave the key out for its default"))]
    Value { file: String, key: &'static str, value: f64, least: f64, most: f64 },

    /// A class of ground that is none.
    #[error("{file}: {key} = \"{word}\" is no class of ground")]
    Terrain {
        file: String,
        key: &'static str,
        word: String,
        #[help]
        help: String,
    },

    /// A grid file of a size no grid has.
    #[error("{file}: holds {bytes} bytes, which is no .hgt grid")]
    #[diagnostic(help(
        "a .hgt file holds 1201 x 1201 (2884802 bytes) or 3601 x 3601 (25934402 bytes) heights"
    ))]
    HgtSize { file: String, bytes: u64 },

    /// A grid file whose name is not that of a tile.
    #[error("{file}: the name of a .hgt file tells its south-west corner, and this is none")]
    #[diagnostic(help("name it like N43E006.hgt"))]
    HgtName { file: String },

    /// A GeoTIFF that cannot be read or placed.
    #[error("{file}: {why}")]
    GeoTiff {
        file: String,
        why: String,
        #[help]
        help: String,
    },

    /// A grid too small to hold a slope.
    #[error("{file}: a grid of {columns} by {rows} heights is too small")]
    #[diagnostic(help("a grid needs at least 2 by 2 heights"))]
    GridSize { file: String, columns: usize, rows: usize },

    /// A grid in which every height is missing.
    #[error("{file}: all {columns} by {rows} heights are missing")]
    #[diagnostic(help("leave this grid out: ground is then reckoned from the rest of the chart"))]
    GridVoid { file: String, columns: usize, rows: usize },

    /// The index of a chart cannot be written.
    #[error("{file}: the index cannot be written: {why}")]
    #[diagnostic(help("make room, or name another place: --beside puts it beside the folder"))]
    IndexUnwritable { file: String, why: String },

    /// The files of a chart were changed while its index was made.
    #[error("{folder}: the chart was changed while its index was made: {what}")]
    #[diagnostic(help("prepare it again when its files are at rest"))]
    ChangedMeanwhile { folder: String, what: String },
}
