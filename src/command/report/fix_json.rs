use serde::Serialize;

use super::rounding::{ANGLE_PLACES, LENGTH_PLACES, POSITION_PLACES, rounded, square_miles};
use super::words::and_standing;
use crate::fix::{
    Comparison, Estimate, Fix, Grade, Identity, Landfall, OutlineFit, Residual, Rival, Unmatched,
};
use crate::geodesy::{Ellipse, Position};
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// The name of the form, in every answer.
const SCHEMA: &str = "foreland.fix/1";

/// Places after the point.
const SHARE_PLACES: i32 = 9;
const ODDS_PLACES: i32 = 3;

/// A fix for scripts, ending in a line feed. Every key but `landfall`, which stands where
/// one is planned, is always there: null or an empty list where it has nothing to say. Lengths in nautical miles, angles in degrees.
pub fn fix_json(fix: &Fix) -> String {
    let answer = Answer::from(fix);
    // Plain values with fixed keys: there is nothing in them that cannot be written.
    serde_json::to_string_pretty(&answer).unwrap_or_default() + "\n"
}

#[derive(Serialize)]
struct Answer<'a> {
    schema: &'static str,
    verdict: &'static str,
    probability: Option<f64>,
    none_of_these: f64,
    time: String,
    position: Option<PositionJson>,
    covariance_nm2: Option<[[f64; 2]; 2]>,
    ellipse: Option<EllipseJson>,
    contacts_only: Option<EstimateJson>,
    bearing_bias_deg: Option<BiasJson>,
    identities: Vec<IdentityJson<'a>>,
    unmatched: Vec<UnmatchedJson<'a>>,
    residuals: Vec<ResidualJson<'a>>,
    outlines: Vec<OutlineJson<'a>>,
    most_probable: Option<EstimateJson>,
    rivals: Vec<RivalJson<'a>>,
    consistency: Option<ConsistencyJson>,
    reckoning: ReckoningJson,
    protection: ProtectionJson<'a>,
    next: Vec<NextJson<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    landfall: Option<LandfallJson<'a>>,
    cautions: Vec<&'a str>,
}

#[derive(Serialize)]
struct PositionJson {
    lat_deg: f64,
    lon_deg: f64,
}

#[derive(Serialize)]
struct EllipseJson {
    probability: f64,
    semi_major_nm: f64,
    semi_minor_nm: f64,
    major_axis_deg: f64,
}

#[derive(Serialize)]
struct EstimateJson {
    position: PositionJson,
    covariance_nm2: [[f64; 2]; 2],
    ellipse: EllipseJson,
}

#[derive(Serialize)]
struct BiasJson {
    value: f64,
    sigma: f64,
}

#[derive(Serialize)]
struct IdentityJson<'a> {
    contact: &'a str,
    mark: &'a str,
    mark_position: PositionJson,
    probability: f64,
    paint_probability: Option<f64>,
}

#[derive(Serialize)]
struct UnmatchedJson<'a> {
    contact: &'a str,
    why: &'a str,
    position: Option<PositionJson>,
    covariance_nm2: Option<[[f64; 2]; 2]>,
    steer_deg: Option<f64>,
    either: Vec<EitherJson>,
}

#[derive(Serialize)]
struct EitherJson {
    position: PositionJson,
    covariance_nm2: [[f64; 2]; 2],
    steer_deg: f64,
}

#[derive(Serialize)]
struct ResidualJson<'a> {
    contact: &'a str,
    range_nm: Option<f64>,
    bearing_deg: Option<f64>,
    ratio_db: Option<f64>,
    standardised: Vec<f64>,
    used: bool,
}

#[derive(Serialize)]
struct OutlineJson<'a> {
    outline: &'a str,
    points: usize,
    effective: f64,
    rms_nm: Option<f64>,
    used: bool,
}

#[derive(Serialize)]
struct RivalJson<'a> {
    position: PositionJson,
    covariance_nm2: [[f64; 2]; 2],
    ellipse: EllipseJson,
    probability: f64,
    identities: Vec<IdentityJson<'a>>,
}

#[derive(Serialize)]
struct ConsistencyJson {
    chi2: f64,
    dof: usize,
    p: f64,
}

#[derive(Serialize)]
struct ReckoningJson {
    offset_nm: Option<f64>,
    offset_deg: Option<f64>,
    chi2: Option<f64>,
    agrees: Option<bool>,
    unusual: Option<bool>,
}

#[derive(Serialize)]
struct ProtectionJson<'a> {
    risk: f64,
    radius_nm: Option<f64>,
    assured: bool,
    why: Option<&'a str>,
}

#[derive(Serialize)]
struct NextJson<'a> {
    mark: &'a str,
    measure: &'static str,
    major_axis_after_nm: f64,
    purpose: &'static str,
    settles: Option<f64>,
    range_nm: Option<f64>,
    bearing_deg: Option<f64>,
    words: &'a str,
}

#[derive(Serialize)]
struct LandfallJson<'a> {
    verdict: &'static str,
    odds: Option<f64>,
    why: &'a str,
    settle_by: Option<&'a str>,
}

impl<'a> From<&'a Fix> for Answer<'a> {
    fn from(fix: &'a Fix) -> Self {
        Self {
            schema: SCHEMA,
            verdict: fix.verdict.as_str(),
            probability: fix.probability.map(|p| rounded(p, SHARE_PLACES)),
            none_of_these: rounded(fix.none_of_these, SHARE_PLACES),
            time: fix.time.to_string(),
            position: fix.position.map(PositionJson::from),
            covariance_nm2: fix.covariance.map(square_miles),
            ellipse: fix.ellipse.map(EllipseJson::from),
            contacts_only: fix.contacts_only.map(EstimateJson::from),
            bearing_bias_deg: fix.bearing_bias.map(|(value, sigma)| BiasJson {
                value: rounded(value.degrees(), ANGLE_PLACES),
                sigma: rounded(sigma.degrees(), ANGLE_PLACES),
            }),
            identities: fix.identities.iter().map(IdentityJson::from).collect(),
            unmatched: fix.unmatched.iter().map(UnmatchedJson::from).collect(),
            residuals: fix.residuals.iter().map(ResidualJson::from).collect(),
            outlines: fix.outlines.iter().map(OutlineJson::from).collect(),
            most_probable: fix.most_probable.map(EstimateJson::from),
            rivals: fix.rivals.iter().map(RivalJson::from).collect(),
            consistency: fix.consistency.map(|test| ConsistencyJson {
                chi2: rounded(test.chi2, ANGLE_PLACES),
                dof: test.dof,
                p: rounded(test.p, SHARE_PLACES),
            }),
            reckoning: ReckoningJson::from(fix.reckoning),
            protection: ProtectionJson {
                risk: fix.protection.risk,
                radius_nm: fix
                    .protection
                    .radius
                    .map(|radius| rounded(radius.nautical_miles(), LENGTH_PLACES)),
                assured: fix.protection.assured,
                why: fix.protection.why.as_deref(),
            },
            next: next(fix),
            landfall: fix.landfall.as_ref().map(LandfallJson::from),
            cautions: and_standing(&fix.cautions),
        }
    }
}

impl<'a> From<&'a Landfall> for LandfallJson<'a> {
    fn from(landfall: &'a Landfall) -> Self {
        Self {
            verdict: landfall.verdict.as_str(),
            odds: landfall.odds.map(|odds| rounded(odds, ODDS_PLACES)),
            why: &landfall.why,
            settle_by: landfall.settle_by.as_deref(),
        }
    }
}

fn next(fix: &Fix) -> Vec<NextJson<'_>> {
    let after = |length: GroundRange| rounded(length.nautical_miles(), LENGTH_PLACES);
    fix.next
        .iter()
        .map(|next| NextJson {
            mark: &next.mark,
            measure: next.measure.as_str(),
            major_axis_after_nm: after(next.major_axis_after),
            purpose: next.purpose.as_str(),
            settles: next.settles.map(|chance| rounded(chance, ANGLE_PLACES)),
            range_nm: next.range.map(|range| rounded(range.nautical_miles(), LENGTH_PLACES)),
            bearing_deg: next.bearing.map(|bearing| rounded(bearing.degrees(), ANGLE_PLACES)),
            words: &next.words,
        })
        .collect()
}

impl From<Position> for PositionJson {
    fn from(position: Position) -> Self {
        Self {
            lat_deg: rounded(position.latitude(), POSITION_PLACES),
            lon_deg: rounded(position.longitude(), POSITION_PLACES),
        }
    }
}

impl From<Ellipse> for EllipseJson {
    fn from(ellipse: Ellipse) -> Self {
        Self {
            probability: ellipse.probability,
            semi_major_nm: rounded(ellipse.semi_major.nautical_miles(), LENGTH_PLACES),
            semi_minor_nm: rounded(ellipse.semi_minor.nautical_miles(), LENGTH_PLACES),
            major_axis_deg: rounded(ellipse.major_axis.degrees(), ANGLE_PLACES),
        }
    }
}

impl From<Estimate> for EstimateJson {
    fn from(estimate: Estimate) -> Self {
        Self {
            position: estimate.position.into(),
            covariance_nm2: square_miles(estimate.covariance),
            ellipse: estimate.ellipse().into(),
        }
    }
}

impl<'a> From<&'a Identity> for IdentityJson<'a> {
    fn from(identity: &'a Identity) -> Self {
        Self {
            contact: &identity.contact,
            mark: &identity.mark,
            mark_position: identity.mark_position.into(),
            probability: rounded(identity.probability, SHARE_PLACES),
            paint_probability: identity.paint_probability.map(|p| rounded(p, SHARE_PLACES)),
        }
    }
}

impl<'a> From<&'a Unmatched> for UnmatchedJson<'a> {
    fn from(unmatched: &'a Unmatched) -> Self {
        // One place is the place; of two, neither is.
        let (only, either) = match unmatched.places.as_slice() {
            [only] => (Some(*only), &[][..]),
            places => (None, places),
        };
        Self {
            contact: &unmatched.contact,
            why: &unmatched.why,
            position: only.map(|place| place.position.into()),
            covariance_nm2: only.map(|place| square_miles(place.covariance)),
            steer_deg: only.map(|place| rounded(place.steer.degrees(), ANGLE_PLACES)),
            either: either
                .iter()
                .map(|place| EitherJson {
                    position: place.position.into(),
                    covariance_nm2: square_miles(place.covariance),
                    steer_deg: rounded(place.steer.degrees(), ANGLE_PLACES),
                })
                .collect(),
        }
    }
}

impl<'a> From<&'a Residual> for ResidualJson<'a> {
    fn from(residual: &'a Residual) -> Self {
        let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
        Self {
            contact: &residual.contact,
            range_nm: residual.range_m.map(|metres| rounded(miles(metres), LENGTH_PLACES)),
            bearing_deg: residual.bearing.map(|turn| rounded(turn.degrees(), ANGLE_PLACES)),
            ratio_db: residual.ratio_db.map(|db| rounded(db, ANGLE_PLACES)),
            standardised: residual.standardised.iter().map(|w| rounded(*w, ANGLE_PLACES)).collect(),
            used: residual.used,
        }
    }
}

impl<'a> From<&'a OutlineFit> for OutlineJson<'a> {
    fn from(fit: &'a OutlineFit) -> Self {
        Self {
            outline: &fit.outline,
            points: fit.points,
            effective: rounded(fit.effective, ANGLE_PLACES),
            rms_nm: fit.rms.map(|rms| rounded(rms.nautical_miles(), LENGTH_PLACES)),
            used: fit.used,
        }
    }
}

impl<'a> From<&'a Rival> for RivalJson<'a> {
    fn from(rival: &'a Rival) -> Self {
        let EstimateJson { position, covariance_nm2, ellipse } = rival.estimate.into();
        Self {
            position,
            covariance_nm2,
            ellipse,
            probability: rounded(rival.probability, SHARE_PLACES),
            identities: rival.identities.iter().map(IdentityJson::from).collect(),
        }
    }
}

impl From<Comparison> for ReckoningJson {
    fn from(comparison: Comparison) -> Self {
        Self {
            offset_nm: comparison.offset.map(|d| rounded(d.nautical_miles(), LENGTH_PLACES)),
            offset_deg: comparison.bearing.map(|b| rounded(b.degrees(), ANGLE_PLACES)),
            chi2: comparison.chi2.map(|chi2| rounded(chi2, ANGLE_PLACES)),
            agrees: comparison.agrees(),
            unusual: comparison.grade.map(|grade| grade == Grade::Unusual),
        }
    }
}
