mod metadata;

use std::io::{Cursor, Read, Seek};
use std::ops::RangeInclusive;

use tiff::decoder::{Decoder, DecodingResult, DecodingSampleType, Limits};
use tiff::tags::Tag;

use self::metadata::{metadata, not_metres};
use super::grid::{Frame, Grid};
use super::tile::{Heights, Tile, is_unsaid_void};
use crate::chart::error::ChartError;
use crate::chart::shapes::sanitised;
use crate::text::shortened;

/// GeoTIFF key numbers (OGC GeoTIFF 1.1, OGC 19-008r4; from memory).
const MODEL_TYPE: u16 = 1024;
const RASTER_TYPE: u16 = 1025;
const CITATION: u16 = 1026;
const GEODETIC_CRS: u16 = 2048;
const GEODETIC_CITATION: u16 = 2049;
const GEODETIC_DATUM: u16 = 2050;
const ANGULAR_UNITS: u16 = 2054;
const PROJECTED_CRS: u16 = 3072;
const VERTICAL_CRS: u16 = 4096;
const VERTICAL_UNITS: u16 = 4099;

const MODEL_GEOGRAPHIC: u16 = 2;
const PIXEL_IS_POINT: u16 = 2;
const USER_DEFINED: u16 = 32_767;
const DEGREE: u16 = 9102;
const METRE: u16 = 9001;

/// Geographic systems on WGS84 or within two metres of it: WGS84, ETRS89, NAD83, and the datum of WGS84
/// (EPSG registry, from memory).
const WGS84_LIKE: [u16; 3] = [4326, 4258, 4269];
const WGS84_DATUM: u16 = 6326;

/// The same in three dimensions: WGS84, ETRS89, NAD83 (EPSG registry, from memory). Their heights are above
/// the ellipsoid, which lies from 100 m above to 85 m below mean sea level (from memory).
const ABOVE_ELLIPSOID: [u16; 3] = [4979, 4937, 4957];
/// Vertical systems of the first GeoTIFF standard that are above an ellipsoid (from memory).
const ELLIPSOIDS: RangeInclusive<u16> = 5001..=5033;

/// Systems of heights in feet: of NAVD88 in the foot of the survey and in the foot, of NGVD29 in that of the
/// survey, of mean sea level in both (EPSG registry, from memory).
const IN_FEET: [u16; 5] = [6360, 8228, 5702, 8050, 8052];

/// Heights that no ground has: what is beyond is taken as missing.
const DEEPEST_M: f64 = -12_000.0;
const HIGHEST_M: f64 = 9_000.0;

/// Samples of so few bits are shades or classes: as metres they would end at 255.
const PICTURE_BITS: u8 = 8;

/// The most heights one file may hold.
const MOST_CELLS: u64 = 400_000_000;

/// The most bytes that one byte of a file can stand for: DEFLATE makes 1,032 at most (RFC 1951, 258
/// from two bits), LZW some 1,400 (computed: 3,837 codes of up to 12 bits for runs of up to 3,838).
const MOST_UNPACKED: u64 = 1_500;

/// What the library says of a tag may hold all its values: so many characters of it are told.
const MOST_TOLD: usize = 300;

fn refusal(file: &str, why: String, help: &str) -> ChartError {
    ChartError::GeoTiff { file: file.to_owned(), why, help: help.to_owned() }
}

fn unreadable(file: &str, why: &str) -> ChartError {
    refusal(
        file,
        format!("cannot be read as a TIFF: {}", shortened(why, MOST_TOLD)),
        "export it again as a GeoTIFF of int16 or float32, uncompressed, LZW or DEFLATE",
    )
}

fn no_heights(file: &str) -> ChartError {
    refusal(
        file,
        "holds samples that are no heights".to_owned(),
        "export it again with one band of int16, int32 or float32",
    )
}

/// What to do about a grid that lies askew or nowhere.
const NORTH_UP: &str = "export it again north up, with its georeference";

/// Ways of packing that are read: none, LZW, JPEG, DEFLATE by its two numbers, packed bytes (TIFF 6.0 and
/// its supplements, from memory).
const UNPACKED: [u64; 6] = [1, 5, 7, 8, 32_946, 32_773];

/// Reads an elevation grid in geographic WGS84 from a GeoTIFF.
pub(in crate::chart) fn read_geotiff(file: &str, bytes: &[u8]) -> Result<Grid, ChartError> {
    let image = Image::open(file, Cursor::new(bytes), bytes.len() as u64)?;
    let frame = image.frame;
    Ok(Grid::held(file, frame, image.tile(file)?))
}

/// Where the heights of a file of so many bytes stand, and how many bytes one takes in memory: by its
/// tags. Refused is what they can tell to be refused of the heights themselves.
pub(super) fn geotiff_head(
    file: &str,
    input: impl Read + Seek,
    bytes: u64,
) -> Result<(Frame, u64), ChartError> {
    let mut image = Image::open(file, input, bytes)?;
    image.check_pieces(file, bytes)?;
    Ok((image.frame, image.cell_bytes(file)?))
}

/// Reads the heights themselves, which must be those that were announced.
pub(super) fn geotiff_tile(
    file: &str,
    frame: &Frame,
    cell_bytes: u64,
    input: impl Read + Seek,
    bytes: u64,
) -> Result<Tile, ChartError> {
    let mut image = Image::open(file, input, bytes)?;
    let found = &image.frame;
    let size = (found.columns, found.rows);
    if size != (frame.columns, frame.rows) || image.cell_bytes(file)? != cell_bytes {
        let why = "it has been changed since the chart was opened".to_owned();
        return Err(ChartError::Unreadable { file: file.to_owned(), why });
    }
    image.tile(file)
}

/// A file whose tags have been read.
struct Image<R: Read + Seek> {
    decoder: Decoder<R>,
    frame: Frame,
    no_data: Option<f64>,
}

impl<R: Read + Seek> Image<R> {
    /// Reads the tags and refuses what is no grid, or cannot hold what it announces.
    fn open(file: &str, input: R, bytes: u64) -> Result<Self, ChartError> {
        let refuse = |why: String, help: &str| refusal(file, why, help);
        let unreadable = |error: tiff::TiffError| unreadable(file, &error.to_string());
        let mut decoder = Decoder::new(input).map_err(unreadable)?;
        let colour = decoder.colortype().map_err(unreadable)?;
        let (bands, bits) = (colour.num_samples(), colour.bit_depth());
        if bands != 1 {
            return Err(refuse(
                format!("holds {bands} samples a cell, as a picture does"),
                "an elevation grid has one band: export the heights, not the shaded picture of them",
            ));
        }
        if bits <= PICTURE_BITS {
            return Err(refuse(
                format!("holds samples of {bits} bits, as a picture does"),
                "export the heights, not the shaded picture of them, as int16, int32 or float32",
            ));
        }
        let (columns, rows) = decoder.dimensions().map_err(unreadable)?;
        let cells = cells(file, (columns, rows), bytes)?;
        let tags = GeoTags::read(&mut decoder);
        let frame =
            tags.frame(columns as usize, rows as usize).map_err(|(why, help)| refuse(why, help))?;
        let mut limits = Limits::default();
        limits.decoding_buffer_size =
            usize::try_from(cells.saturating_mul(8)).unwrap_or(usize::MAX);
        Ok(Self { decoder: decoder.with_limits(limits), frame, no_data: tags.no_data })
    }

    /// Reads all heights.
    fn tile(mut self, file: &str) -> Result<Tile, ChartError> {
        let image =
            self.decoder.read_image().map_err(|error| unreadable(file, &error.to_string()))?;
        let heights = heights(image).ok_or_else(|| no_heights(file))?;
        let no_data = self.no_data;
        let void = move |height: f64| {
            !(DEEPEST_M..=HIGHEST_M).contains(&height)
                || is_unsaid_void(height)
                || no_data.is_some_and(|none| (height - none).abs() <= none.abs() * 1e-6)
        };
        Tile::new(file, &self.frame, heights, &void)
    }

    /// How many bytes one height takes in memory.
    fn cell_bytes(&mut self, file: &str) -> Result<u64, ChartError> {
        let layout = self.decoder.image_buffer_layout();
        let layout = layout.map_err(|error| unreadable(file, &error.to_string()))?;
        match layout.sample_type {
            Some(DecodingSampleType::I16) => Ok(2),
            Some(
                DecodingSampleType::U16
                | DecodingSampleType::U32
                | DecodingSampleType::I32
                | DecodingSampleType::F32
                | DecodingSampleType::F64,
            ) => Ok(4),
            _ => Err(no_heights(file)),
        }
    }

    /// Refuses pieces of the picture that the file ends before, and packing that is not read.
    fn check_pieces(&mut self, file: &str, bytes: u64) -> Result<(), ChartError> {
        let mut numbers = |tag| self.decoder.find_tag_unsigned_vec::<u64>(tag).ok().flatten();
        let packing = numbers(Tag::Compression).and_then(|packing| packing.first().copied());
        if let Some(other) = packing.filter(|packing| !UNPACKED.contains(packing)) {
            return Err(unreadable(file, &format!("its compression ({other}) is not known")));
        }
        let places = numbers(Tag::StripOffsets).or_else(|| numbers(Tag::TileOffsets));
        let lengths = numbers(Tag::StripByteCounts).or_else(|| numbers(Tag::TileByteCounts));
        let (places, lengths) = (places.unwrap_or_default(), lengths.unwrap_or_default());
        let end = places.iter().zip(&lengths).map(|(place, length)| place.saturating_add(*length));
        match end.max() {
            Some(end) if end > bytes => Err(refusal(
                file,
                format!("needs {end} bytes and holds {bytes}"),
                "the file is truncated: copy it again whole",
            )),
            _ => Ok(()),
        }
    }
}

/// How many heights a file of so many bytes announces: refused are sizes that no grid has, or that it cannot
/// hold, before anything is set aside for them.
fn cells(file: &str, (columns, rows): (u32, u32), bytes: u64) -> Result<u64, ChartError> {
    let cells = u64::from(columns) * u64::from(rows);
    if columns < 2 || rows < 2 {
        return Err(ChartError::GridSize {
            file: file.to_owned(),
            columns: columns as usize,
            rows: rows as usize,
        });
    }
    if cells > MOST_CELLS {
        return Err(refusal(
            file,
            format!("{columns} by {rows} heights are more than this program holds"),
            "clip the grid to the region of the landfall",
        ));
    }
    if cells > bytes.saturating_mul(MOST_UNPACKED) {
        return Err(refusal(
            file,
            format!("announces {columns} by {rows} heights, which {bytes} bytes cannot hold"),
            "the file is truncated or damaged: copy it again whole",
        ));
    }
    Ok(cells)
}

fn heights(image: DecodingResult) -> Option<Heights> {
    Some(match image {
        DecodingResult::I16(heights) => Heights::Whole(heights),
        DecodingResult::U16(heights) => Heights::Real(heights.into_iter().map(f32::from).collect()),
        DecodingResult::I32(heights) => {
            Heights::Real(heights.into_iter().map(|h| h as f32).collect())
        }
        DecodingResult::U32(heights) => {
            Heights::Real(heights.into_iter().map(|h| h as f32).collect())
        }
        DecodingResult::F32(heights) => Heights::Real(heights),
        DecodingResult::F64(heights) => {
            Heights::Real(heights.into_iter().map(|h| h as f32).collect())
        }
        _ => return None,
    })
}

/// What the file says about where it lies.
#[derive(Debug, Default)]
struct GeoTags {
    scale: Vec<f64>,
    tie: Vec<f64>,
    transformation: Vec<f64>,
    keys: Vec<u16>,
    texts: String,
    no_data: Option<f64>,
    metadata: String,
}

type Refusal = (String, &'static str);

fn no_georeference() -> Refusal {
    (
        "has no georeference".to_owned(),
        "export it as a GeoTIFF in geographic WGS84, or take it out of the folder",
    )
}

/// Where the outer corner of the north-western pixel lies, and how far it is to the next ones, degrees.
struct Corner {
    lon: f64,
    lat: f64,
    step_lon: f64,
    step_lat: f64,
}

impl GeoTags {
    fn read<R: Read + Seek>(decoder: &mut Decoder<R>) -> Self {
        let mut reals = |tag| decoder.get_tag_f64_vec(tag).unwrap_or_default();
        let scale = reals(Tag::ModelPixelScaleTag);
        let tie = reals(Tag::ModelTiepointTag);
        let transformation = reals(Tag::ModelTransformationTag);
        let keys = decoder.get_tag_u16_vec(Tag::GeoKeyDirectoryTag).unwrap_or_default();
        let texts = decoder.get_tag_ascii_string(Tag::GeoAsciiParamsTag).unwrap_or_default();
        let no_data = decoder
            .get_tag_ascii_string(Tag::GdalNodata)
            .ok()
            .and_then(|text| text.trim_matches(['\0', ' ']).parse().ok());
        let metadata = metadata(decoder);
        Self { scale, tie, transformation, keys, texts, no_data, metadata }
    }

    /// A short value of the key directory: after a header of four words, four words a key.
    fn key(&self, key: u16) -> Option<u16> {
        self.keys.chunks_exact(4).skip(1).find_map(|entry| match entry {
            [id, 0, _, value] if *id == key => Some(*value),
            _ => None,
        })
    }

    /// A text of the key directory.
    fn text(&self, key: u16) -> Option<String> {
        const ASCII: u16 = 34_737;
        self.keys.chunks_exact(4).skip(1).find_map(|entry| match entry {
            [id, ASCII, count, start] if *id == key => {
                let (start, count) = (usize::from(*start), usize::from(*count));
                let text = self.texts.get(start..start.checked_add(count)?)?;
                Some(sanitised(text.trim_matches(['|', '\0', ' '])))
            }
            _ => None,
        })
    }

    /// Refuses what is not geographic WGS84, by name.
    fn check_system(&self) -> Result<(), Refusal> {
        const HELP: &str = "reproject the grid to geographic WGS84 (EPSG:4326) and export it again";
        let name = || {
            let text = self.text(GEODETIC_CITATION).or_else(|| self.text(CITATION));
            text.filter(|text| !text.is_empty()).unwrap_or_else(|| "no name".to_owned())
        };
        if self.keys.len() < 8 {
            return Err(no_georeference());
        }
        let geographic = self.key(MODEL_TYPE).is_none_or(|model| model == MODEL_GEOGRAPHIC);
        if let (false, code) | (true, code @ Some(_)) = (geographic, self.key(PROJECTED_CRS)) {
            let code = code.map_or_else(name, |code| format!("EPSG:{code}, {}", name()));
            return Err((format!("is in a projected system ({code})"), HELP));
        }
        self.check_zero_of_heights()?;
        match self.key(GEODETIC_CRS) {
            Some(code) if WGS84_LIKE.contains(&code) => {}
            None | Some(USER_DEFINED)
                if self.key(GEODETIC_DATUM).is_some_and(|datum| datum == WGS84_DATUM)
                    || is_wgs84(&name()) => {}
            Some(code) => {
                return Err((format!("is not in WGS84 (EPSG:{code}, {})", name()), HELP));
            }
            None => return Err((format!("is not in WGS84 ({})", name()), HELP)),
        }
        self.check_height_unit()?;
        if self.key(ANGULAR_UNITS).is_some_and(|unit| unit != DEGREE) {
            return Err(("has its angles in another unit than degrees".to_owned(), HELP));
        }
        Ok(())
    }

    /// Refuses heights above the ellipsoid.
    fn check_zero_of_heights(&self) -> Result<(), Refusal> {
        const HELP: &str = "take the height of the geoid off and export it again in EPSG:4326, or leave the \
                            grid out";
        let system = self.key(GEODETIC_CRS).filter(|code| ABOVE_ELLIPSOID.contains(code));
        let vertical = self
            .key(VERTICAL_CRS)
            .filter(|code| ELLIPSOIDS.contains(code) || ABOVE_ELLIPSOID.contains(code));
        match system.or(vertical) {
            Some(code) => {
                let why = "has its heights above the ellipsoid, not above mean sea level";
                Err((format!("{why} (EPSG:{code})"), HELP))
            }
            None => Ok(()),
        }
    }

    /// Refuses heights that are not in metres as they stand: by the unit's or the vertical system's number,
    /// or by the metadata.
    fn check_height_unit(&self) -> Result<(), Refusal> {
        const HELP: &str = "turn its heights into metres and export it again";
        let system = self.key(VERTICAL_CRS).filter(|code| IN_FEET.contains(code));
        let unit = self.key(VERTICAL_UNITS).filter(|unit| *unit != METRE);
        let keyed = unit
            .or(system)
            .map(|code| format!("has its heights in another unit than metres (EPSG:{code})"));
        match keyed.or_else(|| not_metres(&self.metadata)) {
            Some(why) => Err((why, HELP)),
            None => Ok(()),
        }
    }

    /// Where the pixels lie: by a transformation, or by a scale and one place.
    fn corner(&self) -> Result<Corner, Refusal> {
        match (self.transformation.as_slice(), self.scale.as_slice(), self.tie.as_slice()) {
            ([_, b, _, _, e, _, _, _, ..], ..) if *b != 0.0 || *e != 0.0 => {
                Err(("is turned against north".to_owned(), NORTH_UP))
            }
            ([a, _, _, d, _, f, _, h, ..], ..) => {
                Ok(Corner { lon: *d, lat: *h, step_lon: *a, step_lat: -*f })
            }
            (_, [sx, sy, ..], [i, j, _, x, y, ..]) => {
                Ok(Corner { lon: *x - i * sx, lat: *y + j * sy, step_lon: *sx, step_lat: *sy })
            }
            _ => Err(no_georeference()),
        }
    }

    /// Where the heights stand. A height that stands for a pixel's area stands in its middle.
    fn frame(&self, columns: usize, rows: usize) -> Result<Frame, Refusal> {
        self.check_system()?;
        let Corner { lon, lat, step_lon, step_lat } = self.corner()?;
        let middle = if self.key(RASTER_TYPE) == Some(PIXEL_IS_POINT) { 0.0 } else { 0.5 };
        let (north, west) = (lat - middle * step_lat, lon + middle * step_lon);
        let south = north - step_lat * (rows - 1) as f64;
        let east = west + step_lon * (columns - 1) as f64;
        let sound = step_lat > 0.0
            && step_lon > 0.0
            && (-90.1..=90.1).contains(&south)
            && (-90.1..=90.1).contains(&north)
            && (-540.0..=540.0).contains(&west)
            && step_lon <= 360.0
            && east - west <= 360.0 + step_lon;
        if !sound {
            let why = format!(
                "lies nowhere on the Earth (from {south} {west} by {step_lat} and {step_lon})"
            );
            return Err((why, NORTH_UP));
        }
        let west = (west + 180.0).rem_euclid(360.0) - 180.0;
        Ok(Frame { north, west, step_lat, step_lon, columns, rows })
    }
}

fn is_wgs84(name: &str) -> bool {
    let plain: String = name.chars().filter(char::is_ascii_alphanumeric).collect();
    let plain = plain.to_ascii_uppercase();
    plain.contains("WGS84") || plain.contains("WGS1984")
}
