//! Contacts that stand or fall together: those that bear one name, and the parts of one small echo.
//!
//! Weighed contact by contact, what is true or false of all of them at once would count as often as
//! there are of them.

mod names;
mod parts;

pub(super) use self::names::log_all_wrong;
pub(super) use self::parts::log_all_off_chart;
use super::problem::{Problem, Sight};

/// What a contact has in common with others, as a set of identities has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Member {
    /// How sure the operator is of its name; nought without one.
    confidence: f64,
    /// What it is taken for.
    target: Option<usize>,
    /// That mark's part of all that might have been picked. Of a contact left out: how often it is nothing
    /// on the chart where its name is wrong.
    share: f64,
    /// How often it is nothing on the chart.
    off_chart: f64,
    /// How much likelier it reads as it does beside the lead of its echo than anywhere, in nats; none of the lead.
    beside: Option<f64>,
}

impl Member {
    /// - `share`: a mark's part of all that might have been picked for a sight.
    fn of(
        sight: &Sight,
        target: Option<usize>,
        beside: Option<f64>,
        share: impl Fn(&Sight, usize) -> f64,
    ) -> Self {
        let confidence = sight.belief.map_or(0.0, |belief| belief.confidence);
        let share = match target {
            Some(candidate) => share(sight, candidate),
            // The doubt of the name is in it.
            None => (sight.off_chart / (1.0 - confidence).max(f64::MIN_POSITIVE)).min(1.0),
        };
        Self { confidence, target, share, off_chart: sight.off_chart, beside }
    }

    fn is_named(&self) -> bool {
        self.confidence > 0.0
    }
}

/// What makes contacts kin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    /// The mark that they are named as.
    Name(usize),
    /// They are parts of one echo.
    Echo,
}

/// Contacts that are kin, by their indices.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kin {
    by: By,
    /// Two or more.
    pub contacts: Vec<usize>,
    /// Of parts of one echo, how much likelier each reads beside the first, the lead, than anywhere.
    beside: Vec<f64>,
}

impl Kin {
    /// One of the contacts as a set of identities has it; none of another contact.
    ///
    /// - `share`: a mark's part of all that might have been picked for a sight.
    pub fn member(
        &self,
        problem: &Problem,
        contact: usize,
        target: Option<usize>,
        share: impl Fn(&Sight, usize) -> f64,
    ) -> Option<Member> {
        let at = self.contacts.iter().position(|one| *one == contact)?;
        let beside = self.beside.get(at).copied().filter(|_| at > 0);
        Some(Member::of(problem.sights.get(contact)?, target, beside, share))
    }
}

/// All contacts that are kin; one may have kin both by its name and by its echo.
pub(super) fn all_kin(problem: &Problem) -> Vec<Kin> {
    let named = names::shared_names(problem).into_iter().map(|(name, contacts)| Kin {
        by: By::Name(name),
        contacts,
        beside: Vec::new(),
    });
    let parts = parts::echoes_of_parts(problem).into_iter().map(|(contacts, beside)| Kin {
        by: By::Echo,
        contacts,
        beside,
    });
    named.chain(parts).collect()
}

/// Kin, with those of them that a set of identities has come to.
#[derive(Debug, Clone)]
pub(super) struct SoFar {
    by: By,
    any_shore: Option<usize>,
    members: Vec<Member>,
    log: f64,
}

impl SoFar {
    /// - `any_shore`: the candidate that stands for shore of no name, each stretch of which is its own.
    pub fn of(kin: &Kin, any_shore: Option<usize>, members: Vec<Member>) -> Self {
        let log = log_together(kin.by, any_shore, &members);
        Self { by: kin.by, any_shore, members, log }
    }

    /// How much more one contact weighs with these than by itself: in nats.
    pub fn gained_by(&self, another: Member) -> f64 {
        let mut members = self.members.clone();
        members.push(another);
        log_together(self.by, self.any_shore, &members) - self.log
    }
}

/// How much more a set of identities weighs for what contacts have in common than by each contact's own:
/// in nats.
pub(super) fn log_shared(
    problem: &Problem,
    targets: &[Option<usize>],
    share: impl Fn(&Sight, usize) -> f64,
) -> f64 {
    all_kin(problem)
        .into_iter()
        .map(|kin| {
            let members = kin.contacts.iter().filter_map(|&index| {
                let target = targets.get(index).copied().flatten();
                kin.member(problem, index, target, &share)
            });
            SoFar::of(&kin, problem.any_shore, members.collect()).log
        })
        .sum()
}

/// How many of the contacts that a set of identities takes for marks are echoes of their own: the parts of
/// one are one.
pub(super) fn echoes_of_marks(problem: &Problem, targets: &[Option<usize>]) -> usize {
    echoes_of(problem, targets, |target| target.is_some() && target != problem.any_shore)
}

/// How many echoes of their own a set of identities leaves out.
pub(super) fn echoes_left_out(problem: &Problem, targets: &[Option<usize>]) -> usize {
    echoes_of(problem, targets, |target| target.is_none())
}

fn echoes_of(
    problem: &Problem,
    targets: &[Option<usize>],
    counts: impl Fn(Option<usize>) -> bool,
) -> usize {
    let counts = |index: &usize| targets.get(*index).is_some_and(|target| counts(*target));
    let more: usize = parts::echoes_of_parts(problem)
        .iter()
        .map(|(parts, _)| parts.iter().filter(|index| counts(index)).count().saturating_sub(1))
        .sum();
    (0..targets.len()).filter(counts).count() - more
}

fn log_together(by: By, any_shore: Option<usize>, members: &[Member]) -> f64 {
    match by {
        By::Name(name) => names::log_together(name, any_shore, members),
        By::Echo => parts::log_together(any_shore, members),
    }
}
