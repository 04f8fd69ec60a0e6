//! A large chart's coast and marks, worked out once and kept in a file from which any part is read
//! by itself: the *index* of the chart.
//!
//! It holds the coast in short runs and the marks that its shape gives, each in a packed tree of
//! boxes ([`tree`]); which rings hold each whole degree of latitude and longitude, so that land and
//! sea are known anywhere without the rest of the coast; and what the chart says of itself.
//! Layers of marks, relief and cover and the elevation grids are read from their own files.
//!
//! It is never believed without reason. It names the version of the program and of the form, and
//! the files that it was made from by size and time of change ([`identity`]); every piece read is
//! held against its checksum. What does not fit is a [`Fault`], and the chart is read raw.

mod corners;
mod format;
mod identity;
mod read;
mod told;
mod tree;
mod write;

pub(super) use identity::Identity;
pub use identity::is_chart_file;
pub(super) use read::{Index, Part};
pub use write::Prepared;
pub(super) use write::{Source, write};

use std::path::Path;

use super::bytes::Damage;
use super::shapes::sanitised;

/// Why an index is not used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fault {
    /// There is none.
    Missing,
    /// It cannot be opened.
    Unreadable(String),
    /// It is of another version of the program.
    Version,
    /// The chart has changed since.
    Stale(String),
    /// It is damaged, or no index.
    Damaged(String),
}

impl From<Damage> for Fault {
    fn from(damage: Damage) -> Self {
        Self::Damaged(damage.0)
    }
}

impl Fault {
    /// What an operator must know of it; nothing where there is simply no index.
    pub(super) fn caution(&self, path: &Path) -> Option<String> {
        let why = match self {
            Self::Missing => return None,
            Self::Unreadable(why) => format!("cannot be read ({why})"),
            Self::Version => "was made by another version of the program".to_owned(),
            Self::Stale(what) => format!("is out of date ({what})"),
            Self::Damaged(why) => format!("is damaged ({why})"),
        };
        let (path, why) = (sanitised(&path.display().to_string()), sanitised(&why));
        Some(format!(
            "the chart's index {path} {why}: it is not used and the chart was read whole; \
             `foreland chart prepare` makes it anew"
        ))
    }
}

#[cfg(test)]
mod tests {
    use std::fs::{self, File};
    use std::time::Duration;

    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::format::{Contents, HEAD_BYTES, Head};
    use super::tree::Pieces;
    use super::*;
    use crate::chart::Opening;
    use crate::chart::bytes::Decoder;
    use crate::chart::coast::{Enclosing, StoredRuns};
    use crate::chart::geobox::GeoBox;

    const SEED: u64 = 20_311_127;

    /// The sample's coast and its index.
    fn sample() -> (tempfile::TempDir, std::path::PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let chart = folder.path().join("chart");
        fs::create_dir(&chart).unwrap();
        for ending in ["shp", "prj"] {
            let file = Path::new("charts-sample").join("coast").with_extension(ending);
            fs::copy(file, chart.join("coast").with_extension(ending)).unwrap();
        }
        let index = folder.path().join("index");
        Opening::new(&[chart]).prepare(&index).unwrap();
        (folder, index)
    }

    fn spoilt(random: &mut ChaCha8Rng, sound: &[u8]) -> Vec<u8> {
        let mut bytes = sound.to_vec();
        for _ in 0..random.random_range(1..6) {
            let at = random.random_range(0..bytes.len());
            match random.random_range(0..4) {
                0 => bytes[at] ^= 1 << random.random_range(0..8),
                1 => bytes[at] = [0, 1, 0x7f, 0x80, 0xff][random.random_range(0..5)],
                2 => bytes[at..].iter_mut().take(4).for_each(|byte| *byte = 0xff),
                _ => bytes.truncate(at.max(1)),
            }
        }
        bytes
    }

    /// Behind the checksums, which nobody guesses.
    #[test]
    fn whatever_stands_in_a_piece_is_read_or_refused() {
        println!("seed {SEED}");
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        let (_folder, index) = sample();
        let pieces = Pieces::new(File::open(&index).unwrap()).unwrap();
        let head = Head::read(&pieces.read_at(0, HEAD_BYTES).unwrap()).unwrap();
        let contents = pieces.piece(&head.contents).unwrap();
        let sound = Contents::read(&contents).unwrap();
        let mut leaves = Vec::new();
        let mut keep = |bytes: &[u8]| {
            leaves.push(bytes.to_vec());
            Ok(())
        };
        pieces.leaves(&sound.runs, None, &mut keep).unwrap();
        let mut marks = Vec::new();
        let mut keep = |bytes: &[u8]| {
            marks.push(bytes.to_vec());
            Ok(())
        };
        pieces.leaves(&sound.found, None, &mut keep).unwrap();
        let (mut taken, mut refused) = (0, 0);
        let mut count = |sound: bool| if sound { taken += 1 } else { refused += 1 };
        for _ in 0..4_000 {
            count(Contents::read(&spoilt(&mut random, &contents)).is_ok());
            let leaf = &marks[random.random_range(0..marks.len())];
            let leaf = spoilt(&mut random, leaf);
            let mut input = Decoder::new(&leaf);
            count(std::iter::repeat_with(|| told::read_mark(&mut input)).any(|it| it.is_err()));
            let at = random.random_range(0..leaves.len());
            let mut runs = StoredRuns::default();
            let read = leaves.iter().enumerate().try_for_each(|(number, leaf)| {
                if number == at { runs.read(&spoilt(&mut random, leaf)) } else { runs.read(leaf) }
            });
            let area = GeoBox::new(-39.0, -22.0, -37.0, -20.0);
            let window = random.random::<bool>().then(|| Enclosing { area, corner: vec![(0, 0)] });
            count(read.and_then(|()| runs.coast(sound.facts.clone(), window)).is_ok());
        }
        println!("{taken} taken, {refused} refused");
        assert!(taken > 100 && refused > 1_000, "{taken}, {refused}");
    }

    #[test]
    fn what_was_left_half_written_is_taken_away_after_a_day() {
        let (folder, index) = sample();
        let now = fs::metadata(&index).unwrap().modified().unwrap();
        let left =
            [("an old one", 25, false), ("a young one", 23, true)].map(|(name, hours, stays)| {
                let path = folder.path().join(format!(".index.half-{name}"));
                let changed = now - Duration::from_hours(hours);
                File::create(&path).unwrap().set_modified(changed).unwrap();
                (path, stays)
            });
        Opening::new(&[folder.path().join("chart")]).prepare(&index).unwrap();
        for (path, stays) in left {
            assert_eq!(path.exists(), stays, "{}", path.display());
        }
    }
}
