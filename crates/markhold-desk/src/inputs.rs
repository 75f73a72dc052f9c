//! Where sound may come from, as the page offers it.

use markhold_station::live::Source;
use serde::Serialize;

/// Name under which the practice band is asked for.
pub const PRACTICE: &str = "practice";

/// One input that may be chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct InputChoice {
    /// What to ask for.
    pub id: String,
    /// What a person calls it.
    pub name: String,
}

/// The inputs of this machine.
pub trait Inputs: Send + Sync {
    /// What there is now. May take a moment: it is not called where others wait.
    fn list(&self) -> Vec<InputChoice>;

    /// Begins to listen to one.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    fn open(&self, id: &str) -> Result<Box<dyn Source>, String>;
}

/// A machine without inputs: practice only.
pub struct NoInputs;

impl Inputs for NoInputs {
    fn list(&self) -> Vec<InputChoice> {
        Vec::new()
    }

    fn open(&self, id: &str) -> Result<Box<dyn Source>, String> {
        Err(format!(
            "there is no input \"{id}\"; choose one from the list"
        ))
    }
}
