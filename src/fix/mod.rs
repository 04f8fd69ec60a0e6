//! Where we are: a position with its error, or a plain statement why there is none.
//!
//! Comes in: a chart, [`Sightings`], [`Options`]. Goes out: [`fix()`]'s [`Fix`], which is a [`Verdict`]
//! and, where that is "fixed", the position with its ellipse, the radius that its error stays within,
//! what each contact is, what is left over of each, what to measure next; and whether the planned
//! [`Landfall`] is made. Before the run: what to measure and where to aim ([`prepare`]). Of an echo
//! that no chart explains: how it moves ([`motion_of`]). It does not know when it is asked, nor of any
//! entry or screen.
//!
//! Inside, in the order of the work: one look of each echo is kept (`again`) and one trace of
//! each shore (`retraced`), everything laid out in
//! plain numbers (`setting`, `outline`), the identities weighed (`judge`), and what they came to told
//! (`tell`, `words`), with the doubts that the figures do not hold (`one_mistake`, `protection`, `slips`, `residuals`).

mod again;
mod age;
mod case;
mod finding;
mod geometry;
mod grade;
mod ground;
mod judge;
mod landfall;
mod motion;
mod next;
mod one_mistake;
mod outline;
mod plan;
mod prospect;
mod protection;
mod reliability;
mod report;
mod residuals;
mod retraced;
mod setting;
mod slips;
mod tell;
mod unmatched;
mod words;

pub use grade::Grade;
pub use landfall::{Landfall, LandfallVerdict, StandsFor};
pub use motion::{Motion, intercept, motion_of, plotted};
pub use plan::{
    AimOff, AimOffAdvice, Choice, Denial, Look, Preparation, Side, SideSeen, Take, prepare,
};
pub use report::{
    Comparison, Consistency, EchoPlace, Estimate, Fix, Identity, Measure, NextMeasurement, Options,
    OutlineFit, Protection, Purpose, Residual, Rival, Unmatched, Verdict,
};

use crate::chart::Chart;
use crate::contact::Sightings;

/// Solves a set of sightings on a chart.
///
/// Never refuses and never panics: what cannot be told is told by the [`Verdict`]. Names of marks
/// that the chart does not have are left out and cautioned; `Sightings::check_marks` refuses them.
///
/// The work is shared out in many small parts. It runs on the threads that take them from the start,
/// so that none of the parts has to wait for a thread from outside to be woken.
pub fn fix(chart: &Chart, sightings: &Sightings, options: &Options) -> Fix {
    rayon::scope(|_| fix_here(chart, sightings, options))
}

fn fix_here(chart: &Chart, sightings: &Sightings, options: &Options) -> Fix {
    // All are carried to the time that all of them give.
    let time = options.time.unwrap_or_else(|| sightings.latest());
    let (sightings, again) = again::one_look_each(sightings);
    let (sightings, retraced) = retraced::one_trace_each(sightings);
    let sightings = &sightings;
    let mut setting = setting::setting(chart, sightings, Some(time));
    outline::refine(chart, sightings, &mut setting);
    let mut cautions = setting.cautions;
    cautions.extend(again::caution(&again));
    cautions.extend(retraced::cautions(&retraced));
    cautions.extend(age::cautions(sightings, setting.time));
    let case = case::Case {
        problem: setting.problem,
        labels: setting.labels,
        names: setting.names,
        answering: &setting.ground,
        sighting: &setting.ground,
        prospect: &setting.ground,
        time: setting.time,
        cautions,
        slips: slips::possible(sightings),
    };
    let posterior = judge::weigh(&case);
    let mut fix = judge::decide(&case, options, &posterior);
    if let Some(planned) = sightings.landfall {
        let asked = landfall::Asked {
            chart,
            sightings,
            marks: setting.ground.marks(),
            bare: setting.ground.is_bare(),
            case: &case,
            posterior: &posterior,
            fix: &fix,
            assurance: judge::assurance(options),
        };
        fix.landfall = Some(landfall::landfall(&asked, planned));
    }
    again::tell_of_all(&mut fix, &again);
    fix
}
