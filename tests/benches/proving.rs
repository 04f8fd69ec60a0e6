//! The proving ground's campaign: thousands of simulated landfalls, solved and counted.
//!
//! `cargo bench --bench proving -- --n 20000`; what is simulated, and what came of it, stands in
//! `docs/accuracy.md`.

#![allow(clippy::unwrap_used, clippy::panic)] // a campaign that cannot go on has failed

#[path = "../proving/mod.rs"]
mod proving;

use std::path::PathBuf;
use std::time::Instant;

use clap::Parser;

use proving::campaign::{Campaign, cases_of, coasts_of, one};
use proving::coasts;
use proving::score::{Row, solve};
use proving::stress;
use proving::tables::tables;

/// Simulated landfalls on real coasts, solved and counted.
#[derive(Parser)]
struct Args {
    /// Landfalls in all, shared evenly among conditions and coasts
    #[arg(long, default_value_t = 20_000)]
    n: usize,
    /// Of every draw
    #[arg(long, default_value_t = 20_310_309)]
    seed: u64,
    /// fit, check, given, all, or names of coasts with commas between
    #[arg(long, default_value = "all")]
    coasts: String,
    /// design, wider, stress, all, or names of conditions with commas between
    #[arg(long, default_value = "all")]
    only: String,
    /// One row a landfall
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Shows one landfall and its answer: CONDITION/COAST/NUMBER
    #[arg(long, value_name = "ID")]
    one: Option<String>,
    /// Runs what must be refused in place of the campaign: so many landfalls each
    #[arg(long, value_name = "N")]
    stress: Option<usize>,
    /// Given by cargo
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() {
    let args = Args::parse();
    if let Some(id) = &args.one {
        return show(args.seed, id);
    }
    if let Some(landfalls) = args.stress {
        println!("seed {}", args.seed);
        return print!("{}", stress::tables(args.seed, landfalls));
    }
    let campaign = Campaign {
        seed: args.seed,
        landfalls: args.n,
        cases: cases_of(&args.only),
        coasts: coasts_of(&args.coasts),
    };
    let start = Instant::now();
    let rows = campaign.run();
    println!(
        "seed {}, {} landfalls of {} conditions on {} coasts in {:.0} s",
        args.seed,
        rows.len(),
        campaign.cases.len(),
        campaign.coasts.len(),
        start.elapsed().as_secs_f64()
    );
    print!("{}", tables(&rows));
    if let Some(file) = args.csv {
        let lines = std::iter::once(Row::COLUMNS.to_owned()).chain(rows.iter().map(Row::csv));
        let text: String = lines.map(|line| line + "\n").collect();
        std::fs::write(file, text).unwrap();
    }
}

/// The sightings of one landfall, its truth in the comments, and what is made of it.
fn show(seed: u64, id: &str) {
    let parts: Vec<&str> = id.split('/').collect();
    let [case, coast, number] = parts.as_slice() else { panic!("CONDITION/COAST/NUMBER") };
    let cases = proving::case::all();
    let case = cases.iter().find(|(_, known)| known.name == *case).unwrap();
    let coast = coasts_of(coast)[0];
    let landfall = one(seed, case, coast, number.parse().unwrap()).unwrap();
    println!("{}", landfall.text);
    let Some(found) = solve(coasts::coast(coast), &landfall) else {
        return println!("# broke down");
    };
    println!("# truth at the end: {}", landfall.truth);
    println!(
        "# {}, probability {:?}, none {:.6}",
        found.verdict.as_str(),
        found.probability,
        found.none_of_these
    );
    if let Some(position) = found.position {
        println!("# fix: {position}");
    }
    for identity in &found.identities {
        println!("#   {} is {} ({:.4})", identity.contact, identity.mark, identity.probability);
    }
    for rival in &found.rivals {
        println!("# rival {:.6} at {}", rival.probability, rival.estimate.position);
    }
    for caution in &found.cautions {
        println!("# {caution}");
    }
}
