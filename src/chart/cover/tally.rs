use std::collections::BTreeMap;

use super::Terrain;

/// At most so many unknown words are shown.
const MOST_SHOWN: usize = 6;

/// What the classes of one layer come to.
#[derive(Debug, Default)]
pub(in crate::chart) struct ClassTally {
    known: BTreeMap<Terrain, usize>,
    bare: usize,
    unknown: BTreeMap<String, usize>,
}

impl ClassTally {
    /// Counts a shape by the word of its class, and gives the class.
    pub(in crate::chart) fn class(&mut self, word: Option<&str>) -> Option<Terrain> {
        let word = word.map(str::trim).filter(|word| !word.is_empty());
        let class = word.and_then(Terrain::from_word);
        match (class, word) {
            (Some(class), _) => *self.known.entry(class).or_default() += 1,
            (None, Some(word)) => {
                let word = crate::chart::shapes::sanitised(word);
                *self.unknown.entry(word).or_default() += 1;
            }
            (None, None) => self.bare += 1,
        }
        class
    }

    /// How many shapes there are of each class, from the smoothest, then of those with none.
    pub(in crate::chart) fn counts(&self) -> Vec<(&'static str, usize)> {
        let known = self.known.iter().map(|(class, count)| (class.as_str(), *count));
        let none = self.bare + self.unknown.values().sum::<usize>();
        known.chain((none > 0).then_some(("no class", none))).collect()
    }

    /// What an operator must know of shapes whose class is not known.
    pub(in crate::chart) fn caution(&self, file: &str) -> Option<String> {
        let none = self.bare + self.unknown.values().sum::<usize>();
        if none == 0 {
            return None;
        }
        let shown: Vec<String> =
            self.unknown.keys().take(MOST_SHOWN).map(|word| format!("\"{word}\"")).collect();
        let more = if self.unknown.len() > MOST_SHOWN { " and others" } else { "" };
        let words = if shown.is_empty() {
            "no word for it".to_owned()
        } else {
            format!("{}{more}", shown.join(", "))
        };
        let shapes = if none == 1 { "1 shape has" } else { &format!("{none} shapes have") };
        Some(format!(
            "{file}: {shapes} no class of ground that is known ({words}): taken as not classed"
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_not_known_are_counted_and_told() {
        let mut tally = ClassTally::default();
        for word in [Some("farm"), Some("sand"), Some("Farmland"), Some("lava"), None, Some(" ")] {
            tally.class(word);
        }
        assert_eq!(tally.counts(), [("very smooth", 1), ("farmland", 2), ("no class", 3)]);
        assert_eq!(
            tally.caution("c/cover.shp").unwrap(),
            "c/cover.shp: 3 shapes have no class of ground that is known (\"lava\"): taken as not \
             classed"
        );
        let mut known = ClassTally::default();
        known.class(Some("woods"));
        assert_eq!(known.caution("x"), None);
    }
}
