//! The command line: one file a command, text and JSON reports, exit codes.
//!
//! A command turns its arguments into checked values, asks the engine, and hands the answer on as
//! a whole text; it computes no navigation. Exit status: 0 done; 1 a fault of the program; 2 bad
//! input, named with what would be right; for `fix` also 3 ambiguous, 4 too few contacts, 5
//! contacts at odds with each other.
//!
//! What an answer looks like is in [`report`]: text to read, JSON for scripts.

mod approach;
mod campaign;
mod chart;
mod common;
mod completions;
mod debrief;
mod drill;
mod expect;
mod failure;
mod figures;
mod fix;
mod index_place;
mod landfall;
mod look;
mod manual;
mod picture;
mod progress;
mod reckon;
pub mod report;
mod set;
mod shown;
mod watch;
mod weather;

use clap::{Parser, Subcommand};

pub use common::{CAUTION, Common, Format, read_text};
pub use failure::{Done, Failure};
pub use index_place::index_places;

/// Radar landfall: which coast should paint, which headland an echo is, and where that puts you.
#[derive(Debug, Parser)]
#[command(name = "foreland", version, about, long_about = None, after_help = CAUTION)]
pub struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

/// What can be asked.
#[derive(Debug, Subcommand)]
enum Command {
    /// What a chart folder holds: check it, list its marks
    Chart(chart::ChartArgs),
    /// What should paint from one place and height
    Expect(expect::ExpectArgs),
    /// The built-in radar sets, and files of one's own
    Set(set::SetArgs),
    /// Along a planned track: which marks first paint, when, in what order, and what will mislead
    Approach(approach::ApproachArgs),
    /// The landfall of a plan tried many times on your own chart: how often it is fixed, how often wrongly
    Campaign(campaign::CampaignArgs),
    /// Sightings in, position and error ellipse out
    Fix(fix::FixArgs),
    /// Legs, winds or currents in; dead-reckoned positions and their growing uncertainty out
    Reckon(reckon::ReckonArgs),
    /// The display, and the log it keeps
    Watch(watch::WatchArgs),
    /// After the sortie: a watch log in; its account, the smoothed track and exports out
    Debrief(debrief::DebriefArgs),
    /// Training: an unseen landfall to solve, then a score
    Drill(drill::DrillArgs),
    /// What a shell needs to complete a command line
    Completions(completions::CompletionsArgs),
    /// The manual as man pages
    Manual(manual::ManualArgs),
}

/// Runs what was asked and returns how it ended.
///
/// # Errors
/// Bad input (exit 2) or a fault of the program (exit 1).
pub fn run(cli: &Cli) -> Result<Done, Failure> {
    match &cli.command {
        None if std::io::IsTerminal::is_terminal(&std::io::stdout()) => watch::run_sample(),
        None => landfall::run(),
        Some(Command::Chart(args)) => chart::run(args),
        Some(Command::Expect(args)) => expect::run(args),
        Some(Command::Set(args)) => set::run(args),
        Some(Command::Approach(args)) => approach::run(args),
        Some(Command::Campaign(args)) => campaign::run(args),
        Some(Command::Fix(args)) => fix::run(args),
        Some(Command::Reckon(args)) => reckon::run(args),
        Some(Command::Watch(args)) => watch::run(args),
        Some(Command::Debrief(args)) => debrief::run(args),
        Some(Command::Drill(args)) => drill::run(args),
        Some(Command::Completions(args)) => completions::run(args),
        Some(Command::Manual(args)) => manual::run(args),
    }
}
