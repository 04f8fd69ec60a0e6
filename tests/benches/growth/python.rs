//! Other libraries, by a Python that has them: `FORELAND_PYTHON` names it, else it is `python3`.

use std::env;
use std::ffi::OsStr;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// What a script of `tests/reference/` prints as JSON; none, and a word why, where it does not run.
pub fn told<A: AsRef<OsStr>>(script: &str, args: &[A]) -> Option<Value> {
    let python = env::var_os("FORELAND_PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(script);
    let done = match Command::new(&python).arg(script).args(args).output() {
        Ok(done) => done,
        Err(error) => {
            println!("    not compared: {}: {error}", python.display());
            return None;
        }
    };
    if !done.status.success() {
        let said = String::from_utf8_lossy(&done.stderr);
        println!("    not compared: {}", said.lines().last().unwrap_or("the script failed"));
        return None;
    }
    serde_json::from_slice(&done.stdout).ok()
}
