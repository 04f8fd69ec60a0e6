//! Whether the planned landfall is made: confirmed, not unique, denied, or not to be told.
//!
//! Comes in: what identity and fix came to, and the place planned. Goes out: a [`Landfall`]. What
//! stands for the landfall is in `target`; `readings` groups the sets of identities by the one
//! question that matters here, which contact, if any, it is; `against` holds a contact against it;
//! `outlook` asks the radar whether it should paint, and what shows in its place; `words` says it.

mod against;
mod outlook;
mod readings;
pub(super) mod target;
mod words;

use serde::{Deserialize, Serialize};

use super::case::Case;
use super::report::{Fix, Verdict};
use super::setting::OFF_CHART;
use crate::chart::{Chart, MarkId};
use crate::contact::Sightings;
use crate::geodesy::Position;
use crate::identity::{Posterior, Sight, identify};
use against::{Miss, concerned, own_residual};
use outlook::{EVEN, View};
use readings::{Reading, Readings};
use target::Target;

pub use target::StandsFor;

/// Odds below which the better of two readings is not said to be it. No published source: the
/// program's own figure, one chance in twenty-one, as strict as the 95 % gate beside it.
pub(super) const LEAST_ODDS: f64 = 20.0;

/// What has come of the planned landfall.
#[derive(Debug, Clone, PartialEq)]
pub struct Landfall {
    /// What it comes to.
    pub verdict: LandfallVerdict,
    /// The odds of the best reading of the contacts against the next, at most 10,000; none where
    /// there is no more than one.
    pub odds: Option<f64>,
    /// Why, in plain words; the last clause says what stands for the landfall.
    pub why: String,
    /// The one measurement that would settle it; none where nothing would, or nothing need be.
    pub settle_by: Option<String>,
}

/// What may come of a planned landfall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LandfallVerdict {
    /// A contact is the landfall, and nothing else fits.
    Confirmed,
    /// A contact may be the landfall; others fit as well, or nearly.
    NotUnique,
    /// What stands for it on the screen is something else.
    Denied,
    /// The contacts do not tell.
    CannotSay,
}

impl LandfallVerdict {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 4] = [Self::Confirmed, Self::NotUnique, Self::Denied, Self::CannotSay];

    /// The word used in every report.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Confirmed => "confirmed",
            Self::NotUnique => "not-unique",
            Self::Denied => "denied",
            Self::CannotSay => "cannot-say",
        }
    }
}

/// Everything the verdict rests on.
pub(super) struct Asked<'a> {
    pub chart: &'a Chart,
    pub sightings: &'a Sightings,
    /// The marks among the candidates, in their order.
    pub marks: &'a [MarkId],
    /// The chart holds no land: nothing hides anything.
    pub bare: bool,
    pub case: &'a Case<'a>,
    pub posterior: &'a Posterior,
    pub fix: &'a Fix,
    /// As the fix was asked for.
    pub assurance: f64,
}

/// Says what has come of the landfall planned at a place.
pub(super) fn landfall(asked: &Asked<'_>, planned: Position) -> Landfall {
    let Some(target) = Target::at(asked.chart, asked.marks, planned) else {
        let why = words::nothing_charted();
        return Landfall { verdict: LandfallVerdict::CannotSay, odds: None, why, settle_by: None };
    };
    let view = View::new(asked, &target);
    let own;
    let posterior = match without_names(asked) {
        Some(found) => {
            own = found;
            &own
        }
        None => asked.posterior,
    };
    let readings = Readings::of(asked.case, posterior, &target);
    let weighing = Weighing { asked, target: &target, view: &view, posterior, readings: &readings };
    let mut told = weighing.verdict();
    told.why = format!("{}; {}", told.why, words::stands_for(&target));
    told
}

/// The posterior without the operator's names, where he gave any: the name of the landfall is what is to be
/// confirmed, and cannot be its own witness; nor can those of its neighbours, which one mistake in the
/// stretch of coast makes wrong with it.
fn without_names(asked: &Asked<'_>) -> Option<Posterior> {
    let mut problem = asked.case.problem.clone();
    let mut left_out = false;
    for sight in &mut problem.sights {
        if sight.belief.is_some() {
            (sight.belief, sight.off_chart, left_out) = (None, OFF_CHART, true);
        }
    }
    left_out.then(|| identify(&problem, asked.case.answering, asked.case.sighting))
}

struct Weighing<'a> {
    asked: &'a Asked<'a>,
    target: &'a Target,
    view: &'a View<'a>,
    posterior: &'a Posterior,
    readings: &'a Readings,
}

impl Weighing<'_> {
    fn verdict(&self) -> Landfall {
        if self.asked.case.problem.sights.iter().all(|sight| sight.scalars() == 0) {
            return self.cannot_say("nothing is measured yet");
        }
        if let Some(trap) = outlook::taken_for_coast(self.asked, self.target, self.view) {
            let why = words::inland(self.asked, self.view, &trap);
            // No reading of the marks speaks of ground inland.
            let told = self.told(LandfallVerdict::Denied, why, self.settle_elsewhere());
            return Landfall { odds: None, ..told };
        }
        if self.asked.fix.verdict == Verdict::AtOdds {
            return self.at_odds();
        }
        let best = self.readings.best();
        match self.readings.of_contact() {
            Some((reading, sight)) if best.is_some_and(|best| best.which == reading.which) => {
                self.best_is_it(reading, sight)
            }
            Some((reading, sight)) if self.fits(reading, sight) && !self.is_other(sight) => {
                let why = words::others_fit_better(self.asked, self.readings, sight, self.target);
                self.not_unique(why, sight)
            }
            _ => self.no_contact_is_it(),
        }
    }

    /// The likeliest reading has it that this contact is the landfall.
    fn best_is_it(&self, reading: &Reading, sight: usize) -> Landfall {
        let label = self.asked.case.label(sight);
        let name = &self.target.name;
        if !self.fits(reading, sight) {
            return self.told(
                LandfallVerdict::CannotSay,
                format!(
                    "{label} would be {name}, but lies outside the 95 % gate of where it should"
                ),
                Some(format!("{label} once more, as {}", words::measured(self.asked.case, sight))),
            );
        }
        let from = self.place_of(reading, sight);
        if self.view.chance(from) < EVEN {
            let why = words::should_not_paint(self.view, label, name, from);
            return self.told(LandfallVerdict::CannotSay, why, self.settle_elsewhere());
        }
        let odds = self.readings.odds().unwrap_or(0.0);
        if self.is_held(reading) && odds >= LEAST_ODDS {
            let why = format!("{label} is {name}, odds {}", words::odds(odds));
            return self.told(LandfallVerdict::Confirmed, why, None);
        }
        self.not_unique(words::others_fit(self.asked, self.readings, sight, self.target), sight)
    }

    /// Whether a reading holds the asked assurance, by itself or by the place it belongs to: where
    /// all else that fits puts us in that same place, a neighbour of the landfall that the contact
    /// might be is a matter of the odds alone.
    fn is_held(&self, reading: &Reading) -> bool {
        let assurance = self.asked.assurance;
        let of_the_fix = |lead: usize| {
            self.asked.fix.verdict == Verdict::Fixed
                && self.posterior.modes.first().is_some_and(|mode| {
                    mode.probability >= assurance && mode.members.contains(&lead)
                })
        };
        reading.probability >= assurance || reading.lead.is_some_and(of_the_fix)
    }

    fn not_unique(&self, why: String, sight: usize) -> Landfall {
        let case = self.asked.case;
        let full = case.problem.sights.get(sight).is_some_and(Sight::is_full);
        let known = self.taken_as(sight).filter(|_| full);
        let next = words::next(self.asked, self.likeliest_place(), |name| Some(name) != known)
            .or_else(|| self.settle_by_the_other(sight, known));
        self.told(LandfallVerdict::NotUnique, why, next)
    }

    /// The landfall or its rival, whichever the contact is not taken for, where it should paint.
    fn settle_by_the_other(&self, sight: usize, known: Option<&str>) -> Option<String> {
        let from = self.likeliest_place();
        if known != Some(self.target.name.as_str()) {
            return self.settle_by_itself(from);
        }
        let (rival, _) = self.readings.rival_of(sight)?;
        let paints = self.asked.case.chance_now(from, rival) >= EVEN;
        paints.then(|| words::of_candidate(self.asked, from, rival, "range and bearing"))?
    }

    /// The mark that a contact is where the likeliest place is right: to measure it once more tells
    /// nothing.
    fn taken_as(&self, sight: usize) -> Option<&str> {
        let of_the_fix = self.asked.posterior.best().map(|(_, best)| best);
        let lead = self.readings.best().and_then(|best| best.lead);
        let of_the_reading = lead.and_then(|lead| self.posterior.hypotheses.get(lead));
        let stated = of_the_fix.filter(|_| self.asked.fix.position.is_some());
        let target = stated.or(of_the_reading)?.targets.get(sight).copied().flatten()?;
        Some(self.asked.case.name(target))
    }

    /// No contact is the landfall, or none that fits.
    fn no_contact_is_it(&self) -> Landfall {
        let other = concerned(self.asked, self.target, self.posterior)
            .into_iter()
            .find(|&sight| self.is_other(sight));
        let none_is_it = |sight| self.readings.held(sight) <= 1.0 - self.asked.assurance;
        if !(0..self.asked.case.problem.sights.len()).all(none_is_it) {
            return self.cannot_say(
                "a contact may be it, but lies outside the 95 % gate of where it should",
            );
        }
        let Some(sight) = other else {
            return self.cannot_say(match self.readings.of_contact() {
                Some(_) => "no contact fits it",
                None => "no contact is taken for it",
            });
        };
        let label = self.asked.case.label(sight);
        let name = &self.target.name;
        let why = match self.readings.rival_of(sight) {
            Some((mark, odds)) => format!(
                "{label} is not {name} but {}, odds {} over it",
                self.asked.case.name(mark),
                words::odds(odds)
            ),
            None => format!("{label} is not {name}: the other contacts rule it out"),
        };
        let from = self.likeliest_place();
        let fixed = self.asked.fix.position.is_some();
        let by = if fixed { "by the fix" } else { "if so," };
        let why = format!("{why}; {}", words::whereabouts(self.view, from, by));
        self.told(LandfallVerdict::Denied, why, self.settle_by_itself(from))
    }

    fn at_odds(&self) -> Landfall {
        let fix = self.asked.fix;
        let why = fix.cautions.first().cloned().unwrap_or_default();
        let again = words::worst(fix).map(|label| format!("{label} once more: it fits worst"));
        let why = format!("the contacts are at odds: {why}");
        Landfall { odds: None, ..self.told(LandfallVerdict::CannotSay, why, again) }
    }

    /// What is known of it where the contacts do not tell.
    fn cannot_say(&self, why: &str) -> Landfall {
        let stand = &self.view.stand;
        let why = format!("{why}; {}", words::whereabouts(self.view, stand.position, stand.by));
        self.told(LandfallVerdict::CannotSay, why, self.settle_by_itself(stand.position))
    }

    fn told(&self, verdict: LandfallVerdict, why: String, settle_by: Option<String>) -> Landfall {
        // A bare shore is no mark: no reading of the contacts speaks of it.
        let odds = self.readings.odds().filter(|_| self.target.is_marked());
        Landfall { verdict, odds, why, settle_by }
    }

    /// The landfall itself where it should paint, else what the fix would have next.
    fn settle_by_itself(&self, from: Position) -> Option<String> {
        if self.view.chance(from) >= EVEN {
            Some(words::measurement("range and bearing", &self.target.name, self.view.seen(from)))
        } else {
            self.settle_elsewhere()
        }
    }

    /// What the fix would have next, the landfall left out.
    fn settle_elsewhere(&self) -> Option<String> {
        words::next(self.asked, self.likeliest_place(), |name| name != self.target.name)
    }

    /// The contact's own residual lies within the 95 % gate of what the rest foretells.
    fn fits(&self, reading: &Reading, sight: usize) -> bool {
        reading
            .lead
            .and_then(|lead| self.posterior.hypotheses.get(lead))
            .and_then(|lead| own_residual(self.asked.case, &lead.targets, sight, &lead.solution))
            .is_some_and(Miss::is_within_gate)
    }

    /// Whether a contact is surely something else than the landfall.
    fn is_other(&self, sight: usize) -> bool {
        let held = self.readings.held(sight);
        let fixed = self.asked.fix.verdict == Verdict::Fixed;
        let odds = self.readings.rival_of(sight).map_or(0.0, |(_, odds)| odds);
        let ruled_out = fixed && self.readings.left_out(sight) >= LEAST_ODDS;
        held <= 1.0 - self.asked.assurance && (odds >= LEAST_ODDS || ruled_out)
    }

    /// Where the fix has us, else where the likeliest reading has.
    fn likeliest_place(&self) -> Position {
        let lead = self.readings.best().and_then(|best| best.lead);
        let lead = lead.and_then(|lead| self.posterior.hypotheses.get(lead));
        self.asked
            .fix
            .position
            .or(lead.map(|lead| lead.solution.position))
            .unwrap_or(self.view.stand.position)
    }

    /// Where a reading has us when a contact was measured.
    fn place_of(&self, reading: &Reading, sight: usize) -> Position {
        let lead = reading.lead.and_then(|lead| self.posterior.hypotheses.get(lead));
        let at = lead.map_or(self.view.stand.position, |lead| lead.solution.position);
        when_measured(self.asked.case, sight, at)
    }
}

/// Where we were when a contact was measured, from where we are at the common time.
fn when_measured(case: &Case<'_>, sight: usize, at: Position) -> Position {
    case.problem.sights.get(sight).map_or(at, |measured| measured.place_then(at))
}
