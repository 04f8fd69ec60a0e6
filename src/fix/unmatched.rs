use super::case::Case;
use super::report::{EchoPlace, Unmatched};
use crate::contact::plot;
use crate::geodesy::{Covariance, LocalPlane, PlanePoint};
use crate::identity::{Reading, Solution, turned};
use crate::units::{Angle, Bearing, GroundRange, Height, SlantRange};

/// Contacts that the identities found leave out, plotted from the position found.
///
/// The error of the plotted place is that of own position, of the range along the line and of the
/// bearing across it, and of what own position shares with it: the biases of bearings and ranges, and the
/// run since, each known as well as it now is.
pub(super) fn from_position(
    case: &Case<'_>,
    solution: &Solution,
    targets: &[Option<usize>],
) -> Vec<Unmatched> {
    left_out(case, targets)
        .map(|sight| {
            let places = places(case, solution, sight);
            let gated = places.iter().any(|place| is_near(case, place.position, place.covariance));
            Unmatched {
                contact: case.label(sight).to_owned(),
                why: why(case, sight, !places.is_empty(), gated),
                places,
            }
        })
        .collect()
}

/// Every contact, where there is no position to plot it from.
pub(super) fn without_position(case: &Case<'_>) -> Vec<Unmatched> {
    left_out(case, &vec![None; case.labels.len()])
        .map(|sight| Unmatched {
            contact: case.label(sight).to_owned(),
            why: why(case, sight, false, false),
            places: Vec::new(),
        })
        .collect()
}

fn left_out<'a>(
    case: &'a Case<'_>,
    targets: &'a [Option<usize>],
) -> impl Iterator<Item = usize> + 'a {
    (0..case.labels.len()).filter(|&sight| targets.get(sight).is_none_or(Option::is_none))
}

fn why(case: &Case<'_>, sight: usize, plotted: bool, gated: bool) -> String {
    if let Some(traced) = case.problem.sights.get(sight).and_then(|s| s.traced.as_ref()) {
        return outline_why(traced.places.is_empty());
    }
    match case.stated(sight) {
        Some(name) => format!(
            "does not fit {}, which it was given as, nor any other charted mark",
            case.name(name)
        ),
        None if gated => {
            "marks lie in its gate, but leaving it out fits better: a ship, rain, or land \
                          the chart does not mark"
                .to_owned()
        }
        None if !plotted => {
            "no charted mark explains it better than leaving it out: a ship, rain, \
                             or land the chart does not mark"
                .to_owned()
        }
        None => "no charted mark within the gate: a ship, rain, or land the chart does not mark"
            .to_owned(),
    }
}

fn outline_why(fits_nowhere: bool) -> String {
    if fits_nowhere {
        "no charted shore within the reckoning's error fits it: rain, sea return, or land the \
         chart does not show"
            .to_owned()
    } else {
        "a shore fits it, but leaving it out fits better: rain, sea return, or land the chart does \
         not show"
            .to_owned()
    }
}

/// Whether any mark lies within four standard deviations of a plotted place, its own slack included.
fn is_near(case: &Case<'_>, at: crate::geodesy::Position, error: Covariance) -> bool {
    let plane = LocalPlane::new(at);
    case.problem.candidates.iter().filter(|mark| mark.weight > 0.0).any(|mark| {
        let off = plane.to_plane(mark.position);
        let own = GroundRange::clamped_metres(mark.sigma_m.hypot(mark.slack_m));
        error.plus(Covariance::circular(own)).mahalanobis_squared(off.east, off.north) < 16.0
    })
}

/// Every place that range and bearing give; a ratio may allow two bearings, and both are kept.
fn places(case: &Case<'_>, solution: &Solution, sight: usize) -> Vec<EchoPlace> {
    let Some(measured) = case.problem.sights.get(sight) else { return Vec::new() };
    let Some(range) = measured.range else { return Vec::new() };
    // Heights of what is not known are taken as none.
    let own = measured.own_height_m;
    let value = (range.value - solution.range_bias()).max(own);
    let along = (value * value - own * own).max(0.0).sqrt();
    let told = match measured.ratio {
        Some(ratio) => ratio.bearings(own, along),
        None => measured.bearing.into_iter().collect(),
    };
    let slant = (SlantRange::clamped_metres(value), GroundRange::clamped_metres(range.sigma));
    let height = Height::from_metres(own).unwrap_or(Height::SEA_LEVEL);
    let (bias, _) = solution.bearing_bias();
    let track = case.problem.prior.track;
    let back = solution.run_since(measured, track);
    let plane = LocalPlane::new(solution.position);
    let place = |read: &Reading| {
        let sigma = Angle::from_radians(read.sigma);
        let (out, error) = plot(slant, (Bearing::wrapped(read.value - bias), sigma), height);
        let out = turned(out, measured.convergence(solution.position));
        let there = PlanePoint { east: out.east - back.east, north: out.north - back.north };
        let run = (measured.elapsed_s, track + measured.convergence(solution.position));
        EchoPlace {
            position: plane.to_position(there),
            covariance: solution.plotted_covariance(run, out).plus(error),
            steer: there.polar().1,
        }
    };
    told.iter().map(place).collect()
}
