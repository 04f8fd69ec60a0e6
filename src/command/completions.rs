use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

use super::common::Common;
use super::failure::{Done, Failure};
use super::{CAUTION, Cli};

/// What a shell needs to complete a command line: printed, to be put where the shell looks.
#[derive(Debug, Clone, Args)]
#[command(after_help = CAUTION)]
pub struct CompletionsArgs {
    #[command(flatten)]
    common: Common,
    /// The shell that is used
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

/// Prints the completions of a shell.
///
/// # Errors
/// They cannot be written.
pub fn run(args: &CompletionsArgs) -> Result<Done, Failure> {
    let mut script = Vec::new();
    generate(args.shell, &mut Cli::command(), "foreland", &mut script);
    args.common.deliver(&String::from_utf8_lossy(&script))?;
    Ok(Done::OK)
}
