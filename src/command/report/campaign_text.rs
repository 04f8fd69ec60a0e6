use std::fmt::Write as _;

use super::page::{columns, put_wrapped};
use super::planned::Planned;
use super::words::{clock, rain};
use crate::campaign::{Answer, Habits, MarkUse, Refused, Share, Tally, Target};
use crate::command::CAUTION;
use crate::fix::LandfallVerdict;
use crate::paint::approach::LandfallPlan;
use crate::units::{GroundRange, METRES_PER_NAUTICAL_MILE};

/// The most marks and wrong landfalls that are listed.
const MOST_MARKS: usize = 16;
const MOST_WRONG: usize = 12;

/// What such figures are, and are not.
pub(super) const SIMULATED: &str = "Simulated: charted coast wrong by the chart's own stated error, \
    plain readings with the set's own errors, ships that look like islets, the program's own model of what \
    the set paints. No sea or rain echo taken for land, no side lobes, no tide over shoals, no misread \
    scale, no mark mistaken on purpose: the sea is worse than this. Each look is solved by itself";

/// A plan that was tried, and what came of it.
#[derive(Debug)]
pub struct Tried<'a> {
    /// The plan, the set and the weather.
    pub planned: Planned<'a>,
    /// How far the run goes.
    pub length: GroundRange,
    /// The planned landfall as the track comes to it.
    pub landfall: Option<LandfallPlan>,
    /// What stands for it.
    pub target: Option<&'a Target>,
    /// How the operator goes about it.
    pub habits: Habits,
    /// Of every draw.
    pub seed: u64,
    /// Landfalls asked for: fewer were made where it was stopped.
    pub asked: u64,
    /// What it came to.
    pub tally: Tally,
    /// What to know of the coast that it was tried on.
    pub cautions: Vec<String>,
}

impl Tried<'_> {
    /// Whether it was stopped before all were made.
    pub fn is_stopped(&self) -> bool {
        (self.tally.landfalls as u64) < self.asked
    }
}

/// What came of a plan's landfalls, for people: eighty columns.
pub fn campaign_text(tried: &Tried<'_>) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = heading(&mut text, tried)
        .and_then(|()| fixes(&mut text, &tried.tally))
        .and_then(|()| first(&mut text, &tried.tally))
        .and_then(|()| along(&mut text, tried))
        .and_then(|()| across(&mut text, tried))
        .and_then(|()| marks(&mut text, &tried.tally))
        .and_then(|()| landfall(&mut text, tried));
    text.push_str("CAUTIONS\n");
    for caution in [SIMULATED].into_iter().chain(tried.cautions.iter().map(String::as_str)) {
        put_wrapped(&mut text, &format!("{caution}."));
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}

fn miles(metres: f64) -> f64 {
    metres / METRES_PER_NAUTICAL_MILE
}

fn heading(text: &mut String, tried: &Tried<'_>) -> std::fmt::Result {
    writeln!(
        text,
        "CAMPAIGN: {} landfalls of one plan, seed {}",
        tried.tally.landfalls, tried.seed
    )?;
    if tried.is_stopped() {
        writeln!(text, "  STOPPED: {} were asked for", tried.asked)?;
    }
    plan(text, tried)?;
    put_wrapped(text, &error_words(tried));
    habits(text, &tried.habits);
    writeln!(text)
}

/// The plan, the set and the weather.
fn plan(text: &mut String, tried: &Tried<'_>) -> std::fmt::Result {
    let Planned { chart, plan, set, conditions, start } = tried.planned;
    writeln!(text, "  on {}", chart.name())?;
    writeln!(text, "  from {} at {}", plan.from, clock(start))?;
    writeln!(
        text,
        "  track {} true, {:.0} kn, antenna {:.0} ft, run {:.1} NM",
        plan.track,
        plan.speed.knots(),
        plan.height.feet(),
        tried.length.nautical_miles()
    )?;
    if let Some(landfall) = tried.landfall {
        let what = tried.target.map_or("nothing charted", |target| target.name.as_str());
        writeln!(text, "  landfall {}: {what}", landfall.planned)?;
    }
    writeln!(
        text,
        "  set {}, sea state {}, {}, k {:.3}",
        set.name,
        conditions.sea_state,
        rain(conditions.rain),
        conditions.earth.k()
    )
}

/// How sure the reckoning is, at the start and at the end.
fn error_words(tried: &Tried<'_>) -> String {
    let (plan, end_m) = (tried.planned.plan, tried.length.metres());
    format!(
        "one sigma: start {:.1} NM, track {:.1}°, speed {:.1} kn; at the end {:.1} NM along, {:.1} NM \
         across",
        plan.sigma.nautical_miles(),
        plan.track_sigma.degrees(),
        plan.speed_sigma.knots(),
        miles(plan.sigma_along_m(end_m)),
        miles(plan.sigma_across_m(end_m))
    )
}

/// How the operator goes about it.
fn habits(text: &mut String, habits: &Habits) {
    put_wrapped(
        text,
        &format!(
            "a look each {:.1} min from the first echo on, at most {} echoes measured at each, {:.0} % of \
             them ships, none named",
            habits.every_s / 60.0,
            habits.contacts,
            100.0 * habits.ships
        ),
    );
    if let Some(within) = habits.within_nm {
        put_wrapped(
            text,
            &format!(
                "a right fix counts once its 95 % ellipse is within {within} NM, half axis: wider ones are \
                 `wide`, and the run goes on; a wrong fix always counts"
            ),
        );
    }
}

/// Hits of all, the share, and its interval of 95 %.
fn counted(share: Share) -> [String; 3] {
    let [low, high] = share.interval();
    let percent = share.percent().map_or_else(|| "-".to_owned(), |p| format!("{p:.1} %"));
    [format!("{} of {}", share.hits, share.of), percent, format!("({low:.1} to {high:.1})")]
}

fn row(what: &str, share: Share) -> Vec<String> {
    std::iter::once(what.to_owned()).chain(counted(share)).collect()
}

fn table(text: &mut String, rows: &[Vec<String>]) -> std::fmt::Result {
    columns(rows).into_iter().try_for_each(|line| writeln!(text, "  {line}"))
}

fn answer_words(answer: Answer) -> &'static str {
    match answer {
        Answer::Fixed => "fixed",
        Answer::Wide => "right but wide",
        Answer::Ambiguous => "ambiguous",
        Answer::TooFew => "too few contacts",
        Answer::AtOdds => "at odds",
        Answer::Broken => "the program failed",
    }
}

fn fixes(text: &mut String, tally: &Tally) -> std::fmt::Result {
    writeln!(text, "THE FIRST FIX THAT COUNTS  (brackets: 95 % interval of the chance)")?;
    let fixed = tally.in_95.of;
    table(
        text,
        &[
            row("right", tally.right),
            row("WRONG", tally.wrong),
            row("none to the end", tally.refused.all),
            row("wrong, of the fixes", Share::new(tally.wrong.hits, fixed)),
            row("truth in the 95 % ellipse", tally.in_95),
            row("truth in the 99.9 % ellipse", tally.in_999),
            row("truth past the radius stated", tally.beyond_radius),
        ],
    )?;
    put_wrapped(text, "right: within 1 NM of the truth, or the truth is in its own 99.9 % ellipse");
    if tally.refused.all.hits > 0 {
        put_wrapped(text, &format!("none, by the last look: {}", why(&tally.refused)));
    }
    if !tally.wrong_ones.is_empty() {
        let mut list: Vec<String> =
            tally.wrong_ones.iter().take(MOST_WRONG).map(u64::to_string).collect();
        let more = tally.wrong_ones.len().saturating_sub(MOST_WRONG);
        if more > 0 {
            list.push(format!("{more} more"));
        }
        put_wrapped(text, &format!("wrong: landfall {}", list.join(", ")));
    }
    writeln!(text)
}

fn why(refused: &Refused) -> String {
    let counted = refused.last.iter().filter(|(_, count)| *count > 0);
    let mut parts: Vec<String> =
        counted.map(|(answer, count)| format!("{} {count}", answer_words(*answer))).collect();
    if refused.nothing > 0 {
        parts.push(format!("nothing ever showed {}", refused.nothing));
    }
    parts.join(", ")
}

fn first(text: &mut String, tally: &Tally) -> std::fmt::Result {
    let Some(first) = tally.first else { return Ok(()) };
    writeln!(text, "WHEN A RIGHT FIRST FIX COMES  (of ten: one is no worse, five, nine)")?;
    let row = |what: &str, values: [f64; 3]| {
        std::iter::once(what.to_owned()).chain(values.map(|value| format!("{value:.1}"))).collect()
    };
    table(
        text,
        &[
            ["", "1", "5", "9"].map(str::to_owned).to_vec(),
            row("to run, NM", first.to_run_nm),
            row("after the first echo, min", first.after_min),
            row("its error, NM", first.error_nm),
            row("its 95 % ellipse, half axis, NM", first.axis_nm),
        ],
    )?;
    writeln!(text)
}

fn along(text: &mut String, tried: &Tried<'_>) -> std::fmt::Result {
    if tried.tally.bands.is_empty() {
        return Ok(());
    }
    let to = if tried.landfall.is_some() { "the landfall" } else { "the end of the run" };
    writeln!(text, "ALONG THE RUN  (NM to {to} by the reckoning; looks with an echo)")?;
    let head = ["NM", "looks", "right", "WRONG", "wide", "ambig.", "few", "odds", "right so far"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(tried.tally.bands.iter().map(|band| {
        let count = |wanted: Answer| {
            let found = band.answers.iter().find(|(answer, _)| *answer == wanted);
            found.map_or(0, |(_, count)| *count).to_string()
        };
        let [_, percent, interval] = counted(band.by_then);
        vec![
            format!("{:.0} to {:.0}", band.to_run_nm[0], band.to_run_nm[1]),
            band.looks.to_string(),
            band.right.hits.to_string(),
            band.wrong.hits.to_string(),
            count(Answer::Wide),
            count(Answer::Ambiguous),
            count(Answer::TooFew),
            count(Answer::AtOdds),
            format!("{percent} {interval}"),
        ]
    }));
    table(text, &rows)?;
    writeln!(text)
}

fn across(text: &mut String, tried: &Tried<'_>) -> std::fmt::Result {
    let sigma_nm = miles(tried.planned.plan.sigma_across_m(tried.length.metres()));
    writeln!(text, "ALONG THE COAST  (where the truth lay across the track at the end)")?;
    let mut rows = vec![["", "n", "right", "WRONG", ""].map(str::to_owned).to_vec()];
    let share = |share: Share| {
        let [_, percent, interval] = counted(share);
        format!("{percent} {interval}")
    };
    rows.extend(tried.tally.sides.iter().map(|side| {
        vec![
            side_words(side.sigmas, sigma_nm),
            side.right.of.to_string(),
            share(side.right),
            side.wrong.hits.to_string(),
            share(side.wrong),
        ]
    }));
    table(text, &rows)?;
    writeln!(text)
}

/// A part of the truth across the track, in miles.
fn side_words([from, to]: [f64; 2], sigma_nm: f64) -> String {
    let side = if to <= 0.0 { "left" } else { "right" };
    let (near, far) = (from.abs().min(to.abs()), from.abs().max(to.abs()));
    if far.is_finite() {
        format!("{:.1} to {:.1} NM {side}", near * sigma_nm, far * sigma_nm)
    } else {
        format!("over {:.1} NM {side}", near * sigma_nm)
    }
}

fn marks(text: &mut String, tally: &Tally) -> std::fmt::Result {
    let used: Vec<&MarkUse> =
        tally.marks.iter().filter(|mark| mark.in_right.hits > 0).take(MOST_MARKS).collect();
    if used.is_empty() {
        return Ok(());
    }
    writeln!(text, "MARKS THAT CARRY THE FIX  (looks at which it showed: fixed rightly)")?;
    let head = ["mark", "right fixes", "measured", "not measured", "gain"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(used.into_iter().map(|mark| {
        let percent = |share: Share| {
            let percent = share.percent().map_or_else(|| "-".to_owned(), |p| format!("{p:.0} %"));
            format!("{percent} of {}", share.of)
        };
        vec![
            mark.mark.clone(),
            percent(mark.in_right),
            percent(mark.read),
            percent(mark.missed),
            mark.gain().map_or_else(|| "-".to_owned(), |gain| format!("{gain:+.0}")),
        ]
    }));
    table(text, &rows)?;
    put_wrapped(
        text,
        "which echoes are measured is drawn by how far they stand out, so that the gain is mostly the \
         mark's own; of few looks it says little",
    );
    writeln!(text)
}

fn said_words(said: LandfallVerdict) -> &'static str {
    match said {
        LandfallVerdict::Confirmed => "confirmed",
        LandfallVerdict::NotUnique => "not unique",
        LandfallVerdict::Denied => "denied",
        LandfallVerdict::CannotSay => "cannot say",
    }
}

fn landfall(text: &mut String, tried: &Tried<'_>) -> std::fmt::Result {
    let Some(target) = tried.target else { return Ok(()) };
    writeln!(
        text,
        "THE LANDFALL, {}  (said with the first fix, else at the last look)",
        target.name
    )?;
    let mut rows = vec![["", "all", "an echo of it measured", "none"].map(str::to_owned).to_vec()];
    rows.extend(tried.tally.said.iter().map(|it| {
        let wrongly = |count: usize, wrong: bool| {
            if wrong && count > 0 { format!("{count} WRONGLY") } else { count.to_string() }
        };
        vec![
            said_words(it.said).to_owned(),
            (it.there + it.not_there).to_string(),
            wrongly(it.there, it.said == LandfallVerdict::Denied),
            wrongly(it.not_there, it.said == LandfallVerdict::Confirmed),
        ]
    }));
    table(text, &rows)?;
    writeln!(text)
}
