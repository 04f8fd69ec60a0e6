use std::env;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// The signs that the terminal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Drawing {
    /// Eight dots to a character: the finest.
    #[default]
    Braille,
    /// Two halves to a character: for fonts without braille.
    Blocks,
    /// ASCII and nothing else.
    Ascii,
}

impl Drawing {
    /// Every word that is taken.
    pub const WORDS: [&'static str; 3] = ["braille", "blocks", "ascii"];

    /// Of a word.
    pub fn parse(word: &str) -> Option<Self> {
        match word {
            "braille" => Some(Self::Braille),
            "blocks" => Some(Self::Blocks),
            "ascii" => Some(Self::Ascii),
            _ => None,
        }
    }

    /// As the environment says: a locale that is not UTF-8 has ASCII alone, the Linux console and others
    /// known to have no braille have blocks.
    pub fn from_environment() -> Self {
        let set = |name: &str| env::var(name).ok().filter(|value| !value.is_empty());
        let locale = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
        Self::of(locale.as_deref(), set("TERM").as_deref())
    }

    fn of(locale: Option<&str>, terminal: Option<&str>) -> Self {
        let plain = |text: &str| text.to_ascii_lowercase().replace('-', "");
        // A locale that says nothing is no reason to give up what nearly every terminal has.
        let utf8 = locale.is_none_or(|locale| plain(locale).contains("utf8"));
        match terminal {
            Some("dumb" | "vt100" | "vt220") => Self::Ascii,
            _ if !utf8 => Self::Ascii,
            Some("linux") => Self::Blocks,
            _ => Self::Braille,
        }
    }

    /// The next one round.
    #[must_use]
    pub fn next(self) -> Self {
        match self {
            Self::Braille => Self::Blocks,
            Self::Blocks => Self::Ascii,
            Self::Ascii => Self::Braille,
        }
    }

    /// The character that stands for dots, two across and four down: bits as in a braille pattern.
    pub(super) fn of_dots(self, bits: u8) -> char {
        match self {
            _ if bits == 0 => ' ',
            Self::Braille => char::from_u32(0x2800 + u32::from(bits)).unwrap_or(' '),
            Self::Blocks => match (bits & UPPER != 0, bits & LOWER != 0) {
                (true, true) => '█',
                (true, false) => '▀',
                _ => '▄',
            },
            Self::Ascii => of_strokes(bits),
        }
    }

    /// The character that stands for the stipple of land, sparse to dense.
    pub(super) fn of_land(self, bits: u8) -> char {
        match self {
            _ if bits == 0 => ' ',
            Self::Braille => self.of_dots(bits),
            Self::Blocks if bits.is_power_of_two() => '·',
            Self::Blocks => '░',
            Self::Ascii if bits.is_power_of_two() => '.',
            Self::Ascii => ':',
        }
    }

    /// Puts ASCII in the place of every other sign of a drawn screen.
    pub(super) fn spell(self, area: Rect, buffer: &mut Buffer) {
        if self != Self::Ascii {
            return;
        }
        for y in area.top()..area.bottom() {
            for x in area.left()..area.right() {
                let Some(cell) = buffer.cell_mut((x, y)) else { continue };
                let ascii = cell.symbol().chars().next().map_or(' ', in_ascii);
                if !cell.symbol().is_ascii() {
                    cell.set_char(ascii);
                }
            }
        }
    }
}

/// The dots of the two upper and of the two lower rows.
const UPPER: u8 = 0x1b;
const LOWER: u8 = 0xe4;

/// The dots of each column, from the top.
const LEFT: [u8; 4] = [0x01, 0x02, 0x04, 0x40];
const RIGHT: [u8; 4] = [0x08, 0x10, 0x20, 0x80];

/// A stroke of ASCII for dots: by where the line enters the cell and where it leaves it.
fn of_strokes(bits: u8) -> char {
    let rows = |column: [u8; 4]| {
        let lit = column.iter().enumerate().filter(|(_, dot)| bits & **dot != 0);
        let (mut sum, mut count) = (0.0, 0_usize);
        for (row, _) in lit {
            sum += row as f64;
            count += 1;
        }
        (count > 0).then(|| (sum / count as f64, count))
    };
    match (rows(LEFT), rows(RIGHT)) {
        (Some((_, count)), None) | (None, Some((_, count))) if count > 1 => '|',
        (Some((row, _)), None) | (None, Some((row, _))) => {
            if row < 1.5 {
                '\''
            } else {
                '.'
            }
        }
        (Some((_, left)), Some((_, right))) if left + right > 4 => '#',
        (Some((left, _)), Some((right, _))) if left > right + 0.9 => '/',
        (Some((left, _)), Some((right, _))) if right > left + 0.9 => '\\',
        (Some((left, _)), Some((right, _))) if f64::midpoint(left, right) >= 2.6 => '_',
        (Some(_), Some(_)) => '-',
        (None, None) => ' ',
    }
}

/// The ASCII that a sign of ours is read as.
fn in_ascii(sign: char) -> char {
    match sign {
        '°' => 'd',
        '′' => '\'',
        '″' | '“' | '”' | '▀' => '"',
        '×' => 'x',
        '±' | '▒' => '+',
        '—' | '–' | '─' | '├' | '┤' | '┴' | '┬' | '┼' | '░' => '-',
        '│' => '|',
        '…' => '~',
        '·' | '•' => '.',
        '◄' | '←' | '≤' => '<',
        '►' | '→' | '≥' => '>',
        '○' | 'ó' | 'ò' | 'ô' | 'ö' | 'ø' | 'õ' => 'o',
        '▲' | '↑' => '^',
        '↓' => 'v',
        '↗' | '↙' => '/',
        '↘' | '↖' => '\\',
        '■' | '█' | '▓' => '#',
        '¡' => '!',
        '▄' => '_',
        'é' | 'è' | 'ê' | 'ë' => 'e',
        'á' | 'à' | 'â' | 'ä' | 'å' | 'ã' => 'a',
        'í' | 'ì' | 'î' | 'ï' => 'i',
        'ú' | 'ù' | 'û' | 'ü' => 'u',
        'ç' => 'c',
        'ñ' => 'n',
        sign if sign.is_ascii() => sign,
        _ => '?',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_terminal_says_what_it_can_show() {
        assert_eq!(Drawing::of(Some("en_GB.UTF-8"), Some("xterm-256color")), Drawing::Braille);
        assert_eq!(Drawing::of(None, Some("xterm")), Drawing::Braille);
        assert_eq!(Drawing::of(Some("C.utf8"), Some("linux")), Drawing::Blocks);
        assert_eq!(Drawing::of(Some("C"), Some("xterm")), Drawing::Ascii);
        assert_eq!(Drawing::of(Some("en_GB.UTF-8"), Some("vt100")), Drawing::Ascii);
    }

    #[test]
    fn strokes_follow_the_line() {
        let of = |bits| Drawing::Ascii.of_dots(bits);
        // Dots 1 2 3 7 down the left, 1 4 across the top, 7 8 along the foot.
        assert_eq!(of(0x47), '|');
        assert_eq!(of(0x12), '-');
        assert_eq!(of(0xc0), '_');
        // From lower left to upper right, and the other way.
        assert_eq!(of(0x40 | 0x08), '/');
        assert_eq!(of(0x01 | 0x80), '\\');
        assert_eq!((of(0x01), of(0x40), of(0xff), of(0)), ('\'', '.', '#', ' '));
    }

    #[test]
    fn every_pattern_has_its_sign() {
        for bits in 1..=u8::MAX {
            assert!(Drawing::Ascii.of_dots(bits).is_ascii_graphic(), "{bits}");
            assert!(Drawing::Ascii.of_land(bits).is_ascii_graphic(), "{bits}");
            assert!(!Drawing::Blocks.of_dots(bits).is_whitespace(), "{bits}");
        }
    }
}
