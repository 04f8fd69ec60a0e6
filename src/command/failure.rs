use std::io::IsTerminal;

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, MietteDiagnostic, Report};

use super::shown::Shown;
use crate::text::plain_lines;

/// How a command that did its work ended: its exit status.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Done(u8);

impl Done {
    /// Everything asked for was done.
    pub const OK: Self = Self(0);

    /// Done, with an answer that has a status of its own.
    pub const fn with_status(status: u8) -> Self {
        Self(status)
    }

    /// The exit status.
    pub const fn status(self) -> u8 {
        self.0
    }
}

/// Why a command could not do its work.
#[derive(Debug)]
pub enum Failure {
    /// Something given was wrong, or could not be read or written. Exit 2.
    Input(Report),
    /// The program is at fault. Exit 1.
    Fault(String),
}

impl Failure {
    /// Bad input told in one line: what is wrong, and where.
    pub fn input(message: impl Into<String>) -> Self {
        Self::Input(Report::new(MietteDiagnostic::new(message.into())))
    }

    /// Adds what would be right.
    #[must_use]
    pub fn with_help(self, help: impl Into<String>) -> Self {
        match self {
            Self::Input(report) => {
                let told = MietteDiagnostic::new(report.to_string()).with_help(help.into());
                Self::Input(Report::new(told))
            }
            fault @ Self::Fault(_) => fault,
        }
    }

    /// The exit status.
    pub fn status(&self) -> u8 {
        match self {
            Self::Input(_) => 2,
            Self::Fault(_) => 1,
        }
    }

    /// The message as it goes to standard error.
    pub fn render(&self) -> String {
        match self {
            Self::Input(report) => render(report.as_ref()),
            Self::Fault(message) => format!(
                "foreland is at fault, not what you gave it: {}\n\
                 Nothing that was acknowledged is lost. Please report this with what you typed.\n",
                plain_lines(message)
            ),
        }
    }
}

/// Any error of the engine that carries a diagnostic is bad input.
impl<E: Diagnostic + Send + Sync + 'static> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::Input(Report::new(error))
    }
}

fn render(diagnostic: &dyn Diagnostic) -> String {
    let colour = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let theme = if colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    let shown = Shown::of(diagnostic);
    let mut text = String::new();
    let handler = GraphicalReportHandler::new_themed(theme).with_links(false).with_width(100);
    match handler.render_report(&mut text, &shown) {
        // Only the theme's own colours are left to act.
        Ok(()) if colour => text,
        Ok(()) => plain_lines(&text),
        Err(_) => format!("{shown}\n"),
    }
}
