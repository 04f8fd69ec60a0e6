use jiff::{SignedDuration, Timestamp};

use super::chart_panel::Port;
use super::plotting;
use super::work::{Answer, Carried};
use crate::chart::Chart;
use crate::contact::Contact;
use crate::geodesy::{LocalPlane, PlanePoint, Position, course, destination, distance};
use crate::units::{Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};
use crate::watch::Watch;

/// What part of the world the chart panel shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Focus {
    /// The middle.
    pub centre: Position,
    /// Nautical miles along the panel's shorter side.
    pub span_nm: f64,
    /// The operator has moved it: it stays where it is.
    pub by_hand: bool,
    /// What lies at the top.
    pub up: Up,
}

/// What lies at the top of the chart and of the radar's picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Up {
    /// True north.
    #[default]
    North,
    /// The track made good by now; north where none is known.
    Track,
    /// Own heading; north where none is known.
    Heading,
}

impl Up {
    /// The next one round.
    pub fn next(self) -> Self {
        match self {
            Self::North => Self::Track,
            Self::Track => Self::Heading,
            Self::Heading => Self::North,
        }
    }

    /// The direction that is up on a watch, and its word; north where what is asked for is not known.
    pub fn of(self, watch: &Watch, wall: Timestamp) -> (Bearing<True>, &'static str) {
        let track = watch.in_force(watch.own_time(wall)).and_then(|reckoning| reckoning.track);
        let found = match self {
            Self::North => None,
            Self::Track => track.map(|track| (track, "TRACK")),
            Self::Heading => watch.own().heading.map(|heading| (heading, "HDG")),
        };
        found.unwrap_or((Bearing::ZERO, "N"))
    }
}

/// One step of the zoom.
const ZOOM: f64 = 1.4;

/// The share of the panel that one step moves over.
const PAN: f64 = 0.2;

/// The least span that a fit comes to, in nautical miles.
const LEAST_FIT_NM: f64 = 4.0;

/// The place by now is fitted in so many seconds ahead at most.
const FIT_AHEAD_S: i64 = 300;

/// What lies farther off than this is not fitted in before a contact is.
const MOST_FIRST_NM: f64 = 100.0;

/// Room left around what is fitted in.
const MARGIN: f64 = 1.25;

impl Focus {
    /// The whole chart, as far as it can be shown at once.
    pub fn of_chart(chart: &Chart) -> Self {
        let Some(extent) = chart.coast().extent() else {
            let centre = Position::wrapped(0.0, 0.0);
            return Self { centre, span_nm: 100.0, by_hand: false, up: Up::North };
        };
        let (corner, centre) = (Position::wrapped(extent.south, extent.west), extent.centre());
        let span_nm = 1.5 * course(centre, corner).distance.nautical_miles();
        Self { centre, span_nm: span_nm.max(LEAST_FIT_NM), by_hand: false, up: Up::North }
    }

    /// The port of a panel of so many cells, on a watch.
    pub fn port(&self, watch: &Watch, wall: Timestamp, (columns, rows): (u16, u16)) -> Port {
        Port::new(self.centre, self.span_nm, usize::from(columns), usize::from(rows))
            .turned(self.up.of(watch, wall).0)
    }

    /// Moves by steps to the right and up.
    pub fn pan(&mut self, port: &Port, right: f64, above: f64) {
        let step = PAN * port.span_nm() * METRES_PER_NAUTICAL_MILE;
        let (sin, cos) = port.up().sin_cos();
        let (east, north) = (right * cos + above * sin, above * cos - right * sin);
        let moved = PlanePoint { east: east * step, north: north * step };
        self.centre = LocalPlane::new(self.centre).to_position(moved);
        self.by_hand = true;
    }

    /// Zooms by steps, inward positive, from what the port truly shows.
    pub fn zoom(&mut self, port: &Port, steps: i32) {
        let (least, most) = super::chart_panel::SPAN_NM;
        self.span_nm = (port.span_nm() * ZOOM.powi(-steps)).clamp(least, most);
        self.by_hand = true;
    }

    /// Zooms by steps about a place, which stays where it is in the panel.
    pub fn zoom_about(&mut self, port: &Port, steps: i32, place: Position) {
        let before = port.span_nm();
        self.zoom(port, steps);
        let share = self.span_nm / before;
        let plane = LocalPlane::new(place);
        let off = plane.to_plane(self.centre);
        let moved = PlanePoint { east: off.east * share, north: off.north * share };
        self.centre = plane.to_position(moved);
    }

    /// Goes to a place and stays there.
    pub fn centre_on(&mut self, place: Position) {
        self.centre = place;
        self.by_hand = true;
    }

    /// Shows reckoning, fix, rivals, contacts, the place by now and `also` others, unless the operator has
    /// moved the picture.
    pub fn fit(
        &mut self,
        (watch, wall): (&Watch, Timestamp),
        answer: Option<&Answer>,
        (by_now, also): (Option<Carried>, &[Position]),
        (columns, rows): (u16, u16),
    ) {
        if self.by_hand {
            return;
        }
        let Some(reckoning) = watch.in_force(watch.own_time(wall)) else { return };
        let (reckoned, covariance) =
            answer.map_or((reckoning.position, reckoning.covariance), |a| a.reckoned);
        let alone = by_now.map_or(reckoned, |carried| carried.position);
        let plane = LocalPlane::new(answer.map_or(alone, |a| a.stand().0));
        let mut extent = Extent::turned(self.up.of(watch, wall).0);
        let ellipse = covariance.ellipse(0.95);
        extent.add(plane.to_plane(reckoned), ellipse.semi_major);
        for held in watch.contacts() {
            extent.add_contact(&held.contact);
        }
        let rivals = answer.iter().flat_map(|a| a.fix.rivals.iter().take(3));
        let first = answer.filter(|_| !watch.has_measured());
        let first = first.iter().flat_map(|answer| comes_first(watch, answer));
        let places = rivals
            .map(|rival| rival.estimate.position)
            .chain(first)
            .chain(also.iter().copied())
            .chain(by_now.map(|carried| soon(watch, answer, carried)));
        for place in places {
            extent.add(plane.to_plane(place), GroundRange::ZERO);
        }
        let (width, height) = (f64::from(columns) * 2.0, f64::from(rows) * 4.0);
        let (east, north) = extent.sides();
        let per_dot = (east / width.max(1.0)).max(north / height.max(1.0));
        let span = per_dot * width.min(height) / METRES_PER_NAUTICAL_MILE * MARGIN;
        self.centre = plane.to_position(extent.middle());
        self.span_nm = span.max(LEAST_FIT_NM);
    }
}

/// Where a place carried on will be some minutes ahead, so that the picture does not move with every second.
fn soon(watch: &Watch, answer: Option<&Answer>, carried: Carried) -> Position {
    let ahead = (carried.age().as_secs() / FIT_AHEAD_S + 1) * FIT_AHEAD_S;
    let then = carried.from.checked_add(SignedDuration::from_secs(ahead));
    let ahead = then.ok().and_then(|then| match answer {
        Some(answer) => answer.carried(watch, then),
        None => Carried::reckoned(watch, then),
    });
    ahead.unwrap_or(carried).position
}

/// What is looked for while no contact is in: the planned landfall, and the nearest land that should paint.
fn comes_first(watch: &Watch, answer: &Answer) -> Vec<Position> {
    let (here, _) = answer.stand();
    let near = |place: &Position| distance(here, *place).nautical_miles() <= MOST_FIRST_NM;
    let planned = watch.landfall();
    planned.into_iter().chain(land_ahead(watch, answer)).filter(near).collect()
}

/// Where the nearest land lies that should paint.
pub(super) fn land_ahead(watch: &Watch, answer: &Answer) -> Option<Position> {
    let (here, _) = answer.stand();
    answer.expected.nearest_land().map(|land| {
        let range = plotting::on_the_sea(land.range, watch.own().height, here);
        destination(here, land.bearing, range)
    })
}

/// The least upright rectangle around places.
#[derive(Debug)]
struct Extent {
    /// What lies at its top.
    up: Bearing<True>,
    corners: Option<(PlanePoint, PlanePoint)>,
}

/// A point of a plane turned, so that what lay toward `up` lies to the north.
fn turned(point: PlanePoint, up: Bearing<True>) -> PlanePoint {
    let (sin, cos) = up.sin_cos();
    PlanePoint {
        east: point.east * cos - point.north * sin,
        north: point.east * sin + point.north * cos,
    }
}

impl Extent {
    fn turned(up: Bearing<True>) -> Self {
        Self { up, corners: None }
    }

    fn add(&mut self, point: PlanePoint, around: GroundRange) {
        let point = turned(point, self.up);
        let r = around.metres();
        let (low, high) = self.corners.unwrap_or((point, point));
        let low = PlanePoint {
            east: low.east.min(point.east - r),
            north: low.north.min(point.north - r),
        };
        let high = PlanePoint {
            east: high.east.max(point.east + r),
            north: high.north.max(point.north + r),
        };
        self.corners = Some((low, high));
    }

    /// Where the echo of a contact lies from the place it is seen from; all round where no bearing tells.
    fn add_contact(&mut self, contact: &Contact) {
        let Some(range) = contact.range else { return };
        let range = GroundRange::clamped_metres(range.metres());
        let bearings = contact.bearings();
        for (bearing, _) in &bearings {
            self.add(PlanePoint::at(range, *bearing), GroundRange::ZERO);
        }
        if bearings.is_empty() {
            self.add(PlanePoint::default(), range);
        }
    }

    fn sides(&self) -> (f64, f64) {
        self.corners.map_or((0.0, 0.0), |(l, h)| (h.east - l.east, h.north - l.north))
    }

    fn middle(&self) -> PlanePoint {
        let middle = self.corners.map_or(PlanePoint::default(), |(l, h)| PlanePoint {
            east: 0.5 * (l.east + h.east),
            north: 0.5 * (l.north + h.north),
        });
        turned(middle, Bearing::wrapped(-self.up.radians()))
    }
}
