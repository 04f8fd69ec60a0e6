use super::seen::{Line, Seen};

/// A step: what is to come about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// The verdict was read, before anything is measured.
    Verdict,
    /// A contact stands in the entry line.
    First,
    /// It was read there, and taken.
    Echo,
    /// A second contact is in.
    Second,
    /// What would settle it was looked at.
    Unsettled,
    /// What is asked for was measured, and a fix stands.
    Take,
    /// The fix was read.
    Fix,
    /// Something was taken back and put back, or corrected.
    Mend,
    /// Where all else is found was read.
    End,
}

impl Step {
    /// All of them, in order.
    pub const ALL: [Self; 9] = [
        Self::Verdict,
        Self::First,
        Self::Echo,
        Self::Second,
        Self::Unsettled,
        Self::Take,
        Self::Fix,
        Self::Mend,
        Self::End,
    ];

    /// Counts from 1.
    pub fn number(self) -> usize {
        Self::ALL.iter().position(|step| *step == self).map_or(1, |at| at + 1)
    }

    /// The one after it; none after the last.
    pub(super) fn next(self) -> Option<Self> {
        Self::ALL.get(self.number()).copied()
    }

    /// The one before it; none before the first.
    pub(super) fn before(self) -> Option<Self> {
        self.number().checked_sub(2).and_then(|at| Self::ALL.get(at)).copied()
    }

    /// Whether it has come about. What can only be read has, once what follows it is begun.
    pub(super) fn is_done(self, seen: &Seen<'_>) -> bool {
        match self {
            Self::Verdict => {
                let begun = matches!(seen.line(), Line::Good | Line::Other | Line::Refused);
                begun || seen.state.watch.has_measured()
            }
            Self::First => matches!(seen.line(), Line::Good | Line::Other) || seen.true_ones() > 0,
            Self::Echo => seen.true_ones() > 0,
            Self::Second => seen.true_ones() > 1 || seen.is_fixed(),
            Self::Unsettled => seen.course.looked || seen.is_fixed(),
            Self::Take => seen.is_fixed(),
            Self::Fix => seen.has_taken_back(),
            Self::Mend => {
                let back = seen.course.undone && !seen.has_taken_back();
                (back || seen.has_corrected()) && seen.is_fixed()
            }
            Self::End => false,
        }
    }

    /// Whether what it rests on stands; without it the tour goes back to where that comes about. Where
    /// it does not, the step before is not done.
    pub(super) fn stands(self, seen: &Seen<'_>) -> bool {
        match self {
            Self::Verdict | Self::First | Self::Mend | Self::End => true,
            Self::Fix => seen.is_fixed() || seen.has_taken_back(),
            Self::Take => seen.true_ones() > 1 || seen.is_fixed(),
            Self::Echo | Self::Second | Self::Unsettled => {
                self.before().is_none_or(|before| before.is_done(seen))
            }
        }
    }
}
