use std::collections::HashMap;

use rstar::{AABB, RTree, RTreeObject};

use super::geobox::GeoBox;
use crate::geodesy::{LocalPlane, PlanePoint, Position, distance};
use crate::units::{GroundRange, Height, METRES_PER_NAUTICAL_MILE};

/// How alike a mistyped name and a charted one must be to be offered (Jaro-Winkler, 1 is the same).
const LIKE_ENOUGH: f64 = 0.85;
/// A plane is no picture of more, in metres.
const PLANE_MOST_M: f64 = 300.0 * METRES_PER_NAUTICAL_MILE;

/// The number of a mark on its chart; good for that chart only.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MarkId(pub u32);

/// What a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MarkKind {
    /// A point of the shore that stands out to sea.
    Headland,
    /// A small island, a rock, a skerry.
    Islet,
    /// A summit.
    Peak,
    /// A lighthouse or lit beacon.
    Light,
    /// The front of a town or a harbour.
    Town,
    /// A tower, mast or chimney.
    Tower,
    /// A buoy or other floating mark.
    Buoy,
    /// Anything else.
    Other,
}

impl MarkKind {
    /// The word for it in reports and files.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Headland => "headland",
            Self::Islet => "islet",
            Self::Peak => "peak",
            Self::Light => "light",
            Self::Town => "town",
            Self::Tower => "tower",
            Self::Buoy => "buoy",
            Self::Other => "other",
        }
    }

    /// From the text of a kind attribute; words that mean the same are taken too, and a word not
    /// known is [`MarkKind::Other`].
    pub fn from_attribute(text: &str) -> Self {
        let word = text.trim().to_lowercase();
        match word.as_str() {
            "headland" | "head" | "cape" | "point" | "ness" | "promontory" | "bluff" | "naze"
            | "cliff" | "cap" | "cabo" | "capo" | "kap" => Self::Headland,
            "islet" | "island" | "isle" | "rock" | "rocks" | "skerry" | "stack" | "cay" | "key"
            | "holm" | "reef" => Self::Islet,
            "peak" | "summit" | "mountain" | "mount" | "hill" | "spot height" | "volcano"
            | "top" => Self::Peak,
            "light" | "lighthouse" | "beacon" | "lightship" | "light house" | "phare" => {
                Self::Light
            }
            "town" | "city" | "village" | "harbour" | "harbor" | "port" | "settlement"
            | "populated place" => Self::Town,
            "tower" | "mast" | "chimney" | "antenna" | "radio mast" | "windmill" | "church"
            | "spire" => Self::Tower,
            "buoy" | "float" | "racon buoy" | "lanby" => Self::Buoy,
            _ => Self::Other,
        }
    }
}

/// A charted thing that can be ranged or have its bearing taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its name; where the chart gives none, one made from what and where it is.
    pub name: String,
    /// Whether the chart gives the name.
    pub named: bool,
    /// What it is.
    pub kind: MarkKind,
    /// Where it is: a headland's tip, an islet's middle, a summit.
    pub position: Position,
    /// Its height above mean sea level.
    pub height: Height,
    /// Radius of an islet, scale of a headland; zero for a point.
    pub extent: GroundRange,
    /// Error of its own position, one standard deviation on each axis.
    pub sigma: GroundRange,
    /// How much it stands out among its neighbours, 0 to 1.
    pub salience: f64,
}

impl Mark {
    /// A mark that the chart does not name and that stands out less than this is of no weight.
    const LEAST_SALIENCE: f64 = 0.2;

    /// Whether somebody would look for it: it stays where it is charted, and has a name or stands out.
    pub fn is_of_weight(&self) -> bool {
        self.kind != MarkKind::Buoy && (self.named || self.salience >= Self::LEAST_SALIENCE)
    }
}

struct Place {
    id: MarkId,
    at: [f64; 2],
}

impl RTreeObject for Place {
    type Envelope = AABB<[f64; 2]>;

    fn envelope(&self) -> Self::Envelope {
        AABB::from_point(self.at)
    }
}

/// The marks of a chart, found by number, name or place.
#[derive(Default)]
pub struct Marks {
    all: Vec<Mark>,
    names: HashMap<String, MarkId>,
    places: RTree<Place>,
}

impl std::fmt::Debug for Marks {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(&self.all).finish()
    }
}

/// A name as it is compared: without case, and with single spaces.
fn plain(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

impl Marks {
    /// Numbers the marks in the order given. Where two share a name, the name means the first.
    pub fn new(marks: Vec<Mark>) -> Self {
        let mut names = HashMap::with_capacity(marks.len());
        let mut places = Vec::with_capacity(marks.len());
        for (id, mark) in (0..).map(MarkId).zip(&marks) {
            names.entry(plain(&mark.name)).or_insert(id);
            places.push(Place { id, at: [mark.position.longitude(), mark.position.latitude()] });
        }
        Self { all: marks, names, places: RTree::bulk_load(places) }
    }

    /// All of them, by number.
    pub fn iter(&self) -> impl Iterator<Item = (MarkId, &Mark)> {
        (0..).map(MarkId).zip(&self.all)
    }

    /// One of them; `None` for a number of another chart.
    pub fn get(&self, id: MarkId) -> Option<&Mark> {
        self.all.get(id.0 as usize)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// The mark of this name, whatever its case and spacing.
    pub fn find(&self, name: &str) -> Option<MarkId> {
        self.names.get(&plain(name)).copied()
    }

    /// The number that a mark of another part of the same chart has here.
    pub fn same_as(&self, mark: &Mark) -> Option<MarkId> {
        let here = self.within(mark.position, GroundRange::clamped_metres(1.0));
        here.into_iter().find(|id| self.get(*id).is_some_and(|other| other == mark))
    }

    /// The most names that are offered for one that is not charted.
    pub const MOST_NEAR_NAMES: usize = 3;

    /// Up to three names most like this one, the likest first: for "did you mean".
    pub fn near_names(&self, name: &str) -> Vec<String> {
        self.near_names_about(name, None)
    }

    /// The same with a place to be near to: of names that are equally like this one, to a hundredth, those
    /// of the nearest marks come first.
    pub fn near_names_about(&self, name: &str, about: Option<Position>) -> Vec<String> {
        let asked = plain(name);
        let like = self
            .all
            .iter()
            .map(|mark| (strsim::jaro_winkler(&asked, &plain(&mark.name)), mark))
            .filter(|(likeness, _)| *likeness > LIKE_ENOUGH);
        let mut ranked: Vec<(f64, f64, &str)> = match about {
            None => like.map(|(likeness, mark)| (likeness, 0.0, mark.name.as_str())).collect(),
            Some(at) => like
                .map(|(likeness, mark)| {
                    let off_m = distance(at, mark.position).metres();
                    ((likeness * 100.0).round(), off_m, mark.name.as_str())
                })
                .collect(),
        };
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(b.2)));
        let mut names: Vec<String> = Vec::new();
        for (.., name) in ranked {
            if names.len() < Self::MOST_NEAR_NAMES && !names.iter().any(|known| known == name) {
                names.push(name.to_owned());
            }
        }
        names
    }

    /// The marks within `radius` of a place over the ground, by number.
    pub fn within(&self, at: Position, radius: GroundRange) -> Vec<MarkId> {
        let area = GeoBox::around(at, radius);
        let plane = LocalPlane::new(at);
        let radius_m = radius.metres();
        // The plane is good to far less than this, so that only what lies near the edge is asked of
        // the geodesic.
        let unsure_m = if radius_m <= PLANE_MOST_M { 1e-3 * radius_m } else { f64::INFINITY };
        let is_near = |place: Position| {
            let beyond = plane.to_plane(place).distance(PlanePoint::default()) - radius_m;
            if beyond.abs() > unsure_m { beyond < 0.0 } else { distance(at, place) <= radius }
        };
        let mut found = Vec::new();
        for turn in [-360.0, 0.0, 360.0] {
            let shifted =
                AABB::from_corners([area.west + turn, area.south], [area.east + turn, area.north]);
            for place in self.places.locate_in_envelope_intersecting(shifted) {
                if self.get(place.id).is_some_and(|mark| is_near(mark.position)) {
                    found.push(place.id);
                }
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(name: &str, latitude: f64, longitude: f64) -> Mark {
        Mark {
            name: name.to_owned(),
            named: true,
            kind: MarkKind::Headland,
            position: Position::new(latitude, longitude).unwrap(),
            height: Height::SEA_LEVEL,
            extent: GroundRange::ZERO,
            sigma: GroundRange::ZERO,
            salience: 0.5,
        }
    }

    #[test]
    fn names_forgive_case_and_spaces() {
        let marks = Marks::new(vec![mark("Gannet Head", 0.0, 0.0), mark("Fell Point", 0.0, 1.0)]);
        assert_eq!(marks.find("  gannet   HEAD "), Some(MarkId(0)));
        assert_eq!(marks.find("Gannet"), None);
        assert_eq!(marks.near_names("Ganet Head"), ["Gannet Head"]);
        assert!(marks.near_names("Xylophone").is_empty());
    }

    #[test]
    fn marks_are_found_over_the_date_line() {
        let marks = Marks::new(vec![mark("West", 10.0, 179.9), mark("East", 10.0, -179.9)]);
        let radius = GroundRange::from_nautical_miles(20.0).unwrap();
        let found = marks.within(Position::new(10.0, 180.0).unwrap(), radius);
        assert_eq!(found, [MarkId(0), MarkId(1)]);
        let short = GroundRange::from_nautical_miles(3.0).unwrap();
        assert_eq!(marks.within(Position::new(10.0, 179.9).unwrap(), short), [MarkId(0)]);
    }

    #[test]
    fn kinds_forgive_synonyms() {
        assert_eq!(MarkKind::from_attribute(" Lighthouse "), MarkKind::Light);
        assert_eq!(MarkKind::from_attribute("CAPE"), MarkKind::Headland);
        assert_eq!(MarkKind::from_attribute("something"), MarkKind::Other);
    }
}
