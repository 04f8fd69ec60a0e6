//! `[start]`.

use jiff::Timestamp;

use super::super::directions::{Compasses, DeviationTable};
use super::super::growth::{Craft, ErrorModel};
use super::super::triangle::Flow;
use super::leg;
use crate::contact::Wrong;
use crate::contact::file::reckoning;
use crate::contact::file::section::Section;
use crate::geodesy::{Covariance, Position};
use crate::units::{Angle, Deviation, GyroError, METRES_PER_NAUTICAL_MILE, Speed, Variation};

/// Every key of it besides time, place and error.
const KEYS: &[&str] = &[
    "craft",
    "heading_sigma_deg",
    "speed_sigma_percent",
    "flow_sigma_kn",
    "flow_hours",
    "wander_nm",
    "variation",
    "deviation",
    "gyro_error",
    "wind",
    "current",
];

/// Where it starts, and what holds for every leg that does not say otherwise.
pub(super) struct Start {
    pub time: Timestamp,
    pub position: Position,
    pub covariance: Covariance,
    /// The errors, where the craft is known.
    pub model: Overrides,
    pub craft: Option<Craft>,
    /// Whether somebody said what it is.
    pub craft_is_stated: bool,
    pub compasses: Compasses,
    pub flow: Option<(Flow, Option<Speed>)>,
}

/// Errors stated in place of the defaults.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Overrides {
    heading_sigma_deg: Option<f64>,
    speed_sigma_percent: Option<f64>,
    flow_sigma: Option<Speed>,
    flow_hours: Option<f64>,
    wander_nm: Option<f64>,
}

impl Overrides {
    /// The errors of a craft with what is stated in their place, and the keys of those that are
    /// defaults.
    pub fn over(self, craft: Craft) -> (ErrorModel, Vec<&'static str>) {
        let mut model = ErrorModel::of(craft);
        let mut defaults = Vec::new();
        let mut take = |key, value: Option<f64>, set: &mut dyn FnMut(f64)| match value {
            Some(value) => set(value),
            None => defaults.push(key),
        };
        take("heading_sigma_deg", self.heading_sigma_deg, &mut |degrees| {
            model.heading_sigma = Angle::from_degrees(degrees);
        });
        take("speed_sigma_percent", self.speed_sigma_percent, &mut |percent| {
            model.speed_share = percent / 100.0;
        });
        take("flow_hours", self.flow_hours, &mut |hours| model.flow_seconds = hours * 3600.0);
        take("wander_nm", self.wander_nm, &mut |miles| {
            model.wander = miles * METRES_PER_NAUTICAL_MILE / 60.0;
        });
        match self.flow_sigma {
            Some(sigma) => (model.flow_stated, model.flow_unstated) = (sigma, sigma),
            None => defaults.push("flow_sigma_kn"),
        }
        (model, defaults)
    }
}

pub(super) fn read(
    section: &Section<'_>,
    craft: Option<Craft>,
    table: Option<DeviationTable>,
) -> Option<Start> {
    section.only(&[reckoning::PLACE_KEYS, KEYS].concat());
    let time = section.needed_time("2031-03-09T01:10:00Z");
    let position = section.needed_position("36 40.0 S, 28 05.0 W");
    let track = section.direction("track_deg");
    if section.has("track_deg") && !section.has("sigma_along_nm") {
        let why = "track_deg here is the axis of sigma_along_nm, which is not given".to_owned();
        let mend = "leave it out; the direction of a leg stands under its [[leg]]";
        section.fault("track_deg", Wrong::Reading { who: section.who.clone(), why }, mend);
    }
    let model = Overrides {
        heading_sigma_deg: section.sigma("heading_sigma_deg", 45.0),
        speed_sigma_percent: section.sigma("speed_sigma_percent", 50.0),
        flow_sigma: section
            .sigma("flow_sigma_kn", 200.0)
            .and_then(|knots| Speed::from_knots(knots).ok()),
        flow_hours: section.within(
            "flow_hours",
            0.05,
            1000.0,
            "hours in which the wind or current \
                                                                forgets itself, 1.5",
        ),
        wander_nm: section.within("wander_nm", 0.0, 10.0, "miles in the root of an hour, 0.3"),
    };
    let compasses = Compasses {
        variation: section.correction("variation", Variation::parse),
        deviation: section.correction("deviation", Deviation::parse),
        table,
        gyro_error: section.correction("gyro_error", GyroError::parse),
    };
    let flow = leg::flow(section);
    let covariance = reckoning::covariance(section, track);
    Some(Start {
        time: time?,
        position: position?,
        covariance: covariance?,
        model,
        craft,
        craft_is_stated: section.has("craft"),
        compasses,
        flow,
    })
}
