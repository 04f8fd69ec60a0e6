//! What a refusal looks like to whoever reads it.

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme};

/// The whole message, without colour, a hundred columns wide, no blanks at the ends of lines.
pub fn rendered(error: &dyn Diagnostic) -> String {
    let mut text = String::new();
    GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_links(false)
        .with_width(100)
        .render_report(&mut text, error)
        .unwrap();
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    lines.join("\n") + "\n"
}
