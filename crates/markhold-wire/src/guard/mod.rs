//! The guardian: a second process that puts to rest what must not stay as it is when the
//! first one dies, hangs or falls behind.
//!
//! ```text
//!   sender                                        guardian
//!   open the port, put it to rest
//!   start the guardian      -- things, ports -->  put them to rest once, to prove that it can
//!                           <----- ready -------
//!   key the line            --- a beat, 50 ms ->
//!                           <-- the same back --
//!   put the line to rest    ------- end ------->  put them to rest, give back what was changed
//!                           <------ closed -----
//! ```
//!
//! * **No guardian, no keying.** A line goes to space only with a [`Permit`], which is good
//!   as long as the guardian's last answer is fresh.
//! * **The sender dies:** its end of the socket closes and the guardian acts at once.
//!   **It hangs:** no beat comes for [`LIMIT`]. **It falls behind:** a line that stays in
//!   space for longer than any character has, or a transmitter that is keyed while nothing is
//!   sent for [`LONGEST_STILL`], though the process lives, ends the beats.
//! * **The guardian dies or hangs:** the sender puts the line to rest and the divisor back
//!   itself, stops and says so.
//! * The guardian has a session of its own, so a terminal that closes or a key pressed there
//!   does not reach it. It inherits the open port instead of opening it again: opening makes
//!   RTS and DTR rise once more (Linux raises them at every opening), is refused while the
//!   port is exclusive, and after unplugging the name may mean another adapter. The port
//!   stays locked until the guardian has let go of it; at the last close the system drops
//!   RTS and DTR as well (HUPCL), should both processes be gone.
//!
//! What is put to rest is a list of [`Thing`]s, so that a transmitter's key can stand beside
//! the line.

#[cfg(unix)]
mod armed;
#[cfg(unix)]
mod contact;
#[cfg(unix)]
mod guardian;
#[cfg(unix)]
mod permit;
#[cfg(unix)]
mod rest;
#[cfg(unix)]
mod socket;

#[cfg(not(unix))]
mod absent;
#[cfg(not(unix))]
pub(crate) use absent::{Guard, Held, Permit, Permitted, PortRest};

#[cfg(unix)]
pub use armed::{Guard, Held};
#[cfg(unix)]
pub use contact::Permitted;
#[cfg(unix)]
pub use guardian::{Ending, serve, watch_over};
#[cfg(unix)]
pub use permit::Permit;
#[cfg(unix)]
pub use rest::{NotAtRest, PortRest, Rest, Thing};

use std::process::Command;
use std::sync::OnceLock;
use std::time::Duration;

/// Between two beats. A death is noticed without them; they tell of a hang.
pub const BEAT: Duration = Duration::from_millis(50);

/// Silence after which the guardian takes the sender for hung. Ten beats: a process that is
/// only held up by others on a busy computer is late by less than three.
pub const LIMIT: Duration = Duration::from_millis(500);

/// Silence after which the sender takes itself, or its guardian, for hung. Less than
/// [`LIMIT`], so that nothing is keyed any more when the guardian acts.
pub const OWN_LIMIT: Duration = Duration::from_millis(400);

/// A transmitter that is keyed while nothing goes on for so long has been left: the longest
/// character, at 30 baud, takes a quarter of it.
pub const LONGEST_STILL: Duration = Duration::from_secs(1);

/// How long a guardian may take to say that it is ready, or to end.
const PATIENCE: Duration = Duration::from_secs(5);

static PROGRAM: OnceLock<fn() -> Command> = OnceLock::new();

/// Says how a guardian is started: a command that does nothing but call `guard::serve`.
/// Until this is said nothing that needs a guardian can be opened. Only the first call
/// counts.
pub fn set_program(make: fn() -> Command) {
    let _ = PROGRAM.set(make);
}
