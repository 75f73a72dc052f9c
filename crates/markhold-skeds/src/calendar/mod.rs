//! Skeds from and to calendar files (iCalendar, RFC 5545).
//!
//! Out go single events in UTC: a rule written in UTC would slip by an hour when the sender's
//! clock changes, and not every reader knows every zone. In come rules and zones.

mod event;
mod frequencies;
mod read;
mod write;

pub use read::{Import, Left, read};
pub use write::write;
