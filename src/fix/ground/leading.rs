//! The leading edge of a headland or an islet: what was ranged of it, and what its bearing was taken of.

use super::{ChartGround, FACE_SHARE, MISSED_NM, shrink};
use crate::chart::{Mark, MarkKind};
use crate::contact::shore::{Edge, Shore, Stand};
use crate::geodesy::{LocalPlane, PlanePoint, Position};
use crate::identity::Answer;
use crate::units::{Angle, Bearing, GroundRange, METRES_PER_NAUTICAL_MILE, True};

/// How far behind the nearest shore of the larger disc an echo may begin, as a share of what lies
/// between the two discs' answers.
const DEPTH_SHARE: f64 = 0.5;
/// How much of what lies between tip and shore in the beam is unsure: which of them painted.
const CHOICE_SHARE: f64 = 0.15;
/// The bearing of an islet, however large, is taken so near to its middle, in miles.
const MOST_FACE_NM: f64 = 0.3;
/// A bearing of a headland is taken so near to its tip, in miles.
const HEADLAND_FACE_NM: f64 = 0.22;

/// What a bearing was taken of.
struct Aim {
    place: Position,
    /// How far beside it the bearing may have been taken, metres.
    face_m: f64,
}

/// Where the cursor lay when a leading edge was ranged.
struct Cursor {
    towards: Bearing<True>,
    /// How much of that is by the reading, from nought to one.
    by_reading: f64,
    /// The reading's own error, radians; nought where there is none.
    sigma: f64,
}

impl ChartGround<'_> {
    /// A headland or an islet by its leading edge: borne by its charted point, and ranged to its
    /// nearest shore within half a beam of the bearing as read, less the bias.
    ///
    /// Close in, the nearest shore about a tip can lie many degrees off it: no cursor is set there.
    /// How much of the shore is taken for the headland, and whether the shore in the beam painted
    /// rather than the tip, is not known: what lies between goes into the error.
    pub(super) fn leading(
        &self,
        sight: usize,
        candidate: usize,
        from: Position,
        bias: f64,
    ) -> Option<Answer> {
        let mark = self.marks.get(candidate).and_then(|id| self.chart.marks().get(*id))?;
        let here = LocalPlane::new(from);
        let (to_tip, _) = here.to_plane(mark.position).polar();
        let shore = self.shore_of(candidate, mark, 1)?;
        // Both discs lie about the tip.
        let stand = shore.stand(from);
        let Aim { place: aim, face_m } = aim(mark, shore, stand);
        let cursor = self.cursor(sight, bias, here.to_plane(aim), face_m);
        let missed_m = MISSED_NM * METRES_PER_NAUTICAL_MILE;
        let late = self.behind_mark(candidate, mark, (self.own_height(sight), from, to_tip));
        let Some(much) = shore.leading_edge_from(stand, cursor.towards, self.half_beam) else {
            let (late_m, depth_m) = (late.late_m, missed_m.hypot(late.sigma_m));
            return Some(Answer { face_m, depth_m, late_m, ..Answer::at(mark.position) });
        };
        let little = match mark.kind {
            MarkKind::Islet => much.range,
            _ => self.little(candidate, mark, stand, &cursor).unwrap_or(to_tip),
        };
        let between = DEPTH_SHARE * (little - much.range).abs();
        let choice = CHOICE_SHARE * (to_tip - much.range).abs();
        let (range_by, slid_m) = slid(&much, &cursor);
        Some(Answer {
            position: much.position,
            aim: Some(aim),
            range_by: Some(range_by),
            face_m,
            depth_m: between.hypot(choice.min(missed_m)).hypot(slid_m).hypot(late.sigma_m),
            late_m: late.late_m,
        })
    }

    /// The range to the shore in the beam where little of it is taken for a headland.
    fn little(
        &self,
        candidate: usize,
        mark: &Mark,
        stand: Stand,
        cursor: &Cursor,
    ) -> Option<GroundRange> {
        let shore = self.shore_of(candidate, mark, 0)?;
        shore.leading_range_from(stand, cursor.towards, self.half_beam)
    }

    /// The reading errs by its sigma, less the bias; what the cursor was set on lies within `face_m`
    /// of the mark's middle. Close in the reading tells, far off the mark.
    fn cursor(&self, sight: usize, bias: f64, aim: PlanePoint, face_m: f64) -> Cursor {
        let (range, bearing) = aim.polar();
        let Some((read, sigma)) = self.read.get(sight).copied().flatten() else {
            return Cursor { towards: bearing, by_reading: 0.0, sigma: 0.0 };
        };
        let face = face_m / range.metres().max(1.0);
        let by_reading = face * face / (face * face + sigma * sigma).max(f64::MIN_POSITIVE);
        let off = Bearing::wrapped(read - bias).minus(bearing).radians();
        let towards = bearing.turned(Angle::from_radians(by_reading * off));
        Cursor { towards, by_reading, sigma }
    }
}

/// What the bearing of a leading edge is taken of: the tip of a headland, the middle of an islet's echo.
fn aim(mark: &Mark, shore: &Shore, stand: Stand) -> Aim {
    let miles = METRES_PER_NAUTICAL_MILE;
    if mark.kind != MarkKind::Islet {
        return Aim { place: mark.position, face_m: HEADLAND_FACE_NM * miles };
    }
    let face_m = (FACE_SHARE * mark.extent.metres()).min(MOST_FACE_NM * miles);
    let (place, beside_m) = middle_of_echo(shore, mark, stand);
    Aim { place, face_m: face_m.hypot(beside_m) }
}

/// What the bearing of an islet's leading edge is taken of, and how far to either side it may have
/// been.
///
/// A cursor is set on the middle of a small echo. Of an islet wider than that the nearest shore
/// draws it as well, so that it is looked for half way, and may be at either.
fn middle_of_echo(shore: &Shore, mark: &Mark, stand: Stand) -> (Position, f64) {
    let Some(nearest) = shore.nearest_from(stand) else {
        return (mark.position, 0.0);
    };
    let plane = LocalPlane::new(mark.position);
    let near = plane.to_plane(nearest.position);
    let half_way = PlanePoint { east: 0.5 * near.east, north: 0.5 * near.north };
    let (sin, cos) = nearest.bearing.sin_cos();
    let beside = half_way.east * cos - half_way.north * sin;
    (plane.to_position(half_way), beside.abs())
}

/// How the range of an edge changes as own place moves east and north, and how unsure it is by where
/// the cursor lay, which is known no better than reading and mark together tell it; metres.
fn slid(edge: &Edge, cursor: &Cursor) -> ([f64; 2], f64) {
    let Cursor { by_reading, sigma, .. } = *cursor;
    let [east, north] = edge.range_by;
    let shrink = shrink(edge.range_by);
    let (sin, cos) = edge.bearing.sin_cos();
    let cursor_rad = by_reading.sqrt() * sigma;
    let slid_m = cursor_rad * edge.range.metres() * shrink * (east * cos - north * sin).abs();
    let slides = |by: f64, straight: f64| by_reading * shrink * by - (1.0 - by_reading) * straight;
    ([slides(east, sin), slides(north, cos)], slid_m)
}
