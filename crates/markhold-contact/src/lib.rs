//! What a person at the key needs beside the text: texts that are ready to go, and the log of
//! contacts.
//!
//! * [`Texts`]: texts with [`Blank`]s for what differs from contact to contact; [`fill`] fills
//!   them in. They are tapes, not programs: nothing in them decides or repeats anything.
//! * [`Contact`]: with whom, when, how well heard.
//! * [`adif`]: contacts as ADIF 3 writes them, both ways.
//! * [`Log`]: all contacts, in one ADIF file in a folder, so that any program of the trade reads
//!   them; and which are there twice.

pub mod adif;
mod band;
mod blanks;
mod contact;
mod log;
mod texts;

pub use band::band;
pub use blanks::{Blank, BlankError, Filling, fill};
pub use contact::{Contact, ContactError};
pub use log::{Kept, Log, LogError, worked_before};
pub use texts::{Texts, TextsError};
