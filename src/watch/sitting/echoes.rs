//! Echoes that no chart explains: where they lie, and how they move.

use jiff::Timestamp;

use super::{EntryError, Held, Watch};
use crate::chart::Marks;
use crate::contact::Contact;
use crate::fix::{Estimate, Motion, motion_of, plotted};
use crate::watch::entry::Measured;
use crate::watch::log::ContactEntry;
use crate::watch::words;

/// An echo that the watch keeps: seen twice or more, or left out of a fix that was accepted.
#[derive(Debug, Clone, PartialEq)]
pub struct Echo {
    /// The label of its first sight.
    pub label: String,
    /// What the operator calls it.
    pub name: Option<String>,
    /// When it was last seen.
    pub time: Timestamp,
    /// Where it then was.
    pub place: Estimate,
    /// How it moves, from two sights or more.
    pub motion: Option<Motion>,
    /// How many sights there are.
    pub sights: usize,
    /// The mark that an accepted fix took it for: land does not move.
    pub mark: Option<String>,
}

/// Why a contact of the table feeds no fix.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LeftOut {
    /// It is a later sight of the echo of this label.
    LaterSight(String),
    /// Its sights show that it moves.
    Moves,
}

impl Watch {
    /// The label of the first sight of an echo, by that of any of its sights.
    pub(super) fn root_of(&self, label: &str) -> Option<String> {
        let known = |held: &&Held| held.contact.label.eq_ignore_ascii_case(label);
        let held = self.held.iter().chain(&self.done_with).find(known)?;
        Some(held.entry.again.clone().unwrap_or_else(|| held.contact.label.clone()))
    }

    /// A later sight of an echo, under a label of its own: `D2`, `D3`.
    pub(super) fn again(
        &self,
        label: &str,
        measured: &Measured,
        now: Timestamp,
        marks: &Marks,
    ) -> Result<ContactEntry, EntryError> {
        let root = self.root_of(label).ok_or_else(|| EntryError::UnknownContact {
            label: label.to_owned(),
            known: words::labels(self),
        })?;
        let count = self.sights_of(&root).len() + 1;
        let next = (count..=count + self.labels.len())
            .map(|n| format!("{root}{n}"))
            .find(|l| !self.was_given(l));
        let named = Measured { label: None, last: None, ..measured.clone() };
        let entry = self.measured(&named, now, marks)?;
        Ok(ContactEntry { label: next.unwrap_or_default(), again: Some(root), ..entry })
    }

    /// Every sight of an echo, oldest first; those done with turned to true as they would be now, like
    /// those that stand: else a place put right since would seem to be a motion.
    fn sights_of(&self, root: &str) -> Vec<Contact> {
        let of =
            |held: &&Held| held.contact.label == root || held.entry.again.as_deref() == Some(root);
        let anew = |contact: &Contact| contact.turned_again(self.reckoning.as_ref()?, &self.own);
        let done_with = self.done_with.iter().filter(of).map(|held| &held.contact);
        let done_with = done_with.map(|contact| anew(contact).unwrap_or_else(|| contact.clone()));
        let stand = self.held.iter().filter(of).map(|held| held.contact.clone());
        let mut sights: Vec<Contact> = done_with.chain(stand).collect();
        sights.sort_by_key(|contact| contact.time);
        sights
    }

    /// Labels of echoes with a later sight, each once.
    fn seen_again(&self) -> Vec<&str> {
        let all = self.done_with.iter().chain(&self.held);
        let mut roots: Vec<&str> = all.filter_map(|h| h.entry.again.as_deref()).collect();
        roots.sort_unstable();
        roots.dedup();
        roots
    }

    /// Why a contact feeds no fix; none where it does.
    pub fn left_out(&self, held: &Held) -> Option<LeftOut> {
        if let Some(root) = &held.entry.again {
            return Some(LeftOut::LaterSight(root.clone()));
        }
        let moves = |echo: &&Echo| echo.label == held.contact.label && echo.motion.is_some();
        let motion = self.echoes().iter().find(moves)?.motion?;
        motion.moves.then_some(LeftOut::Moves)
    }

    fn motion_of(&self, root: &str) -> Option<Motion> {
        let reckoning = self.reckoning.as_ref()?;
        let sights = self.sights_of(root);
        let time = sights.last()?.time;
        let (position, covariance) = reckoning.carried_to(time).ok()?;
        let each: Vec<&Contact> = sights.iter().collect();
        motion_of(reckoning, &self.own, (&Estimate { position, covariance }, time), &each)
    }

    /// The mark that an accepted fix took a contact for.
    fn mark_of(&self, label: &str) -> Option<String> {
        let identities = self.accepted.iter().rev().flat_map(|fix| &fix.identities);
        let sure =
            |i: &&crate::watch::log::IdentityEntry| i.contact == label && i.probability > 0.9;
        identities.into_iter().find(sure).map(|i| i.mark.clone())
    }

    /// Every echo that the watch keeps, in the order of its labels: those seen again, and those that
    /// the last fix accepted left out.
    pub fn echoes(&self) -> &[Echo] {
        self.seen.get_or_init(|| self.all_echoes())
    }

    fn all_echoes(&self) -> Vec<Echo> {
        let mut roots: Vec<&str> = self.seen_again();
        let left_out = self.accepted.iter().flat_map(|fix| &fix.echoes);
        roots.extend(left_out.map(|echo| echo.contact.as_str()));
        roots.sort_unstable();
        roots.dedup();
        roots.into_iter().filter_map(|root| self.echo(root)).collect()
    }

    fn echo(&self, root: &str) -> Option<Echo> {
        let reckoning = self.reckoning.as_ref()?;
        let sights = self.sights_of(root);
        let last = sights.last()?;
        let motion = self.motion_of(root);
        let place = if let Some(motion) = motion {
            motion.place
        } else {
            let (position, covariance) = reckoning.carried_to(last.time).ok()?;
            plotted(&Estimate { position, covariance }, &self.own, last)?
        };
        Some(Echo {
            label: root.to_owned(),
            name: self.called.get(root).cloned(),
            time: last.time,
            place,
            motion,
            sights: sights.len(),
            mark: self.mark_of(root),
        })
    }
}
