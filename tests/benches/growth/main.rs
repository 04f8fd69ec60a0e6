//! How the work grows with what it is given, and what others take for the same, measured in the same
//! run: `cargo bench --bench growth`, with `-- --plot FILE` the same as a picture, with `-- --only
//! query,fix` a part of it. What came of it stands in `docs/performance.md`.
//!
//! A figure by the clock is the fastest of some runs: what else the machine does only adds. How busy it
//! was stands beside it. `FORELAND_PYTHON` names a Python with numpy, scipy, shapely and pyshp, and
//! `FORELAND_WORLD` a folder with a coastline of the world; without them less is compared.

#![allow(clippy::unwrap_used, clippy::panic)] // a bench that cannot start has nothing to measure

#[path = "../../great_coast/mod.rs"]
mod great_coast;
#[path = "../../scipy_cases/mod.rs"]
#[allow(dead_code, reason = "the test uses more of it")]
mod scipy_cases;
#[path = "../../show/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod show;
#[path = "../../strewn/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod strewn;
#[path = "../../towers/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod towers;
#[path = "../../viewshed_tool/mod.rs"]
mod viewshed_tool;

mod fixes;
mod islands;
mod kept;
mod opened;
mod pictures;
mod plot;
mod python;
mod queries;
mod redraws;
mod took;

use std::path::PathBuf;

use clap::Parser;

/// How the work grows.
#[derive(Parser)]
struct Args {
    /// Draws what was measured
    #[arg(long, value_name = "FILE")]
    plot: Option<PathBuf>,
    /// The most vertices of one coast
    #[arg(long, value_name = "N", default_value_t = 10_000_000)]
    most: usize,
    /// Of open, world, query, fix, scipy, keep, picture, sight, redraw these alone
    #[arg(long, value_name = "KIND", value_delimiter = ',')]
    only: Vec<String>,
    /// Opens a chart once about a place and says how much memory that took
    #[arg(long, hide = true)]
    once: Option<PathBuf>,
    #[arg(long, hide = true)]
    index: Option<PathBuf>,
    #[arg(long, hide = true, default_value = "", allow_hyphen_values = true)]
    about: String,
    /// Given by cargo
    #[arg(long, hide = true)]
    bench: bool,
}

/// One kind of work: how much of it, and how many seconds that takes.
struct Growth {
    name: &'static str,
    unit: &'static str,
    points: Vec<(f64, f64)>,
}

impl Growth {
    fn new(name: &'static str, unit: &'static str) -> Self {
        Self { name, unit, points: Vec::new() }
    }

    /// By which power of the number the time grows, from each to the next.
    fn tell(&self) {
        println!("\n{} ({})", self.name, self.unit);
        for pair in self.points.windows(2) {
            let [(few, short), (many, long)] = [pair[0], pair[1]];
            let power = (long / short).log10() / (many / few).log10();
            println!("  from {few:.0} to {many:.0}: as the number to the power {power:.2}");
        }
    }
}

fn main() {
    let args = Args::parse();
    if let Some(chart) = args.once {
        return opened::once(chart, args.index.as_ref(), &args.about);
    }
    let wanted = |kind: &str| args.only.is_empty() || args.only.iter().any(|only| only == kind);
    let mut measured = Vec::new();
    if wanted("open") {
        measured.extend(opened::opened(args.most));
    }
    if wanted("world") {
        opened::world();
    }
    if wanted("query") {
        measured.push(queries::asked(args.most));
    }
    if wanted("fix") {
        measured.push(fixes::identified());
    }
    if wanted("scipy") {
        fixes::against_scipy();
    }
    if wanted("keep") {
        measured.push(kept::appended());
    }
    if wanted("picture") {
        measured.push(pictures::painted());
    }
    if wanted("sight") {
        pictures::in_sight();
    }
    if wanted("redraw") {
        measured.push(redraws::redrawn());
    }
    measured.iter().for_each(Growth::tell);
    if let Some(path) = args.plot {
        svg::save(&path, &plot::plot(&measured)).unwrap();
        println!("drawn in {}", path.display());
    }
}
