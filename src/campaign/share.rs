/// Of so many, how many.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Share {
    /// Those that did.
    pub hits: usize,
    /// All.
    pub of: usize,
}

impl Share {
    /// So many of so many.
    pub fn new(hits: usize, of: usize) -> Self {
        Self { hits, of }
    }

    /// Counts one more.
    pub fn count(&mut self, hit: bool) {
        self.of += 1;
        self.hits += usize::from(hit);
    }

    /// In per cent; none of nothing.
    pub fn percent(self) -> Option<f64> {
        (self.of > 0).then(|| 100.0 * self.hits as f64 / self.of as f64)
    }

    /// The interval in which the chance lies, per cent: 95 % (Wilson 1927), all of it where nothing
    /// was counted.
    ///
    /// Of 81 in 263 (Newcombe 1998, table I, from memory): 25.5 to 36.6 %.
    /// ```
    /// # use foreland::campaign::Share;
    /// let [low, high] = Share::new(81, 263).interval();
    /// assert!((low - 25.53).abs() < 0.01 && (high - 36.62).abs() < 0.01);
    /// ```
    pub fn interval(self) -> [f64; 2] {
        if self.of == 0 {
            return [0.0, 100.0];
        }
        let (z, n) = (1.959_964_f64, self.of as f64);
        let share = self.hits as f64 / n;
        let middle = share + z * z / (2.0 * n);
        let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
        let whole = 1.0 + z * z / n;
        // At the ends the two parts are equal, and rounding must not put the end outside.
        [(100.0 * (middle - half) / whole).max(0.0), (100.0 * (middle + half) / whole).min(100.0)]
    }
}
