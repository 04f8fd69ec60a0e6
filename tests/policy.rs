//! What the program is built from is held to `.deny.toml`; the manifest, to the compiler it names.
#![allow(clippy::unwrap_used)] // a test helper may fail the test

use std::collections::BTreeSet;
use std::process::Command;

fn table(text: &str) -> toml::Table {
    text.parse().unwrap()
}

fn words(table: &toml::Table, section: &str, key: &str) -> BTreeSet<String> {
    let words = table[section][key].as_array().unwrap();
    words.iter().map(|word| word.as_str().unwrap().to_owned()).collect()
}

fn policy() -> toml::Table {
    table(include_str!("../.deny.toml"))
}

/// Whether a licence expression can be met by what is allowed. `/` is the older way to write OR.
fn is_met(expression: &str, allowed: &BTreeSet<String>) -> bool {
    let text = expression.replace('/', " OR ");
    let outer = split(&text, " OR ");
    if outer.len() > 1 {
        return outer.iter().any(|part| is_met(part, allowed));
    }
    let inner = split(&text, " AND ");
    if inner.len() > 1 {
        return inner.iter().all(|part| is_met(part, allowed));
    }
    let text = text.trim();
    match text.strip_prefix('(').and_then(|text| text.strip_suffix(')')) {
        Some(inside) => is_met(inside, allowed),
        None => allowed.contains(text),
    }
}

/// Parts between a word, but not inside brackets.
fn split<'a>(text: &'a str, word: &str) -> Vec<&'a str> {
    let (mut depth, mut from, mut parts) = (0_i32, 0, Vec::new());
    for (at, letter) in text.char_indices() {
        match letter {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ if depth == 0 && at >= from && text[at..].starts_with(word) => {
                parts.push(&text[from..at]);
                from = at + word.len();
            }
            _ => {}
        }
    }
    parts.push(&text[from..]);
    parts
}

#[test]
fn licence_expressions_are_read() {
    let allowed = ["MIT".to_owned(), "Zlib".to_owned()].into();
    for (expression, met) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT", true),
        ("GPL-3.0-only/MIT", true),
        ("GPL-3.0-only AND MIT", false),
        ("(GPL-3.0-only OR Zlib) AND MIT", true),
        ("(GPL-3.0-only AND Zlib) OR (GPL-3.0-only AND MIT)", false),
        ("", false),
    ] {
        assert_eq!(is_met(expression, &allowed), met, "{expression}");
    }
}

/// Of everything that is built for this machine, tests and tools of the build too.
#[test]
fn every_crate_has_a_licence_that_is_allowed() {
    let done = Command::new(env!("CARGO"))
        .args(["tree", "--locked", "--offline", "--edges", "normal,build,dev"])
        .args(["--prefix", "none", "--format", "{p}|{l}"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let allowed = words(&policy(), "licenses", "allow");
    let text = String::from_utf8(done.stdout).unwrap();
    let told: BTreeSet<&str> = text.lines().map(|line| line.trim_end_matches(" (*)")).collect();
    let unmet: Vec<&&str> =
        told.iter().filter(|line| !is_met(line.rsplit('|').next().unwrap(), &allowed)).collect();
    assert!(told.len() > 100, "{}", told.len());
    assert!(unmet.is_empty(), "not allowed by .deny.toml: {unmet:?}");
}

#[test]
fn every_crate_is_from_the_one_registry_and_none_speaks_to_a_network() {
    let lock = table(include_str!("../Cargo.lock"));
    let (policy, packages) = (policy(), lock["package"].as_array().unwrap());
    let (banned, from) =
        (words(&policy, "bans", "deny"), words(&policy, "sources", "allow-registry"));
    for package in packages {
        let name = package["name"].as_str().unwrap();
        assert!(!banned.contains(name), "{name} is banned by .deny.toml");
        let Some(source) = package.get("source").and_then(toml::Value::as_str) else {
            assert_eq!(name, "foreland", "{name} is from nowhere");
            continue;
        };
        let registry = source.strip_prefix("registry+").unwrap_or_default();
        assert!(from.contains(registry), "{name} is from {source}");
    }
}

/// The oldest compiler that the manifest promises is the one that the documents name. The merge check is
/// run with it.
#[test]
fn the_oldest_compiler_is_told_alike_everywhere() {
    let manifest = table(include_str!("../Cargo.toml"));
    let oldest = manifest["package"]["rust-version"].as_str().unwrap();
    for (name, text) in
        [("README", include_str!("../README.md")), ("DEVELOPERS", include_str!("../DEVELOPERS.md"))]
    {
        assert!(text.contains(oldest), "{name} does not name Rust {oldest}");
    }
    let lints = &manifest["lints"]["rust"];
    assert_eq!(lints["unsafe_code"].as_str(), Some("forbid"));
}
