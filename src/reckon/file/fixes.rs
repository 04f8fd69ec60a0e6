//! `[[fix]]`: fixes on the way.

use super::super::legs::StatedFix;
use super::list;
use crate::contact::file::reckoning;
use crate::contact::file::section::Section;

/// A fix, with its section to point into.
pub(super) struct Given<'t> {
    pub section: Section<'t>,
    pub fix: StatedFix,
}

/// Every fix that reads well, in the order of the file; faults are noted.
pub(super) fn read<'t>(root: &Section<'t>) -> Vec<Given<'t>> {
    let sections = list(root, "fix", "fix").unwrap_or_default();
    sections.into_iter().filter_map(one).collect()
}

fn one(section: Section<'_>) -> Option<Given<'_>> {
    section.only(&["time", "position", "sigma_nm", "covariance_nm2"]);
    let time = section.needed_time("2031-03-09T03:40:00Z");
    let position = section.needed_position("38 12.9 S, 21 30.5 W");
    let covariance = reckoning::covariance(&section, None);
    let fix = StatedFix { time: time?, position: position?, covariance: covariance? };
    Some(Given { section, fix })
}
