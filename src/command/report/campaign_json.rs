use serde::Serialize;

use super::campaign_text::{SIMULATED, Tried};
use super::pretty::pretty;
use super::rounding::{Place, rounded};
use crate::campaign::{Answer, Share, Tally};
use crate::command::Failure;
use crate::command::common::CAUTION;
use crate::units::METRES_PER_NAUTICAL_MILE;

/// What came of a plan's landfalls, for scripts: `foreland.campaign/1`.
///
/// # Errors
/// A fault of the program: the answer does not make JSON.
pub fn campaign_json(tried: &Tried<'_>) -> Result<String, Failure> {
    let plan = tried.planned.plan;
    let end_m = tried.length.metres();
    let mut cautions = vec![SIMULATED.to_owned()];
    cautions.extend(tried.cautions.iter().cloned());
    cautions.push(CAUTION.to_owned());
    let answer = Told {
        schema: "foreland.campaign/1",
        seed: tried.seed,
        landfalls: tried.tally.landfalls,
        asked: tried.asked,
        stopped: tried.is_stopped(),
        chart: tried.planned.chart.name(),
        set: &tried.planned.set.name,
        run_nm: miles(end_m),
        sigma_along_nm: miles(plan.sigma_along_m(end_m)),
        sigma_across_nm: miles(plan.sigma_across_m(end_m)),
        every_minutes: rounded(tried.habits.every_s / 60.0, 3),
        contacts: tried.habits.contacts,
        ships: tried.habits.ships,
        within_nm: tried.habits.within_nm,
        fix: fix(&tried.tally),
        first: first(&tried.tally),
        along: along(&tried.tally),
        across: across(&tried.tally, plan.sigma_across_m(end_m)),
        marks: marks(&tried.tally),
        landfall: landfall(tried),
        cautions,
    };
    pretty(&answer)
}

fn miles(metres: f64) -> f64 {
    rounded(metres / METRES_PER_NAUTICAL_MILE, 3)
}

#[derive(Serialize)]
struct Told<'a> {
    schema: &'static str,
    seed: u64,
    landfalls: usize,
    asked: u64,
    stopped: bool,
    chart: &'a str,
    set: &'a str,
    run_nm: f64,
    sigma_along_nm: f64,
    sigma_across_nm: f64,
    every_minutes: f64,
    contacts: usize,
    ships: f64,
    within_nm: Option<f64>,
    fix: FixTold,
    first: Option<FirstTold>,
    along: Vec<BandTold>,
    across: Vec<SideTold>,
    marks: Vec<MarkTold<'a>>,
    landfall: Option<LandfallTold<'a>>,
    cautions: Vec<String>,
}

/// So many of so many, the share, and the interval of 95 % in which its chance lies.
#[derive(Serialize)]
struct ShareTold {
    hits: usize,
    of: usize,
    percent: Option<f64>,
    low_percent: f64,
    high_percent: f64,
}

impl ShareTold {
    fn of(share: Share) -> Self {
        let [low, high] = share.interval();
        Self {
            hits: share.hits,
            of: share.of,
            percent: share.percent().map(|percent| rounded(percent, 2)),
            low_percent: rounded(low, 2),
            high_percent: rounded(high, 2),
        }
    }
}

#[derive(Serialize)]
struct FixTold {
    right: ShareTold,
    wrong: ShareTold,
    none: ShareTold,
    wrong_of_fixes: ShareTold,
    in_95: ShareTold,
    in_999: ShareTold,
    beyond_radius: ShareTold,
    refused: Vec<CountTold>,
    nothing_showed: usize,
    wrong_landfalls: Vec<u64>,
}

#[derive(Serialize)]
struct CountTold {
    answer: &'static str,
    count: usize,
}

fn counts(answers: &[(Answer, usize)]) -> Vec<CountTold> {
    let told =
        |(answer, count): &(Answer, usize)| CountTold { answer: answer.as_str(), count: *count };
    answers.iter().map(told).collect()
}

fn fix(tally: &Tally) -> FixTold {
    FixTold {
        right: ShareTold::of(tally.right),
        wrong: ShareTold::of(tally.wrong),
        none: ShareTold::of(tally.refused.all),
        wrong_of_fixes: ShareTold::of(Share::new(tally.wrong.hits, tally.in_95.of)),
        in_95: ShareTold::of(tally.in_95),
        in_999: ShareTold::of(tally.in_999),
        beyond_radius: ShareTold::of(tally.beyond_radius),
        refused: counts(&tally.refused.last),
        nothing_showed: tally.refused.nothing,
        wrong_landfalls: tally.wrong_ones.clone(),
    }
}

/// Of ten right first fixes one is no worse, five, nine.
#[derive(Serialize)]
struct FirstTold {
    to_run_nm: [f64; 3],
    after_minutes: [f64; 3],
    error_nm: [f64; 3],
    ellipse_95_major_nm: [f64; 3],
}

fn first(tally: &Tally) -> Option<FirstTold> {
    let three = |values: [f64; 3]| values.map(|value| rounded(value, 3));
    tally.first.map(|first| FirstTold {
        to_run_nm: three(first.to_run_nm),
        after_minutes: three(first.after_min),
        error_nm: three(first.error_nm),
        ellipse_95_major_nm: three(first.axis_nm),
    })
}

#[derive(Serialize)]
struct BandTold {
    from_nm: f64,
    to_nm: f64,
    looks: usize,
    right: ShareTold,
    wrong: ShareTold,
    answers: Vec<CountTold>,
    right_so_far: ShareTold,
}

fn along(tally: &Tally) -> Vec<BandTold> {
    let told = |band: &crate::campaign::Band| BandTold {
        from_nm: band.to_run_nm[0],
        to_nm: band.to_run_nm[1],
        looks: band.looks,
        right: ShareTold::of(band.right),
        wrong: ShareTold::of(band.wrong),
        answers: counts(&band.answers),
        right_so_far: ShareTold::of(band.by_then),
    };
    tally.bands.iter().map(told).collect()
}

/// To the right of the planned track, nautical miles; no end is none.
#[derive(Serialize)]
struct SideTold {
    from_nm: Option<f64>,
    to_nm: Option<f64>,
    right: ShareTold,
    wrong: ShareTold,
}

fn across(tally: &Tally, sigma_m: f64) -> Vec<SideTold> {
    let edge = |sigmas: f64| sigmas.is_finite().then(|| miles(sigmas * sigma_m));
    let told = |side: &crate::campaign::Side| SideTold {
        from_nm: edge(side.sigmas[0]),
        to_nm: edge(side.sigmas[1]),
        right: ShareTold::of(side.right),
        wrong: ShareTold::of(side.wrong),
    };
    tally.sides.iter().map(told).collect()
}

#[derive(Serialize)]
struct MarkTold<'a> {
    mark: &'a str,
    in_right_fixes: ShareTold,
    right_when_measured: ShareTold,
    right_when_not_measured: ShareTold,
    gain_percent: Option<f64>,
}

fn marks(tally: &Tally) -> Vec<MarkTold<'_>> {
    let told = |mark| {
        let mark: &crate::campaign::MarkUse = mark;
        MarkTold {
            mark: &mark.mark,
            in_right_fixes: ShareTold::of(mark.in_right),
            right_when_measured: ShareTold::of(mark.read),
            right_when_not_measured: ShareTold::of(mark.missed),
            gain_percent: mark.gain().map(|gain| rounded(gain, 2)),
        }
    };
    tally.marks.iter().map(told).collect()
}

#[derive(Serialize)]
struct LandfallTold<'a> {
    mark: &'a str,
    planned: Place,
    charted: Place,
    said: Vec<SaidTold>,
}

/// How often it was said where an echo measured truly was the landfall's, and where none was.
#[derive(Serialize)]
struct SaidTold {
    verdict: &'static str,
    there: usize,
    not_there: usize,
}

fn landfall<'a>(tried: &'a Tried<'_>) -> Option<LandfallTold<'a>> {
    let (planned, target) = tried.landfall.zip(tried.target)?;
    let said = tried.tally.said.iter().map(|it| SaidTold {
        verdict: it.said.as_str(),
        there: it.there,
        not_there: it.not_there,
    });
    Some(LandfallTold {
        mark: &target.name,
        planned: Place::of(planned.planned),
        charted: Place::of(target.place),
        said: said.collect(),
    })
}
