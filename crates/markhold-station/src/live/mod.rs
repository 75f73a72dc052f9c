//! Live: sound as it comes, kept, copied and shown at the same time.
//!
//! ```text
//!   source -> sound thread: keeper first, then instruments and tuning --+
//!                |                                                      +-> board, subscribers
//!                +--> queue --> copying thread: receiver ---------------+
//! ```
//!
//! * [`Source`](markhold_sound::Source) is where sound comes from: a device, a file, the practice band.
//! * [`Live`] is the handle: [`Live::start`], [`Live::join`] (what there is, and what comes),
//!   [`Live::command`], [`Live::stop`].
//! * [`Report`] is everything that is told; [`Snapshot`] is the sum of all reports so far,
//!   enough to draw a page after it was reloaded.
//! * [`KeepSound`] keeps the raw sound: it gets every sample before anything else does.
//!
//! Time is seconds since the start, counted in samples; sound that was lost counts as time
//! that went by. [`Anchor`] says what the clock showed then.

mod board;
mod clock;
mod command;
mod copying;
mod engine;
pub mod instruments;
mod keep;
mod report;
mod serial;
mod subscription;
pub mod tuning;
mod worker;

pub use board::{FollowedPoint, Snapshot};
pub use clock::Clocks;
pub use command::{Command, CommandError, Hold, InUse, Target};
pub use engine::{Live, LiveOptions};
pub use keep::{KeepNothing, KeepSound, KeepTold};
pub use report::{Anchor, Counts, Followed, InputReport, Report};
pub use subscription::{Delivery, Subscription};
