//! A way from a keyboard in words, as it stands in settings and on command lines.

use crate::StatusWire;
use std::path::PathBuf;
use std::str::FromStr;

/// A way from a keyboard.
///
/// | words | way |
/// |---|---|
/// | `serial:PORT` | the port reads five-unit words itself |
/// | `cts:PORT`, `dsr:PORT`, `dcd:PORT`, `ri:PORT` | a status wire of the port, by the clock |
/// | `codes:PATH` | one byte a character, of a pipe or file, `-` = standard input |
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyboardWords {
    /// The port reads words.
    Serial(String),
    /// A status wire of a port.
    Wire(StatusWire, String),
    /// Plain codes; `None` = of standard input.
    Codes(Option<PathBuf>),
}

/// Words that name no way from a keyboard.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{found:?} is no way from a keyboard: expected serial:PORT, cts:PORT, dsr:PORT, dcd:PORT, \
     ri:PORT or codes:PATH"
)]
pub struct KeyboardsKnown {
    /// What was found.
    pub found: String,
}

/// Status wires by their words.
const WIRES: [(&str, StatusWire); 4] = [
    ("cts", StatusWire::Cts),
    ("dsr", StatusWire::Dsr),
    ("dcd", StatusWire::Dcd),
    ("ri", StatusWire::Ri),
];

impl KeyboardWords {
    /// The port it comes over.
    pub fn port(&self) -> Option<&str> {
        match self {
            KeyboardWords::Serial(port) | KeyboardWords::Wire(_, port) => Some(port),
            KeyboardWords::Codes(_) => None,
        }
    }

    /// Whether standard input is the way.
    pub fn is_input(&self) -> bool {
        matches!(self, KeyboardWords::Codes(None))
    }
}

impl FromStr for KeyboardWords {
    type Err = KeyboardsKnown;

    fn from_str(words: &str) -> Result<Self, KeyboardsKnown> {
        let (kind, rest) = words.split_once(':').unwrap_or((words, ""));
        let wire = WIRES.iter().find(|(word, _)| *word == kind);
        let found = match (kind, wire) {
            _ if rest.is_empty() => None,
            ("serial", _) => Some(KeyboardWords::Serial(rest.into())),
            ("codes", _) => Some(KeyboardWords::Codes((rest != "-").then(|| rest.into()))),
            (_, Some((_, wire))) => Some(KeyboardWords::Wire(*wire, rest.into())),
            _ => None,
        };
        found.ok_or_else(|| KeyboardsKnown {
            found: words.into(),
        })
    }
}

impl std::fmt::Display for KeyboardWords {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            KeyboardWords::Serial(port) => write!(f, "serial:{port}"),
            KeyboardWords::Wire(wire, port) => {
                let named = WIRES.iter().find(|(_, known)| known == wire);
                write!(f, "{}:{port}", named.map_or("", |(word, _)| word))
            }
            KeyboardWords::Codes(path) => match path {
                Some(path) => write!(f, "codes:{}", path.display()),
                None => f.write_str("codes:-"),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_say_the_same_again() {
        for words in [
            "serial:/dev/ttyS0",
            "cts:COM3",
            "dsr:/dev/ttyUSB0",
            "dcd:x",
            "ri:x",
            "codes:-",
            "codes:/tmp/a:b",
        ] {
            let read = words.parse::<KeyboardWords>().map(|w| w.to_string());
            assert_eq!(read, Ok(words.into()));
        }
        assert!("codes:-".parse::<KeyboardWords>().unwrap().is_input());
        let port = "ri:x:y".parse::<KeyboardWords>().unwrap();
        assert_eq!(port.port(), Some("x:y"));
    }

    #[test]
    fn other_words_are_told() {
        for words in ["", "cts", "cts:", "serial:", "rts:COM3", "tones", "smoke:x"] {
            let error = words.parse::<KeyboardWords>().unwrap_err().to_string();
            assert!(
                error.contains(words) && error.contains("cts:PORT"),
                "{error}"
            );
        }
    }
}
