//! What is worked out before a run, for scripts: parts of `foreland.approach/1`.

use jiff::Timestamp;
use serde::Serialize;

use super::plan_text::{self, SQUARE_MILE_M2};
use super::planned::{Planned, clock_at, relative};
use super::rounding::{Place, in_turn, rounded};
use crate::chart::{HeightSource, MarkId};
use crate::fix::{AimOff, Choice, Denial, Look, SideSeen};
use crate::geodesy::Ellipse;
use crate::paint::approach::{Corridor, HELD};
use crate::units::METRES_PER_NAUTICAL_MILE;

#[derive(Serialize)]
pub(super) struct LookTold<'a> {
    time: Timestamp,
    run_nm: f64,
    to_run_nm: f64,
    ellipse_before: EllipseTold,
    one: Option<ChoiceTold<'a>>,
    two: Option<ChoiceTold<'a>>,
}

#[derive(Serialize)]
struct EllipseTold {
    probability: f64,
    semi_major_nm: f64,
    semi_minor_nm: f64,
    major_axis_deg: f64,
}

#[derive(Serialize)]
struct ChoiceTold<'a> {
    take: Vec<TakeTold<'a>>,
    ellipse_after: EllipseTold,
}

#[derive(Serialize)]
struct TakeTold<'a> {
    mark: &'a str,
    measure: &'static str,
    range_nm: f64,
    bearing_deg: f64,
    relative_deg: f64,
    paint_probability: f64,
    alike: Option<&'a str>,
}

#[derive(Serialize)]
pub(super) struct AimOffTold<'a> {
    advice: &'static str,
    side: Option<&'static str>,
    amount_nm: f64,
    largest_error_nm: f64,
    direct_track_deg: f64,
    track_deg: Option<f64>,
    aim_at: Option<Place>,
    why: &'a str,
    sides: Vec<SideTold<'a>>,
}

#[derive(Serialize)]
struct SideTold<'a> {
    side: &'static str,
    track_deg: f64,
    turn_deg: f64,
    aim_at: Place,
    shore: bool,
    plain_marks: Vec<&'a str>,
    highest: Option<HighTold<'a>>,
    untold_nm2: f64,
    voids: usize,
}

#[derive(Serialize)]
struct HighTold<'a> {
    height_ft: f64,
    under_ft: Option<f64>,
    position: Place,
    from: &'static str,
    mark: Option<&'a str>,
    before_landfall_nm: f64,
    off_track_nm: f64,
}

#[derive(Serialize)]
pub(super) struct DenialTold<'a> {
    denial: &'static str,
    time: Timestamp,
    mark: Option<&'a str>,
    range_nm: f64,
    bearing_deg: f64,
    to_bearing_deg: Option<f64>,
    told: String,
}

#[derive(Serialize)]
pub(super) struct CorridorTold<'a> {
    probability: f64,
    begins_before_nm: f64,
    ends_past_nm: f64,
    half_width_nm: [f64; 3],
    highest: Option<HighTold<'a>>,
    safe_height_ft: Option<f64>,
    land_nm2: f64,
    untold_nm2: f64,
    voids: usize,
    gaps: Vec<GapTold>,
    told: &'static str,
}

#[derive(Serialize)]
struct GapTold {
    from_before_nm: f64,
    to_before_nm: f64,
    untold_nm2: f64,
}

pub(super) fn look<'a>(planned: &Planned<'a>, look: &Look) -> LookTold<'a> {
    LookTold {
        time: clock_at(planned.start, look.seconds),
        run_nm: miles(look.run_m),
        to_run_nm: rounded(look.to_run.nautical_miles(), 2),
        ellipse_before: ellipse(look.before),
        one: look.one.as_ref().map(|one| choice(planned, one)),
        two: look.two.as_ref().map(|two| choice(planned, two)),
    }
}

fn choice<'a>(planned: &Planned<'a>, choice: &Choice) -> ChoiceTold<'a> {
    let takes = choice.takes.iter().filter_map(|take| {
        Some(TakeTold {
            mark: name(planned, take.mark)?,
            measure: take.measure.as_str(),
            range_nm: rounded(take.range.nautical_miles(), 2),
            bearing_deg: in_turn(take.bearing),
            relative_deg: in_turn(relative(planned, take.bearing)),
            paint_probability: rounded(take.chance, 4),
            alike: take.alike.and_then(|other| name(planned, other)),
        })
    });
    ChoiceTold { take: takes.collect(), ellipse_after: ellipse(choice.after) }
}

fn ellipse(ellipse: Ellipse) -> EllipseTold {
    EllipseTold {
        probability: ellipse.probability,
        semi_major_nm: rounded(ellipse.semi_major.nautical_miles(), 3),
        semi_minor_nm: rounded(ellipse.semi_minor.nautical_miles(), 3),
        major_axis_deg: rounded(ellipse.major_axis.degrees(), 1),
    }
}

pub(super) fn aim_off<'a>(planned: &Planned<'a>, aim: &'a AimOff) -> AimOffTold<'a> {
    let chosen = aim.sides.iter().find(|seen| Some(seen.side) == aim.side);
    AimOffTold {
        advice: aim.advice.as_str(),
        side: aim.side.map(crate::fix::Side::as_str),
        amount_nm: rounded(aim.amount.nautical_miles(), 2),
        largest_error_nm: rounded(aim.largest_error.nautical_miles(), 2),
        direct_track_deg: in_turn(aim.direct),
        track_deg: chosen.map(|seen| in_turn(seen.track)),
        aim_at: chosen.map(|seen| Place::of(seen.aim_at)),
        why: &aim.why,
        sides: aim.sides.iter().map(|seen| side(planned, seen)).collect(),
    }
}

fn side<'a>(planned: &Planned<'a>, seen: &SideSeen) -> SideTold<'a> {
    SideTold {
        side: seen.side.as_str(),
        track_deg: in_turn(seen.track),
        turn_deg: rounded(seen.turned.degrees(), 2),
        aim_at: Place::of(seen.aim_at),
        shore: seen.shore,
        plain_marks: seen.plain.iter().filter_map(|id| name(planned, *id)).collect(),
        highest: high(planned, &seen.corridor),
        untold_nm2: rounded(seen.corridor.untold_m2 / SQUARE_MILE_M2, 1),
        voids: seen.corridor.voids,
    }
}

fn high<'a>(planned: &Planned<'a>, corridor: &Corridor) -> Option<HighTold<'a>> {
    corridor.highest.map(|ground| HighTold {
        height_ft: rounded(ground.height.feet(), 0),
        under_ft: ground.under.map(|under| rounded(under.feet(), 0)),
        position: Place::of(ground.position),
        from: match ground.source {
            HeightSource::Grid => "grid",
            HeightSource::Contour => "contour",
            HeightSource::Mark | HeightSource::Sea | HeightSource::Assumed => "mark",
        },
        mark: ground.mark.and_then(|id| name(planned, id)),
        before_landfall_nm: miles(ground.before_m),
        off_track_nm: miles(ground.off_m),
    })
}

pub(super) fn denial<'a>(planned: &Planned<'a>, denial: &Denial) -> DenialTold<'a> {
    let (mark, range_nm, bearing, to) = match denial {
        Denial::Late { mark, range, bearing, .. } | Denial::Hidden { mark, range, bearing, .. } => {
            (Some(*mark), range.nautical_miles(), *bearing, None)
        }
        Denial::OpenWater { from, to, within, .. } => {
            (None, within.nautical_miles(), *from, Some(*to))
        }
    };
    DenialTold {
        denial: denial.as_str(),
        time: clock_at(planned.start, denial.seconds()),
        mark: mark.and_then(|mark| name(planned, mark)),
        range_nm: rounded(range_nm, 2),
        bearing_deg: in_turn(bearing),
        to_bearing_deg: to.map(in_turn),
        told: plan_text::denial_words(planned, denial),
    }
}

pub(super) fn corridor<'a>(planned: &Planned<'a>, corridor: &Corridor) -> CorridorTold<'a> {
    CorridorTold {
        probability: HELD,
        begins_before_nm: miles(corridor.begins_m),
        ends_past_nm: miles(corridor.ends_m),
        half_width_nm: corridor.half_widths_m.map(miles),
        highest: high(planned, corridor),
        safe_height_ft: None,
        land_nm2: rounded(corridor.land_m2 / SQUARE_MILE_M2, 1),
        untold_nm2: rounded(corridor.untold_m2 / SQUARE_MILE_M2, 1),
        voids: corridor.voids,
        gaps: corridor
            .gaps
            .iter()
            .map(|gap| GapTold {
                from_before_nm: miles(gap.from_m),
                to_before_nm: miles(gap.to_m),
                untold_nm2: rounded(gap.area_m2 / SQUARE_MILE_M2, 1),
            })
            .collect(),
        told: plan_text::NO_SAFE_HEIGHT,
    }
}

fn name<'a>(planned: &Planned<'a>, mark: MarkId) -> Option<&'a str> {
    planned.chart.marks().get(mark).map(|mark| mark.name.as_str())
}

fn miles(metres: f64) -> f64 {
    rounded(metres / METRES_PER_NAUTICAL_MILE, 2)
}
