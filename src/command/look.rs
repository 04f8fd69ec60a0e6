use clap::Args;

use crate::screen::{Colours, Drawing, Light, Theme};

/// How the display looks.
#[derive(Debug, Clone, Default, Args)]
pub struct Look {
    /// Dark on white, to be read by day
    #[arg(long)]
    day: bool,
    /// The signs it is drawn with: braille, blocks or ascii; else what the terminal is known to show
    #[arg(long, value_name = "SIGNS", value_parser = drawing)]
    drawing: Option<Drawing>,
}

impl Look {
    /// As asked for; what was not asked for goes by the environment.
    pub fn theme(&self) -> Theme {
        let light = if self.day { Light::Day } else { Light::Night };
        let drawing = self.drawing.unwrap_or_else(Drawing::from_environment);
        Theme::new(Colours::from_environment()).lit(light).drawn(drawing)
    }
}

/// The signs of a word.
fn drawing(word: &str) -> Result<Drawing, String> {
    Drawing::parse(word).ok_or_else(|| format!("it is one of {}", Drawing::WORDS.join(", ")))
}
