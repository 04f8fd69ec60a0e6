//! The engine is one straight flow; no module may use one to its right.
//!
//! The test reads the source as text, so that an arrow pointing the wrong way fails the build of
//! whoever draws it, with the line to mend.

#![allow(clippy::unwrap_used)] // a helper that cannot read the source fails the test

use std::fs;
use std::path::{Path, PathBuf};

/// Each module and how far along the flow it stands. Equal ranks stand side by side and do not
/// use each other.
const FLOW: [(&str, u32); 17] = [
    ("text", 0),
    ("units", 0),
    ("geodesy", 1),
    ("chart", 2),
    ("radar", 3),
    ("paint", 4),
    ("contact", 5),
    ("identity", 6),
    ("fix", 7),
    ("reckon", 8),
    ("watch", 9),
    ("drill", 10),
    ("campaign", 10),
    ("debrief", 10),
    ("screen", 11),
    ("command", 12),
    ("main", 13),
];

fn rank(module: &str) -> Option<u32> {
    FLOW.iter().find(|(name, _)| *name == module).map(|(_, rank)| *rank)
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// The modules of ours that a line of source names: `crate::x`, or several in `crate::{x, y::Z}`.
fn named_modules(line: &str) -> Vec<String> {
    let mut named = Vec::new();
    for (at, _) in line.match_indices("crate::") {
        let rest = &line[at + "crate::".len()..];
        if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 0;
            let mut part = String::new();
            for c in group.chars() {
                match c {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => named.push(std::mem::take(&mut part)),
                    _ if depth == 0 => part.push(c),
                    _ => {}
                }
            }
            named.push(part);
        } else {
            named.push(rest.to_owned());
        }
    }
    named
        .iter()
        .map(|path| path.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect())
        .filter(|name: &String| !name.is_empty())
        .collect()
}

/// Joins `use` declarations that rustfmt has spread over lines; other lines stay as they are.
fn statements(source: &str) -> Vec<(usize, String)> {
    let mut joined: Vec<(usize, String)> = Vec::new();
    let mut open = false;
    for (number, line) in source.lines().enumerate() {
        let code = line.split("//").next().unwrap_or_default();
        match joined.last_mut() {
            Some((_, text)) if open => text.push_str(code.trim()),
            _ => joined.push((number + 1, code.to_owned())),
        }
        if let Some((_, text)) = joined.last() {
            let text = text.trim_start();
            let declares = text.starts_with("use ") || text.starts_with("pub use ");
            open = declares && !text.contains(';');
        }
    }
    joined
}

#[test]
fn every_arrow_points_left() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    let mut arrows = 0;
    let mut wrong = Vec::new();
    for path in &files {
        let inside = path.strip_prefix(&src).unwrap();
        let module = inside.iter().next().unwrap().to_str().unwrap().trim_end_matches(".rs");
        if module == "lib" {
            continue;
        }
        let own = rank(module).unwrap_or_else(|| panic!("src/{module} has no place in the flow"));
        for (line, text) in statements(&fs::read_to_string(path).unwrap()) {
            for named in named_modules(&text).iter().filter(|named| *named != module) {
                let Some(other) = rank(named) else { continue };
                arrows += 1;
                if other >= own {
                    wrong.push(format!("src/{}:{line}: {module} uses {named}", inside.display()));
                }
            }
        }
    }
    assert!(arrows > 10, "the test no longer sees the arrows");
    assert!(wrong.is_empty(), "arrows that point to the right:\n{}", wrong.join("\n"));
}

#[test]
fn the_engine_knows_no_terminal() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&src, &mut files);
    let mut wrong = Vec::new();
    for path in &files {
        let inside = path.strip_prefix(&src).unwrap();
        let module = inside.iter().next().unwrap().to_str().unwrap();
        if ["screen", "command", "main.rs"].contains(&module) {
            continue;
        }
        let source = fs::read_to_string(path).unwrap();
        // Unit tests stand at the foot of a file, and may print their seeds.
        let engine = source.split("#[cfg(test)]").next().unwrap_or_default();
        for (line, text) in statements(engine) {
            for terminal in ["ratatui", "crossterm", "println!", "eprintln!", "std::io::stdout"] {
                if text.contains(terminal) {
                    wrong.push(format!("src/{}:{line}: {terminal}", inside.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "the engine reaches for a terminal:\n{}", wrong.join("\n"));
}

#[test]
fn the_simulator_uses_nothing_of_what_it_is_to_check() {
    // What is drawn of the truth, the picture and the readings; not what is asked of the engine with it.
    const SIMULATOR: [&str; 10] = [
        "case", "coast", "features", "operator", "picture", "random", "relief", "score", "shore",
        "trace",
    ];
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/campaign");
    for file in SIMULATOR {
        let source = fs::read_to_string(src.join(file).with_extension("rs")).unwrap();
        for (line, text) in statements(&source) {
            for named in named_modules(&text) {
                let own =
                    ["campaign", "chart", "geodesy", "radar", "units"].contains(&named.as_str());
                assert!(own, "src/campaign/{file}.rs:{line}: uses {named}");
            }
        }
    }
}

#[test]
fn the_reader_of_arrows_sees_them() {
    assert_eq!(named_modules("use crate::chart::Chart;"), ["chart"]);
    assert_eq!(
        named_modules("use crate::{chart::{Chart, Mark}, units::Height};"),
        ["chart", "units"]
    );
    let spread = statements("use crate::{\n    fix::Fix,\n    units::Angle,\n};\nlet x = 1;");
    assert_eq!(spread.len(), 2);
    assert_eq!(named_modules(&spread[0].1), ["fix", "units"]);
}
