//! `[[outline]]`.

use jiff::Timestamp;

use super::contacts::{Kind, LABEL_MOST, check_label, few_enough, labels_of};
use super::fault::shown;
use super::own::height_of;
use super::section::Section;
use super::tree::{Node, Value};
use super::{MOST_RANGE_NM, Wrong, subsection};
use crate::contact::own::OwnError;
use crate::contact::reading::ReadingError;
use crate::contact::{BearingKind, Outline, Own, Radar, ReadBearing, Reckoning};
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};

const KEYS: &[&str] = &["label", "time", "own_height_ft", "bearing_kind", "points"];

const RIGHT: &str = "write points = [[41.0, 17.9], [42.0, 17.4], [43.0, 17.3]], bearing then range";

/// An outline as the file gives it, with its section to point into.
pub(super) struct Given<'t> {
    section: Section<'t>,
    label: String,
    time: Option<Timestamp>,
    own_height: Option<Height>,
    /// None where its word was not one of those known.
    kind: Option<BearingKind>,
    points: Vec<(f64, f64)>,
}

/// Reads every outline; too many are noted once and not read.
pub(super) fn read<'t>(root: &Section<'t>) -> Vec<Given<'t>> {
    let most = Outline::MOST_OUTLINES;
    let too_many = |count| Wrong::TooManyOutlines { count, most };
    let mend = "keep the latest of each stretch of coast";
    let Some(items) = few_enough(root, Kind::Outline, most, too_many, mend) else {
        return Vec::new();
    };
    let labels = labels_of(root, Kind::Outline);
    let each = items.iter().zip(labels).enumerate();
    each.filter_map(|(index, (item, label))| one(root, index, item, label)).collect()
}

fn one<'t>(root: &Section<'t>, index: usize, item: &'t Node, label: String) -> Option<Given<'t>> {
    let key = super::Key { name: "outline".to_owned(), at: item.at.clone() };
    let who = format!("outline {}", shown(&label, LABEL_MOST));
    let section = subsection(root, who, format!("outline[{index}]"), &key, item)?;
    section.only(KEYS);
    section.text("label", "K");
    check_label(&section);
    let word = section.word("bearing_kind", BearingKind::WORDS, BearingKind::parse);
    let kind = if section.has("bearing_kind") { word } else { Some(BearingKind::True) };
    let time = section.time("time");
    let own_height = height_of(&section, "own_height_ft");
    let points = points(&section)?;
    Some(Given { section, label, time, own_height, kind, points })
}

/// The points; none where the list is not one, or where any of them is wrong.
fn points(section: &Section<'_>) -> Option<Vec<(f64, f64)>> {
    if !section.has("points") {
        let wrong = Wrong::Missing { who: section.who.clone(), key: "points".to_owned() };
        section.fault("points", wrong, RIGHT);
        return None;
    }
    let node = section.get("points")?;
    let Value::Array(items) = &node.value else {
        wrong_type(section, "points".to_owned(), "a list of points", node, node);
        return None;
    };
    let (count, least, most) = (items.len(), Outline::LEAST_POINTS, Outline::MOST_POINTS);
    if count < least {
        let wrong = Wrong::TooFewPoints { who: section.who.clone(), count, least };
        section.fault("points", wrong, "trace more of the edge, or give each as a [[contact]]");
        return None;
    }
    if count > most {
        let wrong = Wrong::TooManyPoints { who: section.who.clone(), count, most };
        section.fault("points", wrong, "one point for each half beam tells as much");
        return None;
    }
    let read: Vec<Option<(f64, f64)>> =
        items.iter().enumerate().map(|(i, item)| point(section, i, item, node)).collect();
    read.into_iter().collect()
}

/// One point: two numbers, each in its bounds.
fn point(section: &Section<'_>, index: usize, item: &Node, list: &Node) -> Option<(f64, f64)> {
    let point = Point { section, index, list };
    let Value::Array(pair) = &item.value else {
        wrong_type(section, point.name(), "a pair of numbers", item, list);
        return None;
    };
    let [degrees, miles] = pair.as_slice() else {
        let who = section.who.clone();
        point.note(item, Wrong::PointShape { who, name: point.name(), count: pair.len() }, RIGHT);
        return None;
    };
    let (bearing, range) = (point.number(degrees, "its bearing"), point.number(miles, "its range"));
    let bearing = bearing.filter(|&value| point.is_bearing(degrees, value));
    let range = range.filter(|&value| point.is_range(miles, value));
    bearing.zip(range)
}

/// A point while it is read, to note what is wrong with it.
#[derive(Clone, Copy)]
struct Point<'a> {
    section: &'a Section<'a>,
    index: usize,
    /// The list that it stands in.
    list: &'a Node,
}

impl Point<'_> {
    /// `points[2]`.
    fn name(self) -> String {
        format!("points[{}]", self.index)
    }

    /// Whose fault it is, and with what: `points[2]: its range`.
    fn who_and_key(self, what: &str) -> (String, String) {
        (self.section.who.clone(), format!("{}: {what}", self.name()))
    }

    fn number(self, node: &Node, what: &str) -> Option<f64> {
        let (who, key) = self.who_and_key(what);
        match node.value {
            Value::Number(value) if value.is_finite() => Some(value),
            Value::Number(value) => {
                self.note(node, Wrong::NotFinite { who, key, value }, "a plain number");
                None
            }
            _ => {
                wrong_type(self.section, key, "a number", node, self.list);
                None
            }
        }
    }

    fn is_bearing(self, node: &Node, value: f64) -> bool {
        let sound = (0.0..=360.0).contains(&value);
        if !sound {
            let (who, key) = self.who_and_key("its bearing");
            let wrong = Wrong::Outside { who, key, value, least: 0.0, most: 360.0 };
            let mend = "from 0 to 360, clockwise; the bearing stands first, the range second";
            self.note(node, wrong, mend);
        }
        sound
    }

    fn is_range(self, node: &Node, value: f64) -> bool {
        let (who, key) = self.who_and_key("its range");
        let wrong = if value <= 0.0 {
            Wrong::NotAboveZero { who, key, value }
        } else if value > MOST_RANGE_NM {
            Wrong::Outside { who, key, value, least: 0.0, most: MOST_RANGE_NM }
        } else {
            return true;
        };
        self.note(node, wrong, "the slant range as read, in nautical miles");
        false
    }

    fn note(self, node: &Node, wrong: Wrong, mend: &str) {
        let at = node.at.clone().or_else(|| self.list.at.clone());
        let path = format!("{}.{}", self.section.path, self.name());
        self.section.faults.note(&path, wrong, mend.to_owned(), at, "here");
    }
}

fn wrong_type(section: &Section<'_>, key: String, wanted: &'static str, node: &Node, list: &Node) {
    let (who, found) = (section.who.clone(), node.value.kind());
    let at = node.at.clone().or_else(|| list.at.clone());
    let path = format!("{}.{key}", section.path);
    let wrong = Wrong::WrongType { who, key, wanted, found };
    section.faults.note(&path, wrong, RIGHT.to_owned(), at, "here");
}

/// The outlines, each turned to true and given its errors; points out of order are cautioned.
pub(super) fn settle(
    given: Vec<Given<'_>>,
    (reckoning, own, radar): (Option<&Reckoning>, Option<&Own>, Option<&Radar>),
    cautions: &mut Vec<String>,
) -> Vec<Outline> {
    let mut outlines = Vec::new();
    for Given { section, label, time, own_height, kind, points } in given {
        let Some(kind) = kind else { continue };
        let own = own.map(|own| own.at(own_height.unwrap_or(own.height)));
        let own = own.as_deref();
        let sound = [
            reckoning.is_none_or(|reckoning| refuse_time(&section, time, reckoning)),
            own.is_none_or(|own| refuse_kind(&section, kind, own)),
            own.is_none_or(|own| refuse_height(&section, &points, own)),
        ];
        if sound.contains(&false) {
            continue;
        }
        cautions.extend(out_of_order(&section.who, &points));
        if let (Some(reckoning), Some(own), Some(radar)) = (reckoning, own, radar) {
            let about = (reckoning, own, radar);
            outlines.extend(Outline::from_points(label, time, kind, &points, about));
        }
    }
    outlines
}

/// A trace goes one way round: where it turns back, a bearing may be mistyped.
fn out_of_order(who: &str, points: &[(f64, f64)]) -> Option<String> {
    let turn = |a: f64, b: f64| (b - a + 180.0).rem_euclid(360.0) - 180.0;
    let pairs = points.iter().zip(points.iter().skip(1));
    let turns: Vec<f64> = pairs.map(|(a, b)| turn(a.0, b.0)).collect();
    let clockwise = turns.iter().filter(|turn| **turn > 0.0).count();
    let round = if 2 * clockwise >= turns.len() { 1.0 } else { -1.0 };
    let back = || turns.iter().enumerate().filter(|(_, turn)| **turn * round < 0.0);
    let (before, _) = back().next()?;
    let told = |index: usize| {
        let bearing = points.get(index).map_or(0.0, |point| point.0);
        format!("points[{index}] at {bearing:05.1}°")
    };
    let more = match back().count() - 1 {
        0 => String::new(),
        1 => ", and one more so".to_owned(),
        more => format!(", and {more} more so"),
    };
    let (next, before) = (told(before + 1), told(before));
    Some(format!("{who}: {next} turns back from {before}{more}: check them"))
}

fn reading_fault(section: &Section<'_>, key: &str, error: &ReadingError) {
    let wrong = Wrong::Reading { who: section.who.clone(), why: error.to_string() };
    section.fault(key, wrong, error.mend());
}

fn refuse_time(section: &Section<'_>, time: Option<Timestamp>, reckoning: &Reckoning) -> bool {
    let Some(Err(error)) = time.map(|time| reckoning.carried_to(time)) else { return true };
    reading_fault(section, "time", &error.into());
    false
}

fn refuse_kind(section: &Section<'_>, kind: BearingKind, own: &Own) -> bool {
    let Err(error) = own.to_true(ReadBearing { kind, degrees: 0.0 }) else { return true };
    let error: OwnError = error;
    reading_fault(section, "bearing_kind", &error.into());
    false
}

/// A slant range under own height is none of a shore.
fn refuse_height(section: &Section<'_>, points: &[(f64, f64)], own: &Own) -> bool {
    let own_nm = own.height.metres() / METRES_PER_NAUTICAL_MILE;
    let short = points.iter().enumerate().find(|(_, (_, miles))| *miles < own_nm);
    let Some((index, &(_, range_nm))) = short else { return true };
    let error = ReadingError::UnderHeight { range_nm, own_nm };
    let why = format!("points[{index}]: {error}");
    let wrong = Wrong::Reading { who: section.who.clone(), why };
    let at = match section.get("points").map(|node| &node.value) {
        Some(Value::Array(items)) => items.get(index).and_then(|item| item.at.clone()),
        _ => None,
    };
    let path = format!("{}.points[{index}]", section.path);
    section.faults.note(&path, wrong, error.mend().to_owned(), at, "here");
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trace_that_turns_back_is_told_by_the_points_between_which_it_does() {
        let told = |bearings: &[f64]| {
            let points: Vec<(f64, f64)> = bearings.iter().map(|b| (*b, 12.0)).collect();
            out_of_order("outline K", &points)
        };
        assert_eq!(told(&[350.0, 355.0, 0.0, 5.0]), None);
        assert_eq!(told(&[5.0, 0.0, 355.0]), None);
        assert_eq!(told(&[40.0, 40.0, 42.0]), None);
        assert_eq!(
            told(&[41.0, 43.0, 54.0, 47.0, 49.0]).unwrap(),
            "outline K: points[3] at 047.0° turns back from points[2] at 054.0°: check them"
        );
        assert_eq!(
            told(&[41.0, 40.0, 39.0, 40.5, 38.0, 39.5, 37.0]).unwrap(),
            "outline K: points[3] at 040.5° turns back from points[2] at 039.0°, and one more so: \
             check them"
        );
    }
}
