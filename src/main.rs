//! The `foreland` program: parse, run, map how it ended to an exit status.

use std::io::Write;
use std::panic;
use std::process::ExitCode;

use clap::Parser;
use foreland::command::{self, Cli, Failure};
use foreland::text::plain_lines;

fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        // A word typed wrong is repeated: a pattern of the shell may have made it of a file's name.
        Err(error) if error.use_stderr() => {
            let told = plain_lines(&error.render().to_string());
            let _ = std::io::stderr().lock().write_all(told.as_bytes());
            return ExitCode::from(2);
        }
        Err(asked) => asked.exit(),
    };
    let ended = panic::catch_unwind(|| command::run(&cli))
        .unwrap_or_else(|_| Err(Failure::Fault("it stopped itself (see above)".to_owned())));
    match ended {
        Ok(done) => ExitCode::from(done.status()),
        Err(failure) => {
            // Standard error may be closed; there is then nobody left to tell.
            let _ = std::io::stderr().lock().write_all(failure.render().as_bytes());
            ExitCode::from(failure.status())
        }
    }
}
