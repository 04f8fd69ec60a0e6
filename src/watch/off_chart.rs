//! A place entered that the chart in use does not show: a wrong hemisphere, or a place far away.

use jiff::Timestamp;

use super::Watch;
use super::log::What;
use crate::chart::{Chart, GeoBox};
use crate::geodesy::{Position, distance};

/// As near as this to the chart a place may well be meant, in nautical miles: coasts are made from there.
const NEAR_NM: f64 = 60.0;

/// Farther off than this it is said even where no other hemisphere would put it on the chart.
const FAR_NM: f64 = 300.0;

impl Watch {
    /// A change in plain words, with a caution where it is for a time to come, and where it is a reckoning
    /// far off the chart in use.
    pub fn say_on(&self, what: &What, chart: &Chart, wall: Timestamp) -> String {
        let off = match what {
            What::Reckoning { lat_deg, lon_deg, .. } => {
                off_chart(Position::wrapped(*lat_deg, *lon_deg), chart)
            }
            _ => None,
        };
        let cautions = off.into_iter().chain(self.ahead_of_clock(what, wall));
        let cautions: Vec<String> = cautions.map(|told| format!("; CAUTION: {told}")).collect();
        self.say_with(what, &cautions.concat())
    }
}

/// `4,592 NM off this chart: S?`, naming the hemisphere that would put a place on the chart; none for a
/// place on the chart or near it, and for one farther off that no other hemisphere would mend.
pub fn off_chart(at: Position, chart: &Chart) -> Option<String> {
    off_box(at, &chart.coast().extent()?)
}

fn off_box(at: Position, extent: &GeoBox) -> Option<String> {
    let off = off_nm(at, extent);
    if off <= NEAR_NM {
        return None;
    }
    let (lat, lon) = (-at.latitude(), -at.longitude());
    let turned =
        [(true, false), (false, true), (true, true)].into_iter().find(|(in_lat, in_lon)| {
            let lat = if *in_lat { lat } else { -lat };
            let lon = if *in_lon { lon } else { -lon };
            off_nm(Position::wrapped(lat, lon), extent) <= NEAR_NM
        });
    let north_south = if lat < 0.0 { "S" } else { "N" };
    let east_west = if lon < 0.0 { "W" } else { "E" };
    let ask = match turned {
        Some((true, false)) => format!(": {north_south}?"),
        Some((false, _)) => format!(": {east_west}?"),
        Some((true, true)) => format!(": {north_south}? {east_west}?"),
        None if off > FAR_NM => String::new(),
        None => return None,
    };
    Some(format!("{} NM off this chart{ask}", thousands(off)))
}

/// From a place to the nearest one of a box, its sides taken for straight in latitude and longitude.
fn off_nm(at: Position, extent: &GeoBox) -> f64 {
    let lat = at.latitude().clamp(extent.south, extent.north);
    let east = (at.longitude() - extent.west).rem_euclid(360.0);
    let width = extent.east - extent.west;
    let lon = if east <= width {
        at.longitude()
    } else if east - width <= 360.0 - east {
        extent.east
    } else {
        extent.west
    };
    distance(at, Position::wrapped(lat, lon)).nautical_miles()
}

/// `4,592`, to whole miles.
fn thousands(miles: f64) -> String {
    let whole = miles.round() as u64;
    if whole < 1_000 {
        whole.to_string()
    } else {
        format!("{},{:03}", whole / 1_000, whole % 1_000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(lat: f64, lon: f64) -> Option<String> {
        // A coast about 38° S, 21° W.
        off_box(Position::new(lat, lon).unwrap(), &GeoBox::new(-38.5, -21.5, -37.5, -20.5))
    }

    #[test]
    fn a_forgotten_sign_is_named() {
        assert_eq!(said(-38.2, -21.5), None);
        // A minute of latitude is a mile: from 38.2 N to 37.5 S, 75.7° or 4,542 NM on the sphere; 4,530
        // on the ellipsoid (computed: meridian arcs of WGS84).
        let north = said(38.2, -21.5).unwrap();
        let miles: f64 = north.split(' ').next().unwrap().replace(',', "").parse().unwrap();
        assert!((miles - 4_530.0).abs() < 15.0, "{north}");
        assert!(north.ends_with(" NM off this chart: S?"), "{north}");
        assert!(said(-38.2, 21.5).unwrap().ends_with(" NM off this chart: W?"));
        assert!(said(38.2, 21.5).unwrap().ends_with(" NM off this chart: S? W?"));
    }

    #[test]
    fn a_long_way_to_go_is_no_wrong_sign() {
        // 3.5° of longitude at 38° S beyond the edge: 165 NM to the west.
        assert_eq!(said(-38.0, -25.0), None);
        let far = said(-38.0, -33.0).unwrap();
        assert!(far.ends_with(" NM off this chart"), "{far}");
    }

    #[test]
    fn a_chart_over_the_date_line_has_places_on_both_sides() {
        let over = GeoBox::new(-19.0, 177.0, -16.0, -178.0 + 360.0);
        let at = |lat, lon| off_box(Position::new(lat, lon).unwrap(), &over);
        assert_eq!(at(-17.0, 179.0), None);
        assert_eq!(at(-17.0, -179.0), None);
        assert!(at(17.0, -179.0).unwrap().ends_with(": S?"));
    }
}
