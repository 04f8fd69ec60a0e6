//! What the chart says of marks and shore as seen from a place: which part answers, and whether it
//! should show.

mod beyond;
mod hillside;
mod kept;
mod leading;
mod levels;
mod prospect;
#[cfg(test)]
mod tests;

use std::sync::{Arc, OnceLock};

use jiff::Timestamp;

use self::kept::Kept;
pub(super) use self::levels::Levels;
use super::setting::{MOST_REACH_NM, in_use};
use crate::chart::{Chart, Mark, MarkId, MarkKind};
use crate::contact::shore::Shore;
use crate::contact::{Contact, LobeReading, Part, Sightings};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::{Answer, Answering, Level, Prior, RatioReading, Sighting, place_before};
use crate::paint::approach::Look;
use crate::paint::{Conditions, Lookout};
use crate::radar::Set;
use crate::units::{
    Angle, Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True,
};

/// What is in sight is worked out for places this many of them off.
const SEEN_SIGMAS: f64 = 4.0;
/// How much of the shore about its tip an operator may take for a headland, in miles: at least and
/// at most.
const DISCS_NM: [f64; 2] = [0.6, 1.4];
/// Where the beam holds no shore of the mark, the tip's range is good to this, in miles.
const MISSED_NM: f64 = 0.2;
/// A bearing of an islet is taken within this share of its radius of its middle.
const FACE_SHARE: f64 = 0.25;
/// On a range trace the first land so far to either side of an echo begins it (common practice, no
/// published source).
const ON_THE_TRACE_DEG: f64 = 8.0;
/// The charted line and the first ground that answers differ by so much, in metres.
const SHELVES_M: f64 = 200.0;
/// The shore of an islet lies within this many radii of the circle of its area from its middle, and the land
/// between hangs together: at these shares of the way.
const OWN_SHORE: f64 = 2.5;
const ALL_ALONG: [f64; 8] = [0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95];
/// Shore to one side of the bearing counts as no farther off than this, in metres.
const MOST_APART_M: f64 = 3_000.0;
/// Shore is laid out in tiles of this side, and the distance to it in cells of this, in metres.
const TILE_M: f64 = 5_000.0;
const OFF_CELL_M: f64 = 400.0;
/// Farther from the shore than this is far, in metres.
const OFF_MOST_M: f64 = 4_000.0;
/// The middle of an islet's echo is looked for as if it were no larger than this, in metres.
const MOST_MIDDLE_M: f64 = 1_000.0;
/// What is likelier than this to paint is taken to.
const PAINTS: f64 = 0.5;
/// The first shores all round are found in sectors of this width.
const SECTOR_DEG: f64 = 5.0;
/// Of the echoes of nothing charted, so many for each one at sea lie farther inland than this.
const INLAND: f64 = 0.1;
const INSHORE_M: f64 = 800.0;
/// A shore seen at more of a slant than this is a range to no one line.
const MOST_SLIDE: f64 = 2.0;

/// What the chart says of marks as seen from a place.
pub(super) struct ChartGround<'a> {
    chart: &'a Chart,
    /// One for each level; those of one height share the first of them.
    lookouts: Vec<OnceLock<Option<Lookout<'a>>>>,
    look: OnceLock<Look<'a>>,
    region: (Position, GroundRange),
    levels: Levels,
    /// Of each contact: what is in sight goes by its level, what answers by its own height.
    measured_from: Vec<Level>,
    own_heights: Vec<Height>,
    heading: Option<Bearing<True>>,
    marks: Vec<MarkId>,
    parts: Vec<Part>,
    set: Set,
    bearing_sigma: f64,
    /// The bearing of each contact as read, with its own error, in radians; none for a lone range.
    read: Vec<Option<(f64, f64)>>,
    /// The bearings that each contact may have been read in, likewise: of a ratio, more than one.
    told: Vec<Vec<(f64, f64)>>,
    half_beam: Angle,
    range_sigma: Option<f64>,
    /// What a direction by two lobes would be read with; none for a turning beam or no heading.
    ratio: Option<RatioReading>,
    /// The shore about each mark in both discs, laid out when first asked for.
    shores: Vec<[OnceLock<Box<Shore>>; 2]>,
    /// The nearest shore of all, by level and by place to the metre.
    nearest: Kept<(Level, i64, i64), Option<Position>>,
    /// The candidate that is shore of no mark.
    any_shore: usize,
    /// How far off the nearest shore is, roughly, and the shore of each tile, by cells of a plane.
    plane: LocalPlane,
    off_shore: Kept<(i32, i32), f32>,
    tiles: Kept<(i32, i32), Arc<Shore>>,
    /// How far behind the shore of a candidate its echo begins, by own height and cells of the plane: as many
    /// entries for each mark and cell as there are heights that contacts of it were measured from.
    behind: Kept<beyond::Key, beyond::Late>,
    /// The range of each contact as read, in metres.
    ranges: Vec<Option<f64>>,
}

impl<'a> ChartGround<'a> {
    pub fn new(
        chart: &'a Chart,
        sightings: &Sightings,
        prior: &Prior,
        reach: GroundRange,
        marks: Vec<MarkId>,
        (any_shore, levels, time): (usize, Levels, Timestamp),
    ) -> Self {
        let set = &sightings.radar.set;
        let stated = sightings.radar.bearing_sigma_deg;
        Self {
            chart,
            shores: marks.iter().map(|_| Default::default()).collect(),
            lookouts: (0..levels.count()).map(|_| OnceLock::new()).collect(),
            look: OnceLock::new(),
            region: (prior.position, seen_from(prior, &levels)),
            measured_from: sightings
                .contacts
                .iter()
                .map(|c| level_of(sightings, &levels, c, time))
                .collect(),
            own_heights: sightings.contacts.iter().map(|c| c.own_height).collect(),
            levels,
            heading: sightings.own.heading,
            marks,
            parts: sightings.contacts.iter().map(|c| c.part).collect(),
            read: sightings.contacts.iter().map(read_of).collect(),
            told: sightings.contacts.iter().map(told_of).collect(),
            half_beam: half_beam(set),
            set: in_use(set, reach),
            bearing_sigma: Angle::from_degrees(stated.unwrap_or(set.bearing_sigma_deg)).radians(),
            range_sigma: sightings.radar.range_sigma_nm.map(|nm| nm * METRES_PER_NAUTICAL_MILE),
            ratio: ratio_foreseen(sightings),
            nearest: Kept::default(),
            any_shore,
            plane: LocalPlane::new(prior.position),
            off_shore: Kept::default(),
            tiles: Kept::default(),
            behind: Kept::default(),
            ranges: sightings.contacts.iter().map(|c| c.range.map(SlantRange::metres)).collect(),
        }
    }

    /// Made when first asked for. None for a chart without land: nothing hides anything there.
    fn lookout(&self, level: Level) -> Option<&Lookout<'a>> {
        let made = self.lookouts.get(self.levels.first_of_height(level).0)?.get_or_init(|| {
            let ground = self.chart.ground();
            let bare = self.chart.coast().extent().is_none()
                && !ground.has_grid()
                && !ground.has_contours();
            let (centre, radius) = self.region;
            let conditions = Conditions::default();
            let own = self.levels.height(level);
            (!bare).then(|| Lookout::new(self.chart, centre, radius, own, &self.set, &conditions))
        });
        made.as_ref()
    }

    /// The careful look at one mark, as [`crate::paint::expect`] has it; likewise none without land.
    fn look(&self) -> Option<&Look<'a>> {
        self.lookout(Level::NOW)?;
        let own = (self.levels.height(Level::NOW), self.heading);
        Some(
            self.look.get_or_init(|| Look::new(self.chart, own, &self.set, &Conditions::default())),
        )
    }

    /// Whether the chart holds no land at all.
    pub fn is_bare(&self) -> bool {
        self.lookout(Level::NOW).is_none()
    }

    /// The level that a contact was measured from; now, for one that is yet to be.
    fn level_of(&self, sight: usize) -> Level {
        self.measured_from.get(sight).copied().unwrap_or(Level::NOW)
    }

    /// The height that a contact was measured from; own height now, for one that is yet to be.
    fn own_height(&self, sight: usize) -> Height {
        let now = || self.levels.height(Level::NOW);
        self.own_heights.get(sight).copied().unwrap_or_else(now)
    }

    /// The marks among the candidates, in their order, which is that of their numbers.
    pub fn marks(&self) -> &[MarkId] {
        &self.marks
    }

    /// The shore about a mark, in the smaller or the larger disc; an islet's own in both.
    fn shore_of(&self, candidate: usize, mark: &Mark, disc: usize) -> Option<&Shore> {
        let islet = mark.kind == MarkKind::Islet;
        let kept = self.shores.get(candidate)?.get(if islet { 0 } else { disc })?;
        let shore = kept.get_or_init(|| {
            let miles = METRES_PER_NAUTICAL_MILE;
            let radius = if islet {
                1.2 * mark.extent.metres() + 0.1 * miles
            } else {
                DISCS_NM.get(disc).copied().unwrap_or(1.0) * miles
            };
            let radius = GroundRange::clamped_metres(radius);
            Box::new(Shore::around(self.chart.coast(), mark.position, radius))
        });
        Some(shore)
    }

    /// An islet by its middle: half a pulse's length behind the middle of the land, as the echo is
    /// stretched away by the whole of it.
    fn middle(&self, mark: &Mark) -> Answer {
        let pulse_m = self.set.pulse_length_m();
        Answer {
            late_m: 0.5 * pulse_m,
            depth_m: (0.25 * pulse_m).hypot(FACE_SHARE * mark.extent.metres().min(MOST_MIDDLE_M)),
            face_m: 0.5 * FACE_SHARE * mark.extent.metres().min(MOST_MIDDLE_M),
            ..Answer::at(mark.position)
        }
    }

    /// Shore that is no mark: the first within half a beam of the bearing as read, less the bias.
    ///
    /// The reading of the bearing may have been one way or the other: the range of the shore to
    /// both sides tells how much that matters, where it runs aslant or breaks off.
    ///
    /// A ratio allows more than one bearing: the one whose shore is nearest to the range read.
    fn any_shore(&self, sight: usize, from: Position, bias: f64) -> Option<Answer> {
        let range = self.ranges.get(sight).copied().flatten()?;
        let own = self.own_height(sight);
        let found = self.told.get(sight)?.iter().filter_map(|&(bearing, sigma)| {
            self.shore_towards((bearing - bias, sigma), range, (own, from))
        });
        found
            .map(|(at, answer)| ((at - range).abs(), answer))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, answer)| answer)
    }

    /// The range of the first shore on a bearing, in metres, and what answers from it.
    fn shore_towards(
        &self,
        (bearing, sigma): (f64, f64),
        range: f64,
        (own, from): (Height, Position),
    ) -> Option<(f64, Answer)> {
        let along = GroundRange::clamped_metres(range);
        let plotted =
            LocalPlane::new(from).to_position(PlanePoint::at(along, Bearing::wrapped(bearing)));
        let shore = self.tile(plotted);
        let stand = shore.stand(from);
        let towards = |turn: f64| Bearing::wrapped(bearing + turn);
        let edge = shore.leading_edge_from(stand, towards(0.0), self.half_beam)?;
        let middle = edge.range.metres();
        let apart: f64 = [-sigma, sigma]
            .into_iter()
            .map(|turn| shore.leading_range_from(stand, towards(turn), self.half_beam))
            .map(|side| side.map_or(MISSED_NM * METRES_PER_NAUTICAL_MILE, |s| s.metres() - middle))
            .map(|off| off.clamp(-MOST_APART_M, MOST_APART_M).powi(2))
            .sum();
        let [east, north] = edge.range_by;
        let shrink = shrink(edge.range_by);
        let late = self.behind_shore((own, from), edge.range, edge.bearing);
        let answer = Answer {
            position: edge.position,
            aim: None,
            range_by: Some([shrink * east, shrink * north]),
            face_m: 0.0,
            late_m: late.late_m,
            depth_m: (0.5 * apart).sqrt().hypot(SHELVES_M).hypot(late.sigma_m),
        };
        Some((middle + late.late_m, answer))
    }

    /// The shore about a place, laid out by tiles.
    fn tile(&self, about: Position) -> Arc<Shore> {
        let at = self.plane.to_plane(about);
        let key = ((at.east / TILE_M).round() as i32, (at.north / TILE_M).round() as i32);
        self.tiles.get(key, || {
            let middle =
                PlanePoint { east: f64::from(key.0) * TILE_M, north: f64::from(key.1) * TILE_M };
            let radius = GroundRange::clamped_metres(1.5 * TILE_M);
            let centre = self.plane.to_position(middle);
            Arc::new(Shore::around(self.chart.coast(), centre, radius))
        })
    }

    /// The nearest shore that should paint.
    fn nearest_shore(&self, level: Level, from: Position) -> Option<Answer> {
        let cell = |degrees: f64| (degrees * 1e5).round() as i64;
        let key = (level, cell(from.latitude()), cell(from.longitude()));
        let position = self.nearest.get(key, || {
            let from = Position::wrapped(key.1 as f64 * 1e-5, key.2 as f64 * 1e-5);
            let within = GroundRange::clamped_metres(self.set.greatest_scale().metres().max(1.0));
            let found = self.chart.coast().nearest(from, within).map(|(range, bearing)| {
                LocalPlane::new(from).to_position(PlanePoint::at(range, bearing))
            });
            let painted = found.and_then(|nearest| {
                if self.shore_shows(level, from, nearest) >= PAINTS {
                    Some(nearest)
                } else {
                    self.nearest_painted((level, from), within)
                }
            });
            painted.or(found)
        })?;
        Some(Answer::at(position))
    }

    /// Where the nearest shore of all is too low or lies in shadow: the nearest of the first shores
    /// all round that should paint.
    fn nearest_painted(
        &self,
        (level, from): (Level, Position),
        within: GroundRange,
    ) -> Option<Position> {
        let shore = Shore::around(self.chart.coast(), from, within);
        let half = Angle::from_degrees(0.5 * SECTOR_DEG);
        let sectors = (360.0 / SECTOR_DEG) as u32;
        let mut edges: Vec<_> = (0..sectors)
            .map(|n| Bearing::wrapped_degrees(f64::from(n) * SECTOR_DEG))
            .filter_map(|bearing| shore.leading_edge(from, bearing, half))
            .collect();
        edges.sort_by(|a, b| a.range.metres().total_cmp(&b.range.metres()));
        edges
            .into_iter()
            .map(|edge| edge.position)
            .find(|place| self.shore_shows(level, from, *place) >= PAINTS)
    }

    /// The chance that a stretch of shore shows from a place, at the height of a level.
    fn shore_shows(&self, level: Level, from: Position, shore: Position) -> f64 {
        self.lookout(level).map_or(1.0, |lookout| lookout.shore_probability(from, shore))
    }
}

impl Answering for ChartGround<'_> {
    fn point(&self, sight: usize, candidate: usize, from: Position, bias: f64) -> Option<Answer> {
        let part = self.parts.get(sight).copied()?;
        if candidate == self.any_shore {
            return self.any_shore(sight, from, bias);
        }
        let Some(id) = self.marks.get(candidate) else {
            return self.nearest_shore(self.level_of(sight), from);
        };
        let mark = self.chart.marks().get(*id)?;
        let shaped = matches!(mark.kind, MarkKind::Headland | MarkKind::Islet);
        match part {
            Part::Near | Part::Shore if shaped => self.leading(sight, candidate, from, bias),
            Part::Left | Part::Right if shaped => self
                .shore_of(candidate, mark, 0)?
                .tangent(from, part)
                .map(|edge| Answer::at(edge.position)),
            Part::Centre if mark.kind == MarkKind::Islet => Some(self.middle(mark)),
            Part::Centre | Part::Near | Part::Shore if mark.kind == MarkKind::Peak => {
                Some(self.hillside(mark, part, (self.own_height(sight), from)))
            }
            _ => None,
        }
    }

    fn is_shore_of(&self, candidate: usize, at: Position) -> bool {
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id));
        mark.filter(|mark| mark.kind == MarkKind::Islet).is_some_and(|islet| {
            let plane = LocalPlane::new(islet.position);
            let out = plane.to_plane(at);
            // Across a channel there is water between.
            let is_land = |share: f64| {
                let between = PlanePoint { east: share * out.east, north: share * out.north };
                self.chart.ground().is_land(plane.to_position(between)) != Some(false)
            };
            out.east.hypot(out.north) <= OWN_SHORE * islet.extent.metres()
                && ALL_ALONG.iter().all(|share| is_land(*share))
        })
    }

    fn off_shore(&self, at: Position) -> Option<f64> {
        let at = self.plane.to_plane(at);
        let key = ((at.east / OFF_CELL_M).round() as i32, (at.north / OFF_CELL_M).round() as i32);
        let found = self.off_shore.get(key, || {
            let middle = PlanePoint {
                east: f64::from(key.0) * OFF_CELL_M,
                north: f64::from(key.1) * OFF_CELL_M,
            };
            let within = GroundRange::clamped_metres(OFF_MOST_M);
            let near = self.chart.coast().nearest(self.plane.to_position(middle), within);
            near.map_or(OFF_MOST_M, |(range, _)| range.metres()) as f32
        });
        Some(f64::from(found))
    }
}

/// So far about the reckoning it is worked out what is in sight: its error, that of the run since, and the run
/// back to where contacts were measured.
fn seen_from(prior: &Prior, levels: &Levels) -> GroundRange {
    let (long, _, _) = prior.covariance.axes();
    let spread = SEEN_SIGMAS * long.sqrt().hypot(prior.run_sigma_m());
    let most = MOST_REACH_NM * METRES_PER_NAUTICAL_MILE;
    GroundRange::clamped_metres((spread + levels.longest_run_m()).min(most))
}

/// The level that a contact was measured from.
pub(super) fn level_of(
    sightings: &Sightings,
    levels: &Levels,
    contact: &Contact,
    time: Timestamp,
) -> Level {
    levels.level(contact.own_height, sightings.reckoning.displacement(contact.time, time))
}

/// So far to either side of an echo other land runs into it.
fn half_beam(set: &Set) -> Angle {
    let fixed = set.lobes.is_some();
    Angle::from_degrees(if fixed { ON_THE_TRACE_DEG } else { 0.5 * set.beam_width_deg })
}

/// What a direction would be read with on two lobes; none for a turning beam or no heading.
fn ratio_foreseen(sightings: &Sightings) -> Option<RatioReading> {
    let own = &sightings.own;
    let (lobes, heading) = sightings.radar.set.lobes.zip(own.heading)?;
    let heading = heading.radians();
    Some(RatioReading { db: 0.0, lobes, heading, bank: own.bank, density: 0.0 })
}

/// How much of its slide is left to a shore seen at more of a slant than is a range to any one line.
fn shrink([east, north]: [f64; 2]) -> f64 {
    (MOST_SLIDE / east.hypot(north).max(MOST_SLIDE)).min(1.0)
}

/// The bearing of a contact with its own error; none where it has none.
fn read_of(contact: &Contact) -> Option<(f64, f64)> {
    contact.bearing.map(|b| (b.radians(), contact.bearing_sigma.radians().abs()))
}

/// Every bearing that a contact may have been read in, with its own error.
fn told_of(contact: &Contact) -> Vec<(f64, f64)> {
    let ratio = contact.lobes.iter().flat_map(LobeReading::true_bearings);
    let ratio = ratio.map(|(bearing, sigma)| (bearing.radians(), sigma.radians()));
    read_of(contact).into_iter().chain(ratio).collect()
}

impl Sighting for ChartGround<'_> {
    fn chance(&self, level: Level, from: Position, candidate: usize) -> f64 {
        let Some(id) = self.marks.get(candidate) else { return 0.0 };
        let then = self.then(level, from);
        self.lookout(level).map_or(1.0, |lookout| lookout.paint_probability(then, *id))
    }

    fn shore_chance(&self, level: Level, from: Position, shore: Position) -> f64 {
        self.shore_shows(level, self.then(level, from), shore)
    }

    fn then(&self, level: Level, now: Position) -> Position {
        place_before(self.levels.run(level), now)
    }

    /// Well inland an echo of nothing charted is a hill or a town, which is rarer than a ship.
    fn sea_chance(&self, at: Position) -> f64 {
        // The distance is kept by cells, and settles it for most.
        let inland = self.off_shore(at).is_some_and(|metres| metres > INSHORE_M)
            && self.chart.coast().is_land(at) == Some(true);
        if inland { INLAND } else { 1.0 }
    }
}
