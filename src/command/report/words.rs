use crate::chart::{Chart, HeightSource, Mark};
use crate::command::CAUTION;
use crate::contact::Sightings;
use crate::fix::{Fix, Grade, Verdict};
use crate::geodesy::{Ellipse, Position, course};
use crate::radar::Rain;
use crate::units::{Bearing, Clock, GroundRange, True};

/// How far a mark may be and still serve to say where a place is, in nautical miles.
const NAMING_REACH_NM: f64 = 300.0;

/// A probability in words: never quite none, never quite all.
///
/// Three digits below the last nine: what is nearer to certain than 99.99 % is said to be over it.
pub fn percent(probability: f64) -> String {
    let hundredths = probability * 100.0;
    if hundredths > 99.99 {
        "over 99.99 %".to_owned()
    } else if hundredths < 0.01 {
        "under 0.01 %".to_owned()
    } else if !(1.0..99.0).contains(&hundredths) {
        format!("{hundredths:.2} %")
    } else {
        format!("{hundredths:.1} %")
    }
}

/// Rain, and where it falls.
pub fn rain(rain: Rain) -> String {
    let Rain { mm_h, from, to } = rain;
    if mm_h <= 0.0 {
        "no rain".to_owned()
    } else if rain.is_everywhere() {
        format!("rain {mm_h} mm/h")
    } else if to >= Rain::everywhere(mm_h).to {
        format!("rain {mm_h} mm/h from {} on", distance_words(from))
    } else {
        format!("rain {mm_h} mm/h from {} to {}", distance_words(from), distance_words(to))
    }
}

/// A distance in nautical miles: two digits after the point below ten, one above.
pub fn distance_words(distance: GroundRange) -> String {
    let miles = distance.nautical_miles();
    if miles < 9.995 { format!("{miles:.2} NM") } else { format!("{miles:.1} NM") }
}

/// Where a place is from the nearest mark that the chart names: `12.3 NM 214° from Gannet Head`.
///
/// The direction is that at the mark, as positions are given by voice. Marks without a name of
/// their own serve only where nothing near has one. `None` with no mark within 300 NM.
pub fn from_nearest_mark(chart: &Chart, place: Position) -> Option<String> {
    let reach = GroundRange::from_nautical_miles(NAMING_REACH_NM).ok()?;
    let near = chart.marks().within(place, reach);
    let marks: Vec<&Mark> = near.into_iter().filter_map(|id| chart.marks().get(id)).collect();
    let nearest = |named: bool| {
        marks
            .iter()
            .filter(|mark| mark.named || !named)
            .map(|mark| (course(mark.position, place), *mark))
            .min_by(|a, b| a.0.distance.metres().total_cmp(&b.0.distance.metres()))
    };
    let (line, mark) = nearest(true).or_else(|| nearest(false))?;
    let towards = line.initial.whole_degrees();
    Some(format!("{} {towards}° from {}", distance_words(line.distance), mark.name))
}

/// The reckoning against the position, in one sentence: `fix is 5.1 NM 214° from DR, within its
/// stated error`. `None` where several places fit or nothing is known.
pub fn offset_words(fix: &Fix) -> Option<String> {
    let what = match fix.verdict {
        Verdict::Fixed => "fix is",
        Verdict::TooFew => "most probable position is",
        Verdict::AtOdds => "the contacts alone would put you",
        Verdict::Ambiguous => return None,
    };
    let comparison = fix.reckoning;
    let (offset, bearing) = (comparison.offset?, comparison.bearing?);
    let agrees = match comparison.grade {
        Some(Grade::Allowed) => ", within its stated error",
        Some(Grade::Unusual) => ", unusual: beyond its 95 %",
        Some(Grade::AtOdds) => ", beyond its stated error",
        None => "",
    };
    let miles = offset.nautical_miles();
    let towards = bearing.whole_degrees();
    Some(format!("{what} {miles:.1} NM {towards}° from DR{agrees}"))
}

/// What an answer cautions of, and last what every answer does.
pub(super) fn and_standing(cautions: &[String]) -> Vec<&str> {
    cautions.iter().map(String::as_str).chain([CAUTION]).collect()
}

/// The direction of the long axis; none of an ellipse that is as good as round.
pub(super) fn long_axis(ellipse: Ellipse) -> Option<Bearing<True>> {
    let (long, short) = (ellipse.semi_major.metres(), ellipse.semi_minor.metres());
    // To the last figure that is told such axes are the same.
    (short < 0.98 * long).then_some(ellipse.major_axis)
}

/// A time as a log has it: date, hours, minutes, seconds and Z.
pub(super) fn clock(time: jiff::Timestamp) -> String {
    time.strftime("%Y-%m-%d %H:%M:%SZ").to_string()
}

/// The contacts measured, in words: `5 contacts from 03:41:10Z to 03:42:30Z`; the day is told where it is
/// not that of the fix.
pub(super) fn contacts_words(sightings: &Sightings, fix: &Fix) -> String {
    let clock = Clock::from_first(Some(fix.time));
    let contacts = sightings.contacts.iter().map(|contact| contact.time);
    let outlines = sightings.outlines.iter().map(|outline| outline.time);
    let times = || contacts.clone().chain(outlines.clone());
    let count = |count: usize, what: &str| match count {
        0 => None,
        1 => Some(format!("1 {what}")),
        more => Some(format!("{more} {what}s")),
    };
    let measured: Vec<String> =
        [count(sightings.contacts.len(), "contact"), count(sightings.outlines.len(), "outline")]
            .into_iter()
            .flatten()
            .collect();
    let measured = measured.join(" and ");
    match (times().min(), times().max()) {
        (Some(first), Some(last)) if first == last => {
            format!("{measured} at {}", clock.tell(first))
        }
        (Some(first), Some(last)) => {
            format!("{measured} from {} to {}", clock.tell(first), clock.tell(last))
        }
        _ => "no contact".to_owned(),
    }
}

/// Where a height of ground comes from.
pub(super) fn height_source(source: HeightSource) -> &'static str {
    match source {
        HeightSource::Sea => "sea by the chart's shore",
        HeightSource::Grid => "from the grid",
        HeightSource::Contour => "from contours",
        HeightSource::Mark => "from the charted height of a mark",
        HeightSource::Assumed => "assumed, nothing tells it",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_probability_is_said_to_be_certain() {
        assert_eq!(percent(0.996), "99.60 %");
        assert_eq!(percent(0.5), "50.0 %");
        assert_eq!(percent(1.0), "over 99.99 %");
        assert_eq!(percent(0.0), "under 0.01 %");
        assert_eq!(percent(0.001), "0.10 %");
    }
}
