//! What part of the world is asked about: where the craft may be, and as far as its radar may reach; and
//! whether the part of a large chart that is at hand covers that.

use jiff::{SignedDuration, Timestamp};

use super::Watch;
use crate::chart::{Chart, GeoBox, Mark};
use crate::contact::Sightings;
use crate::geodesy::{Covariance, Position, destination, distance};
use crate::radar::Set;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// What is asked about lies within reach; this much more is taken in, in nautical miles: for what
/// is looked at beside or beyond it.
const MARGIN_NM: f64 = 120.0;

/// Standard deviations of a place that are taken in.
const SIGMAS: f64 = 8.0;

/// A mark whose name tells its place is taken in no farther than this from a place asked about, in nautical
/// miles: ten degrees of latitude, of one wrong figure in the tens. Our own figure, no published source: what
/// lies farther is taken for a slip in the name, and would take in half an ocean.
const NAMED_WITHIN_NM: f64 = 600.0;

/// A sitting takes in so much more, in nautical miles, so that it need not do so again at every turn.
const AHEAD_NM: f64 = 240.0;

/// It takes in another part as soon as no more than this is left of that, in nautical miles.
const NEAR_EDGE_NM: f64 = 60.0;

/// What cannot be taken in is tried again after so long.
const TRIED_AGAIN: SignedDuration = SignedDuration::from_secs(60);

/// Whether what could not be taken in at one time is to be tried again by now; so also once the clock has
/// been put back by as much.
pub fn may_try_again(failed: Timestamp, now: Timestamp) -> bool {
    now.duration_since(failed).abs() >= TRIED_AGAIN
}

/// A place, and as far about it as the chart is asked, in metres.
pub type Asked = (Position, f64);

/// About places, each as far as told.
pub fn about(places: &[Asked]) -> Option<GeoBox> {
    with_margin(places, MARGIN_NM)
}

/// The same with room to go on in: what a sitting has of a large chart.
pub fn roomy(places: &[Asked]) -> Option<GeoBox> {
    with_margin(places, MARGIN_NM + AHEAD_NM)
}

fn with_margin(places: &[Asked], miles: f64) -> Option<GeoBox> {
    let margin = miles * METRES_PER_NAUTICAL_MILE;
    let areas = places
        .iter()
        .map(|(at, reach)| GeoBox::around(*at, GroundRange::clamped_metres(reach + margin)));
    areas.reduce(|all, area| all.joined(&area))
}

/// Where sightings may have been made from, and as far as their radar reaches.
pub fn of_sightings(sightings: &Sightings, times: &[Timestamp]) -> Option<GeoBox> {
    about(&places_of(sightings, times))
}

/// The places of sightings: where they begin, where they lead at their latest and at these times, the
/// landfall planned, and marks named by their place that lie beyond all that.
pub fn places_of(sightings: &Sightings, times: &[Timestamp]) -> Vec<Asked> {
    let reckoning = &sightings.reckoning;
    let reach = scale_of(&sightings.radar.set);
    let ranges = sightings.contacts.iter().filter_map(|contact| contact.range);
    let reach = ranges.map(|range| 1.1 * range.metres()).fold(reach, f64::max);
    let carried =
        [sightings.latest()].into_iter().chain(times.iter().copied()).filter_map(|time| {
            let (position, covariance) = reckoning.carried_to(time).ok()?;
            Some((position, reach + spread(&covariance)))
        });
    let start = (reckoning.position, reach + spread(&reckoning.covariance));
    let landfall = sightings.landfall.map(|place| (place, reach));
    let mut places: Vec<Asked> = std::iter::once(start).chain(carried).chain(landfall).collect();
    let beyond = named_beyond(sightings, &places, reach);
    places.extend(beyond);
    places
}

/// Marks that contacts are named by and whose names tell their places, where not all within reach of them is
/// asked about: if the name is right, the craft is somewhere there, whatever its reckoning says.
fn named_beyond(sightings: &Sightings, places: &[Asked], reach: f64) -> Vec<Asked> {
    let Some(asked) = about(places) else { return Vec::new() };
    let most = NAMED_WITHIN_NM * METRES_PER_NAUTICAL_MILE;
    let is_near = |at: Position| places.iter().any(|(it, _)| distance(*it, at).metres() <= most);
    let seen_from = |at: Position| GeoBox::around(at, GroundRange::clamped_metres(reach));
    let beliefs = sightings.contacts.iter().filter_map(|contact| contact.belief.as_ref());
    beliefs
        .filter_map(|belief| Mark::place_in_name(&belief.mark))
        .filter(|at| !asked.holds(&seen_from(*at)) && is_near(*at))
        .map(|at| (at, reach))
        .collect()
}

/// As far about a place as it may be out, in metres.
pub fn spread(covariance: &Covariance) -> f64 {
    SIGMAS * covariance.axes().0.sqrt()
}

/// As far as a set's largest scale, in metres.
pub fn scale_of(set: &Set) -> f64 {
    set.greatest_scale().metres()
}

impl Watch {
    /// Where this sitting asks about its chart: by its sightings, where it is `here` and now, and along
    /// what is looked along of its run; nothing while it does not know where it is.
    pub fn asks_about(&self, here: Option<(Position, Covariance)>, now: Timestamp) -> Vec<Asked> {
        let Some(sightings) = self.sightings() else {
            return self
                .landfall()
                .map(|place| (place, scale_of(&self.radar().set)))
                .into_iter()
                .collect();
        };
        let mut places = places_of(&sightings, &[now]);
        let reach = scale_of(&sightings.radar.set);
        places.extend(here.map(|(at, covariance)| (at, reach + spread(&covariance))));
        places.extend(self.run(now).map(|run| {
            let aside = run.length.metres() * (3.0 * run.plan.track_sigma.radians()).tan();
            let end = destination(run.plan.from, run.plan.track, run.length);
            (end, reach + SIGMAS * run.plan.sigma.metres() + aside.max(0.0))
        }));
        places
    }
}

/// How what is at hand of a chart stands to what is asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cover {
    /// All is at hand, with room to go on.
    Roomy,
    /// All is at hand, but little more: this area is to be taken in.
    NearEdge(GeoBox),
    /// Not all is at hand: nothing may be worked out before this area is taken in.
    Lacking(GeoBox),
}

impl Cover {
    /// Whether all that is asked about is at hand.
    pub fn is_enough(&self) -> bool {
        !matches!(self, Self::Lacking(_))
    }

    /// What is to be taken in.
    pub fn wanted(&self) -> Option<GeoBox> {
        match self {
            Self::Roomy => None,
            Self::NearEdge(area) | Self::Lacking(area) => Some(*area),
        }
    }
}

/// Whether a chart has at hand what is asked about; one that was opened whole always has.
pub fn cover(chart: &Chart, places: &[Asked]) -> Cover {
    chart.opened_about().map_or(Cover::Roomy, |opened| cover_by(&opened, places))
}

fn cover_by(opened: &GeoBox, places: &[Asked]) -> Cover {
    let holds = |area: GeoBox| opened.holds(&area);
    let Some(wanted) = roomy(places) else { return Cover::Roomy };
    if with_margin(places, MARGIN_NM + NEAR_EDGE_NM).is_none_or(holds) {
        Cover::Roomy
    } else if about(places).is_none_or(holds) {
        Cover::NearEdge(wanted)
    } else {
        Cover::Lacking(wanted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Bearing;
    use std::path::Path;

    fn off(from: Position, bearing: f64, miles: f64) -> Asked {
        let run = GroundRange::from_nautical_miles(miles).unwrap();
        let reach = 100.0 * METRES_PER_NAUTICAL_MILE;
        (destination(from, Bearing::wrapped_degrees(bearing), run), reach)
    }

    #[test]
    fn another_part_is_wanted_near_the_edge_and_needed_beyond_it() {
        for (lat, lon) in [(53.0, -12.0), (-17.5, 179.9), (0.0, 0.0), (-75.0, 60.0)] {
            let from = Position::new(lat, lon).unwrap();
            let opened = roomy(&[off(from, 0.0, 0.0)]).unwrap();
            for bearing in [0.0, 90.0, 180.0, 270.0] {
                let at = |miles| cover_by(&opened, &[off(from, bearing, miles)]);
                assert_eq!((at(0.0), at(120.0)), (Cover::Roomy, Cover::Roomy), "{from} {bearing}");
                // Boxes are a little larger than what they are about: 180 and 240 NM, a few less or more.
                assert!(
                    matches!(at(215.0), Cover::NearEdge(_)),
                    "{from} {bearing} {:?}",
                    at(215.0)
                );
                assert!(matches!(at(300.0), Cover::Lacking(_)), "{from} {bearing}");
                // What was wanted then has room.
                let wanted = at(215.0).wanted().unwrap();
                let again = cover_by(&wanted, &[off(from, bearing, 215.0)]);
                assert_eq!(again, Cover::Roomy, "{from} {bearing}");
            }
        }
    }

    /// What is asked about for a contact of this name, from a reckoning at 50 N, 12 W.
    fn asked_for(mark: &str) -> GeoBox {
        let text = format!(
            "[reckoning]\ntime = \"2031-03-09T03:40:00Z\"\n\
             position = \"50.0,-12.0\"\nsigma_nm = 2.0\n\
             [own]\nheight_ft = 2000\n[radar]\nset = \"patrol\"\n\
             [[contact]]\nrange_nm = 17.3\nbearing_deg = 42.5\nmark = \"{mark}\"\n"
        );
        of_sightings(&Sightings::parse(&text, "test", Path::new("")).unwrap(), &[]).unwrap()
    }

    #[test]
    fn a_mark_named_by_its_place_is_asked_about_where_the_reckoning_does_not_lead() {
        let alone = asked_for("Gannet Head");
        // In reach, at the edge of what may be in reach, and on the coast of another ocean.
        for name in [
            "Islet 50°20.00'N 012°30.00'W",
            "Head 51°54.00'N 012°00.00'W",
            "Head 30°00.00'S 100°00.00'E",
        ] {
            assert_eq!(asked_for(name), alone, "{name}");
        }
        // Six degrees off, a hundred miles about it, and what is looked at beside that.
        let far = Position::new(56.0, -12.0).unwrap();
        let seen = GeoBox::around(far, GroundRange::from_nautical_miles(200.0).unwrap());
        assert!(!alone.contains(far));
        for name in ["Head 56°00.00'N 012°00.00'W", "islet 56°00.00'n 012°00.00'w (2)"] {
            let with = asked_for(name);
            assert!(with.holds(&alone) && with.holds(&seen), "{name}: {with:?}");
        }
    }

    #[test]
    fn nothing_is_wanted_of_a_small_chart_or_for_no_place() {
        let chart = Chart::sample().unwrap();
        let far = Position::new(53.0, -12.0).unwrap();
        assert_eq!(cover(&chart, &[(far, 1e5)]), Cover::Roomy);
        let nowhere = GeoBox::new(0.0, 0.0, 0.0, 0.0);
        assert_eq!(cover_by(&nowhere, &[]), Cover::Roomy);
    }
}
