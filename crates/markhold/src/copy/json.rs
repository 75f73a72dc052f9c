//! One JSON object per line.
//!
//! | `type` | when |
//! |---|---|
//! | `file` | before the first event of each file |
//! | `signal`, `early`, `character`, `end` | an event, as [`markhold_event`] writes it |
//! | `file-end` | after the last event of each file, also after an error |
//!
//! Signals are numbered within a file. Times are seconds from the first sample.

use super::output::{About, End, Output};
use markhold_event::{Event, VERSION, rounded};
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

    fn line(&mut self, object: &impl Serialize) -> io::Result<()> {
        serde_json::to_writer(&mut self.out, object)?;
        self.out.write_all(b"\n")
    }
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum Object<'a> {
    File {
        version: u32,
        name: &'a str,
        rate: u32,
        channel: u16,
        channels: u16,
        begin: Option<&'a str>,
    },
    FileEnd {
        version: u32,
        name: &'a str,
        length: f64,
        signals: u64,
        characters: u64,
        notices: Vec<String>,
        error: Option<String>,
    },
}

impl<W: Write> Output for Json<W> {
    fn begin(&mut self, about: &About) -> io::Result<()> {
        self.line(&Object::File {
            version: VERSION,
            name: about.name,
            rate: about.rate,
            channel: about.channel,
            channels: about.channels,
            begin: about.begin.as_deref(),
        })
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.line(event)
    }

    fn end(&mut self, end: &End) -> io::Result<()> {
        self.line(&Object::FileEnd {
            version: VERSION,
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
    use markhold_code::{Code, Symbol};
    use markhold_event::{Alternative, Witnesses};

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
            "type": "character", "version": VERSION, "signal": 1, "id": 1235,
            "start": 12.3457, "code": 20, "shift": "letters", "glyph": "H",
            "probability": 0.75, "present": 1.0, "codes": null,
            "alternatives": [other, other], "doubt": "fade-of-one-tone", "language": null,
        });
        assert_eq!(printed(&characters(1, "H?")[0]), expected);
    }

    #[test]
    fn a_character_that_language_changed() {
        let Event::Character(mut character) = characters(1, "H").remove(0) else {
            panic!("a character was made");
        };
        let read = |code, symbol, probability| Alternative {
            code: Code::new(code).unwrap(),
            symbol,
            probability,
        };
        character.witnesses = Some(Witnesses {
            signal: read(16, Symbol::Print('T'), 0.5),
            both: read(20, Symbol::Print('H'), 0.995),
            from_signal: 0.25,
            prose: 0.75,
        });
        let expected = serde_json::json!({
            "from_signal": 0.25, "changed": true, "prose": 0.75,
            "signal": {"code": 16, "glyph": "T", "probability": 0.5},
            "both": {"code": 20, "glyph": "H", "probability": 0.995},
        });
        assert_eq!(printed(&Event::Character(character))["language"], expected);
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
