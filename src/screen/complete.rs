use crate::chart::Marks;

/// The line with the name that it ends in completed, as far as the names that begin so agree; none
/// where no name of the chart begins as the line ends.
///
/// The longest end of the line that begins a name counts: `mark A gan` ends in `gan`.
pub fn completed(line: &str, marks: &Marks) -> Option<String> {
    let starts = line.char_indices().filter(|(at, c)| {
        let before = line.get(..*at).and_then(|text| text.chars().next_back());
        !c.is_whitespace() && before.is_none_or(char::is_whitespace)
    });
    for (at, _) in starts {
        let (head, tail) = line.split_at(at);
        let wanted = tail.to_lowercase();
        // Digits begin ranges and bearings, one letter a label.
        if tail.chars().count() < 2 || tail.starts_with(|c: char| c.is_ascii_digit()) {
            continue;
        }
        let mut names = marks
            .iter()
            .map(|(_, mark)| mark.name.as_str())
            .filter(|name| name.to_lowercase().starts_with(&wanted));
        let Some(first) = names.next() else { continue };
        let common = names.fold(first, |common, name| shared(common, name));
        if common.chars().count() >= tail.chars().count() {
            return Some(format!("{head}{common}"));
        }
    }
    None
}

/// What two names begin with, whatever the case.
fn shared<'a>(one: &'a str, other: &str) -> &'a str {
    let same = one
        .char_indices()
        .zip(other.chars())
        .take_while(|((_, a), b)| a.to_lowercase().eq(b.to_lowercase()))
        .last();
    same.map_or("", |((at, c), _)| one.get(..at + c.len_utf8()).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::Chart;

    #[test]
    fn the_end_of_a_line_is_completed_to_a_name() {
        let chart = Chart::sample().unwrap();
        let of = |line: &str| completed(line, chart.marks());
        assert_eq!(of("17.3 042 gann").as_deref(), Some("17.3 042 Gannet Head"));
        assert_eq!(of("mark A great e").as_deref(), Some("mark A Great Ember"));
        // As far as Fallow Head and Fallow Ness agree.
        assert_eq!(of("mark A fal").as_deref(), Some("mark A Fallow "));
        assert_eq!(of("mark A fallow n").as_deref(), Some("mark A Fallow Ness"));
        for line in ["", "17.3 042", "mark A xyz", "a"] {
            assert_eq!(of(line), None, "{line}");
        }
    }
}
