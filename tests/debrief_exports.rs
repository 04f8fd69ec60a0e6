//! What `foreland debrief` writes for others: each form held to what it is published to be.
#![allow(clippy::unwrap_used, clippy::panic)] // a test helper may fail the test

use foreland::debrief::debrief;
use foreland::debrief::export::{Told, csv, geojson, gpx, html, markdown};
use foreland::watch::log::{
    AcceptEntry, ContactEntry, EchoEntry, IdentityEntry, PlaceEntry, Record, What, replay,
};
use serde_json::Value;

/// A log of names that would do harm if any of them were taken for more than a name, on the date line.
fn hostile() -> Vec<Record> {
    let bad = "<script>alert(1)</script>,\"x\"\u{1b}[31m|\u{202e}'&]]>\n=1";
    let at = |second: i64| jiff::Timestamp::from_second(1_930_000_000 + second).unwrap();
    let place = |lat_deg, lon_deg| PlaceEntry {
        lat_deg,
        lon_deg,
        covariance_nm2: [[0.04, 0.01], [0.01, 0.02]],
    };
    let contact = |label: &str| {
        What::Contact(ContactEntry {
            label: label.to_owned(),
            time: Some(at(600)),
            range_nm: Some(12.0),
            bearing_deg: Some(80.0),
            ..ContactEntry::default()
        })
    };
    let set = foreland::radar::Set::builtin("patrol").unwrap().to_toml();
    let covariance_nm2 = [[4.0, 0.0], [0.0, 4.0]];
    let all = vec![
        What::Open { program: bad.to_owned(), chart: bad.to_owned() },
        What::Blank { set, height_ft: 2000.0 },
        What::Reckoning { time: at(0), lat_deg: -16.0, lon_deg: 179.7, covariance_nm2 },
        What::Track { track_deg: 80.0, speed_kn: 150.0, time: None },
        contact(bad),
        contact("B"),
        What::Note { text: bad.to_owned() },
        What::Accept(AcceptEntry {
            time: at(600),
            place: place(-15.93, -179.999),
            alone: Some(place(-15.93, -179.999)),
            verdict: bad.to_owned(),
            probability: Some(0.999),
            landfall: None,
            identities: vec![IdentityEntry {
                contact: "B".to_owned(),
                mark: bad.to_owned(),
                lat_deg: -15.9,
                lon_deg: -179.8,
                probability: 0.99,
            }],
            echoes: vec![EchoEntry { contact: bad.to_owned(), place: place(-15.9, 179.999) }],
        }),
        What::Call { label: bad.to_owned(), name: bad.to_owned() },
        contact("C"),
    ];
    let record = |(n, what)| Record {
        number: n as u64 + 1,
        time: at(i64::try_from(n).unwrap()),
        what,
        typed: Some(bad.to_owned()),
    };
    all.into_iter().enumerate().map(record).collect()
}

/// Every form of the hostile log.
fn forms() -> [(&'static str, String); 5] {
    let account = debrief(&hostile(), vec!["a \u{1b}[2J notice".to_owned()], None);
    assert_eq!((account.fixes.len(), account.echoes.len()), (1, 1));
    let log = "<b>\u{7}\"log\"";
    let told = Told { debrief: &account, log, chart: None, caution: "An aid only." };
    [
        ("gpx", gpx(&told)),
        ("geojson", geojson(&told)),
        ("csv", csv(&told)),
        ("html", html(&told)),
        ("markdown", markdown(&told)),
    ]
}

#[test]
fn a_name_is_only_a_name_in_every_file() {
    for (form, text) in forms() {
        let allowed = |c: char| c == '\n' || (form == "csv" && c == '\r');
        assert!(!text.chars().any(|c| c.is_control() && !allowed(c)), "{form}");
        assert!(!text.contains('\u{202e}'), "{form}");
        if ["gpx", "html", "markdown"].contains(&form) {
            assert!(!text.contains("<script>"), "{form}: {text}");
            assert!(text.contains("&lt;script&gt;"), "{form}");
        }
    }
}

#[test]
fn gpx_is_read_back_by_another_library() {
    let [(_, text), ..] = forms();
    let read = ::gpx::read(text.as_bytes()).unwrap();
    assert_eq!(read.version, ::gpx::GpxVersion::Gpx11);
    let points: usize =
        read.tracks.iter().flat_map(|track| &track.segments).map(|s| s.points.len()).sum();
    assert!(points > 10, "{points}");
    assert!(read.tracks.iter().any(|t| t.name.as_deref() == Some("Smoothed, known afterwards")));
    // The fix, three contacts less the one that was put in after it, and the echo.
    assert!(read.waypoints.len() >= 4, "{}", read.waypoints.len());
    for at in read.waypoints.iter().map(::gpx::Waypoint::point) {
        assert!((-180.0..180.0).contains(&at.x()) && (-90.0..=90.0).contains(&at.y()));
    }
}

/// What an element of GPX 1.1 may hold, in its order, and whether it may come again.
///
/// From the schema, topografix.com/GPX/1/1/gpx.xsd, published; read from a copy, second-hand. Elements
/// with text alone are none of these.
const SCHEMA: [(&str, &[(&str, bool)]); 5] = [
    (
        "gpx",
        &[("metadata", false), ("wpt", true), ("rte", true), ("trk", true), ("extensions", false)],
    ),
    (
        "metadata",
        &[
            ("name", false),
            ("desc", false),
            ("author", false),
            ("copyright", false),
            ("link", true),
            ("time", false),
            ("keywords", false),
            ("bounds", false),
            ("extensions", false),
        ],
    ),
    ("point", POINT),
    (
        "trk",
        &[
            ("name", false),
            ("cmt", false),
            ("desc", false),
            ("src", false),
            ("link", true),
            ("number", false),
            ("type", false),
            ("extensions", false),
            ("trkseg", true),
        ],
    ),
    ("trkseg", &[("trkpt", true), ("extensions", false)]),
];

/// The same of `wpt` and `trkpt`, which are one type.
const POINT: &[(&str, bool)] = &[
    ("ele", false),
    ("time", false),
    ("magvar", false),
    ("geoidheight", false),
    ("name", false),
    ("cmt", false),
    ("desc", false),
    ("src", false),
    ("link", true),
    ("sym", false),
    ("type", false),
    ("fix", false),
    ("sat", false),
    ("hdop", false),
    ("vdop", false),
    ("pdop", false),
    ("ageofdgpsdata", false),
    ("dgpsid", false),
    ("extensions", false),
];

/// The type of an element: what may stand in it; none where it holds text alone.
fn content(name: &str) -> Option<&'static [(&'static str, bool)]> {
    let kind = if ["wpt", "trkpt"].contains(&name) { "point" } else { name };
    SCHEMA.iter().find(|(known, _)| *known == kind).map(|(_, holds)| *holds)
}

/// An element that is open: its name, how far its children have come, and its text.
struct Open {
    name: String,
    at: Option<usize>,
    text: String,
}

/// The first thing in a text that the schema does not allow.
fn against_the_schema(text: &str) -> Result<(), String> {
    let (_, text) = text.split_once("?>").ok_or("no declaration")?;
    let mut open: Vec<Open> = Vec::new();
    let mut roots = 0;
    for piece in text.split('<').skip(1) {
        let (tag, after) = piece.split_once('>').ok_or("a tag without an end")?;
        if let Some(name) = tag.strip_prefix('/') {
            let closed = open.pop().filter(|open| open.name == name).ok_or(format!("</{name}>"))?;
            text_is_right(&closed)?;
        } else {
            let (name, attributes) = tag.split_once(' ').unwrap_or((tag, ""));
            attributes_are_right(name, attributes)?;
            match open.last_mut() {
                Some(parent) => may_follow(parent, name)?,
                None => roots += 1,
            }
            open.push(Open { name: name.to_owned(), at: None, text: String::new() });
        }
        if let Some(open) = open.last_mut() {
            open.text.push_str(after);
        }
    }
    if roots == 1 && open.is_empty() { Ok(()) } else { Err("more or less than one gpx".to_owned()) }
}

fn may_follow(parent: &mut Open, name: &str) -> Result<(), String> {
    let holds =
        content(&parent.name).ok_or(format!("{name} in {}, which holds text", parent.name))?;
    let place = holds.iter().position(|(known, _)| *known == name);
    let place = place.ok_or(format!("no {name} stands in {}", parent.name))?;
    let again = holds[place].1;
    if parent.at.is_some_and(|at| place < at || (place == at && !again)) {
        return Err(format!("{name} out of its order in {}", parent.name));
    }
    parent.at = Some(place);
    Ok(())
}

/// Those that are required, each of its type, and no other.
fn attributes_are_right(name: &str, text: &str) -> Result<(), String> {
    let mut given: Vec<(&str, &str)> = Vec::new();
    for pair in text.split_terminator("\" ").flat_map(|pair| pair.split("\" ")) {
        let (key, value) = pair.split_once("=\"").ok_or(format!("{name}: {pair}"))?;
        given.push((key, value.trim_end_matches('"')));
    }
    given.sort_unstable();
    let keys: Vec<&str> = given.iter().map(|(key, _)| *key).collect();
    let right: &[&str] = match name {
        "gpx" => &["creator", "version", "xmlns"],
        "wpt" | "trkpt" => &["lat", "lon"],
        _ => &[],
    };
    if keys != right {
        return Err(format!("{name} has attributes {keys:?}"));
    }
    for (key, value) in given {
        let number = || value.parse::<f64>().ok();
        let sound = match key {
            "version" => value == "1.1",
            "xmlns" => value == "http://www.topografix.com/GPX/1/1",
            "lat" => number().is_some_and(|lat| (-90.0..=90.0).contains(&lat)),
            "lon" => number().is_some_and(|lon| (-180.0..180.0).contains(&lon)),
            _ => !value.is_empty(),
        };
        if !sound {
            return Err(format!("{name}: {key} is {value}"));
        }
    }
    Ok(())
}

fn text_is_right(closed: &Open) -> Result<(), String> {
    let text = closed.text.trim();
    let sound = match (closed.name.as_str(), content(&closed.name)) {
        (_, Some(_)) => text.is_empty(),
        // xsd:dateTime in UTC.
        ("time", None) => text.ends_with('Z') && text.parse::<jiff::Timestamp>().is_ok(),
        _ => true,
    };
    if sound { Ok(()) } else { Err(format!("{} holds {text}", closed.name)) }
}

#[test]
fn gpx_keeps_to_the_published_schema() {
    let [(_, text), ..] = forms();
    assert_eq!(against_the_schema(&text), Ok(()));
    assert!(text.contains("<desc>An aid only.</desc>"));
    // What the schema forbids is found.
    for (from, to) in [
        ("<type>fix</type>", "<type>fix</type>\n<time>2031-02-27T16:16:40Z</time>"),
        ("<trkseg>", "<trkseg>\n<name>x</name>"),
        ("lat=\"", "latitude=\""),
        ("lat=\"-", "lat=\"-1"),
        ("version=\"1.1\"", "version=\"1.0\""),
        ("Z</time>", "</time>"),
        ("</metadata>", "</metadata><metadata></metadata>"),
        ("<type>smoothed</type>", "<type>smoothed</type><course>1</course>"),
    ] {
        assert!(text.contains(from), "{from}");
        assert!(against_the_schema(&text.replacen(from, to, 1)).is_err(), "{to}");
    }
}

#[test]
fn geojson_keeps_to_its_half_of_the_map() {
    let [_, (_, text), ..] = forms();
    let read: ::geojson::GeoJson = text.parse().unwrap();
    let ::geojson::GeoJson::FeatureCollection(read) = read else { panic!("no collection") };
    // A foreign member, as RFC 7946, section 6.1, lets one be.
    assert_eq!(read.foreign_members.unwrap()["caution"], "An aid only.");
    let told: Value = serde_json::from_str(&text).unwrap();
    let mut kinds = std::collections::BTreeSet::new();
    for feature in told["features"].as_array().unwrap() {
        let geometry = &feature["geometry"];
        let kind = geometry["type"].as_str().unwrap();
        kinds.insert(kind.to_owned());
        let rings: Vec<&Value> = match kind {
            "Polygon" => geometry["coordinates"].as_array().unwrap().iter().collect(),
            "MultiPolygon" => {
                let parts = geometry["coordinates"].as_array().unwrap();
                assert_eq!(parts.len(), 2);
                parts.iter().flat_map(|part| part.as_array().unwrap()).collect()
            }
            _ => Vec::new(),
        };
        for ring in rings {
            let ring: Vec<(f64, f64)> = ring
                .as_array()
                .unwrap()
                .iter()
                .map(|p| (p[0].as_f64().unwrap(), p[1].as_f64().unwrap()))
                .collect();
            assert_eq!(ring.first(), ring.last());
            let twice: f64 = ring.windows(2).map(|w| w[0].0 * w[1].1 - w[1].0 * w[0].1).sum();
            assert!(twice > 0.0, "clockwise");
            let sides: Vec<bool> = ring.iter().map(|p| p.0 > 0.0).collect();
            assert!(sides.iter().all(|side| *side == sides[0]), "{ring:?}");
        }
    }
    // The run crosses 180°: the track is cut there, and so are the ellipses upon it.
    let kinds: Vec<&str> = kinds.iter().map(String::as_str).collect();
    assert_eq!(kinds, ["LineString", "MultiPolygon", "Point", "Polygon"]);
}

#[test]
fn csv_has_as_many_fields_in_each_row() {
    let [_, _, (_, text), ..] = forms();
    let rows: Vec<Vec<String>> = text.split_terminator("\r\n").map(fields).collect();
    assert_eq!(rows[0].len(), 23);
    // The caution is a row like the others, so that the first line stays the heads of the columns.
    assert_eq!((rows[1][0].as_str(), rows[1][2].as_str()), ("caution", "An aid only."));
    assert!(rows.iter().all(|row| row.len() == rows[0].len()), "{text}");
    let echo = rows.iter().find(|row| row[0] == "echo").unwrap();
    assert!(echo[2].starts_with("<script>alert(1)</script>,\"x\""), "{}", echo[2]);
}

#[test]
fn the_drift_of_a_sortie_is_in_its_table() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/watch-log/sortie.log");
    let found = replay(&std::fs::read(path).unwrap(), std::path::Path::new(path)).unwrap();
    let account = debrief(&found.records, found.notices, None);
    let told = Told { debrief: &account, log: "sortie", chart: None, caution: "An aid only." };
    let text = csv(&told);
    let rows: Vec<Vec<String>> = text.split_terminator("\r\n").map(fields).collect();
    let column = |name: &str| rows[0].iter().position(|head| head == name).unwrap();
    let drift: Vec<&Vec<String>> = rows.iter().filter(|row| row[0] == "drift").collect();
    let [found, known] = drift.as_slice() else { panic!("{drift:?}") };
    assert_eq!((found[3].as_str(), known[3].as_str()), ("found", "smoothed"));
    let number = |row: &[String], name: &str| row[column(name)].parse::<f64>().unwrap();
    for (row, [east, north], [ee, en, nn]) in [
        (found, account.drift[0].beside_kn, account.drift[0].covariance_kn2),
        (known, account.drift[0].smoothed.unwrap().0, account.drift[0].smoothed.unwrap().1),
    ] {
        for (name, value) in [
            ("east_kn", east),
            ("north_kn", north),
            ("covariance_ee_kn2", ee),
            ("covariance_en_kn2", en),
            ("covariance_nn_kn2", nn),
        ] {
            assert!((number(row, name) - value).abs() < 1e-3, "{name} {row:?}");
        }
    }
    // Toward 154, 24 kn, as the account has it.
    let speed = number(found, "east_kn").hypot(number(found, "north_kn"));
    assert!((speed - 24.0).abs() < 0.6, "{speed}");
}

/// The fields of a line (RFC 4180).
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(c) = letters.next() {
        match c {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                fields.last_mut().unwrap().push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            c => fields.last_mut().unwrap().push(c),
        }
    }
    fields
}

#[test]
fn the_page_stands_by_itself() {
    let [_, _, _, (_, text), _] = forms();
    for fetched in ["http://", "https://", "src=", "href=", "url(", "@import"] {
        let found = text.replace("xmlns=\"http://www.w3.org/2000/svg\"", "").contains(fetched);
        assert!(!found, "{fetched}");
    }
    assert!(
        text.contains("<svg ") && text.contains("@media print") && text.contains("An aid only.")
    );
    // Each element that is opened is closed.
    for tag in ["table", "tr", "td", "ul", "li", "svg", "p", "h2", "div", "body", "html"] {
        let opened =
            text.matches(&format!("<{tag}>")).count() + text.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, text.matches(&format!("</{tag}>")).count(), "{tag}");
    }
}
