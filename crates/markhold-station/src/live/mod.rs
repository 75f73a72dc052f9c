//! Live: sound as it comes, kept, copied and shown at the same time.
//!
//! ```text
//!   source -> sound thread: keeper first, then instruments and tuning --+
//!                |                                                      +-> board, subscribers
//!                +--> queue --> copying thread: receiver ---------------+
//! ```
//!
//! * [`Live`] is the handle: [`Live::start`], [`Live::board`] (where everything is told),
//!   [`Live::change`], [`Live::listen_to`], [`Live::stop`].
//! * [`KeepSound`] keeps the raw sound: it gets every sample before anything else does.
//!
//! Time is seconds since the start, counted in samples; sound that was lost counts as time
//! that went by. [`Anchor`](crate::report::Anchor) says what the clock showed then.

mod clock;
mod copying;
mod copyist;
mod engine;
mod job;
mod keep;
mod options;
mod worker;

pub use clock::Clocks;
pub use engine::Live;
pub use keep::{KeepNothing, KeepSound, KeepTold};
pub use options::LiveOptions;
