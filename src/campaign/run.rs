use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::channel;
use std::thread;

use rayon::{ThreadPool, ThreadPoolBuildError, ThreadPoolBuilder};
use thiserror::Error;

use super::landfall::SimulatorError;
use super::row::Row;
use super::trial::Trial;

/// Why a campaign cannot go on.
#[derive(Debug, Error)]
pub enum CampaignError<E> {
    /// Threads cannot be had.
    #[error("no threads to be had: {0}")]
    Threads(#[from] ThreadPoolBuildError),
    /// A fault of the simulator.
    #[error(transparent)]
    Simulator(#[from] SimulatorError),
    /// Whoever is told cannot go on.
    #[error("{0}")]
    Told(E),
}

/// Makes the landfalls numbered 1 to `landfalls` of a seed, but for those that are there, on so many
/// threads; gives all rows in the order of their numbers.
///
/// - `threads`: nought for as many as the machine has.
/// - `told`: new rows as they come, in order but where it was stopped.
/// - `stop`: once set, no landfall is begun any more, and what is done is given.
///
/// # Errors
/// A fault of the simulator, or what `told` gives.
pub fn run<E>(
    trial: &Trial<'_>,
    seed: u64,
    landfalls: u64,
    before: Vec<Row>,
    threads: usize,
    stop: &AtomicBool,
    mut told: impl FnMut(&Row) -> Result<(), E>,
) -> Result<Vec<Row>, CampaignError<E>> {
    let before: Vec<Row> = before.into_iter().filter(|row| row.landfall <= landfalls).collect();
    let there: BTreeSet<u64> = before.iter().map(|row| row.landfall).collect();
    let open: Vec<u64> = (1..=landfalls).filter(|number| !there.contains(number)).collect();
    let count = if threads == 0 { rayon::current_num_threads() } else { threads };
    // Each its own: a thread that waits for a part of one landfall must not begin another.
    let pools = (0..count)
        .map(|_| ThreadPoolBuilder::new().num_threads(1).build())
        .collect::<Result<Vec<ThreadPool>, _>>()?;
    let next = AtomicUsize::new(0);
    let (sender, made) = channel();
    let mut rows = before;
    let ended = thread::scope(|scope| {
        for pool in &pools {
            let (sender, open, next) = (sender.clone(), &open, &next);
            scope.spawn(move || {
                while !stop.load(Ordering::Relaxed) {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(number) = open.get(at) else { break };
                    let row = pool.install(|| trial.landfall(seed, *number));
                    if sender.send((at, row)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
        take(made.into_iter(), &mut rows, &mut told)
    });
    ended?;
    rows.sort_by_key(|row| row.landfall);
    Ok(rows)
}

/// Takes rows as they come and tells them in order.
fn take<E>(
    made: impl Iterator<Item = (usize, Result<Row, SimulatorError>)>,
    rows: &mut Vec<Row>,
    told: &mut impl FnMut(&Row) -> Result<(), E>,
) -> Result<(), CampaignError<E>> {
    let mut early: BTreeMap<usize, Row> = BTreeMap::new();
    let mut due = 0;
    for (at, row) in made {
        early.insert(at, row?);
        while let Some(row) = early.remove(&due) {
            told(&row).map_err(CampaignError::Told)?;
            rows.push(row);
            due += 1;
        }
    }
    // Stopped: what is done is kept, gaps and all.
    for row in early.into_values() {
        told(&row).map_err(CampaignError::Told)?;
        rows.push(row);
    }
    Ok(())
}
