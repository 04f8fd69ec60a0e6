//! What is drawn, whatever draws it: places in units of a pixel from the upper left corner.

use crate::command::CAUTION;
use crate::command::report::Asked;
use crate::command::report::words::rain;

/// Colours of what is drawn: of Okabe and Ito's palette, safe for colour-blind eyes (*Color
/// Universal Design*, 2008, from memory), on black.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Words and numbers.
    Words,
    /// Rings and scales.
    Scale,
    /// Own heading.
    Heading,
    /// The port signal.
    Port,
    /// The starboard signal.
    Starboard,
}

impl Tone {
    /// Red, green, blue.
    pub fn rgb(self) -> [u8; 3] {
        match self {
            Self::Words => [220, 220, 220],
            Self::Scale => [86, 180, 233],
            Self::Heading => [230, 159, 0],
            Self::Port => [213, 94, 0],
            Self::Starboard => [0, 158, 115],
        }
    }
}

/// Where a text stands to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// About a centre.
    Circle { centre: (f64, f64), radius: f64, tone: Tone },
    /// From one place to another.
    Line { from: (f64, f64), to: (f64, f64), tone: Tone },
    /// Words, upright, their middle height at a place.
    Text { at: (f64, f64), anchor: Anchor, words: String, tone: Tone },
}

/// Cells of light, laid under the shapes.
#[derive(Debug, Clone, PartialEq)]
pub struct Cells {
    /// Of its upper left corner.
    pub at: (u32, u32),
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Light of each pixel, row by row.
    pub light: Vec<u8>,
}

/// A sheet to draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// What it shows, in words.
    pub title: String,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Under everything.
    pub cells: Option<Cells>,
    /// In the order they are drawn.
    pub shapes: Vec<Shape>,
}

/// Height of a line of words, pixels.
pub const LINE: f64 = 16.0;

/// What stands at the head and the foot of every sheet; `note` is a line more, or empty.
pub fn words_of(asked: &Asked<'_>, what: &str, note: &str, height: u32) -> Vec<Shape> {
    let Asked { vantage, set, conditions, .. } = asked;
    let heading =
        vantage.heading.map_or(String::new(), |heading| format!(", heading {heading} true"));
    let head = [
        format!("{what} on {}", asked.chart.name()),
        format!("from {}, {:.0} ft{heading}", vantage.position, vantage.height.feet()),
        format!(
            "set {}, sea state {}, {}, k {:.3}",
            set.name,
            conditions.sea_state,
            rain(conditions.rain),
            conditions.earth.k()
        ),
        note.to_owned(),
    ];
    // Two lines: a small sheet is too narrow for one.
    let (first, second) = CAUTION.split_once(": ").unwrap_or((CAUTION, ""));
    let foot = [format!("A prediction. {first}:"), second.to_owned()];
    let line = |y: f64, words: String| Shape::Text {
        at: (10.0, y),
        anchor: Anchor::Start,
        words,
        tone: Tone::Words,
    };
    let bottom = f64::from(height) - LINE * 1.5;
    let head = head.into_iter().filter(|words| !words.is_empty());
    let heads = head.enumerate().map(|(i, words)| line(LINE * (i as f64 + 1.0), words));
    let feet = foot.into_iter().enumerate().map(|(i, words)| line(bottom + LINE * i as f64, words));
    heads.chain(feet).collect()
}
