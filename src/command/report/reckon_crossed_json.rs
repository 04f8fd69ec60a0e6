use jiff::Timestamp;
use serde::Serialize;

use super::reckon_json::{EllipseJson, FlowJson, Place, degrees, miles, told};
use super::rounding::{rounded, square_miles};
use crate::geodesy::{Covariance, Position};
use crate::reckon::{Craft, Crossing, LineTold, RunningFixTold, Seen, Standing};

/// A position line, beside what the reckoning had.
#[derive(Serialize)]
pub(super) struct LineJson<'a> {
    time: Timestamp,
    leg: usize,
    mark: Option<&'a str>,
    mark_position: Place,
    range_nm: Option<f64>,
    range_sigma_nm: Option<f64>,
    bearing_deg: Option<f64>,
    bearing_sigma_deg: Option<f64>,
    conversion: Option<&'a str>,
    reckoned_range_nm: f64,
    reckoned_bearing_deg: f64,
    go_on: bool,
}

impl<'a> LineJson<'a> {
    pub(super) fn of(told_line: &'a LineTold) -> Self {
        let line = &told_line.line;
        let mut json = Self {
            time: told(line.time),
            leg: told_line.leg,
            mark: (!line.mark.is_empty()).then_some(line.mark.as_str()),
            mark_position: Place::of(line.charted.position),
            range_nm: None,
            range_sigma_nm: None,
            bearing_deg: None,
            bearing_sigma_deg: None,
            conversion: line.conversion.as_deref(),
            reckoned_range_nm: miles(told_line.reckoned_range),
            reckoned_bearing_deg: degrees(told_line.reckoned_bearing.degrees()),
            go_on: line.go_on,
        };
        for seen in &line.seen {
            match seen {
                Seen::Range { range, sigma } => {
                    json.range_nm = Some(miles(*range));
                    json.range_sigma_nm = Some(miles(*sigma));
                }
                Seen::Bearing { bearing, sigma, .. } => {
                    json.bearing_deg = Some(degrees(bearing.degrees()));
                    json.bearing_sigma_deg = Some(degrees(sigma.degrees()));
                }
            }
        }
        json
    }
}

/// A place with its error.
#[derive(Serialize)]
struct Estimated {
    position: Place,
    covariance_nm2: [[f64; 2]; 2],
    ellipse: EllipseJson,
}

impl Estimated {
    fn of(position: Position, covariance: Covariance) -> Self {
        Self {
            position: Place::of(position),
            covariance_nm2: square_miles(covariance),
            ellipse: EllipseJson::of(covariance),
        }
    }
}

/// One of the places that the lines cross at.
#[derive(Serialize)]
struct PlaceJson {
    probability: f64,
    #[serde(flatten)]
    place: Estimated,
}

impl PlaceJson {
    fn of(crossing: &Crossing) -> Self {
        let reckoner = &crossing.reckoner;
        Self {
            probability: rounded(crossing.probability, 6),
            place: Estimated::of(reckoner.position(), reckoner.covariance()),
        }
    }
}

/// The error of the position by lines and run alone.
#[derive(Serialize)]
struct LinesOnly {
    covariance_nm2: [[f64; 2]; 2],
    ellipse: EllipseJson,
}

impl LinesOnly {
    fn of(covariance: Covariance) -> Self {
        Self { covariance_nm2: square_miles(covariance), ellipse: EllipseJson::of(covariance) }
    }
}

/// What the lines up to one of them come to.
#[derive(Serialize)]
pub(super) struct RunningFixJson<'a> {
    time: Timestamp,
    leg: usize,
    lines: &'a [usize],
    verdict: &'static str,
    position: Option<Place>,
    covariance_nm2: Option<[[f64; 2]; 2]>,
    ellipse: Option<EllipseJson>,
    lines_only: Option<LinesOnly>,
    cut_deg: Option<f64>,
    flat: bool,
    places: Vec<PlaceJson>,
    reckoned: Estimated,
    offset_nm: Option<f64>,
    offset_deg: Option<f64>,
    chi2: Option<f64>,
    dof: usize,
    p: Option<f64>,
    went_on: bool,
    flow_found: Option<FlowJson>,
}

impl<'a> RunningFixJson<'a> {
    pub(super) fn of(fix: &'a RunningFixTold, craft: Craft) -> Self {
        let place = fix.place();
        let best = fix.places.first();
        let off = fix.off();
        Self {
            time: told(fix.time),
            leg: fix.leg,
            lines: &fix.lines,
            verdict: verdict(fix.standing),
            position: place.map(|place| Place::of(place.reckoner.position())),
            covariance_nm2: place.map(|place| square_miles(place.reckoner.covariance())),
            ellipse: place.map(|place| EllipseJson::of(place.reckoner.covariance())),
            lines_only: place
                .filter(|place| place.is_observed())
                .map(|place| LinesOnly::of(place.lines_only)),
            cut_deg: place.and_then(|place| place.cut).map(|cut| degrees(cut.degrees())),
            flat: fix.is_flat(),
            places: fix.places.iter().map(PlaceJson::of).collect(),
            reckoned: Estimated::of(fix.reckoned, fix.reckoned_covariance),
            offset_nm: off.map(|(offset, _)| miles(offset)),
            offset_deg: off.map(|(_, way)| degrees(way.degrees())),
            chi2: best.map(|best| rounded(best.chi2, 4)),
            dof: fix.crossed,
            p: best.map(|best| rounded(best.chance, 9)),
            went_on: fix.went_on,
            flow_found: fix.flow.map(|flow| FlowJson::of(&flow, craft)),
        }
    }
}

/// As reports write it.
fn verdict(standing: Standing) -> &'static str {
    match standing {
        Standing::Fixed => "fixed",
        Standing::MostProbable => "too-few",
        Standing::Ambiguous => "ambiguous",
        Standing::AtOdds => "at-odds",
        Standing::Nothing => "none",
    }
}
