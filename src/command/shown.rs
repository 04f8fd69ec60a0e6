//! A diagnostic with all its words made safe to show.

use std::error::Error;
use std::fmt;

use miette::{Diagnostic, LabeledSpan, Severity, SourceCode};

use crate::text::plain_lines;

/// What a diagnostic says, cleaned. The text that it points into is kept covered by whoever keeps it
/// (see [`crate::text::covered`]): places in it would shift if it were cleaned here.
pub(super) struct Shown<'a> {
    message: String,
    help: Option<String>,
    severity: Option<Severity>,
    labels: Option<Vec<LabeledSpan>>,
    source: Option<&'a dyn SourceCode>,
    related: Vec<Shown<'a>>,
    cause: Option<Cause>,
}

impl<'a> Shown<'a> {
    pub(super) fn of(told: &'a dyn Diagnostic) -> Self {
        let clean = |label: LabeledSpan| {
            let words = label.label().map(plain_lines);
            LabeledSpan::new(words, label.offset(), label.len())
        };
        Self {
            message: plain_lines(&told.to_string()),
            help: told.help().map(|help| plain_lines(&help.to_string())),
            severity: told.severity(),
            labels: told.labels().map(|labels| labels.map(clean).collect()),
            source: told.source_code(),
            related: told.related().into_iter().flatten().map(Shown::of).collect(),
            cause: Error::source(told).map(Cause::of),
        }
    }
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl fmt::Debug for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl Error for Shown<'_> {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.cause.as_ref().map(|cause| cause as &(dyn Error + 'static))
    }
}

impl Diagnostic for Shown<'_> {
    fn severity(&self) -> Option<Severity> {
        self.severity
    }

    fn help<'h>(&'h self) -> Option<Box<dyn fmt::Display + 'h>> {
        self.help.as_ref().map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.source
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let labels = self.labels.as_ref()?;
        Some(Box::new(labels.iter().cloned()))
    }

    fn related<'r>(&'r self) -> Option<Box<dyn Iterator<Item = &'r dyn Diagnostic> + 'r>> {
        if self.related.is_empty() {
            return None;
        }
        Some(Box::new(self.related.iter().map(|related| related as &dyn Diagnostic)))
    }
}

/// What led to an error, in words.
#[derive(Debug)]
struct Cause {
    message: String,
    next: Option<Box<Cause>>,
}

impl Cause {
    fn of(error: &(dyn Error + 'static)) -> Self {
        let next = error.source().map(|next| Box::new(Self::of(next)));
        Self { message: plain_lines(&error.to_string()), next }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl Error for Cause {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.next.as_deref().map(|next| next as &(dyn Error + 'static))
    }
}
