//! Echoes that no chart explains.

use super::super::sitting::{Sitting, estimate};
use crate::watch::Echo;

/// Those that the watch keeps, and those that any fix accepted left out.
pub(super) fn echoes(sitting: &Sitting) -> Vec<Echo> {
    let mut told = sitting.watch.echoes().to_vec();
    for fix in &sitting.fixes {
        for echo in &fix.entry.echoes {
            let Some(place) = estimate(&echo.place) else { continue };
            if told.iter().any(|told| told.label == echo.contact) {
                continue;
            }
            told.push(Echo {
                label: echo.contact.clone(),
                name: None,
                time: fix.entry.time,
                place,
                motion: None,
                sights: 1,
                mark: None,
            });
        }
    }
    told.sort_by(|a, b| a.time.cmp(&b.time).then_with(|| a.label.cmp(&b.label)));
    told
}
