use std::fmt;

/// Makes an enum of words, each written one way in files and reports.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$each:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name {
            $($(#[$each])* $variant),+
        }

        impl $name {
            /// Every word, in the order of the variants.
            pub const WORDS: &[&str] = &[$($word),+];

            /// The word as files and reports write it.
            pub fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $word),+
                }
            }

            /// The variant of a word; `None` for any other text.
            pub fn parse(word: &str) -> Option<Self> {
                match word {
                    $($word => Some(Self::$variant),)+
                    _ => None,
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }
    };
}

words! {
    /// Which part of an echo was measured.
    Part {
        /// The leading edge of the echo, within half a beam of its bearing.
        Near = "near",
        /// The middle of a small echo.
        Centre = "centre",
        /// The left edge as seen: drawn half a beam outside the land.
        Left = "left",
        /// The right edge as seen: drawn half a beam outside the land.
        Right = "right",
        /// The nearest painted land in any direction, range alone.
        Shore = "shore",
    }
}

words! {
    /// What a direction was counted from.
    BearingKind {
        /// True north.
        True = "true",
        /// Magnetic north.
        Magnetic = "magnetic",
        /// A magnetic compass, its deviation still in it.
        Compass = "compass",
        /// A gyro compass, its error still in it.
        Gyro = "gyro",
        /// Own bow.
        Relative = "relative",
    }
}

/// What is measured unless something else is said: the leading edge.
impl Default for Part {
    fn default() -> Self {
        Self::Near
    }
}

impl BearingKind {
    /// What a heading can be counted from: all but the bow, which needs a heading itself.
    pub const OF_HEADING: &[&str] = &["true", "magnetic", "compass", "gyro"];

    /// Whether what is so read is turned to true by the magnetic variation.
    pub fn is_turned_by_variation(self) -> bool {
        matches!(self, Self::Magnetic | Self::Compass)
    }

    /// The letter written after a bearing of this kind: T, M, C, G or R.
    pub fn letter(self) -> char {
        match self {
            Self::True => 'T',
            Self::Magnetic => 'M',
            Self::Compass => 'C',
            Self::Gyro => 'G',
            Self::Relative => 'R',
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back() {
        for word in Part::WORDS {
            assert_eq!(Part::parse(word).unwrap().as_str(), *word);
        }
        for word in BearingKind::WORDS {
            assert_eq!(BearingKind::parse(word).unwrap().as_str(), *word);
        }
        assert_eq!(Part::parse("nearest"), None);
        let all_but_the_bow: Vec<&str> =
            BearingKind::WORDS.iter().copied().filter(|word| *word != "relative").collect();
        assert_eq!(BearingKind::OF_HEADING, all_but_the_bow);
    }
}
