//! Sound files made unsound, by a seeded generator.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// Numbers that headers are spoilt with.
const NUMBERS: [i64; 18] = [
    0,
    1,
    2,
    3,
    -1,
    7,
    16,
    0x7f,
    0x80,
    0xff,
    0x7fff,
    0x8000,
    0xffff,
    0x0100_0000,
    0x3fff_ffff,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_ffff,
];

/// Numbers that coordinates are spoilt with.
const REALS: [f64; 14] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    1e308,
    -1e308,
    5e-324,
    0.0,
    -0.0,
    90.0,
    -90.0,
    180.0,
    -180.0,
    360.0,
    -38.000_000_000_1,
];

/// Pieces that texts are spoilt with.
const WORDS: [&str; 40] = [
    "nan",
    "inf",
    "-inf",
    "1e308",
    "-1e999",
    "1e-320",
    "99999999999999999999",
    "-0",
    "0x7f",
    "0b1",
    "1_0",
    "[[",
    "]]",
    "[",
    "]",
    "{",
    "}",
    "= {}",
    "\"\"",
    "\"\"\"",
    "'''",
    "\\u0000",
    "\\U0010FFFF",
    "\u{feff}",
    "\r\n",
    "\0",
    "\u{1b}[2J",
    "\u{9b}31m",
    "\u{202e}",
    "\u{200b}",
    "\u{7}",
    "\u{8}",
    "<script>",
    "../../x",
    "2031-03-09T03:40:00Z",
    "9999-12-31T23:59:60Z",
    "-9999-01-01T00:00:00Z",
    "90 N 180 E",
    "°",
    "é",
];

/// Some bytes of a corpus, changed one to six times.
pub fn mutated(random: &mut ChaCha8Rng, seeds: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = seeds[random.random_range(0..seeds.len())].clone();
    for _ in 0..random.random_range(1..=6) {
        change(random, seeds, &mut bytes);
    }
    bytes.truncate(1 << 20);
    bytes
}

fn change(random: &mut ChaCha8Rng, seeds: &[Vec<u8>], bytes: &mut Vec<u8>) {
    let at = random.random_range(0..=bytes.len());
    match random.random_range(0..12) {
        0 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << random.random_range(0..8);
            }
        }
        1 => bytes.truncate(at),
        2 => {
            let end = (at + random.random_range(0..64)).min(bytes.len());
            bytes.drain(at..end);
        }
        3 => {
            let end = (at + random.random_range(0..200)).min(bytes.len());
            let again = bytes[at..end].to_vec();
            let to = random.random_range(0..=bytes.len());
            bytes.splice(to..to, again);
        }
        4 => {
            let other = &seeds[random.random_range(0..seeds.len())];
            let from = random.random_range(0..=other.len());
            bytes.truncate(at);
            bytes.extend(&other[from..]);
        }
        5 | 6 => {
            let number = NUMBERS[random.random_range(0..NUMBERS.len())];
            let width = [1, 2, 4, 8][random.random_range(0..4)];
            let little = number.to_le_bytes();
            let mut written = little[..width].to_vec();
            if random.random_range(0..2) == 0 {
                written.reverse();
            }
            overwrite(bytes, aligned(at, random), &written);
        }
        7 => {
            let real = REALS[random.random_range(0..REALS.len())];
            overwrite(bytes, aligned(at, random), &real.to_le_bytes());
        }
        8 | 9 => {
            let word = WORDS[random.random_range(0..WORDS.len())].as_bytes();
            bytes.splice(at..at, word.iter().copied());
        }
        10 => {
            // A number of a text in place of another.
            if let Some(start) = bytes.iter().skip(at).position(u8::is_ascii_digit) {
                let start = at + start;
                let length = bytes[start..].iter().take_while(|b| b.is_ascii_digit()).count();
                let word = WORDS[random.random_range(0..11)].as_bytes();
                bytes.splice(start..start + length, word.iter().copied());
            }
        }
        _ => {
            let noise: Vec<u8> = (0..random.random_range(1..9)).map(|_| random.random()).collect();
            overwrite(bytes, at, &noise);
        }
    }
}

/// Mostly on a border of four bytes, where headers have their fields.
fn aligned(at: usize, random: &mut ChaCha8Rng) -> usize {
    if random.random_range(0..4) > 0 { at / 4 * 4 } else { at }
}

fn overwrite(bytes: &mut [u8], at: usize, with: &[u8]) {
    for (byte, with) in bytes.iter_mut().skip(at).zip(with) {
        *byte = *with;
    }
}
