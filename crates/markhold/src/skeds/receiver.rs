//! What the settings file says of the receiver.

use crate::machine::Outfit;
use anyhow::{Context, bail};
use markhold_skeds::{Dial, Place, Shows, Turn};
use markhold_station::watching::DialKnown;
use markhold_wire::transmit::KeyWords;
use serde::Deserialize;
use std::net::SocketAddr;
use std::path::PathBuf;
use toml::{Table, Value};

/// The receiver, as described once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Receiver {
    /// Its dial; `None` if nothing is said of it.
    pub dial: Option<Dial>,
    /// The radio's daemon on this computer, which reads it; `None`: the person does.
    pub daemon: Option<SocketAddr>,
    /// Minutes from switching on until it stands.
    pub warm_up_min: f64,
    /// Where it stands, if that is said.
    pub place: Option<Place>,
}

/// Minutes where neither the person nor its own evenings say: a valve receiver's half hour (common
/// practice).
const USUAL_WARM_UP_MIN: f64 = 30.0;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Keys {
    shows: Option<Shows>,
    pitch_hz: Option<f64>,
    step_hz: Option<f64>,
    up: Option<Turn>,
    warm_up_min: Option<f64>,
    place: Option<String>,
    read_by: Option<String>,
}

impl Receiver {
    /// What is learned of its dial while skeds are looked after.
    pub fn known(&self) -> DialKnown {
        DialKnown {
            dial: self.dial,
            daemon: self.daemon,
        }
    }

    /// From the settings file, the usual one unless another is named.
    pub fn of(settings: Option<&PathBuf>) -> anyhow::Result<Self> {
        let file = Outfit {
            settings: settings.cloned(),
            ..Outfit::default()
        };
        Self::of_text(&file.read_settings()?).with_context(|| file.place())
    }

    /// From the settings file's text.
    pub fn of_text(settings: &str) -> anyhow::Result<Self> {
        let mut file = settings.parse::<Table>()?;
        let Some(table) = file.remove("receiver") else {
            let warm_up_min = USUAL_WARM_UP_MIN;
            return Ok(Receiver {
                dial: None,
                daemon: None,
                warm_up_min,
                place: None,
            });
        };
        let keys: Keys = Value::try_into(table)
            .map_err(|error: toml::de::Error| anyhow::anyhow!("[receiver]: {}", error.message()))?;
        let usual = Dial::default();
        let dial = Dial {
            shows: keys.shows.unwrap_or(usual.shows),
            pitch_hz: keys.pitch_hz.unwrap_or(usual.pitch_hz),
            step_hz: keys.step_hz.unwrap_or(usual.step_hz),
            up: keys.up.unwrap_or(usual.up),
        };
        dial.check().context("[receiver]")?;
        let warm_up_min = keys.warm_up_min.unwrap_or(USUAL_WARM_UP_MIN);
        if !(0.0..=1440.0).contains(&warm_up_min) {
            bail!("[receiver]: warm_up_min is {warm_up_min}: expected minutes from 0 to 1440");
        }
        let daemon = keys.read_by.as_deref().map(daemon);
        let place = keys.place.map(|place| place.parse::<Place>());
        Ok(Receiver {
            dial: Some(dial),
            daemon: daemon.transpose()?,
            warm_up_min,
            place: place.transpose().context("[receiver]: place")?,
        })
    }
}

/// The daemon in the word by which it is named as a key, too.
fn daemon(words: &str) -> anyhow::Result<SocketAddr> {
    match words.parse() {
        Ok(KeyWords::Daemon(address)) => Ok(address),
        _ => bail!(
            "[receiver]: read_by is \"{words}\": expected rigctld:127.0.0.1:4532, the radio control daemon of this computer"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_receiver_of_a_settings_file() {
        let none = Receiver::of_text("[shelf]\nlearn = true").unwrap();
        assert_eq!((none.dial, none.warm_up_min), (None, 30.0));
        let text = "[receiver]\nshows = \"upper-carrier\"\nstep_hz = 100\nwarm_up_min = 45";
        let receiver = Receiver::of_text(text).unwrap();
        let dial = receiver.dial.unwrap();
        assert_eq!(
            (dial.shows, dial.step_hz, dial.pitch_hz),
            (Shows::UpperCarrier, 100.0, 2210.0)
        );
        assert_eq!((receiver.warm_up_min, receiver.daemon), (45.0, None));
        let read = Receiver::of_text("[receiver]\nread_by = \"rigctld:127.0.0.1:4532\"").unwrap();
        assert_eq!(read.known().daemon, "127.0.0.1:4532".parse().ok());
        for (bad, said) in [
            ("[receiver]\nshows = \"am\"", "lower-carrier"),
            ("[receiver]\npitch_hz = 3", "50 to 5000"),
            ("[receiver]\nwarm_up_min = -1", "0 to 1440"),
            ("[receiver]\nplace = \"here\"", "locator"),
            ("[receiver]\nread_by = \"rts\"", "rigctld:127.0.0.1:4532"),
            ("[receiver]\ncolour = 1", "unknown field"),
        ] {
            let error = format!("{:#}", Receiver::of_text(bad).unwrap_err());
            assert!(error.contains(said), "{error}");
        }
    }
}
