//! The height, heading and bank that a contact is laid on: those of when it was read.

use std::borrow::Cow;

use super::{Held, Watch};
use crate::contact::Own;
use crate::watch::log::ContactEntry;

impl Watch {
    /// Own as the contact of an entry is laid on it, with height, heading and bank as they were when it was
    /// read.
    ///
    /// What is new is read now. So is a contact whose time is another, and its bearing or range with it: it
    /// was measured again. Any other change leaves the reading of its own moment: a name, a range or a part
    /// turns nothing; a bearing put right at the same time was mistyped, and a time put right alone says
    /// when the same bearing was read.
    pub(in crate::watch) fn own_at_reading(&self, entry: &ContactEntry) -> Cow<'_, Own> {
        match self.read_before(entry) {
            Some(old) => {
                Cow::Owned(self.own.lying(old.attitude).at(old.contact.own_height).into_owned())
            }
            None => Cow::Borrowed(&self.own),
        }
    }

    /// The contact as it stands, where an entry leaves the reading of its own moment.
    pub(super) fn read_before(&self, entry: &ContactEntry) -> Option<&Held> {
        let old = self.find(&entry.label).and_then(|at| self.held.get(at));
        old.filter(|old| !is_measured_again(&old.entry, entry))
    }
}

fn is_measured_again(old: &ContactEntry, new: &ContactEntry) -> bool {
    fn figures(entry: &ContactEntry) -> (Option<f64>, Option<&str>, Option<f64>) {
        (entry.bearing_deg, entry.bearing_kind.as_deref(), entry.range_nm)
    }
    // A thing that is homed on bears the same time after time, and is nearer each time.
    let read_otherwise = figures(old) != figures(new) || old.deflection != new.deflection;
    old.time != new.time && read_otherwise
}
