use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::common::{Common, Format};
use super::failure::{Done, Failure};
use crate::chart::Chart;

mod check;
mod marks;
mod prepare;

/// What a chart folder holds.
#[derive(Debug, Clone, Args)]
pub struct ChartArgs {
    #[command(subcommand)]
    command: ChartCommand,
}

#[derive(Debug, Clone, Subcommand)]
enum ChartCommand {
    /// What each file of a chart folder holds, and what is odd in it
    Check(CheckArgs),
    /// The marks of a chart: those it names and those found from its shape
    Marks(MarksArgs),
    /// Works a large chart out once and keeps it as an index, from which it then opens at once
    Prepare(PrepareArgs),
}

/// What `chart check` takes.
#[derive(Debug, Clone, Args)]
struct CheckArgs {
    /// The chart folder to look through
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
    #[command(flatten)]
    common: Common,
}

/// How marks are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
enum MarksFormat {
    /// For people.
    #[default]
    Text,
    /// For scripts: the schema is named in the answer.
    Json,
    /// For maps.
    Geojson,
}

impl MarksFormat {
    fn of_answer(self) -> Format {
        match self {
            Self::Text => Format::Text,
            Self::Json | Self::Geojson => Format::Json,
        }
    }
}

/// What `chart marks` takes.
#[derive(Debug, Clone, Args)]
struct MarksArgs {
    /// Chart folder; may be given more than once
    #[arg(long, value_name = "DIR")]
    chart: Vec<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t, value_name = "FORMAT")]
    format: MarksFormat,
    /// Write the answer to this file; standard output then stays empty
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// What `chart prepare` takes.
#[derive(Debug, Clone, Args)]
struct PrepareArgs {
    /// The chart folder to prepare
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
    #[command(flatten)]
    common: Common,
    /// Put the index beside the folder, to go with it; else it goes into the user's cache folder
    #[arg(long)]
    beside: bool,
}

/// Looks through a chart, lists its marks, or prepares it.
///
/// # Errors
/// Bad input: whatever is wrong in the folder, with file, record and what would be right.
pub fn run(args: &ChartArgs) -> Result<Done, Failure> {
    match &args.command {
        ChartCommand::Check(args) => {
            let mut common = args.common.clone();
            common.chart.extend(args.folder.clone());
            common.check_apart(&[], &[])?;
            let chart = common.open_chart()?;
            chart.ground().read_all();
            let answer = match common.format {
                Format::Text => check::text(&chart),
                Format::Json => check::json(&chart),
            };
            common.deliver(&answer)?;
            // A file of heights that cannot be read is bad input, however many others there are.
            if !chart.ground().faults().is_empty() {
                return Ok(Done::with_status(2));
            }
        }
        ChartCommand::Prepare(args) => {
            let mut common = args.common.clone();
            common.chart.extend(args.folder.clone());
            common.check_apart(&[], &[])?;
            prepare::run(&common, args.beside)?;
        }
        ChartCommand::Marks(args) => {
            let common = Common {
                chart: args.chart.clone(),
                format: args.format.of_answer(),
                output: args.output.clone(),
            };
            common.check_apart(&[], &[])?;
            let chart: Chart = common.open_chart()?;
            let answer = match args.format {
                MarksFormat::Text => marks::text(&chart),
                MarksFormat::Json => marks::json(&chart),
                MarksFormat::Geojson => marks::geojson(&chart),
            };
            common.deliver(&answer)?;
        }
    }
    Ok(Done::OK)
}
