//! Twelve lessons on the sample coast, each of one thing.

mod orders;
mod texts;

pub use texts::Text;

use std::path::Path;

use super::exercise::Exercise;
use super::order::Order;
use crate::radar::{Set, SetError};

/// One lesson.
#[derive(Debug, Clone, Copy)]
pub struct Lesson {
    /// From 1.
    pub number: usize,
    /// What it is called.
    pub title: &'static str,
    /// The built-in set it is flown or sailed with.
    pub set: &'static str,
    /// What it says.
    pub text: Text,
    order: fn(Set, u64) -> Order,
}

impl Lesson {
    /// The lesson of a number; none outside 1 to 12.
    pub fn of_number(number: usize) -> Option<&'static Self> {
        LESSONS.iter().find(|lesson| lesson.number == number)
    }

    /// The exercise of this lesson that a seed makes.
    ///
    /// # Errors
    /// None that is not a fault of the program: its set is built in.
    pub fn exercise(&self, seed: u64) -> Result<Exercise, SetError> {
        Ok((self.order)(Set::resolve(self.set, Path::new(""))?, seed).exercise())
    }
}

/// Every lesson, in order.
pub const LESSONS: [Lesson; 12] = [
    Lesson {
        number: 1,
        title: "Slant range",
        set: "patrol",
        text: texts::SLANT_RANGE,
        order: orders::slant_range,
    },
    Lesson {
        number: 2,
        title: "A low shore does not paint",
        set: "patrol",
        text: texts::LOW_SHORE,
        order: orders::low_shore,
    },
    Lesson {
        number: 3,
        title: "Inland ground shows first",
        set: "patrol",
        text: texts::INLAND_GROUND,
        order: orders::inland_ground,
    },
    Lesson {
        number: 4,
        title: "The beam widens every edge",
        set: "patrol",
        text: texts::BEAM_WIDTH,
        order: orders::beam_width,
    },
    Lesson {
        number: 5,
        title: "Shadow behind a headland",
        set: "boat",
        text: texts::SHADOW,
        order: orders::shadow,
    },
    Lesson {
        number: 6,
        title: "Capes that look alike",
        set: "boat",
        text: texts::LOOK_ALIKE,
        order: orders::look_alike,
    },
    Lesson {
        number: 7,
        title: "Sea return and height",
        set: "patrol",
        text: texts::SEA_RETURN,
        order: orders::sea_return,
    },
    Lesson {
        number: 8,
        title: "Rain",
        set: "patrol",
        text: texts::RAIN,
        order: orders::rain_ahead,
    },
    Lesson {
        number: 9,
        title: "A reckoning fifteen miles out",
        set: "patrol",
        text: texts::FAR_OUT,
        order: orders::far_out,
    },
    Lesson {
        number: 10,
        title: "Echoes that no chart has",
        set: "patrol",
        text: texts::FALSE_ECHO,
        order: orders::false_echo,
    },
    Lesson {
        number: 11,
        title: "Two deflections",
        set: "metric",
        text: texts::TWO_DEFLECTIONS,
        order: orders::two_deflections,
    },
    Lesson {
        number: 12,
        title: "A turn that lies",
        set: "metric",
        text: texts::A_TURN,
        order: orders::a_turn,
    },
];
