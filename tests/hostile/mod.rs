//! Everything that is read from outside, a target for each reader: what a fuzzer calls with bytes of
//! its own, and what the tests replay.
//!
//! A target ends in one of two ways: what was read is sound, and is then used a little; or it is refused
//! in words that are there, name the file, and can be shown. Anything else is a fault of the program.

pub mod made;

use std::fs;
use std::path::Path;
use std::sync::LazyLock;

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
use made::{SIGHTINGS, WGS84, island_chart, island_shp, marks_dbf, marks_shp, point, shp_of};

/// What files are called in messages, and so what every refusal of one has in it.
const NAME: &str = "hostile";

/// About the corner of the island of these charts.
const ISLAND: GeoBox = GeoBox { south: -38.1, west: -21.1, north: -37.9, east: -20.9 };

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

/// Reads a chart and asks it a little of everything.
fn chart(files: &[(&str, &[u8])]) -> Ended {
    opened(files, used)
}

/// Reads a chart whose ground does not hang on the file that is tried, and asks for its words and marks:
/// to draw its land for each input would take most of the time.
fn chart_of_words(files: &[(&str, &[u8])]) -> Ended {
    opened(files, |chart| _ = told(chart))
}

fn opened(files: &[(&str, &[u8])], ask: impl FnOnce(&Chart)) -> Ended {
    match Chart::from_files(NAME, files) {
        Ok(chart) => {
            ask(&chart);
            Ended::Taken
        }
        Err(error) => refused(error),
    }
}

/// Asks a chart a little: of the marks two only, for each may lie in a degree of its own that is drawn anew.
fn used(chart: &Chart) {
    let mut places = told(chart);
    places.truncate(2);
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

/// Holds what a chart tells to being sound, and gives where its first marks are.
fn told(chart: &Chart) -> Vec<Position> {
    assert!(is_plain(chart.name()));
    for caution in chart.cautions() {
        assert!(is_plain(caution), "{caution:?}");
    }
    let marks = chart.marks().iter().take(40).map(|(_, mark)| {
        assert!(is_plain(&mark.name), "{:?}", mark.name);
        assert!(mark.height.metres().is_finite() && mark.extent.metres().is_finite());
        mark.position
    });
    marks.collect()
}

/// The index of an island, of which a part and the whole are asked for. An index is never needed: what is
/// wrong with it is a caution.
fn prepared(bytes: &[u8]) -> Ended {
    let folder = tempfile::tempdir().unwrap();
    let (charts, indexes) = ([island_chart(folder.path())], [folder.path().join("hostile.index")]);
    fs::write(&indexes[0], bytes).unwrap();
    let opening = Opening::new(&charts).indexed(&indexes);
    let mut ended = Ended::Taken;
    for opening in [opening, opening.around(ISLAND).whole_up_to(0)] {
        let chart = opening.open().unwrap();
        used(&chart);
        if let Some(told) = chart.cautions().iter().find(|told| told.contains("hostile.index")) {
            ended = Ended::Refused(told.clone());
        }
    }
    ended
}

/// A coast, of which a part is asked for, and then the whole. Of one that goes round half the world the
/// marks take seconds to find, so that the fuzzer asks for the whole of each eighth only.
fn shp(bytes: &[u8]) -> Ended {
    let folder = tempfile::tempdir().unwrap();
    let charts = [folder.path().join(NAME)];
    fs::create_dir(&charts[0]).unwrap();
    fs::write(charts[0].join("coast.shp"), bytes).unwrap();
    fs::write(charts[0].join("coast.prj"), WGS84).unwrap();
    let part = match Opening::new(&charts).around(ISLAND).whole_up_to(0).open() {
        Ok(part) => {
            used(&part);
            Ended::Taken
        }
        Err(error) => refused(error),
    };
    let is_asked_whole = !cfg!(fuzzing) || crc32fast::hash(bytes).is_multiple_of(8);
    if !is_asked_whole {
        return part;
    }
    chart(&[("coast.shp", bytes), ("coast.prj", WGS84.as_bytes())])
}

fn shx(bytes: &[u8]) -> Ended {
    let island = island_shp();
    let ended = chart_of_words(&[("coast.shp", &island), ("coast.shx", bytes)]);
    assert!(matches!(ended, Ended::Taken), "the index is not needed: {ended:?}");
    ended
}

fn dbf(bytes: &[u8]) -> Ended {
    let (island, marks) = (island_shp(), marks_shp());
    chart_of_words(&[("coast.shp", &island), ("marks.dbf", bytes), ("marks.shp", &marks)])
}

fn prj(bytes: &[u8]) -> Ended {
    let island = island_shp();
    let near = shp_of(1, &[point(1000.0, 2000.0), point(500_000.0, 4_000_000.0), point(1.0, 2.0)]);
    let ended = chart(&[("coast.shp", &island), ("coast.prj", bytes)]);
    chart_of_words(&[("coast.shp", &island), ("marks.prj", bytes), ("marks.shp", &near)]);
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
    chart_of_words(&files)
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
