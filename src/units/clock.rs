//! Times of one run, told with their day where that is another.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// Times of one run or sitting, in UTC: the day is told where it is not the first.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    day: Option<Date>,
}

impl Clock {
    /// From the first time of all; without one no day is told.
    pub fn from_first(time: Option<Timestamp>) -> Self {
        Self { day: time.map(|time| TimeZone::UTC.to_datetime(time).date()) }
    }

    /// `03:42:30Z`, or `03-10 03:42:30Z` on another day.
    pub fn tell(self, time: Timestamp) -> String {
        format!("{}Z", self.seconds(time))
    }

    /// The same without its Z, for a column that has it at its head.
    pub fn seconds(self, time: Timestamp) -> String {
        self.told(time, "%H:%M:%S")
    }

    /// The same without its seconds: `03:42`, or `03-10 03:42`.
    pub fn minutes(self, time: Timestamp) -> String {
        self.told(time, "%H:%M")
    }

    fn told(self, time: Timestamp, of_day: &str) -> String {
        let civil = TimeZone::UTC.to_datetime(time);
        let hour = civil.strftime(of_day);
        if self.day.is_none_or(|day| day == civil.date()) {
            hour.to_string()
        } else {
            format!("{} {hour}", civil.strftime("%m-%d"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_day_is_told() {
        let time = |text: &str| text.parse::<Timestamp>().unwrap();
        let clock = Clock::from_first(Some(time("2031-03-09T23:50:00Z")));
        assert_eq!(clock.tell(time("2031-03-09T23:59:59Z")), "23:59:59Z");
        assert_eq!(clock.tell(time("2031-03-10T00:00:00Z")), "03-10 00:00:00Z");
        assert_eq!(clock.seconds(time("2031-03-08T23:50:00Z")), "03-08 23:50:00");
        assert_eq!(clock.minutes(time("2032-03-09T23:50:00Z")), "03-09 23:50", "another year");
        let dayless = Clock::from_first(None);
        assert_eq!(dayless.minutes(time("2031-03-10T00:12:30Z")), "00:12");
    }
}
