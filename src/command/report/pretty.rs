//! An answer as JSON.

use serde::Serialize;

use crate::command::failure::Failure;

/// An answer for scripts that people read too: over several lines, a line feed at its end.
///
/// # Errors
/// A fault of the program: it does not make JSON.
pub(in crate::command) fn pretty(answer: &impl Serialize) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(answer);
    text.map(|text| text + "\n").map_err(|error| Failure::Fault(error.to_string()))
}
