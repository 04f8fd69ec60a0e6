//! The proving ground's campaign: thousands of simulated landfalls, solved and counted.
//!
//! `cargo bench --bench proving -- --n 20000`; what is simulated, and what came of it, stands in
//! `docs/accuracy.md`.

#![allow(clippy::unwrap_used, clippy::panic)] // a campaign that cannot go on has failed

#[path = "../proving/mod.rs"]
mod proving;

use std::path::{Path, PathBuf};
use std::time::Instant;

use clap::Parser;

use proving::campaign::{Campaign, cases_of, coasts_of, one, read_ideally};
use proving::ideal::Looks;
use proving::score::{Row, solve};
use proving::stress::{self, TRIALS};
use proving::tables::{is_stress, tables};
use proving::{coasts, rows};

/// Simulated landfalls on real coasts, solved and counted.
#[derive(Parser)]
struct Args {
    /// Landfalls in all, shared among conditions by their parts and evenly among coasts [default:
    /// 20000; none with --stress]
    #[arg(long)]
    n: Option<usize>,
    /// Of every draw
    #[arg(long, default_value_t = 20_310_309)]
    seed: u64,
    /// fit, check, given, all, or names of coasts with commas between [default: all; given with --chart]
    #[arg(long)]
    coasts: Option<String>,
    /// design, wider, stress, all, or names of conditions with commas between [default: all; design
    /// with --chart]
    #[arg(long)]
    only: Option<String>,
    /// A folder of charts of your own to make landfalls on; may be given again
    #[arg(long, value_name = "DIR")]
    chart: Vec<PathBuf>,
    /// Of each condition on each coast, so many landfalls go to an ideal reader as well
    #[arg(long, value_name = "N", default_value_t = 0)]
    ideal: u64,
    /// One row a landfall, written as they come
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Goes on with the file of --csv: what it has is not run again
    #[arg(long, requires = "csv")]
    resume: bool,
    /// The tables of rows kept before: nothing is run
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// Shows one landfall and its answer: CONDITION/COAST/NUMBER
    #[arg(long, value_name = "ID")]
    one: Option<String>,
    /// Runs what must be refused besides: so many landfalls each
    #[arg(long, value_name = "N")]
    stress: Option<usize>,
    /// Given by cargo
    #[arg(long, hide = true)]
    bench: bool,
}

fn main() {
    let args = Args::parse();
    coasts::give(&args.chart);
    if let Some(file) = &args.report {
        return tell(&rows::read(file));
    }
    if let Some(id) = &args.one {
        return show(args.seed, id, args.ideal > 0);
    }
    let start = Instant::now();
    let rows = run(&args);
    println!(
        "seed {}, {} landfalls in {:.0} s",
        args.seed,
        rows.len(),
        start.elapsed().as_secs_f64()
    );
    tell(&rows);
}

/// What must be refused, then the campaign: all rows, those of the file that is gone on with first.
fn run(args: &Args) -> Vec<Row> {
    let mut all = match (&args.csv, args.resume) {
        (Some(file), true) if file.exists() => kept(file, args.seed),
        _ => Vec::new(),
    };
    let mut file = args.csv.as_ref().map(|file| rows::open(file, &all));
    for campaign in campaigns(args) {
        all = campaign.go_on(all, |new| {
            if let Some(file) = &mut file {
                rows::append(file, new);
            }
        });
    }
    all
}

fn campaigns(args: &Args) -> Vec<Campaign> {
    let (cases, on) = if coasts::are_given() && args.coasts.is_none() {
        ("design", "given")
    } else {
        ("all", "all")
    };
    let trials = args
        .stress
        .iter()
        .flat_map(|landfalls| TRIALS.iter().map(|trial| trial.campaign(args.seed, *landfalls)));
    let main = Campaign {
        seed: args.seed,
        landfalls: args.n.unwrap_or(if args.stress.is_some() { 0 } else { 20_000 }),
        cases: cases_of(args.only.as_deref().unwrap_or(cases)),
        coasts: coasts_of(args.coasts.as_deref().unwrap_or(on)),
        ideal: args.ideal,
    };
    trials.chain([main]).collect()
}

/// The rows of a file that was begun with the same seed.
fn kept(file: &Path, seed: u64) -> Vec<Row> {
    let rows = rows::read(file);
    if let Some(row) = rows.iter().find(|row| row.seed != seed) {
        panic!("{} was begun with seed {}: go on with that", file.display(), row.seed);
    }
    rows
}

fn tell(rows: &[Row]) {
    print!("{}", tables(rows));
    if rows.iter().any(is_stress) {
        print!("{}", stress::tables(rows));
    }
}

/// The sightings of one landfall, its truth in the comments, and what is made of it.
fn show(seed: u64, id: &str, ideally: bool) {
    let parts: Vec<&str> = id.split('/').collect();
    let [case, coast, number] = parts.as_slice() else { panic!("CONDITION/COAST/NUMBER") };
    let cases = proving::case::all();
    let case = cases.iter().find(|(_, known)| known.name == *case).unwrap();
    let coast = coasts_of(coast)[0];
    let landfall = one(seed, case, coast, number.parse().unwrap()).unwrap();
    println!("{}", landfall.text);
    let found = solve(coasts::coast(coast), &landfall, case.1.assurance);
    println!("# truth at the end: {}", landfall.truth);
    if ideally && let Some(looks) = Looks::new(coasts::coast(coast), &case.1) {
        println!("# ideal reader: {:?}", read_ideally(&looks, &case.1, &landfall));
    }
    let Some(found) = found else { return println!("# broke down") };
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
