use jiff::{SignedDuration, Timestamp};

use super::EntryError;

/// When something was measured, as typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    /// A time of day in UTC; the day is the one that puts it nearest to the watch's own time.
    Clock {
        /// 0 to 23.
        hour: i8,
        /// 0 to 59.
        minute: i8,
        /// 0 to 59.
        second: i8,
    },
    /// So many seconds before the watch's own time.
    Before(i64),
    /// A full date and time.
    At(Timestamp),
}

/// Seconds in a day.
const DAY: i64 = 86_400;

/// The longest time ago taken, in seconds: a day.
const LONGEST_AGO: i64 = DAY;

impl When {
    /// The instant meant, for a watch whose own time is `now`.
    pub fn resolve(self, now: Timestamp) -> Timestamp {
        match self {
            Self::At(time) => time,
            Self::Before(seconds) => {
                now.checked_sub(SignedDuration::from_secs(seconds)).unwrap_or(now)
            }
            Self::Clock { hour, minute, second } => {
                let into_day = i64::from(hour) * 3600 + i64::from(minute) * 60 + i64::from(second);
                let midnight = now.as_second().div_euclid(DAY) * DAY;
                [-DAY, 0, DAY]
                    .into_iter()
                    .map(|day| midnight + day + into_day)
                    .min_by_key(|second| (second - now.as_second()).abs())
                    .and_then(|second| Timestamp::from_second(second).ok())
                    .unwrap_or(now)
            }
        }
    }

    /// Reads what follows an `@`: `0341`, `03:41`, `034110`, `03:41:10`, with or without `Z`, or
    /// a whole RFC 3339 time.
    pub(super) fn read_clock(text: &str) -> Result<Self, EntryError> {
        let refused = || EntryError::Time { text: text.to_owned() };
        if let Some(before) = Self::read_before(text) {
            return before;
        }
        if let Ok(time) = text.parse::<Timestamp>() {
            return Ok(Self::At(time));
        }
        let digits: String =
            text.trim_end_matches(['z', 'Z']).chars().filter(|c| *c != ':').collect();
        if !matches!(digits.len(), 4 | 6) || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(refused());
        }
        let part = |from: usize, most: i8| -> Result<i8, EntryError> {
            let value = digits.get(from..from + 2).map_or(Ok(0), str::parse);
            value.ok().filter(|v| *v < most).ok_or_else(refused)
        };
        Ok(Self::Clock { hour: part(0, 24)?, minute: part(2, 60)?, second: part(4, 60)? })
    }

    /// Reads `-2m`, `-90s`, `-1m30s`; `None` where the text is no time ago at all.
    pub(super) fn read_before(text: &str) -> Option<Result<Self, EntryError>> {
        let ago = text.strip_prefix('-')?;
        let refused = || Err(EntryError::Time { text: text.to_owned() });
        let mut total = 0i64;
        let mut number = String::new();
        for c in ago.to_lowercase().chars() {
            let unit = match c {
                '0'..='9' if number.len() < 6 => {
                    number.push(c);
                    continue;
                }
                's' => 1,
                'm' => 60,
                'h' => 3600,
                _ => return Some(refused()),
            };
            let Ok(count) = number.parse::<i64>() else { return Some(refused()) };
            total += count * unit;
            number.clear();
        }
        let whole = number.is_empty() && (1..=LONGEST_AGO).contains(&total);
        Some(if whole { Ok(Self::Before(total)) } else { refused() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(text: &str, now: &str) -> String {
        When::read_clock(text).unwrap().resolve(now.parse().unwrap()).to_string()
    }

    #[test]
    fn a_time_of_day_is_the_nearest_one() {
        assert_eq!(clock("0341", "2031-03-09T03:44:00Z"), "2031-03-09T03:41:00Z");
        assert_eq!(clock("03:41:10z", "2031-03-09T03:44:00Z"), "2031-03-09T03:41:10Z");
        assert_eq!(clock("2358", "2031-03-09T00:01:00Z"), "2031-03-08T23:58:00Z");
        assert_eq!(clock("0001", "2031-03-08T23:59:00Z"), "2031-03-09T00:01:00Z");
    }

    #[test]
    fn times_ago() {
        assert_eq!(clock("-2m", "2031-03-09T00:01:00Z"), "2031-03-08T23:59:00Z");
        assert_eq!(When::read_before("-1m30s"), Some(Ok(When::Before(90))));
        assert_eq!(When::read_before("2m"), None);
        for text in ["-2", "-m", "-0m", "-2x", "-", "-99999h"] {
            assert!(When::read_before(text).unwrap().is_err(), "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_refused() {
        for text in ["", "3", "341", "2460", "0360", "03:41:99", "noon", "03é1"] {
            assert!(When::read_clock(text).is_err(), "{text}");
        }
    }
}
