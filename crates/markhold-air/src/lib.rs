//! What happens to a signal on the way: everything between a sender's keyboard and the
//! sound card of a receiver, for tests, for practice and for making recordings.
//!
//! A [`Scene`] says what is on the air; [`Air`] turns it into samples, a block at a time, in
//! constant memory; [`Truth`] tells what really happened, so that copy can be judged.
//!
//! # The way
//!
//! ```text
//! codes -> line -> keying -> FSK -> paths, fading -> place, drift --+
//!          pace    jitter                                           |
//! Morse -> soft edges --------------------------> place, drift -----+--> dial drift
//! voice ------------------------------------------------------------+        |
//!                                                 noise, crashes ------------+
//!                                   passband -> AGC or fixed gain -> clipping -> samples
//! ```
//!
//! Signals are analytic (complex) up to the gain; what is heard is the real part. Powers
//! are those of the real part. A sender with a level of 0 dB has a mean power of 1, the
//! **reference** of all levels in a scene.
//!
//! [`practice::Practice`] is the same air without an end, with a receiver to turn.
//!
//! # Laws
//!
//! The same scene, seed and sample rate give the same samples, however they are cut into
//! blocks. What happens when (typing, jitter, fading, crashes, Morse) depends on neither
//! the sample rate nor the other parts of the scene.
//!
//! ```
//! use markhold_air::{Air, Channel, Noise, Scene, Sender};
//! use markhold_code::FiguresRow;
//!
//! let sender = Sender {
//!     channel: Channel::MID_LATITUDE_MODERATE,
//!     ..Sender::of_text("CQ CQ DE Q1ABC", FiguresRow::Us)?
//! };
//! let scene = Scene { senders: vec![sender], noise: Noise::EsN0Db(14.0), ..Scene::default() };
//! let air = Air::new(scene, 8000)?;
//! let sent = air.truth().characters(0).len();
//! let samples = air.render();
//! // Fourteen characters and two shifts, a second of idle mark before and after.
//! assert_eq!((sent, samples.len()), (16, 36895));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod air;
mod arriving;
mod carrier;
mod channel;
mod crash;
mod drift;
mod error;
mod fading;
mod fsk;
mod gain;
mod keying;
mod line;
mod morse;
mod noise;
mod oscillator;
mod pace;
mod passband;
pub mod practice;
mod random;
mod scene;
mod sender;
mod speech;
mod times;
mod truth;

pub use air::Air;
pub use carrier::{Carrier, Keying, Place};
pub use channel::{Channel, ToneGains};
pub use crash::{CRASH_BAND_HZ, CrashTiming, Crashes, Interval};
pub use drift::{Drift, Hops, Jump};
pub use error::SceneError;
pub use gain::Agc;
pub use line::SentCharacter;
pub use noise::Noise;
pub use pace::{Gaps, Pace};
pub use passband::Passband;
pub use scene::Scene;
pub use sender::{Sender, SenderModel, Sense};
pub use speech::Speech;
pub use truth::Truth;
