use jiff::Timestamp;

use super::file::{Given, SightingsError};
use super::kinds::BearingKind;
use super::outline::Outline;
use super::own::Own;
use super::reading::Contact;
use super::reckoning::Reckoning;
use crate::chart::{Accuracy, Chart};
use crate::geodesy::Position;
use crate::radar::Set;
use crate::units::{Angle, GroundRange};

/// A set of contacts taken over a few minutes, with the reckoning they start from.
#[derive(Debug, Clone)]
pub struct Sightings {
    /// Where we thought we were.
    pub reckoning: Reckoning,
    /// Own height, heading and compasses.
    pub own: Own,
    /// The radar in use.
    pub radar: Radar,
    /// The chart's errors, where they are stated in place of the chart's own.
    pub accuracy: StatedAccuracy,
    /// What was measured, in the order of the file.
    pub contacts: Vec<Contact>,
    /// Edges of painted coast that were traced, in the order of the file.
    pub outlines: Vec<Outline>,
    /// The place of a planned landfall.
    pub landfall: Option<Position>,
    /// What the operator must know about what was given, in plain words.
    pub cautions: Vec<String>,
    /// The file they came from, to point into.
    pub(super) given: Option<Given>,
}

/// The radar in use, and its errors where they are stated in place of the set's own.
#[derive(Debug, Clone, PartialEq)]
pub struct Radar {
    /// The set's figures.
    pub set: Set,
    /// The name or path it was given by.
    pub set_name: String,
    /// One standard deviation of every range.
    pub range_sigma_nm: Option<f64>,
    /// One standard deviation of every bearing.
    pub bearing_sigma_deg: Option<f64>,
}

/// The chart's errors as the operator states them, one standard deviation on each axis.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StatedAccuracy {
    /// Each charted point or stretch of shore, by itself.
    pub point_sigma: Option<GroundRange>,
    /// The whole chart, one error for all.
    pub shift_sigma: Option<GroundRange>,
}

impl StatedAccuracy {
    /// The chart's own, with what is stated in its place.
    pub fn over(self, chart: Accuracy) -> Accuracy {
        Accuracy {
            point_sigma: self.point_sigma.unwrap_or(chart.point_sigma),
            shift_sigma: self.shift_sigma.unwrap_or(chart.shift_sigma),
        }
    }
}

/// Where a mark that was named has been looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Among {
    /// All that the chart has.
    TheChart,
    /// Those of the part of a large chart that was opened: elsewhere it has more.
    ThePartOpen,
}

impl Among {
    /// Where the marks at hand of a chart are.
    pub fn of(chart: &Chart) -> Self {
        if chart.opened_about().is_some() { Self::ThePartOpen } else { Self::TheChart }
    }

    /// Said of a name that is not there.
    pub fn words(self) -> &'static str {
        match self {
            Self::TheChart => "on this chart",
            Self::ThePartOpen => "in the part of this chart that is open",
        }
    }

    /// What to do about it, where no other name is like it.
    pub(super) fn otherwise(self) -> &'static str {
        match self {
            Self::TheChart => "leave mark out where it has no name",
            Self::ThePartOpen => {
                "marks far from the reckoning are not at hand: leave mark out, or look at the \
                 reckoning"
            }
        }
    }
}

impl Sightings {
    /// The most contacts taken.
    pub const MOST_CONTACTS: usize = 200;

    /// Sightings without contacts, from a reckoning.
    pub fn new(reckoning: Reckoning, own: Own, radar: Radar) -> Self {
        Self {
            reckoning,
            own,
            radar,
            accuracy: StatedAccuracy::default(),
            contacts: Vec::new(),
            outlines: Vec::new(),
            landfall: None,
            cautions: Vec::new(),
            given: None,
        }
    }

    /// The same with other contacts.
    #[must_use]
    pub fn with_contacts(&self, contacts: Vec<Contact>) -> Self {
        Self { contacts, ..self.clone() }
    }

    /// Checks that every mark that a contact names is on the chart: of a large one, in the part that was
    /// opened.
    ///
    /// # Errors
    /// Every name that is not, pointing into the file, with the nearest names that are.
    pub fn check_marks(&self, chart: &Chart) -> Result<(), SightingsError> {
        let marks = chart.marks();
        let known = |name: &str| marks.find(name).is_some();
        self.check_names(known, |name| marks.near_names(name), Among::of(chart))
    }

    /// The errors of a chart in use: its own, or what is stated in their place.
    pub fn accuracy_on(&self, chart: &Chart) -> Accuracy {
        self.accuracy.over(chart.accuracy())
    }

    /// One standard deviation of the bias that the bearings of all contacts and outlines share: see
    /// [`Own::bearing_bias_sigma`].
    pub fn bearing_bias_sigma(&self) -> Angle {
        self.own.bearing_bias_sigma(self.turned_from())
    }

    /// What the magnetic model cautions of its variation, where a contact, an outline or own heading
    /// was turned by it.
    pub fn model_caution(&self) -> Option<&str> {
        self.own.model_behind(self.turned_from())?.caution.as_deref()
    }

    /// What each bearing was counted from, and the heading behind it where that was the bow.
    fn turned_from(&self) -> impl Iterator<Item = BearingKind> + '_ {
        let contacts = self.contacts.iter().flat_map(Contact::turned_from);
        contacts.chain(self.outlines.iter().flat_map(Outline::turned_from))
    }

    /// The time of the latest contact or outline, or of the reckoning where there is none.
    pub fn latest(&self) -> Timestamp {
        let contacts = self.contacts.iter().map(|c| c.time);
        let outlines = self.outlines.iter().map(|o| o.time);
        contacts.chain(outlines).max().unwrap_or(self.reckoning.time)
    }
}
