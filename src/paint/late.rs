//! Echoes that come back after the next pulse has left.

use super::budget::Budget;
use super::expect::HIGHEST_M;
use super::expectation::{ExpectedMark, MAY_SHOW};
use super::vantage::{Conditions, Vantage};
use crate::chart::{Chart, Mark};
use crate::geodesy::course;
use crate::radar::Set;
use crate::units::{GroundRange, Height};

impl ExpectedMark {
    /// Whether it may show at a false range.
    pub(super) fn shows_late(&self) -> bool {
        self.second_time.is_some_and(|late| late.paint_probability >= MAY_SHOW)
    }
}

/// Whether anything past the next pulse could be in sight, so that echoes stand at false ranges.
pub fn shows_past_the_pulse(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
) -> bool {
    past_the_pulse(chart, vantage, &Budget::new(set, conditions, vantage.height)).is_some()
}

/// As far as echoes of the second pulse can stand on the screen, where any mark out there is above
/// the horizon.
pub(super) fn past_the_pulse(
    chart: &Chart,
    vantage: &Vantage,
    budget: &Budget,
) -> Option<GroundRange> {
    let set = budget.set();
    let next = GroundRange::clamped_metres(set.unambiguous_range().metres());
    let on_screen = set.greatest_scale().metres().min(next.metres());
    let far = GroundRange::clamped_metres(next.metres() + on_screen);
    let earth = budget.conditions().earth;
    let highest = Height::from_metres(HIGHEST_M).unwrap_or_default();
    if earth.horizon(vantage.height, highest) <= next {
        return None;
    }
    let marks = chart.marks();
    let above = |mark: &Mark| {
        let along = course(vantage.position, mark.position).distance;
        along > next && earth.horizon(vantage.height, mark.height) > along
    };
    let mut beyond = marks.within(vantage.position, far).into_iter();
    beyond.any(|id| marks.get(id).is_some_and(above)).then_some(far)
}

/// The caution that marks show at false ranges, naming the likeliest.
pub(super) fn told_late(chart: &Chart, second_time: &[ExpectedMark]) -> Option<String> {
    let most = second_time.iter().max_by(|a, b| {
        let chance = |mark: &ExpectedMark| mark.second_time.map_or(0.0, |it| it.paint_probability);
        chance(a).total_cmp(&chance(b))
    })?;
    let (mark, late) = (chart.marks().get(most.mark)?, most.second_time?);
    Some(format!(
        "second-time echoes: {} at {:.1} NM may show at {:.1} NM, after the next pulse{}",
        mark.name,
        most.range.nautical_miles(),
        late.appears.nautical_miles(),
        match second_time.len() {
            1 => String::new(),
            more => format!(", and {} more", more - 1),
        }
    ))
}

#[cfg(test)]
mod tests {
    use super::super::{Outcome, expect};
    use super::*;

    #[test]
    fn what_lies_past_the_next_pulse_stands_too_near_and_never_in_its_place() {
        // 3,000 pulses a second are 26.98 NM apart (computed): the same coast with the same set,
        // once with room for the echoes and once without.
        let chart = Chart::sample().unwrap();
        let slow = Set::builtin("patrol").unwrap();
        let fast = Set {
            pulse_rate_hz: 3_000.0,
            scan_rpm: slow.scan_rpm.map(|rpm| 6.0 * rpm),
            ..slow.clone()
        };
        assert_eq!(slow.pulses_on_target(), fast.pulses_on_target());
        let vantage = Vantage {
            position: "38 12.9 S, 21 30.5 W".parse().unwrap(),
            height: Height::from_feet(2_000.0).unwrap(),
            heading: None,
        };
        let reach = GroundRange::from_nautical_miles(45.0).unwrap();
        let see = |set: &Set| expect(&chart, &vantage, set, &Conditions::default(), reach, 1.0);
        let (roomy, late) = (see(&slow), see(&fast));
        assert!(roomy.second_time.is_empty());
        let next = fast.unambiguous_range();
        assert!(late.coast.iter().all(|row| row.range <= next));
        assert!(roomy.coast.iter().any(|row| row.range > next));
        let mut told = 0usize;
        for (there, here) in roomy.marks.iter().zip(&late.marks) {
            assert_eq!(there.mark, here.mark);
            if here.range <= next {
                assert_eq!(here.second_time, None);
                continue;
            }
            assert_eq!(here.outcome, Outcome::OutOfRange);
            assert!(here.paint_probability.abs() < 1e-12);
            let false_range = here.second_time.unwrap();
            let off = here.range.metres() - next.metres() - false_range.appears.metres();
            assert!(off.abs() < 1e-6);
            assert!((false_range.paint_probability - there.paint_probability).abs() < 1e-9);
            told += usize::from(here.shows_late());
        }
        assert!(told > 3, "{told}");
        assert!(late.second_time.iter().all(|mark| mark.range > next));
        assert!(late.second_time.len() >= told);
        assert!(late.cautions.iter().any(|told| told.starts_with("second-time echoes: ")));
    }
}
