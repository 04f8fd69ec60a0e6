//! How much of a coast is looked through for marks, and how.

use rayon::prelude::*;

use super::space::{Space, position};
use crate::chart::geobox::GeoBox;
use crate::chart::ground::Ground;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// Beyond this many points marks are sought about one place, or only with the coarse discs.
pub(in crate::chart) const MANY_POINTS: usize = 200_000;
/// Beyond this many, not at all unless about one place.
const TOO_MANY_POINTS: usize = 3_000_000;
/// The same as [`MANY_POINTS`] by the length of the shore, in metres.
const LONG_M: f64 = 6e8;
/// A sea-coast of the whole Earth has some 1.6 million kilometres at the finest common scale
/// (second-hand): what is longer than this is no coast, and to go along it would have no end.
const TOO_LONG_M: f64 = 4e9;

/// How far about the area asked for the shore is sampled, in nautical miles: a headland's persistence
/// is settled by the bays beside it.
const SAMPLED_NM: f64 = 60.0;
/// Lines reach into a sample's disc from no farther beyond that.
const DISC_NM: f64 = 8.0;

/// The heights of marks are asked for in batches of no more tiles of one degree than this: what the
/// ground keeps of a tile takes some megabytes.
const BATCH_TILES: usize = 40;

/// Where marks are asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::chart) enum Scope {
    /// Nothing is known of that: all of a small coast, less of a large one.
    Usual,
    /// In this area at least; a coast of up to so many points all over.
    Within(GeoBox, usize),
    /// All over, however long it takes.
    Everywhere,
}

/// How much shore there is to go along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Length {
    pub(super) points: usize,
    pub(super) metres: f64,
}

/// What is done for a scope on a coast of some size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Effort {
    All,
    /// All, and what the ground keeps on the way is dropped again and again.
    InBatches,
    Within(GeoBox),
    Coarse,
    None,
    /// None: what is longer than the shore of the Earth is no coast.
    NoCoast,
}

impl Scope {
    pub(super) fn effort(&self, shore: Length) -> Effort {
        if shore.metres > TOO_LONG_M {
            return Effort::NoCoast;
        }
        let most = match self {
            Self::Within(_, most) => *most,
            Self::Usual | Self::Everywhere => MANY_POINTS,
        };
        let is_small = shore.points <= most && shore.metres <= LONG_M;
        match self {
            _ if is_small => Effort::All,
            Self::Everywhere => Effort::InBatches,
            Self::Within(area, _) => Effort::Within(*area),
            Self::Usual if shore.points <= TOO_MANY_POINTS => Effort::Coarse,
            Self::Usual => Effort::None,
        }
    }
}

impl Effort {
    /// Where marks are asked for; none for all over.
    pub(super) fn asked(&self) -> Option<&GeoBox> {
        if let Self::Within(area) = self { Some(area) } else { None }
    }

    /// Where the shore is sampled; none for all over.
    pub(super) fn sampled(&self) -> Option<GeoBox> {
        self.grown(SAMPLED_NM)
    }

    /// Where lines are taken from.
    pub(super) fn lines(&self) -> Option<GeoBox> {
        self.grown(SAMPLED_NM + DISC_NM)
    }

    fn grown(&self, miles: f64) -> Option<GeoBox> {
        let Self::Within(area) = self else { return None };
        Some(area.grown(GroundRange::clamped_metres(miles * METRES_PER_NAUTICAL_MILE)))
    }
}

/// One answer for each item, in their order, on all cores. `in_parts`: tile by tile, the ground
/// forgetting in between what it keeps of them.
pub(super) fn in_batches<T: Sync, F: Send>(
    items: &[T],
    place: impl Fn(&T) -> Space,
    in_parts: bool,
    ground: &mut Ground,
    answer: impl Fn(&T, &Ground) -> F + Sync,
) -> Vec<F> {
    if !in_parts {
        let ground = &*ground;
        return items.par_iter().map(|item| answer(item, ground)).collect();
    }
    let tile = |item: &T| {
        let at = position(place(item));
        (at.latitude().floor() as i32, at.longitude().floor() as i32)
    };
    let mut order: Vec<((i32, i32), usize)> =
        items.iter().enumerate().map(|(i, item)| (tile(item), i)).collect();
    order.sort_unstable();
    let tiles: Vec<&[((i32, i32), usize)]> = order.chunk_by(|a, b| a.0 == b.0).collect();
    let mut answers: Vec<(usize, F)> = Vec::with_capacity(items.len());
    for batch in tiles.chunks(BATCH_TILES) {
        let here = &*ground;
        let numbers: Vec<usize> = batch.iter().flat_map(|tile| tile.iter().map(|t| t.1)).collect();
        let found = numbers.par_iter().filter_map(|i| Some((*i, answer(items.get(*i)?, here))));
        answers.par_extend(found);
        ground.forget();
    }
    answers.sort_by_key(|(i, _)| *i);
    answers.into_iter().map(|(_, answer)| answer).collect()
}
