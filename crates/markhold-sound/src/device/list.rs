//! Which inputs there are, by names that a person can read.

use cpal::traits::{DeviceTrait, HostTrait};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Names an input for the settings file and the page: "default", or the system's name for
/// it behind that of its host, as in "alsa:hw:1,0".
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct InputId(pub String);

impl InputId {
    /// The input that the system would choose.
    pub fn system_default() -> Self {
        InputId("default".into())
    }

    /// Whether it is whatever the system would choose.
    pub fn is_default(&self) -> bool {
        self.0 == "default"
    }
}

impl fmt::Display for InputId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// An input that can be chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct InputInfo {
    /// What to choose it by.
    pub id: InputId,
    /// What a person knows it by.
    pub name: String,
    /// Through which part of the system it is reached: "PulseAudio", "ALSA".
    pub through: String,
    /// Whether it is the one that the system would choose.
    pub is_default: bool,
}

/// Hosts with the sound server first: it shares a device, ALSA takes it for itself.
pub(super) fn hosts() -> Vec<cpal::Host> {
    let mut ids = cpal::available_hosts();
    ids.sort_by_key(|id| id.name().eq_ignore_ascii_case("alsa"));
    ids.into_iter()
        .filter_map(|id| cpal::host_from_id(id).ok())
        .collect()
}

/// All inputs that can be listened to now, the sound server's first. Takes up to some
/// seconds where a sound server does not answer.
pub fn inputs() -> Vec<InputInfo> {
    let mut all: Vec<InputInfo> = Vec::new();
    for host in hosts() {
        let default = host.default_input_device().and_then(|d| d.id().ok());
        for device in host.input_devices().into_iter().flatten() {
            let Ok(id) = device.id() else { continue };
            let is_default = all.iter().all(|i| !i.is_default) && Some(&id) == default.as_ref();
            let info = InputInfo {
                name: name_of(&device),
                through: host.id().name().to_string(),
                id: InputId(id.to_string()),
                is_default,
            };
            if is_for_people(&info) {
                all.push(info);
            }
        }
    }
    all
}

/// ALSA lists ways to reach a device that differ in how it is opened only; one of each card
/// is enough.
fn is_for_people(info: &InputInfo) -> bool {
    let Some(pcm) = info.id.0.strip_prefix("alsa:") else {
        return true;
    };
    info.is_default
        || ["hw:", "plughw:", "default", "pulse"]
            .iter()
            .any(|p| pcm.starts_with(p))
}

pub(super) fn name_of(device: &cpal::Device) -> String {
    match device.description() {
        Ok(description) => description.name().to_string(),
        Err(_) => device.id().map_or("an input".into(), |id| id.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn info(id: &str) -> InputInfo {
        InputInfo {
            id: InputId(id.into()),
            name: "a name".into(),
            through: "ALSA".into(),
            is_default: false,
        }
    }

    #[test]
    fn people_see_cards_and_not_every_way_to_open_them() {
        for id in [
            "alsa:hw:CARD=Codec,DEV=0",
            "alsa:default",
            "pulseaudio:line_in",
        ] {
            assert!(is_for_people(&info(id)), "{id}");
        }
        for id in ["alsa:surround51:CARD=0", "alsa:null", "alsa:dsnoop:0"] {
            assert!(!is_for_people(&info(id)), "{id}");
        }
    }

    #[test]
    fn listing_works_on_a_machine_without_any() {
        // Whatever there is: it does not fail, and at most one is the default.
        assert!(inputs().iter().filter(|i| i.is_default).count() <= 1);
    }
}
