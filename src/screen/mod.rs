//! The display: one state, one function that changes it, one that draws it.
//!
//! [`update`] turns a [`Message`] into new state and [`Command`]s; [`view()`] only reads. Keys,
//! ticks, answers of the workers and signals all arrive as messages, and time with them. A worker
//! computes fixes and expected returns, a keeper writes the log; both are threads of their own, and
//! nothing is shown as kept until the keeper has it on the disk. The display computes no
//! navigation of its own, and does not know how any of it is computed.
//!
//! What is where on the screen, and why: `docs/explanation/display.md`.

mod alarms;
mod chart_panel;
mod complete;
mod cursor;
mod drawing;
mod drill;
mod focus;
mod layout;
mod opener;
mod palette;
mod parts;
mod plotting;
mod run;
mod scope;
mod state;
mod theme;
mod tour;
mod update;
mod view;
mod wording;
mod work;

pub use alarms::{AlarmScene, AlarmsSaid};
pub use drawing::Drawing;
pub use drill::{Outcome, Page, Practice};
pub use layout::{LEAST_COLUMNS, LEAST_ROWS};
pub use parts::{Part, Parts};
pub(crate) use run::now;
pub use run::{ScreenError, run, run_drill};
pub use scope::{Ask, Drawn, Look, Scope};
pub use state::{Command, Echo, Keeping, Message, Panel, State};
pub use theme::{Colours, Light, Theme};
pub use tour::{Lead, Reading, Step, Told, Tour, remember};
pub use update::update;
pub use view::view;
pub use wording::{carried_lines, no_contact_lines, verdict_lines, whole_percent};
pub use work::{Answer, Carried, Outlook, expected, solve};
