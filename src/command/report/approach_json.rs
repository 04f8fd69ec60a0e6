use jiff::Timestamp;
use serde::Serialize;

use super::plan_json;
use super::planned::{Planned, clock_at, relative};
use super::pretty::pretty;
use super::rounding::{Place, in_turn, rounded};
use crate::command::Failure;
use crate::command::common::CAUTION;
use crate::fix::Preparation;
use crate::paint::approach::{
    Alike, Approach, Event, LandShows, LandfallPlan, Never, Spread, Stretch, Trap,
};
use crate::units::METRES_PER_NAUTICAL_MILE;

/// How a coast appears along a track, for scripts: `foreland.approach/1`.
///
/// # Errors
/// A fault of the program: the answer does not make JSON.
pub fn approach_json(
    planned: &Planned<'_>,
    found: &Approach,
    prepared: &Preparation,
) -> Result<String, Failure> {
    let to = Teller { planned };
    let answer = Answer {
        schema: "foreland.approach/1",
        run: to.run(found),
        horizon_nm: rounded(found.horizon.nautical_miles(), 3),
        events: found.events.iter().filter_map(|event| to.event(event)).collect(),
        never: found.never.iter().filter_map(|never| to.never(never)).collect(),
        coast: found.coast.iter().map(|stretch| to.stretch(stretch)).collect(),
        traps: found.traps.iter().map(|trap| to.trap(trap)).collect(),
        alike: found.alike.iter().filter_map(|pair| to.alike(pair)).collect(),
        landfall: found.landfall.as_ref().map(|landfall| to.landfall(landfall)),
        looks: prepared.looks.iter().map(|look| plan_json::look(planned, look)).collect(),
        aim_off: prepared.aim_off.as_ref().map(|aim| plan_json::aim_off(planned, aim)),
        denials: prepared.denials.iter().map(|denial| plan_json::denial(planned, denial)).collect(),
        corridor: plan_json::corridor(planned, &found.corridor),
        cautions: found.cautions.iter().map(String::as_str).chain([CAUTION]).collect(),
    };
    pretty(&answer)
}

#[derive(Serialize)]
struct Answer<'a> {
    schema: &'static str,
    run: RunTold,
    horizon_nm: f64,
    events: Vec<EventTold<'a>>,
    never: Vec<NeverTold<'a>>,
    coast: Vec<StretchTold>,
    traps: Vec<TrapTold<'a>>,
    alike: Vec<AlikeTold<'a>>,
    landfall: Option<LandfallTold>,
    looks: Vec<plan_json::LookTold<'a>>,
    aim_off: Option<plan_json::AimOffTold<'a>>,
    denials: Vec<plan_json::DenialTold<'a>>,
    corridor: plan_json::CorridorTold<'a>,
    cautions: Vec<&'a str>,
}

#[derive(Serialize)]
struct RunTold {
    from: Place,
    start: Timestamp,
    end: Timestamp,
    track_deg: f64,
    speed_kn: f64,
    height_ft: f64,
    length_nm: f64,
    ends_by: &'static str,
    sigma_nm: f64,
    track_sigma_deg: f64,
    speed_sigma_kn: f64,
}

#[derive(Serialize)]
struct EventTold<'a> {
    time: Timestamp,
    mark: &'a str,
    event: &'static str,
    kind: &'static str,
    at_start: bool,
    run_nm: f64,
    range_nm: f64,
    bearing_deg: f64,
    relative_deg: f64,
    #[serde(flatten)]
    span: Span,
    signal_to_noise_db: Option<f64>,
    paint_probability: f64,
}

/// When it may be.
#[derive(Serialize)]
struct Span {
    earliest: Timestamp,
    latest: Option<Timestamp>,
    by_the_end_probability: f64,
}

#[derive(Serialize)]
struct NeverTold<'a> {
    mark: &'a str,
    kind: &'static str,
    outcome: &'static str,
    time: Timestamp,
    range_nm: f64,
    bearing_deg: f64,
    relative_deg: f64,
    paint_probability: f64,
    best_probability: f64,
}

#[derive(Serialize)]
struct StretchTold {
    shore: Place,
    closest_nm: f64,
    first_land: Option<LandTold>,
    shore_paints: Option<LandTold>,
}

#[derive(Serialize)]
struct LandTold {
    time: Timestamp,
    from: &'static str,
    at_start: bool,
    run_nm: f64,
    range_nm: f64,
    bearing_deg: f64,
    relative_deg: f64,
    behind_shore_nm: f64,
    height_ft: f64,
    signal_to_noise_db: f64,
    #[serde(flatten)]
    span: Span,
    place: Place,
}

#[derive(Serialize)]
struct TrapTold<'a> {
    trap: &'static str,
    mark: Option<&'a str>,
    shore: Place,
    behind_shore_nm: Option<f64>,
    ground_paints: Option<Timestamp>,
    shore_paints: Option<Timestamp>,
    told: String,
}

#[derive(Serialize)]
struct AlikeTold<'a> {
    marks: [&'a str; 2],
    kind: &'static str,
    apart_nm: f64,
    chi2: f64,
    stronger_db: f64,
}

#[derive(Serialize)]
struct LandfallTold {
    time: Timestamp,
    position: Place,
    planned: Place,
    run_nm: f64,
    cross_track_nm: f64,
    sigma_along_nm: f64,
    sigma_across_nm: f64,
    earliest: Timestamp,
    latest: Timestamp,
}

struct Teller<'a, 'p> {
    planned: &'a Planned<'p>,
}

impl<'p> Teller<'_, 'p> {
    fn at(&self, seconds: f64) -> Timestamp {
        clock_at(self.planned.start, seconds)
    }

    fn name(&self, mark: crate::chart::MarkId) -> Option<&'p crate::chart::Mark> {
        self.planned.chart.marks().get(mark)
    }

    fn run(&self, found: &Approach) -> RunTold {
        let plan = self.planned.plan;
        RunTold {
            from: Place::of(plan.from),
            start: self.planned.start,
            end: self.at(plan.seconds(found.run.length.metres())),
            track_deg: in_turn(plan.track),
            speed_kn: rounded(plan.speed.knots(), 3),
            height_ft: rounded(plan.height.feet(), 1),
            length_nm: rounded(found.run.length.nautical_miles(), 3),
            ends_by: found.run.ends.as_str(),
            sigma_nm: rounded(plan.sigma.nautical_miles(), 4),
            track_sigma_deg: rounded(plan.track_sigma.degrees(), 4),
            speed_sigma_kn: rounded(plan.speed_sigma.knots(), 4),
        }
    }

    fn event(&self, event: &Event) -> Option<EventTold<'p>> {
        let mark = self.name(event.seen.mark)?;
        Some(EventTold {
            time: self.at(event.seconds),
            mark: &mark.name,
            event: event.kind.as_str(),
            kind: mark.kind.as_str(),
            at_start: event.at_start,
            run_nm: rounded(event.run.nautical_miles(), 3),
            range_nm: rounded(event.seen.range.nautical_miles(), 3),
            bearing_deg: in_turn(event.seen.bearing),
            relative_deg: in_turn(relative(self.planned, event.seen.bearing)),
            span: self.span(&event.spread),
            signal_to_noise_db: event.seen.signal_to_noise_db.map(|db| rounded(db, 2)),
            paint_probability: rounded(event.seen.paint_probability, 4),
        })
    }

    fn span(&self, spread: &Spread) -> Span {
        Span {
            earliest: self.at(spread.earliest_s),
            latest: spread.latest_s.map(|seconds| self.at(seconds)),
            by_the_end_probability: rounded(spread.by_the_end, 3),
        }
    }

    fn never(&self, never: &Never) -> Option<NeverTold<'p>> {
        let (mark, seen) = (self.name(never.closest.mark)?, &never.closest);
        Some(NeverTold {
            mark: &mark.name,
            kind: mark.kind.as_str(),
            outcome: seen.outcome.as_str(),
            time: self.at(self.planned.plan.seconds(never.run.metres())),
            range_nm: rounded(seen.range.nautical_miles(), 3),
            bearing_deg: in_turn(seen.bearing),
            relative_deg: in_turn(relative(self.planned, seen.bearing)),
            paint_probability: rounded(seen.paint_probability, 4),
            best_probability: rounded(never.best_chance, 4),
        })
    }

    fn stretch(&self, stretch: &Stretch) -> StretchTold {
        StretchTold {
            shore: Place::of(stretch.at),
            closest_nm: rounded(stretch.closest.nautical_miles(), 2),
            first_land: stretch.land.as_ref().map(|land| self.land(land)),
            shore_paints: stretch.shore.as_ref().map(|land| self.land(land)),
        }
    }

    fn land(&self, land: &LandShows) -> LandTold {
        let behind_nm = land.echo.behind.nautical_miles();
        LandTold {
            time: self.at(land.seconds),
            from: if behind_nm > 0.0 { "ground-behind" } else { "shore" },
            at_start: land.at_start,
            run_nm: rounded(land.run.nautical_miles(), 3),
            range_nm: rounded(land.echo.range.nautical_miles(), 3),
            bearing_deg: in_turn(land.echo.bearing),
            relative_deg: in_turn(relative(self.planned, land.echo.bearing)),
            behind_shore_nm: rounded(behind_nm, 2),
            height_ft: rounded(land.echo.height.feet(), 0),
            signal_to_noise_db: rounded(land.echo.signal_to_noise_db, 2),
            span: self.span(&land.spread),
            place: Place::of(land.place),
        }
    }

    fn trap(&self, trap: &Trap) -> TrapTold<'p> {
        let told = super::approach_traps::trap_words(self.planned, trap);
        let time = |land: &Option<LandShows>| land.as_ref().map(|land| self.at(land.seconds));
        let behind = |land: &LandShows| rounded(land.echo.behind.nautical_miles(), 2);
        let name = |mark: Option<crate::chart::MarkId>| {
            mark.and_then(|mark| self.name(mark)).map(|mark| mark.name.as_str())
        };
        match trap {
            Trap::GroundFirst { shore_at, ground, mark, shore } => TrapTold {
                trap: "ground-first",
                mark: name(*mark),
                shore: Place::of(*shore_at),
                behind_shore_nm: Some(behind(ground)),
                ground_paints: Some(self.at(ground.seconds)),
                shore_paints: time(shore),
                told,
            },
            Trap::LowShore { shore_at, ground, mark, .. } => TrapTold {
                trap: "low-shore",
                mark: name(*mark),
                shore: Place::of(*shore_at),
                behind_shore_nm: ground.as_ref().map(behind),
                ground_paints: time(ground),
                shore_paints: None,
                told,
            },
        }
    }

    fn alike(&self, pair: &Alike) -> Option<AlikeTold<'p>> {
        let (one, other) = (self.name(pair.one)?, self.name(pair.other)?);
        Some(AlikeTold {
            marks: [&one.name, &other.name],
            kind: one.kind.as_str(),
            apart_nm: rounded(pair.apart.nautical_miles(), 2),
            chi2: rounded(pair.chi2, 3),
            stronger_db: rounded(pair.stronger_db, 1),
        })
    }

    fn landfall(&self, landfall: &LandfallPlan) -> LandfallTold {
        let (plan, run_m) = (self.planned.plan, landfall.run.metres());
        let miles = |metres: f64| metres / METRES_PER_NAUTICAL_MILE;
        let (earliest, latest) = plan.due_s(run_m);
        LandfallTold {
            time: self.at(plan.seconds(run_m)),
            position: Place::of(landfall.nearest),
            planned: Place::of(landfall.planned),
            run_nm: rounded(miles(run_m), 3),
            cross_track_nm: rounded(miles(landfall.cross_track_m), 3),
            sigma_along_nm: rounded(miles(plan.sigma_along_m(run_m)), 3),
            sigma_across_nm: rounded(miles(plan.sigma_across_m(run_m)), 3),
            earliest: self.at(earliest),
            latest: self.at(latest),
        }
    }
}
