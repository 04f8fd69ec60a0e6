//! Values as little-endian bytes, for what the program keeps between runs.
//!
//! Reading is total: whatever the bytes, it ends in a value or a [`Damage`]. A count is held against
//! the bytes that are left before anything is set aside for it.

/// Why bytes are not what they should be, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Damage(pub(super) String);

impl Damage {
    pub(super) fn new(why: impl Into<String>) -> Self {
        Self(why.into())
    }
}

/// Writes values one after another.
#[derive(Debug, Default)]
pub(super) struct Encoder {
    bytes: Vec<u8>,
}

impl Encoder {
    pub(super) fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    pub(super) fn clear(&mut self) {
        self.bytes.clear();
    }

    pub(super) fn raw(&mut self, bytes: &[u8]) {
        self.bytes.extend_from_slice(bytes);
    }

    pub(super) fn u8(&mut self, value: u8) {
        self.bytes.push(value);
    }

    pub(super) fn u32(&mut self, value: u32) {
        self.raw(&value.to_le_bytes());
    }

    pub(super) fn u64(&mut self, value: u64) {
        self.raw(&value.to_le_bytes());
    }

    pub(super) fn f64(&mut self, value: f64) {
        self.raw(&value.to_le_bytes());
    }

    pub(super) fn flag(&mut self, value: bool) {
        self.u8(u8::from(value));
    }

    /// A count, or a number of something in memory.
    pub(super) fn count(&mut self, value: usize) {
        self.u64(value as u64);
    }

    pub(super) fn text(&mut self, text: &str) {
        self.count(text.len());
        self.raw(text.as_bytes());
    }

    pub(super) fn list<T>(&mut self, all: &[T], mut one: impl FnMut(&mut Self, &T)) {
        self.count(all.len());
        for item in all {
            one(self, item);
        }
    }

    pub(super) fn option<T>(&mut self, value: Option<&T>, one: impl FnOnce(&mut Self, &T)) {
        self.flag(value.is_some());
        if let Some(value) = value {
            one(self, value);
        }
    }
}

/// Reads what an [`Encoder`] wrote.
#[derive(Debug)]
pub(super) struct Decoder<'a> {
    left: &'a [u8],
}

impl<'a> Decoder<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self { left: bytes }
    }

    pub(super) fn is_done(&self) -> bool {
        self.left.is_empty()
    }

    /// Whether nothing is left over.
    pub(super) fn finish(&self) -> Result<(), Damage> {
        if self.is_done() { Ok(()) } else { Err(Damage::new("it holds more than it should")) }
    }

    pub(super) fn raw(&mut self, count: usize) -> Result<&'a [u8], Damage> {
        let (taken, left) =
            self.left.split_at_checked(count).ok_or_else(|| Damage::new("it ends too early"))?;
        self.left = left;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Damage> {
        let taken = self.raw(N)?;
        taken.try_into().map_err(|_| Damage::new("it ends too early"))
    }

    pub(super) fn u8(&mut self) -> Result<u8, Damage> {
        self.array().map(u8::from_le_bytes)
    }

    pub(super) fn u32(&mut self) -> Result<u32, Damage> {
        self.array().map(u32::from_le_bytes)
    }

    pub(super) fn u64(&mut self) -> Result<u64, Damage> {
        self.array().map(u64::from_le_bytes)
    }

    pub(super) fn f64(&mut self) -> Result<f64, Damage> {
        self.array().map(f64::from_le_bytes)
    }

    /// A number that is one.
    pub(super) fn finite(&mut self) -> Result<f64, Damage> {
        let value = self.f64()?;
        if value.is_finite() { Ok(value) } else { Err(Damage::new("a number in it is none")) }
    }

    pub(super) fn flag(&mut self) -> Result<bool, Damage> {
        match self.u8()? {
            0 => Ok(false),
            1 => Ok(true),
            other => Err(Damage::new(format!("a mark of yes or no in it is {other}"))),
        }
    }

    pub(super) fn count(&mut self) -> Result<usize, Damage> {
        usize::try_from(self.u64()?).map_err(|_| Damage::new("a count in it is impossible"))
    }

    pub(super) fn text(&mut self) -> Result<String, Damage> {
        let count = self.count()?;
        let text = std::str::from_utf8(self.raw(count)?);
        text.map(str::to_owned).map_err(|_| Damage::new("a text in it is none"))
    }

    /// A list each of whose items takes at least `least` bytes.
    pub(super) fn list<T>(
        &mut self,
        least: usize,
        mut one: impl FnMut(&mut Self) -> Result<T, Damage>,
    ) -> Result<Vec<T>, Damage> {
        let count = self.count()?;
        if count > self.left.len() / least.max(1) {
            return Err(Damage::new(format!("it counts {count} items and cannot hold them")));
        }
        (0..count).map(|_| one(self)).collect()
    }

    pub(super) fn option<T>(
        &mut self,
        one: impl FnOnce(&mut Self) -> Result<T, Damage>,
    ) -> Result<Option<T>, Damage> {
        if self.flag()? { one(self).map(Some) } else { Ok(None) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read() {
        let mut out = Encoder::default();
        out.u8(7);
        out.f64(-0.1);
        out.text("Tête");
        out.list(&[1, 2, 3], |out, n| out.u32(*n));
        out.option(Some(&5_u64), |out, n| out.u64(*n));
        out.option(None::<&u64>, |out, n| out.u64(*n));
        let mut input = Decoder::new(out.bytes());
        assert_eq!(input.u8(), Ok(7));
        assert_eq!(input.finite(), Ok(-0.1));
        assert_eq!(input.text().as_deref(), Ok("Tête"));
        assert_eq!(input.list(4, Decoder::u32), Ok(vec![1, 2, 3]));
        assert_eq!(input.option(Decoder::u64), Ok(Some(5)));
        assert_eq!(input.option(Decoder::u64), Ok(None));
        assert_eq!(input.finish(), Ok(()));
    }

    #[test]
    fn a_count_beyond_the_bytes_sets_nothing_aside() {
        let mut out = Encoder::default();
        out.u64(u64::MAX / 2);
        out.u32(1);
        assert!(Decoder::new(out.bytes()).list(4, Decoder::u32).is_err());
        assert!(Decoder::new(out.bytes()).text().is_err());
        assert!(Decoder::new(&[2]).flag().is_err());
        assert!(Decoder::new(&f64::NAN.to_le_bytes()).finite().is_err());
    }
}
