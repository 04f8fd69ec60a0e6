//! What an answer takes each contact for, held against the name that the operator gave it.

use super::held::Held;
use super::sitting::{LeftOut, Watch};
use crate::fix::{EchoPlace, Fix};

/// What an answer says of one contact.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// Its label.
    pub contact: String,
    /// The mark that the operator gave it as.
    pub given: Option<String>,
    /// What it is.
    pub is: Is,
}

/// What a contact is.
#[derive(Debug, Clone, PartialEq)]
pub enum Is {
    /// A mark of the chart.
    Mark {
        /// Its name.
        mark: String,
        /// The chance that it is this one.
        probability: f64,
    },
    /// Nothing that the chart has.
    Unexplained {
        /// Why, in plain words.
        why: String,
        /// Where it lies: two places where deflections allow two, none without range and bearing.
        places: Vec<EchoPlace>,
    },
    /// It feeds no fix.
    LeftOut(LeftOut),
    /// No mark stands out for it.
    NotKnown,
}

impl Told {
    /// The name that the operator gave, where the answer says that it is another mark.
    pub fn wrong_name(&self) -> Option<&str> {
        let given = self.given.as_deref()?;
        let wrong = match &self.is {
            Is::Mark { mark, .. } => mark != given,
            Is::Unexplained { .. } => true,
            Is::LeftOut(_) | Is::NotKnown => false,
        };
        wrong.then_some(given)
    }
}

impl Watch {
    /// What an answer takes every contact for, in the order of the table; then the outlines that no
    /// shore explains.
    pub fn told(&self, fix: &Fix) -> Vec<Told> {
        let contacts = self.contacts().iter().map(|held| self.told_of(held, fix));
        let outlines = self.outlines().iter().filter_map(|outline| {
            let is = what_it_is(fix, &outline.label);
            let told = Told { contact: outline.label.clone(), given: None, is };
            matches!(told.is, Is::Unexplained { .. }).then_some(told)
        });
        contacts.chain(outlines).collect()
    }

    /// What an answer takes one contact for.
    pub fn told_of(&self, held: &Held, fix: &Fix) -> Told {
        let (contact, given) = (held.contact.label.clone(), held.entry.mark.clone());
        let out = self.left_out(held).map(Is::LeftOut);
        let is = out.unwrap_or_else(|| what_it_is(fix, &contact));
        Told { contact, given, is }
    }
}

fn what_it_is(fix: &Fix, label: &str) -> Is {
    if let Some(identity) = fix.identities.iter().find(|identity| identity.contact == label) {
        return Is::Mark { mark: identity.mark.clone(), probability: identity.probability };
    }
    match fix.unmatched.iter().find(|unmatched| unmatched.contact == label) {
        Some(unmatched) => {
            Is::Unexplained { why: unmatched.why.clone(), places: unmatched.places.clone() }
        }
        None => Is::NotKnown,
    }
}
