//! Everything that is read from outside, a target for each reader: what a fuzzer calls with bytes of
//! its own, and what the tests replay.
//!
//! A target ends in one of two ways: what was read is sound, and is then used a little; or it is refused
//! in words that are there, name the file, and can be shown. Anything else is a fault of the program.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use std::time::{Duration, UNIX_EPOCH};

use foreland::chart::{Chart, GeoBox, Opening};
use foreland::command::Failure;
use foreland::contact::Sightings;
use foreland::debrief::debrief;
use foreland::debrief::export::{Told, csv, geojson, gpx, html, markdown};
use foreland::drill::{Answer, Progress};
use foreland::fix::{Options, fix};
use foreland::geodesy::Position;
use foreland::radar::Set;
use foreland::reckon::{Legs, reckon};
use foreland::watch::entry::understood;
use foreland::watch::log::{FIRST_LINE, Replay, replay};
use foreland::watch::{Watch, resume};

/// What files are called in messages, and so what every refusal of one has in it.
const NAME: &str = "hostile";

/// A form that an account is written in.
type Form = fn(&Told<'_>) -> String;

/// One reader.
pub struct Target {
    /// As the fuzz target and the folder of its corpus are called.
    pub name: &'static str,
    /// Reads, and says how it ended.
    pub read: fn(&[u8]) -> Ended,
    /// Whether a refusal must name the file.
    pub named: bool,
}

/// How reading ended.
#[derive(Debug)]
pub enum Ended {
    /// It is sound.
    Taken,
    /// It is not, in the words that an operator sees.
    Refused(String),
}

const fn file(name: &'static str, read: fn(&[u8]) -> Ended) -> Target {
    Target { name, read, named: true }
}

const fn typed(name: &'static str, read: fn(&[u8]) -> Ended) -> Target {
    Target { name, read, named: false }
}

/// All of them.
pub const TARGETS: [Target; 18] = [
    file("shp", shp),
    file("shx", shx),
    file("dbf", dbf),
    file("prj", prj),
    file("cpg", cpg),
    file("hgt", hgt),
    file("geotiff", geotiff),
    file("chart_toml", chart_toml),
    file("prepared", prepared),
    file("set", set),
    file("sightings", sightings),
    file("legs", legs),
    file("log", log),
    file("log_records", log_records),
    file("declare", declare),
    typed("progress", progress),
    typed("entry", entry),
    typed("position", position),
];

impl Target {
    /// The target of a name.
    #[allow(dead_code, reason = "each user of these targets has its own part of them")]
    pub fn of(name: &str) -> &'static Target {
        let found = TARGETS.iter().find(|target| target.name == name);
        found.unwrap_or_else(|| panic!("no target {name}"))
    }

    /// Reads and holds the refusal to what is asked of one.
    pub fn check(&self, bytes: &[u8]) -> Ended {
        let ended = (self.read)(bytes);
        if let Ended::Refused(words) = &ended {
            assert!(words.trim().len() > 8, "{}: refused without a word: {words:?}", self.name);
            assert!(is_plain(words), "{}: not fit to show: {words:?}", self.name);
            assert!(words.len() < 60_000, "{}: a refusal of {} bytes", self.name, words.len());
            let named = !self.named || words.contains(NAME);
            assert!(named, "{}: does not say which file: {words}", self.name);
        }
        ended
    }
}

/// Whether nothing in a text acts on a terminal, the ends of its lines apart. Written down here anew,
/// so that the program's own list is not held to itself.
pub fn is_plain(text: &str) -> bool {
    text.chars().all(|c| match u32::from(c) {
        0x0a => true,
        code => !matches!(
            code,
            0..0x20
                | 0x7f..=0x9f
                | 0x61c
                | 0x200b..=0x200f
                | 0x2028..=0x202e
                | 0x2060..=0x2069
                | 0xfeff
        ),
    })
}

fn refused(failure: impl Into<Failure>) -> Ended {
    Ended::Refused(failure.into().render())
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Geographic WGS84 as `.prj` files have it.
pub const WGS84: &str = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;

/// A square island with a corner at 21 W 38 S, as a polygon of a `.shp`.
pub fn island_shp() -> Vec<u8> {
    let corners = [(0.0, 0.0), (0.0, 0.2), (0.2, 0.2), (0.2, 0.0), (0.0, 0.0)];
    let points: Vec<[f64; 2]> = corners.iter().map(|(x, y)| [x - 21.0, y - 38.0]).collect();
    shp_of(5, &[polygon(&[points])])
}

/// A record's content: a polygon of these rings.
pub fn polygon(rings: &[Vec<[f64; 2]>]) -> Vec<u8> {
    poly(5, rings)
}

/// A record's content: a polyline (3) or a polygon (5) of these parts, its box left at nothing.
pub fn poly(kind: i32, parts: &[Vec<[f64; 2]>]) -> Vec<u8> {
    let mut content = Vec::new();
    content.extend(kind.to_le_bytes());
    content.extend([0; 32]);
    content.extend(int(parts.len()).to_le_bytes());
    content.extend(int(parts.iter().map(Vec::len).sum()).to_le_bytes());
    let mut start = 0_i32;
    for part in parts {
        content.extend(start.to_le_bytes());
        start += int(part.len());
    }
    content.extend(parts.iter().flatten().flatten().flat_map(|value| value.to_le_bytes()));
    content
}

/// A count as a `.shp` has it. No file of these tests is so large that it would not fit.
fn int(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

/// A record's content: a point.
pub fn point(x: f64, y: f64) -> Vec<u8> {
    [&1_i32.to_le_bytes()[..], &x.to_le_bytes(), &y.to_le_bytes()].concat()
}

/// A `.shp` of these records.
pub fn shp_of(kind: i32, records: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = vec![0; 100];
    bytes[..4].copy_from_slice(&9994_i32.to_be_bytes());
    bytes[28..32].copy_from_slice(&1000_i32.to_le_bytes());
    bytes[32..36].copy_from_slice(&kind.to_le_bytes());
    for (number, content) in records.iter().enumerate() {
        bytes.extend(int(number + 1).to_be_bytes());
        bytes.extend(int(content.len() / 2).to_be_bytes());
        bytes.extend(content);
    }
    let words = int(bytes.len() / 2);
    bytes[24..28].copy_from_slice(&words.to_be_bytes());
    bytes
}

/// Three marks as a `.shp` of points.
pub fn marks_shp() -> Vec<u8> {
    shp_of(1, &[point(-20.9, -37.9), point(-20.85, -37.85), point(-20.95, -37.82)])
}

/// A table of a name, a kind and a height, with these rows of 24, 10 and 8 bytes.
pub fn dbf_of(rows: &[(&[u8], &[u8], &[u8])]) -> Vec<u8> {
    let columns: [(&[u8], u8, u8); 3] =
        [(b"NAME", b'C', 24), (b"KIND", b'C', 10), (b"ELEV_M", b'N', 8)];
    let mut bytes = vec![3, 126, 1, 1];
    bytes.extend((rows.len() as u32).to_le_bytes());
    bytes.extend((32 + 32 * 3 + 1_u16).to_le_bytes());
    bytes.extend((1 + 24 + 10 + 8_u16).to_le_bytes());
    bytes.resize(32, 0);
    for (name, kind, length) in columns {
        let start = bytes.len();
        bytes.extend(name);
        bytes.resize(start + 11, 0);
        bytes.push(kind);
        bytes.resize(start + 16, 0);
        bytes.push(length);
        bytes.resize(start + 32, 0);
    }
    bytes.push(0x0d);
    for (name, kind, height) in rows {
        bytes.push(b' ');
        for (cell, width) in [(name, 24), (kind, 10), (height, 8)] {
            let start = bytes.len();
            bytes.extend(cell.iter().take(width));
            bytes.resize(start + width, b' ');
        }
    }
    bytes
}

/// The table of [`marks_shp`].
pub fn marks_dbf() -> Vec<u8> {
    dbf_of(&[
        (b"Gannet Head", b"headland", b"120.5"),
        (b"Left Rock", b"islet", b""),
        (b"Caf\xc3\xa9 \xe9", b"light", b"********"),
    ])
}

/// Reads a chart and asks it a little of everything.
fn chart(files: &[(&str, &[u8])]) -> Ended {
    let chart = match Chart::from_files(NAME, files) {
        Ok(chart) => chart,
        Err(error) => return refused(error),
    };
    used(&chart);
    Ended::Taken
}

/// Asks a chart a little.
fn used(chart: &Chart) {
    assert!(is_plain(chart.name()));
    for caution in chart.cautions() {
        assert!(is_plain(caution), "{caution:?}");
    }
    let mut places: Vec<Position> = Vec::new();
    for (_, mark) in chart.marks().iter().take(40) {
        assert!(is_plain(&mark.name), "{:?}", mark.name);
        assert!(mark.height.metres().is_finite() && mark.extent.metres().is_finite());
        places.push(mark.position);
    }
    if let Some(area) = chart.coast().extent() {
        let middle =
            Position::wrapped(0.5 * (area.south + area.north), 0.5 * (area.west + area.east));
        places.extend([middle, Position::wrapped(area.south, area.west)]);
    }
    for place in places {
        assert!(chart.ground().at(place).height.metres().is_finite());
        let _ = chart.ground().is_land(place);
    }
}

/// A folder with the island in it, always changed at the same time, so that an index kept in the corpus is of it.
pub fn island_chart(within: &Path) -> PathBuf {
    const CHANGED: Duration = Duration::from_secs(1_900_000_000);
    let chart = within.join("island");
    fs::create_dir(&chart).unwrap();
    let coast = chart.join("coast.shp");
    fs::write(&coast, island_shp()).unwrap();
    let file = fs::File::options().append(true).open(&coast).unwrap();
    file.set_modified(UNIX_EPOCH + CHANGED).unwrap();
    chart
}

/// The index of an island, of which a part and the whole are asked for. An index is never needed: what is
/// wrong with it is a caution.
fn prepared(bytes: &[u8]) -> Ended {
    let folder = tempfile::tempdir().unwrap();
    let (charts, indexes) = ([island_chart(folder.path())], [folder.path().join("hostile.index")]);
    fs::write(&indexes[0], bytes).unwrap();
    let opening = Opening::new(&charts).indexed(&indexes);
    let near = GeoBox::new(-38.1, -21.1, -37.9, -20.9);
    let mut ended = Ended::Taken;
    for opening in [opening, opening.around(near).whole_up_to(0)] {
        let chart = opening.open().unwrap();
        used(&chart);
        if let Some(told) = chart.cautions().iter().find(|told| told.contains("hostile.index")) {
            ended = Ended::Refused(told.clone());
        }
    }
    ended
}

fn shp(bytes: &[u8]) -> Ended {
    chart(&[("coast.shp", bytes), ("coast.prj", WGS84.as_bytes())])
}

fn shx(bytes: &[u8]) -> Ended {
    let island = island_shp();
    let ended = chart(&[("coast.shp", &island), ("coast.shx", bytes)]);
    assert!(matches!(ended, Ended::Taken), "the index is not needed: {ended:?}");
    ended
}

fn dbf(bytes: &[u8]) -> Ended {
    let (island, marks) = (island_shp(), marks_shp());
    chart(&[("coast.shp", &island), ("marks.dbf", bytes), ("marks.shp", &marks)])
}

fn prj(bytes: &[u8]) -> Ended {
    let island = island_shp();
    let near = shp_of(1, &[point(1000.0, 2000.0), point(500_000.0, 4_000_000.0), point(1.0, 2.0)]);
    let ended = chart(&[("coast.shp", &island), ("coast.prj", bytes)]);
    chart(&[("coast.shp", &island), ("marks.prj", bytes), ("marks.shp", &near)]);
    ended
}

fn cpg(bytes: &[u8]) -> Ended {
    let (island, marks, table) = (island_shp(), marks_shp(), marks_dbf());
    let files: [(&str, &[u8]); 4] = [
        ("coast.shp", &island),
        ("marks.cpg", bytes),
        ("marks.dbf", &table),
        ("marks.shp", &marks),
    ];
    chart(&files)
}

/// The first line is the file's name. What follows is the file; where it is small, a tile is made of it
/// by repetition too.
fn hgt(bytes: &[u8]) -> Ended {
    const TILE: usize = 2 * 1201 * 1201;
    let island = island_shp();
    let (name, data) = match bytes.iter().position(|byte| *byte == b'\n') {
        Some(end) => bytes.split_at(end),
        None => (&b"S38W021"[..], bytes),
    };
    let data = data.get(1..).unwrap_or_default();
    let name = format!("{}.hgt", text(name).replace(['/', '\\'], ""));
    let ended = chart(&[(&name, data), ("coast.shp", &island)]);
    if data.is_empty() || data.len() >= TILE {
        return ended;
    }
    let tile: Vec<u8> = data.iter().copied().cycle().take(TILE).collect();
    chart(&[(&name, &tile), ("coast.shp", &island)])
}

fn geotiff(bytes: &[u8]) -> Ended {
    let island = island_shp();
    chart(&[("coast.shp", &island), ("dem.tif", bytes)])
}

fn chart_toml(bytes: &[u8]) -> Ended {
    let (island, marks, table) = (island_shp(), marks_shp(), marks_dbf());
    let files: [(&str, &[u8]); 4] = [
        ("chart.toml", bytes),
        ("coast.shp", &island),
        ("marks.dbf", &table),
        ("marks.shp", &marks),
    ];
    chart(&files)
}

fn set(bytes: &[u8]) -> Ended {
    match Set::parse(&text(bytes), NAME) {
        Ok(set) => {
            let again = Set::parse(&set.to_toml(), NAME);
            assert_eq!(again.as_ref(), Ok(&set), "a set is not what it is written as");
            Ended::Taken
        }
        Err(error) => refused(Failure::input(error.to_string())),
    }
}

/// A small chart to look names up and fix on.
static CHART: LazyLock<Chart> = LazyLock::new(|| {
    let (island, marks, table) = (island_shp(), marks_shp(), marks_dbf());
    let files: [(&str, &[u8]); 3] =
        [("coast.shp", &island), ("marks.dbf", &table), ("marks.shp", &marks)];
    Chart::from_files("small", &files).unwrap_or_else(|error| panic!("{error}"))
});

fn sightings(bytes: &[u8]) -> Ended {
    let sightings = match Sightings::parse(&text(bytes), NAME, Path::new("nowhere")) {
        Ok(sightings) => sightings,
        Err(error) => return refused(error),
    };
    if let Err(error) = sightings.check_marks(&CHART) {
        return refused(error);
    }
    // Many contacts take their time, and are no other case for that.
    if sightings.contacts.len() <= 3 && sightings.outlines.is_empty() {
        let found = fix(&CHART, &sightings, &Options::default());
        if let Some(position) = found.position {
            assert!(position.latitude().is_finite() && position.longitude().is_finite());
        }
    }
    Ended::Taken
}

fn legs(bytes: &[u8]) -> Ended {
    match Legs::parse_on(&text(bytes), NAME, Some(&CHART)) {
        Ok(legs) => {
            let worked = reckon(&legs, None);
            assert!(!format!("{worked:?}").contains("NaN"), "{worked:?}");
            Ended::Taken
        }
        Err(error) => refused(error),
    }
}

fn log(bytes: &[u8]) -> Ended {
    match replay(bytes, Path::new(NAME)) {
        Ok(found) => {
            assert!(found.notices.len() < 200, "{} notices", found.notices.len());
            played(&found);
            Ended::Taken
        }
        Err(error) => refused(Failure::input(error.to_string())),
    }
}

/// The records of a log without their checksums, each on its line: what a damaged disk cannot make, and
/// another program can.
fn log_records(bytes: &[u8]) -> Ended {
    let mut whole = FIRST_LINE.as_bytes().to_vec();
    for line in bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        whole.extend(format!("{:08x} ", crc32fast::hash(line)).bytes());
        whole.extend(line);
        whole.push(b'\n');
    }
    log(&whole)
}

/// Takes a log up again, and gives its account.
fn played(found: &Replay) {
    if found.records.is_empty() || found.records.len() > 2_000 {
        return;
    }
    let start = Sightings::parse(SIGHTINGS, NAME, Path::new("")).map(|s| Watch::from_sightings(&s));
    let Ok(blank) = start else { panic!("the sightings of the test are not read") };
    let resumed = resume(&found.records, &blank);
    if let Some(watch) = resumed.watch {
        let _ = watch.sightings();
    }
    let account = debrief(&found.records, found.notices.clone(), None);
    let told = Told { debrief: &account, log: NAME, chart: None, caution: "An aid only." };
    let forms: [(Form, bool); 5] =
        [(csv, false), (geojson, false), (gpx, true), (html, true), (markdown, true)];
    for (form, is_markup) in forms {
        let written = form(&told);
        assert!(!written.contains("NaN"), "{written}");
        assert!(!(is_markup && written.contains("<script")), "{written}");
        assert!(is_plain(&written.replace(['\r', '\t'], " ")), "{written:?}");
    }
}

fn declare(bytes: &[u8]) -> Ended {
    match Answer::parse(&text(bytes), NAME, Path::new("nowhere")) {
        Ok(_) => Ended::Taken,
        Err(error) => refused(error),
    }
}

fn progress(bytes: &[u8]) -> Ended {
    let told = Progress::parse(&text(bytes)).report(80);
    assert!(is_plain(&told) && !told.is_empty(), "{told:?}");
    Ended::Taken
}

fn entry(bytes: &[u8]) -> Ended {
    match understood(&text(bytes)) {
        Ok(_) => Ended::Taken,
        Err(error) => refused(Failure::input(error.to_string())),
    }
}

fn position(bytes: &[u8]) -> Ended {
    match text(bytes).parse::<Position>() {
        Ok(read) => {
            let again: Result<Position, _> = read.to_string().parse();
            assert!(again.is_ok(), "{read} does not read back");
            Ended::Taken
        }
        Err(error) => refused(Failure::input(error.to_string())),
    }
}

/// Sightings of every section, all sound.
pub const SIGHTINGS: &str = r#"[reckoning]
time = "2031-03-09T03:40:00Z"
position = "38 12.9 S, 21 30.5 W"
sigma_nm = 4.0
track_deg = 74.0
speed_kn = 165.0
[own]
height_ft = 2000
heading_deg = 70.0
heading_kind = "compass"
variation = "18.2 W"
[radar]
set = "patrol"
[landfall]
position = "38 01.0 S, 21 11.4 W"
[[contact]]
label = "A"
time = "2031-03-09T03:41:10Z"
range_nm = 17.3
bearing_deg = 42.5
bearing_kind = "relative"
part = "near"
mark = "Gannet Head"
[[contact]]
label = "B"
range_nm = 22.5
bearing_deg = 99.6
part = "centre"
"#;
