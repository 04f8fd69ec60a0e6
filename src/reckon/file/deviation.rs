//! `[[deviation]]`: a compass's deviation by heading.

use super::super::directions::DeviationTable;
use super::list;
use crate::contact::Wrong;
use crate::contact::file::section::Section;
use crate::units::{Bearing, Deviation};

/// The table, where there is one and it is sound.
pub(super) fn read(root: &Section<'_>, start: &Section<'_>) -> Option<DeviationTable> {
    let entries = list(root, "deviation", "deviation")?;
    let first = entries.first()?;
    if start.has("deviation") {
        let why = "a table of deviation and one deviation for all headings are given".to_owned();
        let mend = "leave deviation under [start] out; on a [[leg]] it goes before the table";
        start.fault("deviation", Wrong::Reading { who: start.who.clone(), why }, mend);
        return None;
    }
    let rows: Vec<_> = entries.iter().map(row).collect();
    let rows: Option<Vec<_>> = rows.into_iter().collect();
    match DeviationTable::new(&rows?) {
        Ok(table) => Some(table),
        Err(error) => {
            let entry = error.entry().checked_sub(1).and_then(|index| entries.get(index));
            let section = entry.unwrap_or(first);
            let wrong = Wrong::Reading { who: section.who.clone(), why: error.to_string() };
            let mend = "headings by that compass, going up, none more than 45° from the next: 000, 045, \
                        090 and so on round to 315";
            section.fault("heading_deg", wrong, mend);
            None
        }
    }
}

fn row(section: &Section<'_>) -> Option<(Bearing<crate::units::Compass>, Deviation)> {
    section.only(&["heading_deg", "deviation"]);
    let mend = "the heading by that compass, from 0 up to 360";
    let heading = section.within("heading_deg", 0.0, 360.0, mend);
    let heading = section.needed("heading_deg", heading, "write heading_deg = 45");
    let deviation = section.correction("deviation", Deviation::parse);
    let deviation = section.needed("deviation", deviation, "write deviation = \"2.0 E\"");
    Some((Bearing::from_degrees(heading?).ok()?, deviation?))
}
