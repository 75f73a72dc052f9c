//! One JSON object per line.
//!
//! | `type` | when |
//! |---|---|
//! | `file` | before the first event of each file |
//! | `signal` | a signal was found |
//! | `early` | a first reading of a character, with `--early`; as `character` |
//! | `character` | a character was decided |
//! | `end` | a signal ended; final measurements |
//! | `file-end` | after the last event of each file, also after an error |
//!
//! Signals are numbered within a file. Times are seconds from the first sample.

use super::output::{About, End, Output};
use crate::words;
use markhold_code::Shift;
use markhold_receive::event::{Alternative, Character, Event, Sense, Signal};
use serde::Serialize;
use std::io::{self, Write};

/// Prints JSON lines.
pub struct Json<W> {
    out: W,
}

impl<W: Write> Json<W> {
    pub fn new(out: W) -> Self {
        Json { out }
    }

    fn line(&mut self, object: &Object) -> io::Result<()> {
        serde_json::to_writer(&mut self.out, object)?;
        self.out.write_all(b"\n")
    }
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum Object<'a> {
    File {
        name: &'a str,
        rate: u32,
        channel: u16,
        channels: u16,
        begin: Option<&'a str>,
    },
    Signal(SignalObject),
    Early(CharacterObject),
    Character(CharacterObject),
    End(SignalObject),
    FileEnd {
        name: &'a str,
        length: f64,
        signals: u64,
        characters: u64,
        notices: Vec<String>,
        error: Option<String>,
    },
}

#[derive(Serialize)]
struct CharacterObject {
    signal: u32,
    start: f64,
    code: u8,
    shift: &'static str,
    glyph: Option<char>,
    probability: f64,
    alternatives: [AlternativeObject; 2],
    doubt: Option<&'static str>,
}

#[derive(Serialize)]
struct AlternativeObject {
    code: u8,
    glyph: Option<char>,
    probability: f64,
}

#[derive(Serialize)]
struct SignalObject {
    signal: u32,
    begin: f64,
    until: f64,
    mark_hz: f64,
    space_hz: f64,
    shift_hz: f64,
    usual_shift_hz: Option<f64>,
    rate_baud: f64,
    usual_rate_baud: Option<f64>,
    mark: &'static str,
    stop_units: Option<f64>,
    es_n0_db: f64,
    snr_3khz_db: f64,
    drift_hz: f64,
    drift_hz_per_min: f64,
}

/// Rounds for print. What is no number stays so and becomes null.
fn rounded(number: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (number * scale).round() / scale
}

impl From<&Signal> for SignalObject {
    fn from(signal: &Signal) -> Self {
        SignalObject {
            signal: signal.id.0,
            begin: rounded(signal.begin_s, 4),
            until: rounded(signal.until_s, 4),
            mark_hz: rounded(signal.mark_hz, 2),
            space_hz: rounded(signal.space_hz, 2),
            shift_hz: rounded(signal.shift_hz, 2),
            usual_shift_hz: signal.usual_shift_hz,
            rate_baud: rounded(signal.rate_baud, 3),
            usual_rate_baud: signal.usual_rate_baud.map(|rate| rounded(rate, 3)),
            mark: match signal.sense {
                Sense::LowerTone => "lower",
                Sense::HigherTone => "higher",
            },
            stop_units: signal.stop_units.map(|units| rounded(units, 2)),
            es_n0_db: rounded(signal.es_n0_db, 1),
            snr_3khz_db: rounded(signal.snr_3khz_db, 1),
            drift_hz: rounded(signal.drift_hz, 2),
            drift_hz_per_min: rounded(signal.drift_hz_per_min, 2),
        }
    }
}

impl From<&Alternative> for AlternativeObject {
    fn from(alternative: &Alternative) -> Self {
        AlternativeObject {
            code: alternative.code.value(),
            glyph: alternative.symbol.text(),
            probability: rounded(f64::from(alternative.probability), 5),
        }
    }
}

impl From<&Character> for CharacterObject {
    fn from(character: &Character) -> Self {
        let [first, second] = &character.alternatives;
        CharacterObject {
            signal: character.signal.0,
            start: rounded(character.start_s, 4),
            code: character.code.value(),
            shift: match character.shift {
                Shift::Letters => "letters",
                Shift::Figures => "figures",
            },
            glyph: character.symbol.text(),
            probability: rounded(f64::from(character.probability), 5),
            alternatives: [first.into(), second.into()],
            doubt: character.doubt.map(words::doubt),
        }
    }
}

impl<W: Write> Output for Json<W> {
    fn begin(&mut self, about: &About) -> io::Result<()> {
        self.line(&Object::File {
            name: about.name,
            rate: about.rate,
            channel: about.channel,
            channels: about.channels,
            begin: about.begin.as_deref(),
        })
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.line(&match event {
            Event::Found(signal) => Object::Signal(signal.into()),
            Event::Early(character) => Object::Early(character.into()),
            Event::Character(character) => Object::Character(character.into()),
            Event::Ended(signal) => Object::End(signal.into()),
        })
    }

    fn end(&mut self, end: &End) -> io::Result<()> {
        self.line(&Object::FileEnd {
            name: end.name,
            length: rounded(end.length_s, 4),
            signals: end.signals,
            characters: end.characters,
            notices: end.notices.iter().map(ToString::to_string).collect(),
            error: end.error.map(ToString::to_string),
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{characters, ended, found};
    use super::*;

    fn printed(event: &Event) -> serde_json::Value {
        let mut out = Vec::new();
        Json::new(&mut out).event(event).unwrap();
        assert_eq!(out.iter().filter(|b| **b == b'\n').count(), 1);
        serde_json::from_slice(&out).unwrap()
    }

    #[test]
    fn a_character() {
        let other = serde_json::json!({"code": 4, "glyph": " ", "probability": 0.00421});
        let expected = serde_json::json!({
            "type": "character", "signal": 1, "start": 12.3457, "code": 20,
            "shift": "letters", "glyph": "H", "probability": 0.75,
            "alternatives": [other, other], "doubt": "fade-of-one-tone",
        });
        assert_eq!(printed(&characters(1, "H?")[0]), expected);
    }

    #[test]
    fn controls_are_there_as_control_characters() {
        for c in ["\r", "\n", "\x07"] {
            let value = printed(&characters(1, c)[0]);
            assert_eq!((&value["glyph"], &value["doubt"]), (&c.into(), &().into()));
        }
    }

    #[test]
    fn a_signal_and_its_end() {
        for (event, kind) in [(found(7), "signal"), (ended(7), "end")] {
            let value = printed(&event);
            assert_eq!(
                (&value["type"], &value["signal"]),
                (&kind.into(), &7.into())
            );
            assert_eq!(
                (&value["mark"], &value["mark_hz"]),
                (&"lower".into(), &2125.0.into())
            );
            assert_eq!(value["usual_rate_baud"], 45.455);
            assert!(value["stop_units"].is_null());
        }
    }
}
