//! Bearings turned again: each goes by the variation of where we were when it was read, as that is
//! reckoned now and not as it was reckoned then.

use super::{Before, Measurements, Watch};
use crate::contact::{Contact, Outline, Own, Reckoning};
use crate::units::Variation;
use crate::watch::log::What;

/// A bearing turned by less than this is not spoken of, in degrees.
const LEAST_TOLD_DEG: f64 = 0.5;

/// Contacts and outlines to stand in place of those that do, each with its place among them.
#[derive(Debug, Clone, Default)]
pub(super) struct Turned {
    contacts: Vec<(usize, Contact)>,
    outlines: Vec<(usize, Outline)>,
}

/// Bearings that a change turns so far that it must be said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::watch) struct Far {
    /// How many; those of an outline are one.
    pub count: usize,
    /// The variation that the one turned farthest goes by then.
    pub now: Variation,
    /// The variation that it goes by so far.
    pub was: Variation,
}

impl Watch {
    /// Turns every bearing that stands and goes by the magnetic model's variation by that of the place
    /// where it was read, as it is reckoned now; returns those that were others, as they were.
    ///
    /// It follows every change of the reckoning, so that the contacts are the same in whatever order
    /// they and the reckoning were put in. One of a time that the reckoning is not carried to stays as
    /// it is: nothing better is known of that place.
    pub(super) fn turn_again(&mut self) -> Turned {
        let mut turned = self.turned_on(self.reckoning.as_ref(), &self.own);
        self.exchange(&mut turned);
        turned
    }

    /// Puts each where it belongs, and what stood there in its stead.
    pub(super) fn exchange(&mut self, turned: &mut Turned) {
        for (at, contact) in &mut turned.contacts {
            if let Some(held) = self.held.get_mut(*at) {
                std::mem::swap(&mut held.contact, contact);
            }
        }
        for (at, outline) in &mut turned.outlines {
            if let Some(stands) = self.outlines.get_mut(*at) {
                std::mem::swap(stands, outline);
            }
        }
    }

    /// Those that a reckoning and own compasses turn otherwise, so turned.
    fn turned_on(&self, reckoning: Option<&Reckoning>, own: &Own) -> Turned {
        let Some(reckoning) = reckoning else { return Turned::default() };
        let contacts = self.held.iter().enumerate().filter_map(|(at, held)| {
            let turned = held.contact.turned_again(reckoning, own)?;
            (turned != held.contact).then_some((at, turned))
        });
        let outlines = self.outlines.iter().enumerate().filter_map(|(at, outline)| {
            let turned = outline.turned_again(reckoning, own)?;
            (turned != *outline).then_some((at, turned))
        });
        Turned { contacts: contacts.collect(), outlines: outlines.collect() }
    }

    /// What a change turns by half a degree or more; none where it turns nothing so far.
    pub(in crate::watch) fn turned_far_by(&self, what: &What) -> Option<Far> {
        match what {
            What::Undo => match &self.done.last()?.1 {
                Before::Course(_, turned) => self.far(turned),
                Before::Accepted(before) => self.far(&self.back_to(&before.measured)),
                Before::Measured(before) => self.far(&self.back_to(before)),
                _ => None,
            },
            What::Redo => self.turned_far_by(self.undone.last()?),
            change => {
                let course = self.course_by_change(change)?;
                let mut turned = self.turned_on(course.reckoning.as_ref(), &course.own);
                if let What::Accept(fix) = change {
                    // Those that the fix rests on are done with.
                    turned.contacts.retain(|(_, contact)| contact.time > fix.time);
                    turned.outlines.retain(|(_, outline)| outline.time > fix.time);
                }
                self.far(&turned)
            }
        }
    }

    /// Those that stand as they stood once.
    fn back_to(&self, before: &Measurements) -> Turned {
        let contacts = self.held.iter().enumerate().filter_map(|(at, held)| {
            let mut once = before.held.iter().map(|held| &held.contact);
            Some((at, once.find(|once| once.label == held.contact.label)?.clone()))
        });
        let outlines = self.outlines.iter().enumerate().filter_map(|(at, outline)| {
            let mut once = before.outlines.iter();
            Some((at, once.find(|once| once.label == outline.label)?.clone()))
        });
        Turned { contacts: contacts.collect(), outlines: outlines.collect() }
    }

    fn far(&self, turned: &Turned) -> Option<Far> {
        let own = &self.own;
        let contacts = turned.contacts.iter().filter_map(|(at, then)| {
            Some((self.held.get(*at)?.contact.variation(own)?, then.variation(own)?))
        });
        let outlines = turned.outlines.iter().filter_map(|(at, then)| {
            Some((self.outlines.get(*at)?.variation(own)?, then.variation(own)?))
        });
        let pairs = contacts.chain(outlines);
        let far: Vec<_> = pairs.filter(|pair| turn_deg(*pair) >= LEAST_TOLD_DEG).collect();
        let farthest = far.iter().max_by(|a, b| turn_deg(**a).total_cmp(&turn_deg(**b)));
        farthest.map(|&(was, now)| Far { count: far.len(), now, was })
    }
}

/// How far a bearing turns from one variation to another, in degrees.
fn turn_deg((was, now): (Variation, Variation)) -> f64 {
    (now.east() - was.east()).degrees().abs()
}
