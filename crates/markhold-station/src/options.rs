//! How a station begins.

use crate::answering::{Air, KeyboardSetup, NoAir};
use crate::inputs::{Inputs, NoInputs};
use crate::live::Clocks;
use crate::machines::{Machines, NoMachines};
use crate::practice::PracticeReceiver;
use crate::settings::InUse;
use markhold_language::Learned;
use markhold_shelf::KeepSettings;
use std::path::PathBuf;
use std::sync::Arc;

/// The shelf that an evening is kept on.
#[derive(Clone, Debug)]
pub struct Shelved {
    /// Its folder.
    pub place: PathBuf,
    /// How it is kept.
    pub keep: KeepSettings,
    /// Where it is kept, in words for a person.
    pub words: String,
    /// Practice is kept there too, as an evening of its own.
    pub practice: bool,
}

/// How to begin.
pub struct StationOptions {
    /// What is set at the start.
    pub in_use: InUse,
    /// What the archive's own copy taught, if that is wanted.
    pub learned: Option<Arc<Learned>>,
    /// Where evenings are kept; `None` = they are not.
    pub shelf: Option<Shelved>,
    /// Where practice is kept if not there; `None` = it is not.
    pub practice_shelf: Option<Shelved>,
    /// What may be listened to.
    pub inputs: Arc<dyn Inputs>,
    /// What may be printed on.
    pub machines: Arc<dyn Machines>,
    /// The transmitter.
    pub air: Arc<dyn Air>,
    /// The machine's own keyboard, if it is listened to.
    pub keyboard: Option<KeyboardSetup>,
    /// The practice receiver.
    pub practice: PracticeReceiver,
    /// Begins even where the input cannot be opened; why is told, and another may be chosen.
    pub patient: bool,
    /// Gives each room its clocks; others than the computer's only in tests.
    pub clocks: Arc<dyn Fn() -> Clocks + Send + Sync>,
}

impl Default for StationOptions {
    /// Practice only, everything is found, nothing is kept.
    fn default() -> Self {
        StationOptions {
            in_use: InUse::default(),
            learned: None,
            shelf: None,
            practice_shelf: None,
            inputs: Arc::new(NoInputs),
            machines: Arc::new(NoMachines),
            air: Arc::new(NoAir),
            keyboard: None,
            practice: PracticeReceiver::new(1, 1.0),
            patient: false,
            clocks: Arc::new(Clocks::default),
        }
    }
}
