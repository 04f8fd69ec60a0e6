//! What the documents point to is there, and every page of them is found from the list of pages.

#![allow(clippy::unwrap_used)] // a test helper may fail the test

use std::collections::BTreeSet;
use std::fs;
use std::path::{Component, Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn pages_in(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            pages_in(&path, found);
        } else if path.extension().is_some_and(|e| e == "md") {
            found.push(path);
        }
    }
}

fn pages() -> Vec<PathBuf> {
    let mut found = vec![root().join("README.md"), root().join("DEVELOPERS.md")];
    pages_in(&root().join("docs"), &mut found);
    found.sort();
    found
}

/// A page without what stands in fences: screens and commands hold no links.
fn prose(text: &str) -> String {
    let fenced = |(at, part): (usize, &str)| (at % 2 == 0).then(|| part.to_owned());
    text.split("```").enumerate().filter_map(fenced).collect()
}

/// What a page links to within the project: the file, and the heading after `#`.
fn links(page: &Path) -> Vec<(PathBuf, String)> {
    let text = prose(&fs::read_to_string(page).unwrap());
    let targets = text.split("](").skip(1).filter_map(|rest| rest.split([')', ' ']).next());
    targets
        .filter(|target| !target.contains("://"))
        .map(|target| {
            let (file, heading) = target.split_once('#').unwrap_or((target, ""));
            let folder = page.parent().unwrap();
            let to = if file.is_empty() { page.to_owned() } else { plain(&folder.join(file)) };
            (to, heading.to_owned())
        })
        .collect()
}

/// A path without its `..`.
fn plain(path: &Path) -> PathBuf {
    let mut found = PathBuf::new();
    for part in path.components() {
        if part == Component::ParentDir {
            found.pop();
        } else {
            found.push(part);
        }
    }
    found
}

/// The names by which a page's headings are linked to: lower case, hyphens for blanks, no signs.
fn headings(page: &Path) -> BTreeSet<String> {
    let text = prose(&fs::read_to_string(page).unwrap());
    let heads = text.lines().filter(|line| line.starts_with('#'));
    heads
        .map(|line| {
            let words = line.trim_start_matches('#').trim().to_lowercase();
            let kept = words.chars().filter(|c| c.is_alphanumeric() || "-_ ".contains(*c));
            kept.map(|c| if c == ' ' { '-' } else { c }).collect()
        })
        .collect()
}

#[test]
fn every_link_leads_somewhere() {
    let mut seen = 0;
    let mut dead = Vec::new();
    for page in pages() {
        for (to, heading) in links(&page) {
            seen += 1;
            let is_there = to.exists() && (heading.is_empty() || headings(&to).contains(&heading));
            if !is_there {
                let page = page.strip_prefix(root()).unwrap().display();
                dead.push(format!("{page}: {}#{heading}", to.display()));
            }
        }
    }
    assert!(seen > 50, "the test no longer sees the links: {seen}");
    assert!(dead.is_empty(), "links that lead nowhere:\n{}", dead.join("\n"));
}

#[test]
fn every_page_is_on_the_list() {
    let list = root().join("docs/README.md");
    let listed: BTreeSet<PathBuf> = links(&list).into_iter().map(|(to, _)| to).collect();
    let lost: Vec<PathBuf> = pages()
        .into_iter()
        .filter(|page| page.starts_with(root().join("docs")) && *page != list)
        .filter(|page| !listed.contains(page))
        .collect();
    assert!(listed.len() > 20 && lost.is_empty(), "not in docs/README.md: {lost:?}");
}

/// Files of the project that stand in the text as code: `src/…`, `tests/…`.
#[test]
fn every_file_that_is_named_is_there() {
    let mut seen = 0;
    for page in pages() {
        let text = prose(&fs::read_to_string(&page).unwrap());
        let named = text.split('`').skip(1).step_by(2);
        let ours = named.filter(|name| {
            ["src/", "tests/", "docs/", "charts-sample", ".ci/"]
                .iter()
                .any(|at| name.starts_with(at))
        });
        // `src/radar/sets/NAME.toml` is a pattern, and a command has blanks.
        for name in ours.filter(|name| !name.contains("NAME") && !name.contains(' ')) {
            seen += 1;
            assert!(root().join(name).exists(), "{}: `{name}` is not there", page.display());
        }
    }
    assert!(seen > 5, "the test no longer sees the names: {seen}");
}

/// The number that an index carries, as the page of its form tells it.
#[test]
fn the_form_of_an_index_is_the_one_told() {
    let source = fs::read_to_string(root().join("src/chart/prepared/format.rs")).unwrap();
    let form = source.split("const FORM: u32 = ").nth(1).unwrap().split(';').next().unwrap();
    let page = fs::read_to_string(root().join("docs/reference/chart-folders.md")).unwrap();
    let told = page.split("; form (").nth(1).unwrap().split(')').next().unwrap();
    assert_eq!(told, form.trim());
}
