//! Radar landfall: which coast should paint, which headland an echo is, and the position it fixes.

pub mod chart;
pub mod command;
pub mod contact;
pub mod fix;
pub mod geodesy;
pub mod identity;
pub mod paint;
pub mod radar;
pub mod screen;
pub mod units;
pub mod watch;
