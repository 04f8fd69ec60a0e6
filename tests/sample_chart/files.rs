//! Shapefiles and the GeoTIFF, byte by byte from their published descriptions: ESRI Shapefile
//! Technical Description (1998), the dBASE III table, TIFF 6.0 and GeoTIFF 1.1 (from memory).

use std::io::Cursor;

use tiff::encoder::{Compression, DeflateLevel, Predictor, TiffEncoder, colortype::GrayI16};
use tiff::tags::Tag;

use super::relief::{CELL, COLUMNS, NORTH, ROWS, WEST};

pub type Named = (String, Vec<u8>);
pub type Point = (f64, f64);

pub enum Shape {
    Point(Point),
    Line(Vec<Point>),
    /// Closed here, and turned clockwise as outer rings are.
    Ring(Vec<Point>),
}

pub enum Field {
    Text(&'static str, u8),
    /// Width, decimals.
    Number(&'static str, u8, u8),
}

const PRJ: &str = "GEOGCS[\"GCS_WGS_1984\",DATUM[\"D_WGS_1984\",\
                   SPHEROID[\"WGS_1984\",6378137.0,298.257223563]],\
                   PRIMEM[\"Greenwich\",0.0],UNIT[\"Degree\",0.0174532925199433]]";

/// The five files of one layer.
pub fn layer(name: &str, shapes: &[Shape], fields: &[Field], rows: &[Vec<String>]) -> Vec<Named> {
    let records: Vec<Vec<u8>> = shapes.iter().map(record).collect();
    let kind = match shapes.first() {
        Some(Shape::Point(_)) => 1,
        Some(Shape::Line(_)) => 3,
        _ => 5,
    };
    let edges = bounds(&shapes.iter().flat_map(points).collect::<Vec<_>>());
    let (mut shp, mut shx) = (Vec::new(), Vec::new());
    let length = 100 + records.iter().map(|record| record.len() + 8).sum::<usize>();
    header(&mut shp, length, kind, edges);
    header(&mut shx, 100 + 8 * records.len(), kind, edges);
    for (number, record) in (1i32..).zip(&records) {
        let words = (record.len() / 2) as i32;
        shx.extend(((shp.len() / 2) as i32).to_be_bytes());
        shx.extend(words.to_be_bytes());
        shp.extend(number.to_be_bytes());
        shp.extend(words.to_be_bytes());
        shp.extend(record);
    }
    vec![
        (format!("{name}.shp"), shp),
        (format!("{name}.shx"), shx),
        (format!("{name}.dbf"), table(fields, rows)),
        (format!("{name}.prj"), PRJ.into()),
        (format!("{name}.cpg"), b"UTF-8".to_vec()),
    ]
}

fn points(shape: &Shape) -> Vec<Point> {
    match shape {
        Shape::Point(point) => vec![*point],
        Shape::Line(points) => points.clone(),
        Shape::Ring(points) => {
            let mut ring = points.clone();
            let twice: f64 = ring
                .iter()
                .zip(ring.iter().cycle().skip(1))
                .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
                .sum();
            if twice > 0.0 {
                ring.reverse();
            }
            ring.extend(ring.first().copied());
            ring
        }
    }
}

fn bounds(points: &[Point]) -> [f64; 4] {
    points.iter().fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, p| {
        [b[0].min(p.0), b[1].min(p.1), b[2].max(p.0), b[3].max(p.1)]
    })
}

fn header(out: &mut Vec<u8>, bytes: usize, kind: i32, edges: [f64; 4]) {
    out.extend(9994i32.to_be_bytes());
    out.extend([0; 20]);
    out.extend(((bytes / 2) as i32).to_be_bytes());
    out.extend(1000i32.to_le_bytes());
    out.extend(kind.to_le_bytes());
    out.extend(edges.iter().flat_map(|edge| edge.to_le_bytes()));
    out.extend([0; 32]);
}

fn record(shape: &Shape) -> Vec<u8> {
    let points = points(shape);
    let mut out = Vec::new();
    let kind: i32 = match shape {
        Shape::Point(_) => 1,
        Shape::Line(_) => 3,
        Shape::Ring(_) => 5,
    };
    out.extend(kind.to_le_bytes());
    if kind != 1 {
        out.extend(bounds(&points).iter().flat_map(|edge| edge.to_le_bytes()));
        out.extend(1i32.to_le_bytes());
        out.extend((points.len() as i32).to_le_bytes());
        out.extend(0i32.to_le_bytes());
    }
    for (x, y) in points {
        out.extend(x.to_le_bytes());
        out.extend(y.to_le_bytes());
    }
    out
}

/// The date in the table is a fixed one, so that the bytes are always the same.
fn table(fields: &[Field], rows: &[Vec<String>]) -> Vec<u8> {
    let widths = fields.iter().map(|field| match field {
        Field::Text(_, width) | Field::Number(_, width, _) => usize::from(*width),
    });
    let mut out = vec![3, 126, 1, 1];
    out.extend((rows.len() as u32).to_le_bytes());
    out.extend(((33 + 32 * fields.len()) as u16).to_le_bytes());
    out.extend(((1 + widths.clone().sum::<usize>()) as u16).to_le_bytes());
    out.extend([0; 20]);
    for field in fields {
        let (name, letter, width, decimals) = match field {
            Field::Text(name, width) => (name, b'C', *width, 0),
            Field::Number(name, width, decimals) => (name, b'N', *width, *decimals),
        };
        let mut padded = name.as_bytes().to_vec();
        padded.resize(11, 0);
        out.extend(padded);
        out.extend([letter, 0, 0, 0, 0, width, decimals]);
        out.extend([0; 14]);
    }
    out.push(13);
    for row in rows {
        out.push(b' ');
        for ((cell, field), width) in row.iter().zip(fields).zip(widths.clone()) {
            assert!(cell.len() <= width, "{cell} is wider than {width}");
            let padded = match field {
                Field::Text(..) => format!("{cell:<width$}"),
                Field::Number(..) => format!("{cell:>width$}"),
            };
            out.extend(padded.as_bytes());
        }
    }
    out.push(26);
    out
}

/// Whole metres, pixel is area, geographic WGS84.
pub fn grid(metres: &[i16]) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut out)
        .unwrap()
        .with_compression(Compression::Deflate(DeflateLevel::Best))
        .with_predictor(Predictor::Horizontal);
    let mut image = encoder.new_image::<GrayI16>(COLUMNS as u32, ROWS as u32).unwrap();
    image.rows_per_strip(100).unwrap();
    let tags = image.encoder();
    tags.write_tag(Tag::ModelPixelScaleTag, &[CELL, CELL, 0.0][..]).unwrap();
    tags.write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, WEST, NORTH, 0.0][..]).unwrap();
    // Model type geographic, raster type pixel-is-area, EPSG 4326.
    let keys: [u16; 16] = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 1, 2048, 0, 1, 4326];
    tags.write_tag(Tag::GeoKeyDirectoryTag, &keys[..]).unwrap();
    image.write_data(metres).unwrap();
    out.into_inner()
}
