//! Twelve lessons on the sample coast, each of one thing.

mod orders;

use super::exercise::Exercise;
use super::order::Order;

/// One lesson.
#[derive(Debug, Clone, Copy)]
pub struct Lesson {
    /// From 1.
    pub number: usize,
    /// What it is called.
    pub title: &'static str,
    order: fn(u64) -> Order,
}

impl Lesson {
    /// The exercise of this lesson that a seed makes.
    pub fn exercise(&self, seed: u64) -> Exercise {
        (self.order)(seed).exercise()
    }
}

/// Every lesson, in order.
pub const LESSONS: [Lesson; 12] = [
    Lesson { number: 1, title: "Slant range", order: orders::slant_range },
    Lesson { number: 2, title: "A low shore does not paint", order: orders::low_shore },
    Lesson { number: 3, title: "Inland ground shows first", order: orders::inland_ground },
    Lesson { number: 4, title: "The beam widens every edge", order: orders::beam_width },
    Lesson { number: 5, title: "Shadow behind a headland", order: orders::shadow },
    Lesson { number: 6, title: "Capes that look alike", order: orders::look_alike },
    Lesson { number: 7, title: "Sea return and height", order: orders::sea_return },
    Lesson { number: 8, title: "Rain", order: orders::rain_ahead },
    Lesson { number: 9, title: "A reckoning fifteen miles out", order: orders::far_out },
    Lesson { number: 10, title: "Echoes that no chart has", order: orders::false_echo },
    Lesson { number: 11, title: "Two deflections", order: orders::two_deflections },
    Lesson { number: 12, title: "A turn that lies", order: orders::a_turn },
];
