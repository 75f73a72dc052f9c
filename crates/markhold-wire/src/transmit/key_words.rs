//! How a transmitter is keyed, in words, as it stands in settings and on command lines.

use crate::Wire;
use std::net::SocketAddr;
use std::str::FromStr;

/// How a transmitter is keyed.
///
/// | words | key |
/// |---|---|
/// | `by-hand` | nothing here: a person keys it, or the sound does |
/// | `rts`, `dtr` | that wire of the port that keys the line |
/// | `rts:PORT`, `dtr:PORT` | that wire of a port |
/// | `rigctld:ADDRESS:PORT` | the radio control daemon on this computer |
/// | `command` | the commands `key_on` and `key_off` |
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum KeyWords {
    /// A person keys it, or the sound does.
    ByHand,
    /// A wire of a port; `None` = of the port that keys the line.
    Wire(Wire, Option<String>),
    /// The radio control daemon at this address of this computer.
    Daemon(SocketAddr),
    /// Two commands.
    Command,
}

/// Words that name no key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{found:?} is no key of a transmitter: expected rts, dtr, rts:PORT, dtr:PORT, \
     rigctld:127.0.0.1:4532 (this computer only), command or by-hand"
)]
pub struct KeysKnown {
    /// What was found.
    pub found: String,
}

impl FromStr for KeyWords {
    type Err = KeysKnown;

    fn from_str(words: &str) -> Result<Self, KeysKnown> {
        let (kind, rest) = match words.split_once(':') {
            Some((kind, rest)) => (kind, Some(rest)),
            None => (words, None),
        };
        let port = |wire| match rest {
            Some("") => None,
            rest => Some(KeyWords::Wire(wire, rest.map(String::from))),
        };
        let daemon = |rest: &str| {
            let address = rest.parse::<SocketAddr>().ok();
            address.filter(|address| address.ip().is_loopback())
        };
        let found = match (kind, rest) {
            ("by-hand", None) => Some(KeyWords::ByHand),
            ("command", None) => Some(KeyWords::Command),
            ("rts", _) => port(Wire::Rts),
            ("dtr", _) => port(Wire::Dtr),
            ("rigctld", Some(rest)) => daemon(rest).map(KeyWords::Daemon),
            _ => None,
        };
        found.ok_or_else(|| KeysKnown {
            found: words.to_string(),
        })
    }
}

impl std::fmt::Display for KeyWords {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let wire = |wire: &Wire| match wire {
            Wire::Rts => "rts",
            Wire::Dtr => "dtr",
        };
        match self {
            KeyWords::ByHand => f.write_str("by-hand"),
            KeyWords::Command => f.write_str("command"),
            KeyWords::Wire(one, None) => f.write_str(wire(one)),
            KeyWords::Wire(one, Some(port)) => write!(f, "{}:{port}", wire(one)),
            KeyWords::Daemon(address) => write!(f, "rigctld:{address}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_say_the_same_again() {
        for words in [
            "by-hand",
            "rts",
            "dtr",
            "rts:/dev/ttyUSB0",
            "dtr:COM3",
            "command",
            "rigctld:127.0.0.1:4532",
            "rigctld:[::1]:4532",
        ] {
            assert_eq!(
                words.parse::<KeyWords>().map(|key| key.to_string()),
                Ok(words.into())
            );
        }
    }

    /// Another computer's transmitter is none of ours.
    #[test]
    fn what_is_no_key_is_told() {
        for words in [
            "",
            "rts:",
            "smoke",
            "rigctld",
            "rigctld:4532",
            "rigctld:192.0.2.7:4532",
            "command:x",
        ] {
            let error = words.parse::<KeyWords>().unwrap_err().to_string();
            assert!(error.contains("this computer only"), "{error}");
        }
    }
}
