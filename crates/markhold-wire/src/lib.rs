//! The wire to a machine: an old page printer, and the ways to its line.
//!
//! A [`Keyer`] takes five-unit codes and makes a line of them, one character at a time
//! and at line speed.
//!
//! **Caution.** The loop of an old machine carries up to 180 V and can kill; its motor
//! runs on mains, its type basket and carriage can catch fingers, hair and ties; a keyed
//! transmitter is on the air. Wire with the power off, discharged and fused, and keep
//! the computer apart from the loop by an opto-coupler or a relay rated for it, so wired
//! that the line falls to mark when nothing drives it. Do it only if you are competent;
//! local electrical codes, your licence and licensed practice come before anything said
//! here.

mod byte_target;
mod bytes;
mod command;
mod control_lines;
mod divisor;
pub mod guard;
pub mod keyboard;
mod keyer;
mod line_clock;
mod pace;
pub mod play;
mod port;
mod port_share;
mod port_speed;
mod real_time;
pub mod rig;
mod serial;
mod settings_table;
mod sound_output;
mod status_wire;
mod timed;
mod timing;
mod tone_file;
mod tone_sound;
pub mod transmit;
mod way;
mod written_line;

pub use byte_target::ByteTarget;
pub use bytes::{ByteFormat, ByteSink, BytesKeyer};
pub use control_lines::{Lines, Opening};
pub use keyer::{Keyer, KeyerError};
pub use line_clock::{BREAK_OFF, Clock, Contact, LineClock, SystemClock};
pub use port::{PortReader, Wire, may_open, ports};
pub use port_speed::{MOST_SPEED_ERROR, PortSpeed};
pub use real_time::ask_for_real_time;
pub use serial::{SerialKeyer, SerialPlan, Word};
pub use sound_output::{SoundOutput, outputs};
pub use status_wire::{Looked, PortWire, Seen, StatusWire, Watch};
pub use timed::{KeyWire, Measured, NoContact, TimedKeyer, TimedPlan, measure, measure_on};
pub use timing::{LATE_LIMIT, Timing};
pub use tone_file::{ToneFile, tone_spec};
pub use tone_sound::{Sink, ToneSettings, ToneSound};
pub use way::{TRIAL_S, Way};
pub use written_line::WrittenLine;
