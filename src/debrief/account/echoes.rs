//! Echoes that no chart explains.

use jiff::Timestamp;

use super::super::sitting::{Sitting, estimate};
use crate::fix::{Estimate, Motion};

/// An echo that no chart explains.
#[derive(Debug, Clone, PartialEq)]
pub struct EchoAccount {
    /// The label of its first sight.
    pub label: String,
    /// What the operator calls it.
    pub name: Option<String>,
    /// When it was last seen.
    pub time: Timestamp,
    /// Where it then was.
    pub place: Estimate,
    /// How it moves, from two sights or more.
    pub motion: Option<Motion>,
    /// How many sights there are.
    pub sights: usize,
}

/// Those that the watch keeps, and those that any fix accepted left out.
pub(super) fn echoes(sitting: &Sitting) -> Vec<EchoAccount> {
    let mut told: Vec<EchoAccount> = sitting
        .watch
        .echoes()
        .into_iter()
        .map(|echo| EchoAccount {
            label: echo.label,
            name: echo.name,
            time: echo.time,
            place: echo.place,
            motion: echo.motion,
            sights: echo.sights,
        })
        .collect();
    for fix in &sitting.fixes {
        for echo in &fix.entry.echoes {
            let Some(place) = estimate(&echo.place) else { continue };
            if told.iter().any(|told| told.label == echo.contact) {
                continue;
            }
            told.push(EchoAccount {
                label: echo.contact.clone(),
                name: None,
                time: fix.entry.time,
                place,
                motion: None,
                sights: 1,
            });
        }
    }
    told.sort_by(|a, b| a.time.cmp(&b.time).then_with(|| a.label.cmp(&b.label)));
    told
}
