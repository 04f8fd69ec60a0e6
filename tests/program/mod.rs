//! The program, run as a user runs it.

use std::io::Write;
use std::process::{Command, Stdio};

/// The program without colours, to be run from the project's root.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_foreland"));
    command.env("NO_COLOR", "1").current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

/// Runs it with an input to its end: exit status, standard output, standard error.
pub fn run(command: &mut Command, input: &[u8]) -> (i32, String, String) {
    let piped = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = piped.spawn().unwrap();
    // Refused for its arguments, it ends before it reads: that is no fault of the test.
    let _ = child.stdin.take().unwrap().write_all(input);
    let done = child.wait_with_output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (done.status.code().unwrap(), text(done.stdout), text(done.stderr))
}
