//! Where sound may come from.

use markhold_sound::device::{DeviceSource, InputId, InputInfo, SystemInput, inputs};
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

/// The inputs that the system has.
pub struct SystemInputs {
    /// Which of an input's channels is heard, counted from 1.
    pub channel: u16,
}

impl Inputs for SystemInputs {
    fn list(&self) -> Vec<InputChoice> {
        let mut all = vec![InputChoice {
            id: InputId::system_default().0,
            name: "The system's input".into(),
        }];
        all.extend(inputs().into_iter().map(|info| InputChoice {
            name: format!("{} ({})", info.name, info.through),
            id: info.id.0,
        }));
        all
    }

    fn open(&self, id: &str) -> Result<Box<dyn Source>, String> {
        let input = SystemInput {
            id: InputId(id.into()),
        };
        let source = DeviceSource::open(input, self.channel)?;
        Ok(Box::new(source))
    }
}

/// The input that a person means by a part of its name.
///
/// # Errors
///
/// None or several have it; which there are.
pub fn named(part: &str) -> Result<InputId, String> {
    choose(part, inputs())
}

fn choose(part: &str, all: Vec<InputInfo>) -> Result<InputId, String> {
    if part == "default" || all.iter().any(|info| info.id.0 == part) {
        return Ok(InputId(part.into()));
    }
    let lower = part.to_lowercase();
    let has = |info: &&InputInfo| info.name.to_lowercase().contains(&lower);
    let found: Vec<&InputInfo> = all.iter().filter(has).collect();
    let names = |list: &[&InputInfo]| {
        let names: Vec<String> = list.iter().map(|i| format!("\"{}\"", i.name)).collect();
        names.join(", ")
    };
    match found[..] {
        [one] => Ok(one.id.clone()),
        // The same device by two ways: the sound server's comes first.
        [first, ref rest @ ..] if rest.iter().all(|i| i.name == first.name) => Ok(first.id.clone()),
        [] if all.is_empty() => Err(format!(
            "no input is named \"{part}\": this machine has none; plug one in or start the \
             sound server"
        )),
        [] => {
            let there: Vec<&InputInfo> = all.iter().collect();
            Err(format!(
                "no input is named \"{part}\"; there are {}",
                names(&there)
            ))
        }
        _ => Err(format!(
            "\"{part}\" may be {}; give more of the name",
            names(&found)
        )),
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

    fn info(id: &str, name: &str) -> InputInfo {
        InputInfo {
            id: InputId(id.into()),
            name: name.into(),
            through: "ALSA".into(),
            is_default: false,
        }
    }

    #[test]
    fn a_part_of_the_name_is_enough() {
        let all = || {
            vec![
                info("pulseaudio:a", "Line In"),
                info("alsa:hw:0", "Line In"),
                info("alsa:hw:1", "Line Out Monitor"),
            ]
        };
        let chosen = |part| choose(part, all()).map(|id| id.0);
        assert_eq!(chosen("line in"), Ok("pulseaudio:a".into()));
        assert_eq!(chosen("alsa:hw:1"), Ok("alsa:hw:1".into()));
        assert_eq!(chosen("default"), Ok("default".into()));
        let told = chosen("line").expect_err("three");
        assert!(told.contains("give more of the name"), "{told}");
        let told = chosen("radio").expect_err("none");
        assert!(told.contains("there are \"Line In\""), "{told}");
        assert!(choose("x", Vec::new()).is_err());
    }
}
