use std::env;

use ratatui::style::{Color, Modifier, Style};

use super::chart_panel::Ink;
use super::drawing::Drawing;

/// How much colour the terminal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colours {
    /// 24 bits.
    Full,
    /// The sixteen of every terminal.
    Sixteen,
    /// None: bold, dim, underlined and reversed only.
    None,
}

impl Colours {
    /// As the environment says: `NO_COLOR` (no-color.org) is obeyed, `COLORTERM` believed.
    pub fn from_environment() -> Self {
        let set = |name: &str| env::var(name).ok().filter(|value| !value.is_empty());
        if set("NO_COLOR").is_some() || set("TERM").is_some_and(|term| term == "dumb") {
            Self::None
        } else if set("COLORTERM").is_some_and(|c| c == "truecolor" || c == "24bit") {
            Self::Full
        } else {
            Self::Sixteen
        }
    }
}

/// Okabe and Ito, "Color Universal Design: how to make figures and presentations that are friendly
/// to colorblind people" (2008): eight colours told apart by every kind of colour vision.
mod okabe_ito {
    pub const ORANGE: (u8, u8, u8) = (230, 159, 0);
    pub const SKY_BLUE: (u8, u8, u8) = (86, 180, 233);
    pub const BLUISH_GREEN: (u8, u8, u8) = (0, 158, 115);
    pub const YELLOW: (u8, u8, u8) = (240, 228, 66);
    pub const VERMILLION: (u8, u8, u8) = (213, 94, 0);
    pub const REDDISH_PURPLE: (u8, u8, u8) = (204, 121, 167);
}

/// Paul Tol, "Colour schemes", technical note SRON/EPS/TN/09-002 (2021): of his schemes "muted" and
/// "dark", made to be told apart by every kind of colour vision, those that are legible as text on
/// white (values from memory).
mod tol {
    pub const INDIGO: (u8, u8, u8) = (51, 34, 136);
    pub const GREEN: (u8, u8, u8) = (17, 119, 51);
    pub const WINE: (u8, u8, u8) = (136, 34, 85);
    pub const PURPLE: (u8, u8, u8) = (170, 68, 153);
    pub const DARK_CYAN: (u8, u8, u8) = (34, 85, 85);
    pub const DARK_YELLOW: (u8, u8, u8) = (102, 102, 51);
}

/// How light it is where the screen is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Light {
    /// Light on black.
    #[default]
    Night,
    /// Dark on white.
    Day,
}

impl Light {
    /// The other.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Night => Self::Day,
            Self::Day => Self::Night,
        }
    }
}

/// A colour by night and by day: in full, and among the sixteen.
struct Pair {
    night: ((u8, u8, u8), Color),
    day: ((u8, u8, u8), Color),
}

/// The look of everything, by what it means. Every meaning also has a shape, a letter or a word:
/// colour only makes it quicker to find.
#[derive(Debug, Clone, Copy)]
pub struct Theme {
    colours: Colours,
    light: Light,
    drawing: Drawing,
}

/// One pixel of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shade {
    /// From dark, 0, to full light, 1.
    Light(f64),
    /// Something drawn over the picture.
    Ink(Ink),
}

/// A light grey, a grey and near black: the ground that the palette stands on.
const LIGHT: (u8, u8, u8) = (218, 218, 218);
const GREY: (u8, u8, u8) = (150, 150, 150);
const DARK: (u8, u8, u8) = (96, 96, 96);
const BLACK: (u8, u8, u8) = (0, 0, 0);

/// And by day: nearly black, a dark grey, a grey, and white.
const INK: (u8, u8, u8) = (26, 26, 26);
const DARK_GREY: (u8, u8, u8) = (85, 85, 85);
const PALE: (u8, u8, u8) = (140, 140, 140);
const WHITE: (u8, u8, u8) = (255, 255, 255);

const TEXT: Pair = Pair { night: (LIGHT, Color::White), day: (INK, Color::Black) };
const QUIET: Pair = Pair { night: (GREY, Color::Gray), day: (DARK_GREY, Color::DarkGray) };
const FAINT: Pair = Pair { night: (DARK, Color::DarkGray), day: (PALE, Color::DarkGray) };
const FIXED: Pair =
    Pair { night: (okabe_ito::BLUISH_GREEN, Color::Green), day: (tol::GREEN, Color::Green) };
const DOUBT: Pair =
    Pair { night: (okabe_ito::YELLOW, Color::Yellow), day: (tol::DARK_YELLOW, Color::Magenta) };
const WRONG: Pair =
    Pair { night: (okabe_ito::VERMILLION, Color::LightRed), day: (tol::WINE, Color::Red) };
const RECKONED: Pair =
    Pair { night: (okabe_ito::SKY_BLUE, Color::LightCyan), day: (tol::INDIGO, Color::Blue) };
const RIVAL: Pair = Pair {
    night: (okabe_ito::REDDISH_PURPLE, Color::LightMagenta),
    day: (tol::PURPLE, Color::Magenta),
};
const CONTACT: Pair =
    Pair { night: (okabe_ito::ORANGE, Color::LightYellow), day: (tol::DARK_CYAN, Color::Black) };

impl Theme {
    /// A theme of so many colours, by night, drawn as finely as can be.
    pub const fn new(colours: Colours) -> Self {
        Self { colours, light: Light::Night, drawing: Drawing::Braille }
    }

    /// The same in another light.
    #[must_use]
    pub const fn lit(self, light: Light) -> Self {
        Self { light, ..self }
    }

    /// The same with other signs.
    #[must_use]
    pub const fn drawn(self, drawing: Drawing) -> Self {
        Self { drawing, ..self }
    }

    /// In what light it is read.
    pub const fn light(self) -> Light {
        self.light
    }

    /// With what signs it is drawn.
    pub const fn drawing(self) -> Drawing {
        self.drawing
    }

    fn ink(self, pair: &Pair, plain: Modifier) -> Style {
        let ((r, g, b), sixteen) = match self.light {
            Light::Night => pair.night,
            Light::Day => pair.day,
        };
        match self.colours {
            Colours::Full => Style::new().fg(Color::Rgb(r, g, b)),
            Colours::Sixteen => Style::new().fg(sixteen),
            Colours::None => Style::new().add_modifier(plain),
        }
    }

    /// What everything stands on.
    pub fn ground(self) -> Style {
        let ((r, g, b), sixteen) = match self.light {
            Light::Night => (BLACK, Color::Black),
            Light::Day => (WHITE, Color::White),
        };
        match self.colours {
            Colours::Full => self.text().bg(Color::Rgb(r, g, b)),
            Colours::Sixteen => self.text().bg(sixteen),
            Colours::None => Style::new(),
        }
    }

    /// Plain text.
    pub fn text(self) -> Style {
        self.ink(&TEXT, Modifier::empty())
    }

    /// Text of less weight.
    pub fn quiet(self) -> Style {
        self.ink(&QUIET, Modifier::DIM)
    }

    /// A heading.
    pub fn heading(self) -> Style {
        self.ink(&TEXT, Modifier::BOLD).add_modifier(Modifier::BOLD)
    }

    /// A position that is stated: a fix.
    pub fn fixed(self) -> Style {
        self.ink(&FIXED, Modifier::BOLD)
    }

    /// Something that keeps a position from being stated.
    pub fn doubt(self) -> Style {
        self.ink(&DOUBT, Modifier::BOLD)
    }

    /// Something wrong: contacts at odds, an entry refused, a log that fails.
    pub fn wrong(self) -> Style {
        self.ink(&WRONG, Modifier::BOLD).add_modifier(Modifier::BOLD)
    }

    /// A band in a colour of meaning: text in the ground's own colour on it.
    pub fn band(self, style: Style) -> Style {
        let ground = match self.light {
            Light::Night => Color::Black,
            Light::Day => Color::White,
        };
        match self.colours {
            Colours::None => style.add_modifier(Modifier::REVERSED),
            _ => Style::new()
                .fg(ground)
                .bg(style.fg.unwrap_or(Color::White))
                .add_modifier(Modifier::BOLD),
        }
    }

    /// What is selected.
    pub fn selected(self) -> Style {
        self.ink(&DOUBT, Modifier::BOLD).add_modifier(Modifier::BOLD)
    }

    /// Two pixels, one above the other, as a character cell. Without colours, light is a shading of
    /// the cell, and what is drawn over it a dot.
    pub fn two_pixels(self, upper: Shade, lower: Shade) -> (char, Style) {
        // A screen of the radar is light on dark, by day too.
        if self.colours == Colours::None || self.drawing == Drawing::Ascii {
            return self.shading(upper, lower);
        }
        let paint = |shade: Shade| match shade {
            Shade::Ink(ink) => self.of(ink).fg.unwrap_or(Color::White),
            Shade::Light(light) => self.grey(light),
        };
        let (upper, lower) = (paint(upper), paint(lower));
        let symbol = if upper == lower { ' ' } else { '▀' };
        (symbol, Style::new().fg(upper).bg(lower))
    }

    fn grey(self, light: f64) -> Color {
        if self.colours == Colours::Full {
            let level = (light.clamp(0.0, 1.0) * 255.0) as u8;
            return Color::Rgb(level, level, level);
        }
        match light {
            light if light < 0.2 => Color::Black,
            light if light < 0.4 => Color::DarkGray,
            light if light < 0.7 => Color::Gray,
            _ => Color::White,
        }
    }

    fn shading(self, upper: Shade, lower: Shade) -> (char, Style) {
        match (upper, lower) {
            (Shade::Light(upper), Shade::Light(lower)) => {
                let shades = [(0.2, ' '), (0.38, '░'), (0.55, '▒'), (0.75, '▓')];
                let light = 0.5 * (upper + lower);
                let found = shades.into_iter().find(|(most, _)| light < *most);
                (found.map_or('█', |(_, shade)| shade), Style::new())
            }
            (Shade::Ink(Ink::Contact | Ink::Selected), _)
            | (_, Shade::Ink(Ink::Contact | Ink::Selected)) => ('•', self.of(Ink::Contact)),
            (Shade::Ink(ink), _) | (_, Shade::Ink(ink)) => ('·', self.of(ink)),
        }
    }

    /// What stands on the chart.
    pub fn of(self, ink: Ink) -> Style {
        match ink {
            Ink::Blank => Style::new(),
            Ink::Land | Ink::Ring => self.ink(&FAINT, Modifier::DIM),
            Ink::Coast => self.text(),
            Ink::Mark => self.quiet(),
            Ink::Reckoning => self.ink(&RECKONED, Modifier::empty()),
            Ink::Rival => self.ink(&RIVAL, Modifier::empty()),
            Ink::Contact => self.ink(&CONTACT, Modifier::empty()),
            Ink::Selected => self.selected(),
            Ink::Fix => self.fixed(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio of WCAG 2.2 (W3C Recommendation, definitions of
    /// "relative luminance" and "contrast ratio").
    fn contrast(a: (u8, u8, u8), b: (u8, u8, u8)) -> f64 {
        let luminance = |(r, g, b): (u8, u8, u8)| {
            let linear = |c: u8| {
                let c = f64::from(c) / 255.0;
                if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    fn of_text(style: Style) -> (u8, u8, u8) {
        let Some(Color::Rgb(r, g, b)) = style.fg else { panic!("{style:?}") };
        (r, g, b)
    }

    #[test]
    fn text_is_legible_on_the_ground_by_night_and_by_day() {
        assert!((contrast((255, 255, 255), BLACK) - 21.0).abs() < 1e-9);
        for (light, ground) in [(Light::Night, BLACK), (Light::Day, WHITE)] {
            let theme = Theme::new(Colours::Full).lit(light);
            // Level AA asks 4.5 of text,
            for style in [
                theme.text(),
                theme.quiet(),
                theme.fixed(),
                theme.doubt(),
                theme.wrong(),
                theme.selected(),
                theme.of(Ink::Reckoning),
                theme.of(Ink::Rival),
                theme.of(Ink::Contact),
            ] {
                assert!(contrast(of_text(style), ground) >= 4.5, "{light:?} {style:?}");
                // on a band the other way round,
                let Some(Color::Rgb(r, g, b)) = theme.band(style).bg else { panic!("{style:?}") };
                assert!(contrast((r, g, b), ground) >= 4.5, "{light:?} {style:?}");
            }
            // and 3 of lines that carry meaning.
            assert!(contrast(of_text(theme.of(Ink::Ring)), ground) >= 3.0, "{light:?}");
        }
    }

    #[test]
    fn no_colour_means_none() {
        let theme = Theme::new(Colours::None);
        for style in [theme.ground(), theme.fixed(), theme.wrong(), theme.band(theme.doubt())] {
            assert_eq!((style.fg, style.bg), (None, None));
        }
    }
}
