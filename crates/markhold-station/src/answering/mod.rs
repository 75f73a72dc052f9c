//! Answering: text typed ahead, sent by the transmitter that one page has armed.
//!
//! ```text
//!   page that armed --Answer--> Answering --go--> over thread: Writer <- Typing <- Draft
//!                                   |                              Transmitter -> air
//!                                   |                 Went reads back what goes -> reports
//!   machine --Keyboard--> typed ----+
//!                                   +-- watch thread: who armed, leave, state -> reports
//! ```
//!
//! * Off until a person arms it for a stated time, by typing the call. It is off again after
//!   that time, when the page that armed it is closed or falls silent for [`SILENCE`], when way or
//!   key fail, when it is stopped, and after a restart: nothing of it is kept.
//! * One [`Hand`] holds it at a time: what another page writes goes nowhere.
//! * Who is heard on the tones or beside them is named before keying, and must be confirmed by the
//!   person who asked. What begins by itself, a round of a loop or an over by typing, waits.
//! * The tones are the transmitter's own, or exactly those of the pair that is received when the over
//!   begins. Where that is not known, nothing begins.
//! * What has gone is fixed; what waits may be written anew at any time.
//! * What is typed at the machine's own [`Keyboard`] goes into the same text, and arms nothing.
//!
//! **Caution:** a keyed transmitter is on the air. Licence, band plan and local rules come first.

mod aim;
mod air;
mod draft;
mod ears;
mod hand;
mod holder;
mod keyboard;
mod overs;
mod state;
mod tape;
mod went;

pub use air::{Air, NoAir};
pub use ears::{Busy, Ears, NoEars, NoPair, ReceivedPair};
pub use hand::{Answer, Hand};
pub use holder::Answering;
pub use keyboard::{Keyboard, KeyboardSetup, KeyboardState, Took};
pub use state::{AnswerState, TonesState};
pub use went::Went;

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Asked again within this, keying is meant, whoever is heard.
const CONFIRMED: Duration = Duration::from_secs(15);
/// After an over of its own a receiver may still copy that, and nobody else.
const OWN: Duration = Duration::from_secs(6);

/// Armed again within this, what its cable told is known: a person has looked at the transmitter.
const LOOKED: Duration = Duration::from_secs(60);
/// For so long after an over its tones stand, where nobody was copied since: who is called thinks
/// before an answer.
const STAYS: Duration = Duration::from_secs(60);

/// Silence after which the page that armed it is taken for gone: it says every second that it is
/// there.
pub const SILENCE: Duration = Duration::from_secs(3);

/// A thread that died while it held the lock left all of it whole enough to go on.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
