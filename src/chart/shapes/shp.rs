use std::io::Cursor;

use shapefile::record::traits::HasXY;
use shapefile::{PolygonRing, ReadableShape, Shape};

use super::projection::Projection;
use crate::chart::coast::LonLat;
use crate::chart::error::ChartError;

/// What a shapefile starts with.
const FILE_CODE: i32 = 9994;
const HEADER_BYTES: usize = 100;
const RECORD_HEADER_BYTES: usize = 8;
/// The type of shapes of surfaces in space.
const MULTIPATCH: i32 = 31;
/// Where the list of parts starts in a record: after type, box and two counts.
const PART_LIST: usize = 44;

/// How often it is told how far the reading is, in bytes.
const TELL_EVERY: usize = 1 << 20;

/// The kinds of shapes this program reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::chart) enum ShapeKind {
    Points,
    Polylines,
    Polygons,
}

impl ShapeKind {
    pub(in crate::chart) fn as_str(self) -> &'static str {
        match self {
            Self::Points => "points",
            Self::Polylines => "polylines",
            Self::Polygons => "polygons",
        }
    }
}

/// One shape: its points, its parts, or its rings.
pub(in crate::chart) enum Geometry {
    Empty,
    Points(Vec<LonLat>),
    Lines(Vec<Vec<LonLat>>),
    Rings(Vec<Vec<LonLat>>),
}

/// Reads a `.shp` record by record, each checked against the file's size before anything is
/// allocated for it, and hands each shape on with its number, from 1. Returns how many there were.
///
/// The index (`.shx`) is never needed: records follow one another. `tell` hears now and then what
/// share of the file has been read.
pub(in crate::chart) fn read_shapes(
    file: &str,
    bytes: &[u8],
    projection: &Projection,
    tell: &dyn Fn(f64),
    mut each: impl FnMut(usize, Geometry) -> Result<(), ChartError>,
) -> Result<usize, ChartError> {
    let end = file_end(file, bytes)?;
    let mut at = HEADER_BYTES;
    let mut record = 0;
    let mut told = 0;
    while at < end {
        record += 1;
        if at >= told + TELL_EVERY {
            told = at;
            tell(at as f64 / end as f64);
        }
        let content = content_of(file, bytes, at, end, record)?;
        let shape = parse(file, record, content)?;
        let geometry = geometry(file, record, shape, projection)?;
        each(record, geometry)?;
        at += RECORD_HEADER_BYTES + content.len();
    }
    Ok(record)
}

/// How many records a `.shp` holds, by their headers.
pub(in crate::chart) fn count_records(file: &str, bytes: &[u8]) -> Result<usize, ChartError> {
    let end = file_end(file, bytes)?;
    let (mut at, mut records) = (HEADER_BYTES, 0);
    while at < end {
        records += 1;
        at += RECORD_HEADER_BYTES + content_of(file, bytes, at, end, records)?.len();
    }
    Ok(records)
}

/// The kind of shapes a `.shp` says it holds.
pub(in crate::chart) fn kind_of(file: &str, bytes: &[u8]) -> Result<Option<ShapeKind>, ChartError> {
    file_end(file, bytes)?;
    match le_i32(bytes, 32) {
        Some(0) => Ok(None),
        Some(1 | 8 | 11 | 18 | 21 | 28) => Ok(Some(ShapeKind::Points)),
        Some(3 | 13 | 23) => Ok(Some(ShapeKind::Polylines)),
        Some(5 | 15 | 25) => Ok(Some(ShapeKind::Polygons)),
        Some(MULTIPATCH) => Err(ChartError::NotAShapefile {
            file: file.to_owned(),
            why: "it holds multipatches, which are no coast, relief or marks".to_owned(),
        }),
        other => Err(ChartError::NotAShapefile {
            file: file.to_owned(),
            why: format!("its shape type {} is not known", other.unwrap_or_default()),
        }),
    }
}

/// Checks the header and returns where the records end.
fn file_end(file: &str, bytes: &[u8]) -> Result<usize, ChartError> {
    let refuse = |why: String| ChartError::NotAShapefile { file: file.to_owned(), why };
    if bytes.len() < HEADER_BYTES {
        return Err(refuse(format!("it holds {} bytes", bytes.len())));
    }
    let code = be_i32(bytes, 0).unwrap_or_default();
    if code != FILE_CODE {
        return Err(refuse(format!("its file code is {code}")));
    }
    // The header tells the length in words of two bytes. Some writers leave it at nothing.
    let told = be_i32(bytes, 24).and_then(|words| usize::try_from(words).ok()).unwrap_or(0) * 2;
    Ok(if told <= HEADER_BYTES { bytes.len() } else { told })
}

/// The content of the record whose header lies at `at`.
fn content_of<'a>(
    file: &str,
    bytes: &'a [u8],
    at: usize,
    end: usize,
    record: usize,
) -> Result<&'a [u8], ChartError> {
    let holds = bytes.len().saturating_sub(at) as u64;
    let truncated =
        |needs: u64| ChartError::Truncated { file: file.to_owned(), record, needs, holds };
    let Some(words) = be_i32(bytes, at + 4) else {
        return Err(truncated(RECORD_HEADER_BYTES as u64));
    };
    let damaged = |why: String| ChartError::Damaged { file: file.to_owned(), record, why };
    let length = usize::try_from(words)
        .ok()
        .and_then(|words| words.checked_mul(2))
        .filter(|length| *length >= 4)
        .ok_or_else(|| damaged(format!("its length of {words} words is impossible")))?;
    let start = at + RECORD_HEADER_BYTES;
    let content = bytes
        .get(start..start.saturating_add(length))
        .ok_or_else(|| truncated((RECORD_HEADER_BYTES + length) as u64))?;
    if start + length > end {
        return Err(damaged("it reaches beyond the end that the file's header tells".to_owned()));
    }
    counts_fit(content).map_err(damaged)?;
    Ok(content)
}

/// Whether the counts of parts and points in a record fit its length, so that nobody allocates for
/// points that are not there.
fn counts_fit(content: &[u8]) -> Result<(), String> {
    let kind = le_i32(content, 0).unwrap_or_default();
    // Bytes before the part numbers, per part, and per point.
    let (fixed, parts_at, points_at, per_point) = match kind {
        3 | 5 | 23 | 25 => (44, Some(36), 40, 16),
        13 | 15 => (60, Some(36), 40, 24),
        8 | 28 => (40, None, 36, 16),
        18 => (56, None, 36, 24),
        1 | 21 => return at_least(content, 20),
        11 => return at_least(content, 28),
        _ => return Ok(()),
    };
    at_least(content, fixed)?;
    let count = |at: usize| {
        le_i32(content, at)
            .and_then(|count| u64::try_from(count).ok())
            .ok_or_else(|| "it counts fewer than no points".to_owned())
    };
    let parts = parts_at.map_or(Ok(0), count)?;
    let points = count(points_at)?;
    let needs = fixed as u64 + 4 * parts + per_point * points;
    if needs > content.len() as u64 {
        return Err(format!(
            "{parts} parts and {points} points need {needs} bytes, it holds {}",
            content.len()
        ));
    }
    let mut last = 0;
    for part in 0..parts as usize {
        let start =
            le_i32(content, PART_LIST + 4 * part).and_then(|start| u64::try_from(start).ok());
        match start {
            Some(start) if start >= last && start < points.max(1) => last = start,
            _ => return Err(format!("part {} starts at no point of it", part + 1)),
        }
    }
    Ok(())
}

fn at_least(content: &[u8], bytes: usize) -> Result<(), String> {
    if content.len() < bytes {
        return Err(format!("it needs {bytes} bytes, it holds {}", content.len()));
    }
    Ok(())
}

fn parse(file: &str, record: usize, content: &[u8]) -> Result<Shape, ChartError> {
    // Whatever the header says, and before the library sets room aside for its parts.
    if le_i32(content, 0) == Some(MULTIPATCH) {
        return Err(multipatch(file, record));
    }
    let damaged = |why: String| ChartError::Damaged { file: file.to_owned(), record, why };
    let size = i32::try_from(content.len()).map_err(|_| damaged("it is too long".to_owned()))?;
    Shape::read_from(&mut Cursor::new(content), size).map_err(|error| damaged(error.to_string()))
}

/// Takes a shape's points out of the library's types and checks each.
fn geometry(
    file: &str,
    record: usize,
    shape: Shape,
    projection: &Projection,
) -> Result<Geometry, ChartError> {
    let mut reader = PointReader { file, record, next: 0, projection };
    let rings = |rings: Vec<Vec<LonLat>>| {
        if rings.iter().all(Vec::is_empty) { Geometry::Empty } else { Geometry::Rings(rings) }
    };
    let lines = |lines: Vec<Vec<LonLat>>| {
        if lines.iter().all(Vec::is_empty) { Geometry::Empty } else { Geometry::Lines(lines) }
    };
    Ok(match shape {
        Shape::NullShape => Geometry::Empty,
        Shape::Point(point) => Geometry::Points(reader.all(&[point])?),
        Shape::PointM(point) => Geometry::Points(reader.all(&[point])?),
        Shape::PointZ(point) => Geometry::Points(reader.all(&[point])?),
        Shape::Multipoint(points) => Geometry::Points(reader.all(points.points())?),
        Shape::MultipointM(points) => Geometry::Points(reader.all(points.points())?),
        Shape::MultipointZ(points) => Geometry::Points(reader.all(points.points())?),
        Shape::Polyline(line) => lines(reader.parts(line.parts().iter().map(Vec::as_slice))?),
        Shape::PolylineM(line) => lines(reader.parts(line.parts().iter().map(Vec::as_slice))?),
        Shape::PolylineZ(line) => lines(reader.parts(line.parts().iter().map(Vec::as_slice))?),
        Shape::Polygon(area) => rings(reader.parts(area.rings().iter().map(PolygonRing::points))?),
        Shape::PolygonM(area) => rings(reader.parts(area.rings().iter().map(PolygonRing::points))?),
        Shape::PolygonZ(area) => rings(reader.parts(area.rings().iter().map(PolygonRing::points))?),
        Shape::Multipatch(_) => return Err(multipatch(file, record)),
    })
}

fn multipatch(file: &str, record: usize) -> ChartError {
    ChartError::ShapeKind { file: file.to_owned(), record, kind: "multipatch".to_owned() }
}

/// Reads the points of one record and numbers them, from 1.
struct PointReader<'a> {
    file: &'a str,
    record: usize,
    next: usize,
    projection: &'a Projection,
}

impl PointReader<'_> {
    fn parts<'p, P: HasXY + 'p>(
        &mut self,
        parts: impl Iterator<Item = &'p [P]>,
    ) -> Result<Vec<Vec<LonLat>>, ChartError> {
        parts.map(|part| self.all(part)).collect()
    }

    fn all<P: HasXY>(&mut self, points: &[P]) -> Result<Vec<LonLat>, ChartError> {
        points.iter().map(|point| self.one(point.x(), point.y())).collect()
    }

    fn one(&mut self, x: f64, y: f64) -> Result<LonLat, ChartError> {
        self.next += 1;
        let (record, point) = (self.record, self.next);
        let file = || self.file.to_owned();
        if let Some(value) = [x, y].into_iter().find(|value| !value.is_finite()) {
            return Err(ChartError::NotFinite { file: file(), record, point, value });
        }
        let place = self.projection.to_wgs84(x, y).map_err(|why| ChartError::Damaged {
            file: file(),
            record,
            why: format!("point {point} ({x}, {y}) cannot be reprojected: {why}"),
        })?;
        if !(-90.0..=90.0).contains(&place.lat) {
            return Err(ChartError::Latitude { file: file(), record, point, latitude: place.lat });
        }
        if !(-360.0..=360.0).contains(&place.lon) {
            return Err(ChartError::Longitude {
                file: file(),
                record,
                point,
                longitude: place.lon,
            });
        }
        Ok(place)
    }
}

fn be_i32(bytes: &[u8], at: usize) -> Option<i32> {
    Some(i32::from_be_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
}

fn le_i32(bytes: &[u8], at: usize) -> Option<i32> {
    Some(i32::from_le_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
}
