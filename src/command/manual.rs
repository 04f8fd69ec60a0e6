use std::path::PathBuf;

use clap::{Args, Command, CommandFactory};
use clap_mangen::{Man, generate_to};

use super::common::Common;
use super::failure::{Done, Failure};
use super::{CAUTION, Cli};

/// The manual as man pages: the program's own printed, or one a command written into a folder.
#[derive(Debug, Clone, Args)]
#[command(after_help = CAUTION)]
pub struct ManualArgs {
    #[command(flatten)]
    common: Common,
    /// A folder that is there: foreland.1, foreland-fix.1 … are written into it
    #[arg(long, value_name = "DIR")]
    to: Option<PathBuf>,
}

/// Prints or writes the manual.
///
/// # Errors
/// A page cannot be written.
pub fn run(args: &ManualArgs) -> Result<Done, Failure> {
    let Some(folder) = &args.to else {
        args.common.deliver(&page(Cli::command())?)?;
        return Ok(Done::OK);
    };
    generate_to(Cli::command(), folder).map_err(|error| {
        Failure::input(format!("{}: cannot be written: {error}", folder.display()))
            .with_help("--to takes a folder that is there and may be written to")
    })?;
    args.common.deliver(&format!("The pages are in {}\n", folder.display()))?;
    Ok(Done::OK)
}

fn page(command: Command) -> Result<String, Failure> {
    let mut roff = Vec::new();
    let told = Man::new(command).render(&mut roff);
    told.map_err(|error| Failure::Fault(format!("a man page: {error}")))?;
    Ok(String::from_utf8_lossy(&roff).into_owned())
}
