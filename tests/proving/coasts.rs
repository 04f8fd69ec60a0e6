//! The coasts that landfalls are made on: some to fit the estimator on, some to check it on.

use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock, OnceLock};

use foreland::chart::Chart;

use super::made;

/// What a coast is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Figures of the estimator may be chosen by it.
    Fit,
    /// It only tells how those figures do elsewhere.
    Check,
    /// Made up, for what no real coast has.
    Made,
    /// Given by the user.
    Given,
}

impl Group {
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fit => "fit",
            Self::Check => "check",
            Self::Made => "made",
            Self::Given => "given",
        }
    }

    /// The group of a word.
    pub fn of(word: &str) -> Option<Self> {
        let all = [Self::Fit, Self::Check, Self::Made, Self::Given];
        all.into_iter().find(|group| group.as_str() == word)
    }
}

/// A coast of the campaign, with what it is for.
pub struct Coast {
    pub group: Group,
    on: foreland::campaign::Coast,
}

impl Deref for Coast {
    type Target = foreland::campaign::Coast;

    fn deref(&self) -> &Self::Target {
        &self.on
    }
}

impl Coast {
    fn of(name: &str, group: Group, chart: Chart, charted: Option<[f64; 4]>) -> Self {
        Self { group, on: foreland::campaign::Coast::of(name, Arc::new(chart), charted) }
    }
}

/// Where a coast is read from.
struct Source {
    name: &'static str,
    group: Group,
    /// `None` where all the land there is stands on the chart.
    charted: Option<[f64; 4]>,
}

const fn source(name: &'static str, group: Group, charted: Option<[f64; 4]>) -> Source {
    Source { name, group, charted }
}

/// The order is part of the seed: new coasts go to the end.
const SOURCES: [Source; 14] = [
    source("sample", Group::Fit, None),
    source("tasmania", Group::Fit, Some([143.5, -44.2, 149.0, -39.0])),
    source("brittany", Group::Fit, Some([-8.0, 46.5, 0.5, 52.0])),
    source("aegean", Group::Fit, Some([22.0, 34.5, 29.0, 41.0])),
    source("hokkaido", Group::Fit, Some([138.5, 39.0, 146.5, 46.0])),
    source("iceland", Group::Check, Some([-26.0, 62.5, -12.0, 67.5])),
    source("galicia", Group::Check, Some([-11.0, 40.5, -4.0, 45.0])),
    source("nova-scotia", Group::Check, Some([-68.0, 42.0, -58.0, 48.0])),
    source("south-island", Group::Check, Some([165.0, -48.5, 175.5, -40.0])),
    source("hebrides", Group::Check, Some([-9.5, 54.0, -3.5, 60.0])),
    // Not so near the ends of the saw that these would tell one tooth from another.
    source("sawtooth", Group::Made, Some([-30.0, -2.0, -10.0, 2.0])),
    source("ragged", Group::Made, None),
    source("ragged-date-line", Group::Made, None),
    source("ragged-pole", Group::Made, None),
];

/// Every coast, each opened when it is first asked for.
static OPENED: [OnceLock<Coast>; SOURCES.len()] = [const { OnceLock::new() }; SOURCES.len()];

/// Folders of charts that were given by other ways than the environment.
static FOLDERS: OnceLock<Vec<PathBuf>> = OnceLock::new();

/// Those charts, and those named by `FORELAND_PROVING`, folders with colons between.
static GIVEN: LazyLock<Vec<Coast>> = LazyLock::new(|| {
    let named = std::env::var("FORELAND_PROVING").unwrap_or_default();
    let named = named.split(':').filter(|folder| !folder.is_empty()).map(PathBuf::from);
    let folders = FOLDERS.get().cloned().unwrap_or_default();
    folders.into_iter().chain(named).map(|folder| given(&folder)).collect()
});

/// Adds charts by their folders: once, and before any coast is asked for.
pub fn give(folders: &[PathBuf]) {
    FOLDERS.set(folders.to_vec()).unwrap();
}

/// Whether any chart was given.
pub fn are_given() -> bool {
    !GIVEN.is_empty()
}

/// The names of all coasts, in the order of their numbers.
pub fn names() -> Vec<(String, Group)> {
    let own = SOURCES.iter().map(|source| (source.name.to_owned(), source.group));
    own.chain(GIVEN.iter().map(|coast| (coast.name.clone(), coast.group))).collect()
}

/// A coast by its number. To be asked for first outside parallel work: opening is parallel itself.
pub fn coast(number: usize) -> &'static Coast {
    match OPENED.get(number) {
        Some(coast) => coast.get_or_init(|| open(number)),
        None => &GIVEN[number - SOURCES.len()],
    }
}

fn tests() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference")
}

fn open(number: usize) -> Coast {
    let source = &SOURCES[number];
    let chart = match source.name {
        "sample" => Chart::sample().unwrap(),
        "sawtooth" => made::sawtooth(),
        "ragged" => made::ragged(45.0, 20.0),
        "ragged-date-line" => made::ragged(45.0, 180.0),
        "ragged-pole" => made::ragged(88.6, 20.0),
        "tasmania" => Chart::open(&[tests().join("natural-earth-clip")]).unwrap(),
        name => {
            let file = tests().join("natural-earth-coasts").join(format!("{name}.shp"));
            Chart::from_files(name, &[("coast.shp", &std::fs::read(file).unwrap())]).unwrap()
        }
    };
    Coast::of(source.name, source.group, chart, source.charted)
}

fn given(folder: &Path) -> Coast {
    let chart = Chart::open(&[folder.to_path_buf()]).unwrap();
    // Commas and strokes would break the row that it is told in.
    let plain = |c: char| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name = folder.canonicalize().ok().and_then(|whole| {
        Some(whole.file_name()?.to_string_lossy().chars().map(plain).collect::<String>())
    });
    let name = name.unwrap_or_else(|| "given".to_owned());
    Coast::of(&name, Group::Given, chart, None)
}
