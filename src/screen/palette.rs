use ratatui::crossterm::event::KeyCode;

/// The list of all that can be done, filtered by what is typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Palette {
    /// In a drill: what is done there stands first, and what is not done there is left out.
    pub drill: bool,
    /// What is typed.
    pub filter: String,
    /// The one chosen, by its place among those shown.
    pub at: usize,
}

/// One thing that can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Item {
    /// How it is typed or pressed.
    pub how: &'static str,
    /// What it does.
    pub does: &'static str,
    /// What choosing it does.
    pub choice: Choice,
}

/// What choosing an item does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// Puts this into the entry line, to be gone on with.
    Begin(&'static str),
    /// Takes this line.
    Enter(&'static str),
    /// Presses this key.
    Press(KeyCode),
    /// Changes the light.
    Light,
    /// Changes the signs.
    Drawing,
}

const fn item(how: &'static str, does: &'static str, choice: Choice) -> Item {
    Item { how, does, choice }
}

/// All that can be done, in the order of the help page.
pub const ITEMS: &[Item] = &[
    item("mark A Gannet Head", "name a contact", Choice::Begin("mark ")),
    item("unmark A", "take its name away", Choice::Begin("unmark ")),
    item("del A", "take a contact out", Choice::Begin("del ")),
    item("undo", "take the last entry back", Choice::Enter("undo")),
    item("redo", "put it back", Choice::Enter("redo")),
    item("accept", "start the reckoning from the fix as it stands", Choice::Enter("accept")),
    item("drift", "use the wind or stream that the fix has found", Choice::Enter("drift")),
    item("dr 38 12.9 S, 21 30.5 W", "a new reckoning", Choice::Begin("dr ")),
    item("trk 074 165", "track and speed made good from now on", Choice::Begin("trk ")),
    item("hdg 070", "own heading", Choice::Begin("hdg ")),
    item("h 2000", "own height in feet", Choice::Begin("h ")),
    item("tas 160", "true airspeed, or speed through the water", Choice::Begin("tas ")),
    item("bank 10r", "own bank, for deflections", Choice::Begin("bank ")),
    item("again D 16.8 040", "an echo seen once more", Choice::Begin("again ")),
    item("call D white ship", "name an echo that no chart explains", Choice::Begin("call ")),
    item("# haze", "a note for the log", Choice::Begin("# ")),
    item("/", "the radar's picture, open or shut", Choice::Press(KeyCode::Char('/'))),
    item("^", "north, track or heading up", Choice::Press(KeyCode::Char('^'))),
    item("< >", "the picture's scale: shorter", Choice::Press(KeyCode::Char('<'))),
    item("[ ]", "own ring on the picture: nearer", Choice::Press(KeyCode::Char('['))),
    item("{ }", "own line on the picture: to the left", Choice::Press(KeyCode::Char('{'))),
    item("*", "the cursor, to read and measure", Choice::Press(KeyCode::Char('*'))),
    item(".", "all in view again", Choice::Press(KeyCode::Char('.'))),
    item("Space", "the next panel", Choice::Press(KeyCode::Char(' '))),
    item("~", "night or day colours", Choice::Light),
    item("(list only)", "signs: braille, blocks or ASCII", Choice::Drawing),
    item("!", "acknowledge the alarm", Choice::Press(KeyCode::Char('!'))),
    item("tour", "the tour: from the first echo to a fix", Choice::Enter("tour")),
    item("?", "help", Choice::Press(KeyCode::Char('?'))),
    item("q", "leave", Choice::Press(KeyCode::Char('q'))),
];

/// What is done in a drill alone.
pub const IN_A_DRILL: &[Item] = &[
    item("declare 38 S, 21 W sigma 1 confirmed", "say where you are", Choice::Begin("declare ")),
    item("hint", "the next hint, for 5 points", Choice::Enter("hint")),
    item("task", "read the task again", Choice::Enter("task")),
    item("score", "read the score again", Choice::Enter("score")),
];

/// What a drill has not: no fix is worked out there.
const NOT_IN_A_DRILL: [&str; 3] = ["accept", "drift", "tour"];

impl Palette {
    /// What matches all words typed, whatever their case and order.
    pub fn shown(&self) -> Vec<&'static Item> {
        let wanted = self.filter.to_lowercase();
        let fits = |item: &&Item| {
            let text = format!("{} {}", item.how, item.does).to_lowercase();
            wanted.split_whitespace().all(|word| text.contains(word))
        };
        let first = IN_A_DRILL.iter().filter(|_| self.drill);
        let others = ITEMS.iter().filter(|item| !self.drill || !NOT_IN_A_DRILL.contains(&item.how));
        first.chain(others).filter(fits).collect()
    }

    /// The one chosen.
    pub fn chosen(&self) -> Option<&'static Item> {
        self.shown().get(self.at).copied()
    }

    /// One further down or up, round.
    pub fn step(&mut self, step: isize) {
        let count = self.shown().len();
        if count > 0 {
            self.at = (self.at + count).saturating_add_signed(step) % count;
        }
    }

    /// One more character typed.
    pub fn typed(&mut self, c: char) {
        /// No filter is longer.
        const MOST: usize = 40;
        if self.filter.chars().count() < MOST && !c.is_control() {
            self.filter.push(c);
            self.at = 0;
        }
    }

    /// The last character taken away.
    pub fn back(&mut self) {
        self.filter.pop();
        self.at = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::tour::is_word;
    use crate::watch::entry::understood;

    #[test]
    fn it_filters_by_every_word_and_goes_round() {
        let mut palette = Palette::default();
        assert_eq!(palette.shown().len(), ITEMS.len());
        "name echo".chars().for_each(|c| palette.typed(c));
        let shown: Vec<&str> = palette.shown().iter().map(|item| item.how).collect();
        assert_eq!(shown, ["call D white ship"]);
        palette.step(1);
        assert_eq!(palette.chosen().unwrap().how, "call D white ship");
        "zzz".chars().for_each(|c| palette.typed(c));
        assert_eq!(palette.chosen(), None);
        palette.step(-1);
    }

    #[test]
    fn what_it_takes_at_once_is_an_entry() {
        for item in ITEMS {
            if let Choice::Enter(line) = item.choice {
                assert!(understood(line).is_ok() || is_word(line), "{line}");
            }
            if let Choice::Begin(start) = item.choice {
                assert!(item.how.starts_with(start.trim_end()), "{start}");
                assert!(understood(item.how).is_ok(), "{}", item.how);
            }
        }
    }
}
