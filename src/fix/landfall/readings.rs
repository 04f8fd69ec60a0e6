use super::target::Target;
use crate::fix::case::Case;
use crate::geodesy::distance;
use crate::identity::{Hypothesis, Posterior};

/// Shore without a name within this of the landfall is as good as it, in miles.
const AT_IT_NM: f64 = 1.0;

/// Odds are told up to this: beyond it the errors of the model weigh more than those stated.
const MOST_ODDS: f64 = 10_000.0;

/// An answer to the question which contact, if any, is the landfall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Which {
    /// This one.
    Contact(usize),
    /// They are other marks.
    NoContact,
    /// No set of identities is right.
    NoneOfThese,
}

/// All sets of identities that give one answer.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    pub which: Which,
    /// Share of the posterior.
    pub probability: f64,
    /// Share by the evidence alone: odds are told from it.
    pub weight: f64,
    /// The likeliest set of identities in it.
    pub lead: Option<usize>,
}

/// The readings of the contacts, best first, and what each contact may be.
///
/// Odds between readings are those of the stated errors, as they would be worked by hand; what the
/// posterior keeps back whatever the evidence is left to the assurance.
pub(super) struct Readings {
    readings: Vec<Reading>,
    contacts: Vec<Contact>,
}

/// What one contact may be.
#[derive(Debug, Clone, Default)]
struct Contact {
    /// The posterior that it is the landfall.
    held: f64,
    /// The weight of that, of each other mark, and of nothing charted.
    landfall: f64,
    others: Vec<(usize, f64)>,
    left_out: f64,
}

impl Readings {
    pub fn of(case: &Case<'_>, posterior: &Posterior, target: &Target) -> Self {
        let weights = weights(posterior);
        let mut readings: Vec<Reading> = Vec::new();
        let mut contacts: Vec<Contact> = Vec::new();
        for (index, (hypothesis, &weight)) in posterior.hypotheses.iter().zip(&weights).enumerate()
        {
            let landfall: Vec<bool> = (0..hypothesis.targets.len())
                .map(|sight| is_landfall(case, target, hypothesis, sight))
                .collect();
            let found = landfall.iter().position(|is| *is).map_or(Which::NoContact, Which::Contact);
            match readings.iter_mut().find(|reading| reading.which == found) {
                Some(reading) => {
                    reading.probability += hypothesis.probability;
                    reading.weight += weight;
                }
                None => readings.push(Reading {
                    which: found,
                    probability: hypothesis.probability,
                    weight,
                    lead: Some(index),
                }),
            }
            contacts.resize(contacts.len().max(hypothesis.targets.len()), Contact::default());
            for ((contact, at), is) in contacts.iter_mut().zip(&hypothesis.targets).zip(landfall) {
                contact.take(*at, is, hypothesis.probability, weight);
            }
        }
        if !readings.is_empty() {
            readings.push(Reading {
                which: Which::NoneOfThese,
                probability: posterior.none,
                weight: posterior.none_by_evidence(),
                lead: None,
            });
        }
        // Stable: of equal weights the likelier set comes first.
        readings.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        Self { readings, contacts }
    }

    pub fn best(&self) -> Option<&Reading> {
        self.readings.first()
    }

    pub fn next(&self) -> Option<&Reading> {
        self.readings.get(1).filter(|next| next.weight > 0.0)
    }

    /// The best reading against the next.
    pub fn odds(&self) -> Option<f64> {
        self.best().zip(self.next()).map(|(best, next)| ratio(best.weight, next.weight))
    }

    /// The best reading in which a contact is the landfall, and which contact.
    pub fn of_contact(&self) -> Option<(&Reading, usize)> {
        self.readings.iter().find_map(|reading| match reading.which {
            Which::Contact(sight) if reading.weight > 0.0 => Some((reading, sight)),
            _ => None,
        })
    }

    /// The best reading in which it is not the contact `sight` that is the landfall.
    pub fn rival(&self, sight: usize) -> Option<&Reading> {
        self.readings.iter().find(|reading| reading.which != Which::Contact(sight))
    }

    /// The posterior that a contact is the landfall.
    pub fn held(&self, sight: usize) -> f64 {
        self.contacts.get(sight).map_or(0.0, |contact| contact.held)
    }

    /// The likeliest other mark of a contact, and its odds over the landfall.
    pub fn rival_of(&self, sight: usize) -> Option<(usize, f64)> {
        let contact = self.contacts.get(sight)?;
        let best = contact.others.iter().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
        (best.1 > contact.left_out).then(|| (best.0, ratio(best.1, contact.landfall)))
    }

    /// The odds that nothing charted explains a contact, over its being the landfall.
    pub fn left_out(&self, sight: usize) -> f64 {
        self.contacts.get(sight).map_or(0.0, |contact| ratio(contact.left_out, contact.landfall))
    }
}

impl Contact {
    fn take(&mut self, at: Option<usize>, landfall: bool, probability: f64, weight: f64) {
        match at {
            Some(_) if landfall => {
                self.held += probability;
                self.landfall += weight;
            }
            Some(candidate) => match self.others.iter_mut().find(|(c, _)| *c == candidate) {
                Some((_, sum)) => *sum += weight,
                None => self.others.push((candidate, weight)),
            },
            None => self.left_out += weight,
        }
    }
}

/// Whether a set of identities takes a contact for the landfall: for its mark, or for shore without
/// a name that is as good as at it.
fn is_landfall(case: &Case<'_>, target: &Target, hypothesis: &Hypothesis, sight: usize) -> bool {
    let Some(candidate) = hypothesis.targets.get(sight).copied().flatten() else { return false };
    target.is(candidate)
        || case.is_any_shore(candidate)
            && case
                .place_of(sight, candidate, &hypothesis.solution)
                .is_some_and(|place| distance(place, target.place).nautical_miles() <= AT_IT_NM)
}

/// What each set of identities weighs by the errors as stated; with "none of these" they sum to one.
fn weights(posterior: &Posterior) -> Vec<f64> {
    let logs = || posterior.hypotheses.iter().map(|hypothesis| hypothesis.log_weight);
    let best = logs().fold(f64::NEG_INFINITY, f64::max);
    let plain: Vec<f64> = logs().map(|log| (log - best).exp()).collect();
    let total: f64 = plain.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let left = 1.0 - posterior.none_by_evidence();
    plain.iter().map(|weight| weight / total * left).collect()
}

fn ratio(better: f64, worse: f64) -> f64 {
    if better <= 0.0 { 0.0 } else { (better / worse.max(f64::MIN_POSITIVE)).min(MOST_ODDS) }
}
