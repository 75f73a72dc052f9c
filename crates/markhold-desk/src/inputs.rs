//! Where sound may come from, as the page offers it.

use markhold_sound::{Source, Taken};
use serde::Serialize;
use std::time::Duration;

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

/// An input that could not be opened: the desk opens all the same and says why, and another
/// input can be chosen there.
pub struct Missing {
    /// Why there is no sound, in words.
    why: Option<String>,
}

impl Missing {
    /// No sound, for this reason.
    pub fn new(why: impl Into<String>) -> Self {
        Self {
            why: Some(why.into()),
        }
    }
}

impl Source for Missing {
    fn name(&self) -> String {
        "No input".into()
    }

    fn rate(&self) -> u32 {
        8000
    }

    fn is_live(&self) -> bool {
        true
    }

    fn take(&mut self, _block: &mut Vec<f32>) -> Taken {
        if let Some(why) = self.why.take() {
            return Taken::Gone { why };
        }
        std::thread::sleep(Duration::from_millis(50));
        Taken::Nothing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_input_says_why_once() {
        let mut missing = Missing::new("the cable is out");
        let why = "the cable is out".into();
        assert_eq!(missing.take(&mut Vec::new()), Taken::Gone { why });
        assert_eq!(missing.take(&mut Vec::new()), Taken::Nothing);
        assert!(NoInputs.open("x").is_err() && NoInputs.list().is_empty());
    }
}
