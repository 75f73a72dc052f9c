//! Skeds: transmissions that come at set times, and what there is to know before they begin.
//!
//! * [`Sked`]: who sends what, when, on which frequencies; one form in which it is written.
//! * [`When`]: times on the sender's clock, rules of RFC 5545, exceptions; from them instants.
//! * [`due()`]: what is on now and what comes next.
//! * [`calendar`]: skeds from and to iCalendar files.
//! * [`Dial`]: where to set this receiver's dial; [`learned`]: what is learned of its error.
//! * [`watch`]: runs of skeds while nobody is in the room.
//! * [`better_band`]: what may be said of how they went.
//! * [`Place`], [`daylight`]: where the sun stands.
//!
//! The crate knows no files, threads or clocks: it is told what time it is, and given the data
//! base of time zones.

pub mod calendar;
mod clock;
mod dial;
mod due;
mod error;
pub mod learned;
mod place;
mod rule;
mod sked;
mod sun;
pub mod watch;
mod went;
mod when;

pub use clock::zone;
pub use dial::{Dial, Setting, Shows, Turn};
pub use due::{Due, due};
pub use error::SkedError;
pub use place::Place;
pub use sked::{Channel, Figure, MarkOnAir, Sked, VERSION};
pub use sun::{Daylight, Height, daylight, elevation, is_above};
pub use went::{Better, InHour, Went, better_band, by_band_and_hour};
pub use when::{Except, When};
