//! Heights that are read when they are asked for, and let go again: of all tiles of a chart together
//! no more are held than a limit.
//!
//! - A tile is read by whoever first asks for it; who asks meanwhile waits for that one reading.
//! - Room is made before a tile is read: those asked for least lately are let go until it fits. Where
//!   all that is held is still being read, its reader waits for one of them.
//! - Whoever has read a tile has his answer out of it before any other may let it go, so that nobody reads
//!   one tile over and over for one question, however tight the limit.
//! - An answer is taken under a lock of the asker's own thread (one of `PLACES` for each tile), so that threads
//!   do not wait for each other: some ten nanoseconds a question. What answers must ask for
//!   no other height and start no parallel work: the tile could then not be let go.

use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError, RwLock};

use super::tile::{Facts, Tile};
use super::tile_file::TileFile;
use crate::chart::error::ChartError;

/// Heights in memory are no more than this, in bytes. Files with less are read whole when the chart is
/// opened; of files with more each is read when its heights are first asked for, and those asked for least
/// lately are let go.
pub const HEIGHTS_LIMIT: u64 = 256 << 20;

/// The locks of a tile: threads up to this number have one each.
const PLACES: usize = 16;

/// How much of the heights of a chart's files is held in memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// Bytes of heights held now, those being read among them.
    pub bytes: u64,
    /// The most there ever were.
    pub most: u64,
    /// There are never more.
    pub limit: u64,
    /// How many times a tile has been read.
    pub reads: u64,
}

/// What the tiles of a chart share.
#[derive(Debug)]
pub(in crate::chart) struct Cache {
    limit: u64,
    /// The largest tile that by itself goes beyond the limit, in bytes; it has room beside the rest.
    larger: AtomicU64,
    reads: AtomicU64,
    shelves: Mutex<Shelves>,
    /// Told when a tile has been read, or could not be.
    done: Condvar,
}

#[derive(Default)]
struct Shelves {
    bytes: u64,
    most: u64,
    full: Vec<Arc<Shelf>>,
}

impl std::fmt::Debug for Shelves {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shelves").field("bytes", &self.bytes).finish_non_exhaustive()
    }
}

/// Where a tile is while it is held, once for each thread.
struct Shelf {
    places: [Place; PLACES],
    bytes: u64,
    /// When it was last asked: twice the number of tiles read by then, one less where only for it to be
    /// read. So who asks a held tile need write nothing until the next is read.
    asked: AtomicU64,
}

/// On a line of memory of its own.
#[derive(Default)]
#[repr(align(64))]
struct Place(RwLock<Option<Arc<Tile>>>);

impl Place {
    fn put(&self, tile: Option<Arc<Tile>>) {
        *self.0.write().unwrap_or_else(PoisonError::into_inner) = tile;
    }
}

impl Shelf {
    fn answer<R>(&self, ask: &impl Fn(&Tile) -> R) -> Option<R> {
        let place = self.places.get(own_place())?;
        let held = place.0.read().unwrap_or_else(PoisonError::into_inner);
        held.as_deref().map(ask)
    }

    fn fill(&self, tile: Tile) {
        let tile = Arc::new(tile);
        for place in &self.places {
            place.put(Some(Arc::clone(&tile)));
        }
    }

    fn empty(&self) {
        for place in &self.places {
            place.put(None);
        }
    }
}

/// The place of the thread that asks.
fn own_place() -> usize {
    static THREADS: AtomicUsize = AtomicUsize::new(0);
    thread_local! {
        static PLACE: usize = THREADS.fetch_add(1, Ordering::Relaxed) % PLACES;
    }
    PLACE.with(|place| *place)
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Cache {
    pub(in crate::chart) fn new(limit: u64) -> Self {
        Self {
            limit,
            larger: AtomicU64::new(0),
            reads: AtomicU64::new(0),
            shelves: Mutex::default(),
            done: Condvar::new(),
        }
    }

    pub(super) fn held(&self) -> Held {
        let shelves = locked(&self.shelves);
        let reads = self.reads.load(Ordering::Relaxed);
        Held { bytes: shelves.bytes, most: shelves.most, limit: self.capacity(), reads }
    }

    fn capacity(&self) -> u64 {
        self.limit.saturating_add(self.larger.load(Ordering::Relaxed))
    }

    /// Room for a tile about to be read.
    fn room(&self, bytes: u64) -> Room<'_> {
        let mut shelves = locked(&self.shelves);
        while shelves.bytes.saturating_add(bytes) > self.capacity() {
            let asked = |(_, shelf): &(usize, &Arc<Shelf>)| shelf.asked.load(Ordering::Relaxed);
            match shelves.full.iter().enumerate().min_by_key(asked).map(|(place, _)| place) {
                Some(place) => {
                    let shelf = shelves.full.swap_remove(place);
                    shelf.empty();
                    shelves.bytes = shelves.bytes.saturating_sub(shelf.bytes);
                }
                None => {
                    shelves = self.done.wait(shelves).unwrap_or_else(PoisonError::into_inner);
                }
            }
        }
        shelves.bytes += bytes;
        shelves.most = shelves.most.max(shelves.bytes);
        self.reads.fetch_add(1, Ordering::Relaxed);
        Room { cache: self, bytes }
    }
}

/// Room taken for a tile; given back unless it is filled.
struct Room<'a> {
    cache: &'a Cache,
    bytes: u64,
}

impl Room<'_> {
    fn fill(mut self, shelf: &Arc<Shelf>, tile: Tile) {
        let mut shelves = locked(&self.cache.shelves);
        shelf.fill(tile);
        shelves.full.push(Arc::clone(shelf));
        self.bytes = 0;
    }
}

impl Drop for Room<'_> {
    fn drop(&mut self) {
        let mut shelves = locked(&self.cache.shelves);
        shelves.bytes = shelves.bytes.saturating_sub(self.bytes);
        drop(shelves);
        self.cache.done.notify_all();
    }
}

/// The heights of a file that are read when they are asked for.
pub(super) struct Fetched {
    file: TileFile,
    cache: Arc<Cache>,
    shelf: Arc<Shelf>,
    /// Held while the file is read.
    reading: Mutex<()>,
    /// Why the file is not read again.
    fault: OnceLock<ChartError>,
    facts: OnceLock<Facts>,
}

impl Fetched {
    pub(super) fn new(file: TileFile, cache: &Arc<Cache>, facts: Option<Facts>) -> Self {
        let bytes = file.bytes();
        if bytes > cache.limit {
            cache.larger.fetch_max(bytes, Ordering::Relaxed);
        }
        let shelf = Shelf { places: Default::default(), bytes, asked: AtomicU64::new(0) };
        Self {
            file,
            cache: Arc::clone(cache),
            shelf: Arc::new(shelf),
            reading: Mutex::default(),
            fault: OnceLock::new(),
            facts: facts.map_or_else(OnceLock::new, OnceLock::from),
        }
    }

    /// What is asked of the heights; `None` where the file cannot be read.
    pub(super) fn with<R>(&self, ask: &impl Fn(&Tile) -> R) -> Option<R> {
        let now = 2 * self.cache.reads.load(Ordering::Relaxed);
        if self.shelf.asked.load(Ordering::Relaxed) != now {
            self.shelf.asked.store(now, Ordering::Relaxed);
        }
        self.shelf.answer(ask).or_else(|| self.read(ask))
    }

    #[cold]
    fn read<R>(&self, ask: &impl Fn(&Tile) -> R) -> Option<R> {
        if self.fault.get().is_some() {
            return None;
        }
        let one_reading = locked(&self.reading);
        if self.fault.get().is_some() {
            return None;
        }
        if let Some(answer) = self.shelf.answer(ask) {
            return Some(answer);
        }
        let room = self.cache.room(self.shelf.bytes);
        let answer = match self.file.read() {
            Ok(tile) => {
                self.facts.get_or_init(|| tile.facts());
                let now = 2 * self.cache.reads.load(Ordering::Relaxed);
                self.shelf.asked.store(now.saturating_sub(1), Ordering::Relaxed);
                let answer = ask(&tile);
                room.fill(&self.shelf, tile);
                Some(answer)
            }
            Err(error) => {
                self.fault.get_or_init(|| error);
                None
            }
        };
        drop(one_reading);
        answer
    }

    /// What is known of the heights without reading them.
    pub(super) fn facts(&self) -> Option<Facts> {
        self.facts.get().copied()
    }

    /// Why they cannot be read, as far as it is known.
    pub(super) fn fault(&self) -> Option<&ChartError> {
        self.fault.get()
    }

    pub(super) fn cache(&self) -> &Arc<Cache> {
        &self.cache
    }
}
