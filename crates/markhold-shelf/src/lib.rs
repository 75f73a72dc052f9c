//! The shelf: every evening is kept, without asking.
//!
//! ```text
//! sound  -> Recorder -> sound/2026-03-21-193005Z/0001-193005Z.wav, 0002-..., ...
//!                       and evening.jsonl: what the evening knows of itself
//! events -> Ledger   -> markhold.sqlite: evenings, readings, signals, lines, gaps
//!                       copies/000123-2026-03-21.sqlite: one a day
//! ```
//!
//! Sound needs no archive: it goes to its files whatever becomes of that. What the archive lost
//! or never had is made again from the sound and its notes.
//!
//! * [`Keeper`] keeps an evening while it is heard; it never makes its caller wait.
//! * [`Shelf`] finds again what was kept, and copies it again from its sound.
//! * [`Recorder`] writes the sound so that a power cut loses less than a second of it.
//!
//! * [`Shelf::correct`] keeps what a person corrected, [`Shelf::choose`] which reading stands.
//! * [`Shelf::say`] keeps what a person says of an evening.
//! * [`Shelf::learn`] lets the archive's own sure copy teach what is to be expected, where
//!   the person wants that.
//!
//! * [`Shelf::join`]: one copy out of several evenings' ([`joined`]).
//! * [`Worker`]: evenings copied again by several, here and on other computers.
//! * [`Shelf::known`]: what a sked sends, as far as it is known by all copies of it.
//! * [`Shelf::skeds`]: transmissions that come at set times; [`Shelf::dial_found`]: what was
//!   learned of the dial from them.
//!
//! Copy is never replaced, and removed only where a person asks for it ([`Shelf::remove`]):
//! copying again makes a new reading beside the old ones. Sound makes room for later sound when the limit is reached.

mod access;
mod again;
mod archive;
mod by_hand;
mod caretaker;
mod certainty;
mod check;
mod copies;
mod copy;
mod copy_keeping;
mod details;
mod dial_found;
mod disk;
mod earlier;
mod error;
mod evening;
mod folder;
pub mod joined;
mod keep_settings;
mod keeper;
mod known;
mod learning;
mod ledger;
mod lessons;
mod line;
mod maybe;
mod mend;
mod notes;
mod notice;
mod preferences;
mod recorder;
mod recording;
mod recover;
mod remove;
mod room;
mod rows;
mod said;
mod schema;
mod search;
mod sent;
mod settings;
mod settling;
mod shared;
mod sigmf;
mod sked_history;
mod sked_prints;
mod sked_runs;
mod skeds;
mod sound_keeping;
mod state;
mod words;
mod work;

#[cfg(test)]
#[path = "../tests/common/characters.rs"]
pub(crate) mod testing;

pub use again::{Again, LONGEST_SILENCE_S};
pub use archive::Shelf;
pub use check::Checked;
pub use copy::{KeptLine, KeptSignal};
pub use details::{Entry, unpack};
pub use disk::{Disk, LocalDisk, SoundFile};
pub use error::ShelfError;
pub use evening::{ClockStep, Evening, Gap, GapCause, KeptEvening, Reading};
pub use keep_settings::KeepSettings;
pub use keeper::Keeper;
pub use known::{Known, KnownCopy, KnownMissing};
pub use learning::{Evenings, Lesson};
pub use markhold_language::Learned;
pub use notice::KeepNotice;
pub use preferences::{Preferences, PreferencesError, bytes};
pub use recorder::{Recorder, Segment};
pub use said::{LONGEST_NAME, LONGEST_NOTE, Said};
pub use search::{Filter, Hit};
pub use sent::Traffic;
pub use settings::{settings_from_json, settings_to_json};
pub use settling::Settle;
pub use sked_history::KeptOf;
pub use sked_prints::{PrintState, SkedPrint};
pub use state::{KeepState, Kept};
pub use words::{database_words, io_words, plain};
pub use work::{Work, Worked, Worker};

/// The folder of the sound in the shelf's folder.
const SOUND: &str = "sound";

/// Which receiver makes readings now. All crates of markhold bear one version.
pub const RECEIVER: &str = concat!("markhold ", env!("CARGO_PKG_VERSION"));

/// The shelf's usual folder on this platform: `$XDG_DATA_HOME/markhold/shelf` or
/// `~/.local/share/markhold/shelf` on Linux. `None` where there is no home folder.
pub fn usual_place() -> Option<std::path::PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "markhold")?;
    Some(folders.data_dir().join("shelf"))
}
