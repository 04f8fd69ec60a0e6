//! Inputs made to break a reader: too large for a corpus, or told better by how they are made.

mod grids;
mod layers;
mod logs;

use crate::hostile::made::SIGHTINGS;

/// A name and the bytes.
pub type Case = (String, Vec<u8>);

fn case(name: &str, bytes: impl Into<Vec<u8>>) -> Case {
    (name.to_owned(), bytes.into())
}

/// All for one target.
pub fn nasty(target: &str) -> Vec<Case> {
    match target {
        "shp" => layers::shapes(),
        "dbf" => layers::tables(),
        "prj" => layers::projections(),
        "geotiff" => grids::tiffs(),
        "hgt" => grids::tiles(),
        "prepared" => layers::indexes(),
        "log" | "log_records" => logs::logs(),
        "chart_toml" | "set" | "sightings" | "legs" | "declare" => texts(target),
        "entry" | "position" | "progress" | "cpg" => lines(),
        _ => Vec::new(),
    }
}

/// What is wrong in any text, and what is wrong in any TOML or JSON.
fn texts(target: &str) -> Vec<Case> {
    let sound = if target == "sightings" { SIGHTINGS } else { "" };
    let mut all = lines();
    all.extend([
        case("brackets", "[".repeat(200_000)),
        case("nested list", format!("a = {}", "[".repeat(200_000))),
        case("nested list, closed", format!("a = {}{}", "[".repeat(5_000), "]".repeat(5_000))),
        case("nested table", format!("a = {}", "{a=".repeat(100_000))),
        case("nested JSON", "{\"a\":".repeat(100_000)),
        case("nested JSON list", format!("{{\"a\":{}", "[".repeat(100_000))),
        case("dotted key", format!("{} = 1", "a.".repeat(50_000).trim_end_matches('.'))),
        case("dotted table", format!("[{}]", "a.".repeat(50_000).trim_end_matches('.'))),
        case("many tables", "[[contact]]\n".repeat(100_000)),
        case("many keys", keys(60_000, " = 1\n")),
        case(
            "many keys on a line",
            format!("a = {{{}}}", keys(60_000, " = 1, ").trim_end_matches(", ")),
        ),
        case("the same key again", "a = 1\n".repeat(10_000)),
        case("one long number", format!("a = {}", "9".repeat(1_000_000))),
        case("one long text", format!("name = \"{}\"", "x".repeat(4_000_000))),
        case("a fault of many lines", format!("contact = [\n{}]\n", "1,\n".repeat(300_000))),
        case("a long line before a fault", format!("# {}\nnone = 1\n", "x".repeat(900_000))),
        case("a long line after a fault", format!("none = 1\n# {}\n", "x".repeat(900_000))),
        case("one long key", format!("{} = 1", "x".repeat(4_000_000))),
        case("one long list", format!("scales_nm = [{}]", "1,".repeat(500_000))),
        case(
            "one long word where one of few is asked",
            format!("polarisation = \"{}\"", "y".repeat(900_000)),
        ),
        case("a set without end", sound.replace("\"patrol\"", "\"/dev/zero\"")),
        case("a set that is a folder", sound.replace("\"patrol\"", "\"/\"")),
        case("a time without end", sound.replace("03:40:00Z", &"0".repeat(100_000))),
    ]);
    let acting = "\u{1b}]0;x\u{7}\u{9b}2J\u{202e}\u{2066}\u{200b}\u{8}\r\t<script>";
    for key in ["name", "label", "mark", "position", "set", "kind", "craft", acting] {
        all.push(case("what acts", format!("[[\"{key}\"]]\n\"{key}\" = '{acting}'\n")));
        all.push(case("what acts, escaped", format!("\"{key}\" = \"\\u001b[2J\\u202e\"\n")));
    }
    for spoilt in
        ["17.3", "42.5", "\"A\"", "\"patrol\"", "\"Gannet Head\"", "\"near\"", "\"relative\""]
    {
        let with = |word: &str| sound.replace(spoilt, word);
        all.push(case("what acts in its place", with(&format!("\"\\u001b\\u202e{}\"", "\\u200f"))));
        all.push(case("nan in its place", with("nan")));
        all.push(case("inf in its place", with("-inf")));
        all.push(case("1e308 in its place", with("1e308")));
        all.push(case("a list in its place", with("[[1, 2], 3]")));
    }
    all
}

/// So many keys, each with its value after it.
fn keys(count: usize, value: &str) -> String {
    let keys: Vec<String> = (0..count).map(|number| format!("k{number}{value}")).collect();
    keys.concat()
}

fn lines() -> Vec<Case> {
    vec![
        case("nothing", ""),
        case("NUL", vec![0; 1_000]),
        case("byte order mark", "\u{feff}"),
        case("byte order mark of UTF-16", vec![0xff, 0xfe, b'a', 0]),
        case("no UTF-8", vec![0xc3, 0x28, 0xf0, 0x9f, 0xff, 0x80]),
        case("CR alone", "a = 1\rb = 2\r"),
        case("CR LF", "17.3 042\r\n"),
        case("a line of 10 MB", "x".repeat(10_000_000)),
        case("10 MB of digits", "9".repeat(10_000_000)),
        case("a million lines", "\n".repeat(1_000_000)),
        case("a million blanks", " ".repeat(1_000_000)),
        case("ten thousand words", "a ".repeat(10_000)),
        case("ten thousand quotes", "\"".repeat(10_000)),
        case("what acts", "\u{1b}]0;x\u{7}\u{9b}2J\u{202e}\u{2066}\u{200b}\u{8}\t<script>"),
        case("degrees", "°".repeat(79)),
        case("letters that grow", "ŉ".repeat(60)),
        case("İ", "İ".repeat(60)),
    ]
}
