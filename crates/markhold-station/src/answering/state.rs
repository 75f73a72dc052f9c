//! How answering stands.

use super::{Hand, KeyboardState};
use markhold_wire::transmit::TonesFrom;
use serde::Serialize;

/// Which tones go out.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TonesState {
    /// Whose.
    pub from: TonesFrom,
    /// Those of this over, or of one that would begin now, in words; `None` while it is off.
    pub words: Option<String>,
    /// Why none could begin now, in words.
    pub refused: Option<String>,
}

/// How answering stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct AnswerState {
    /// Way and key in words; `None` = no transmitter is set, and nothing can be armed.
    pub set: Option<String>,
    /// The station's call.
    pub call: Option<String>,
    /// Who armed it; `None` = it is off.
    pub armed_by: Option<Hand>,
    /// How much longer, s.
    pub left_s: u64,
    /// Which tones go out.
    pub tones: TonesState,
    /// What opening it told of its cable; `None` = nothing, or it is off.
    pub cable: Option<String>,
    /// Whether an over is being sent.
    pub on_the_air: bool,
    /// Whether it pauses.
    pub paused: bool,
    /// Whether a text is sent again and again.
    pub loops: bool,
    /// Characters that have gone since the start of the station.
    pub gone: u64,
    /// The latest of them.
    pub latest: String,
    /// What waits.
    pub waiting: String,
    /// Characters typed at the machine since the start of the station.
    pub typed: u64,
    /// How the machine's own keyboard stands; `None` = none is set.
    pub keyboard: Option<KeyboardState>,
    /// Why an over that would have begun by itself, of a loop or of what is typed at the machine,
    /// did not: who is there, and what goes on with it.
    pub held_up: Option<String>,
    /// Why it is off, or what came of the last over.
    pub words: Option<String>,
}
