use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{PoisonError, RwLock};

/// Answers by what was asked, each worked out once, whichever thread asks.
///
/// What is made must follow from the key alone: two threads may make it at the same time, and the
/// first of them is kept.
pub(super) struct Kept<K, V>(RwLock<HashMap<K, V>>);

impl<K, V> Default for Kept<K, V> {
    fn default() -> Self {
        Self(RwLock::default())
    }
}

impl<K: Eq + Hash, V: Clone> Kept<K, V> {
    /// The answer kept, or what `make` makes of it. Nothing is locked meanwhile.
    pub fn get(&self, key: K, make: impl FnOnce() -> V) -> V {
        // A thread that came to grief while it held the lock had only looked.
        let known = self.0.read().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        known.unwrap_or_else(|| {
            let made = make();
            let mut kept = self.0.write().unwrap_or_else(PoisonError::into_inner);
            kept.entry(key).or_insert(made).clone()
        })
    }
}
