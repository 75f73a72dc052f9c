//! A way to a machine's line in words, as it stands in settings and on command lines.

use crate::{ByteFormat, ByteTarget, KeyWire, SerialPlan, TimedPlan, ToneSettings, Way, Wire};
use markhold_code::StartStop;
use markhold_signal::TonePlan;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::str::FromStr;

/// Sampling rate of tones in a file, Hz: four times what the tones need.
const FILE_RATE: u32 = 12_000;

/// The two tones of a way that has tones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tones {
    /// Mark, Hz.
    pub mark_hz: f64,
    /// Space, Hz.
    pub space_hz: f64,
}

impl Default for Tones {
    /// 2125 and 2295 Hz, usual for terminal units (common practice).
    fn default() -> Self {
        Tones {
            mark_hz: 2125.0,
            space_hz: 2295.0,
        }
    }
}

/// A way in words, checked; [`WayWords::way`] gives the way itself.
///
/// | words | way |
/// |---|---|
/// | `serial:PORT` | the port sends five-bit words itself |
/// | `break:PORT`, `rts:PORT`, `dtr:PORT` | a wire of the port, keyed by the clock |
/// | `tones`, `tones:OUTPUT` | tones on a sound output |
/// | `tones-file:PATH` | tones in a WAV file, `-` = standard output |
/// | `codes:PATH` | one byte a character, `-` = standard output |
/// | `codes:ADDRESS:PORT`, `listen:ADDRESS:PORT` | the same over a socket of this computer |
#[derive(Clone, Debug, PartialEq)]
pub struct WayWords {
    words: String,
    kind: Kind,
}

#[derive(Clone, Debug, PartialEq)]
enum Kind {
    Serial(String),
    Timed(KeyWire, String),
    Sound(Option<String>),
    SoundFile(Option<PathBuf>),
    Codes(ByteTarget),
}

/// Words that name no way.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{found:?} is no way to a machine: expected serial:PORT, break:PORT, rts:PORT, dtr:PORT, \
     tones, tones:OUTPUT, tones-file:PATH, codes:PATH, codes:ADDRESS:PORT or \
     listen:ADDRESS:PORT"
)]
pub struct WaysKnown {
    /// What was found.
    pub found: String,
}

impl FromStr for WayWords {
    type Err = WaysKnown;

    fn from_str(words: &str) -> Result<Self, WaysKnown> {
        let (kind, rest) = words.split_once(':').unwrap_or((words, ""));
        let path = || (rest != "-").then(|| PathBuf::from(rest));
        let named = |kind: Kind| (!rest.is_empty()).then_some(kind);
        let port = || rest.to_string();
        let control = |wire| Kind::Timed(KeyWire::Control(wire), port());
        let kind = match kind {
            "serial" => named(Kind::Serial(port())),
            "break" => named(Kind::Timed(KeyWire::Break, port())),
            "rts" => named(control(Wire::Rts)),
            "dtr" => named(control(Wire::Dtr)),
            "tones" => Some(Kind::Sound((!rest.is_empty()).then(port))),
            "tones-file" => named(Kind::SoundFile(path())),
            "codes" => named(Kind::Codes(match (rest.parse::<SocketAddr>(), path()) {
                (Ok(to), _) => ByteTarget::Connect(to),
                (_, Some(path)) => ByteTarget::Path(path),
                (_, None) => ByteTarget::Output,
            })),
            "listen" => rest
                .parse()
                .ok()
                .map(|at| Kind::Codes(ByteTarget::Listen(at))),
            _ => None,
        };
        kind.map(|kind| WayWords {
            words: words.to_string(),
            kind,
        })
        .ok_or_else(|| WaysKnown {
            found: words.to_string(),
        })
    }
}

impl std::fmt::Display for WayWords {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.words)
    }
}

impl WayWords {
    /// The way, for a line of this speed. `motor` is the wire that switches the motor;
    /// tones are switched with the motor where `autostart` says so.
    pub fn way(&self, speed: StartStop, motor: Option<Wire>, tones: Tones, autostart: bool) -> Way {
        let tones = ToneSettings {
            speed,
            plan: TonePlan::new(tones.mark_hz, tones.space_hz, speed),
            autostart,
        };
        match self.kind.clone() {
            Kind::Serial(port) => Way::Serial(SerialPlan {
                port,
                speed,
                word: crate::Word::Five,
                motor,
            }),
            Kind::Timed(wire, port) => Way::Timed(TimedPlan {
                port,
                speed,
                wire,
                motor,
                inverted: false,
                longest_s: 0.0,
            }),
            Kind::Sound(output) => Way::Sound {
                output,
                rate: None,
                tones,
            },
            Kind::SoundFile(path) => Way::SoundFile {
                path,
                rate: FILE_RATE,
                tones: ToneSettings {
                    autostart: false,
                    ..tones
                },
            },
            Kind::Codes(target) => Way::Bytes {
                target,
                format: ByteFormat::Codes,
                speed,
                network: false,
            },
        }
    }

    /// Whether standard output is the way.
    pub fn is_output(&self) -> bool {
        matches!(
            &self.kind,
            Kind::SoundFile(None) | Kind::Codes(ByteTarget::Output)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    #[test]
    fn words_name_ways() {
        let way = |words: &str| {
            let words: WayWords = words.parse().unwrap();
            words.way(SPEED, Some(Wire::Dtr), Tones::default(), true)
        };
        assert!(matches!(
            way("serial:/dev/ttyS0"),
            Way::Serial(plan) if plan.port == "/dev/ttyS0" && plan.motor == Some(Wire::Dtr)
        ));
        assert!(matches!(way("rts:COM3"), Way::Timed(p) if p.wire == KeyWire::Control(Wire::Rts)));
        assert!(matches!(way("break:COM3"), Way::Timed(plan) if plan.wire == KeyWire::Break));
        assert!(matches!(way("tones"), Way::Sound { output: None, .. }));
        assert!(matches!(way("tones:usb"), Way::Sound { output: Some(name), .. } if name == "usb"));
        assert!(matches!(
            way("tones-file:-"),
            Way::SoundFile { path: None, .. }
        ));
        let target = |words| match way(words) {
            Way::Bytes { target, .. } => target,
            other => panic!("{other:?}"),
        };
        assert_eq!(target("codes:-"), ByteTarget::Output);
        assert_eq!(target("codes:a:b"), ByteTarget::Path("a:b".into()));
        let local = "127.0.0.1:4100".parse().unwrap();
        assert_eq!(target("codes:127.0.0.1:4100"), ByteTarget::Connect(local));
        assert_eq!(target("listen:127.0.0.1:4100"), ByteTarget::Listen(local));
    }

    #[test]
    fn other_words_are_told() {
        for words in ["", "serial", "serial:", "listen:here", "smoke:signal"] {
            let error = words.parse::<WayWords>().unwrap_err().to_string();
            assert!(
                error.contains(words) && error.contains("rts:PORT"),
                "{error}"
            );
        }
    }
}
