use super::{Expectation, ExpectedCoast};

/// Land that shows as often as this is counted on.
const COUNTED_ON: f64 = 0.5;

impl Expectation {
    /// The nearest land that should paint, all round; none where none does.
    pub fn nearest_land(&self) -> Option<&ExpectedCoast> {
        let likely = self.coast.iter().filter(|coast| coast.paint_probability >= COUNTED_ON);
        likely.min_by(|a, b| a.range.metres().total_cmp(&b.range.metres()))
    }
}
