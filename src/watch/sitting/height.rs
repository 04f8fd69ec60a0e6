//! Own height, and from which each contact was measured.

use super::{Before, Course, EntryError, Held, Measurements, Watch};
use crate::contact::{Contact, Outline, ReadingError};
use crate::units::{Height, METRES_PER_NAUTICAL_MILE};
use crate::watch::held::reading_of;
use crate::watch::words;

impl Watch {
    /// The course, and all that was measured, as they stand.
    pub(super) fn measurements(&self) -> Measurements {
        Measurements {
            course: self.course(),
            held: self.held.clone(),
            outlines: self.outlines.clone(),
        }
    }

    pub(super) fn set_measured(&mut self, measured: Measurements) {
        self.set_course(measured.course);
        self.held = measured.held;
        self.outlines = measured.outlines;
    }

    /// The contacts as they are if they were all measured from a height.
    ///
    /// # Errors
    /// A contact or an outline that cannot have been.
    pub(super) fn measured_from(&self, height: Height) -> Result<Vec<Held>, EntryError> {
        let own_nm = height.metres() / METRES_PER_NAUTICAL_MILE;
        let nearest = |outline: &Outline| {
            outline.points.iter().map(|p| p.range.nautical_miles()).reduce(f64::min)
        };
        for outline in &self.outlines {
            if let Some(range_nm) = nearest(outline).filter(|nm| *nm < own_nm) {
                let error = ReadingError::UnderHeight { range_nm, own_nm };
                return Err(cannot_be_from_there(&outline.label, &error));
            }
        }
        self.held.iter().map(|held| self.held_from(held, height)).collect()
    }

    fn held_from(&self, held: &Held, height: Height) -> Result<Held, EntryError> {
        let reckoning = self.reckoning.as_ref().ok_or(EntryError::NoReckoning)?;
        let own = self.own.lying(held.attitude);
        let (reading, label) = (reading_of(&held.entry), held.contact.label.clone());
        let measured =
            Contact::from_reading(&reading, label, reckoning, &own.at(height), &self.radar);
        let contact =
            measured.map_err(|error| cannot_be_from_there(&held.contact.label, &error))?;
        Ok(Held { contact, ..held.clone() })
    }

    /// Takes own height for that of all that was measured as well.
    pub(super) fn put_height_right(&mut self, course: Course, held: Vec<Held>) -> Before {
        let before = self.measurements();
        let height = course.own.height;
        self.set_course(course);
        self.held = held;
        for outline in &mut self.outlines {
            outline.own_height = height;
        }
        self.turn_again();
        Before::Measured(Box::new(before))
    }
}

fn cannot_be_from_there(label: &str, error: &ReadingError) -> EntryError {
    EntryError::Refused(format!("{label}: {}", words::refusal(error)))
}
