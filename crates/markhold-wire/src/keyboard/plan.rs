//! A keyboard as the settings file has it.
//!
//! ```toml
//! [keyboard]
//! way = "cts:/dev/ttyUSB0"
//! rate_baud = 45.45
//! ```

use super::{BytesKeyboard, KeyboardLine, KeyboardWords, PortKeyboard, Typist, WireKeyboard};
use crate::settings_table::{row, some_words, table_of};
use crate::{KeyerError, PortWire, Wire};
use markhold_code::{FiguresRow, StartStop};
use serde::{Deserialize, Deserializer, de::Error};
use toml::Table;

/// What is done with the machine's own printing in its keyboard's line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EchoIs {
    /// It is known again and left out.
    Suppressed,
    /// Everything that comes is taken for typed.
    Wanted,
}

/// A keyboard. Every key of its table is optional and has the name of the field here.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct KeyboardPlan {
    /// The way from it; `None` = there is none.
    #[serde(deserialize_with = "some_words")]
    pub way: Option<KeyboardWords>,
    /// Modulation rate, baud, 30 to 300.
    pub rate_baud: f64,
    /// A status wire that is asserted is space.
    pub inverted: bool,
    /// The wire of the port that feeds the contact; `None` = it has a supply of its own.
    #[serde(deserialize_with = "some_wire")]
    pub supply: Option<Wire>,
    /// The figures row of its keys: us or ita2.
    #[serde(deserialize_with = "row")]
    pub figures: FiguresRow,
    /// A space returns the machine to letters.
    pub unshift_on_space: bool,
    /// What is done with the machine's own printing.
    pub echo: EchoIs,
    /// Space that lasts so long is a break, s; no shorter than a character.
    pub break_s: f64,
    /// Typing begins an over by itself while the transmitter is armed.
    pub begins: bool,
}

impl Default for KeyboardPlan {
    /// 45.45 baud and the US row are usual (common practice). A break of 0.2 s is longer than a
    /// character at every usual speed.
    fn default() -> Self {
        KeyboardPlan {
            way: None,
            rate_baud: 1.0 / 0.022,
            inverted: false,
            supply: None,
            figures: FiguresRow::Us,
            unshift_on_space: false,
            echo: EchoIs::Suppressed,
            break_s: 0.2,
            begins: false,
        }
    }
}

/// What is wrong with a keyboard's settings.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("[keyboard]: {0}")]
pub struct KeyboardError(String);

impl KeyboardPlan {
    /// From the settings file's text, with some keys changed. Other tables are left alone.
    ///
    /// # Errors
    ///
    /// The first key that does not do, with what was found and what is expected.
    pub fn of_settings(settings: &str, changes: Table) -> Result<Self, KeyboardError> {
        let plan: Self = table_of(settings, "keyboard", changes).map_err(KeyboardError)?;
        plan.check().map_err(KeyboardError)?;
        Ok(plan)
    }

    fn check(&self) -> Result<(), String> {
        for (key, found, least, most) in [
            ("rate_baud", self.rate_baud, 30.0, 300.0),
            ("break_s", self.break_s, 0.1, 5.0),
        ] {
            if !(least..=most).contains(&found) {
                return Err(format!(
                    "{key} = {found}: expected {least} to {most}; leave it out for the usual one"
                ));
            }
        }
        let wire = matches!(self.way, Some(KeyboardWords::Wire(..)));
        match (wire, self.inverted || self.supply.is_some()) {
            (false, true) if self.way.is_some() => Err(
                "inverted and supply are of a status wire; leave them out, or give way = \
                 \"cts:PORT\""
                    .into(),
            ),
            _ => Ok(()),
        }
    }

    /// The line's speed. The stop element is not asked for: half a unit of it is enough.
    pub fn speed(&self) -> StartStop {
        StartStop::new(self.rate_baud, 1.5)
    }

    /// Who turns its codes into text.
    pub fn typist(&self) -> Typist {
        Typist::new(self.figures, self.unshift_on_space)
    }

    /// Opens the way.
    ///
    /// # Errors
    ///
    /// No way is set, or what the way says.
    pub fn open(&self) -> Result<Box<dyn KeyboardLine>, KeyerError> {
        Ok(match &self.way {
            None => {
                return Err(KeyerError::Missing {
                    what: "the way from the keyboard".into(),
                    remedy: "set way in [keyboard], or give --keyboard".into(),
                });
            }
            Some(KeyboardWords::Serial(port)) => Box::new(PortKeyboard::open(port, self.speed())?),
            Some(KeyboardWords::Wire(wire, port)) => {
                let wire = PortWire::beside(port, *wire, self.supply)?;
                let (speed, break_s) = (self.speed(), self.break_s);
                Box::new(WireKeyboard::new(wire, speed, break_s, self.inverted)?)
            }
            Some(KeyboardWords::Codes(path)) => Box::new(BytesKeyboard::open(path.as_deref())?),
        })
    }
}

fn some_wire<'de, D: Deserializer<'de>>(value: D) -> Result<Option<Wire>, D::Error> {
    match String::deserialize(value)?.as_str() {
        "rts" => Ok(Some(Wire::Rts)),
        "dtr" => Ok(Some(Wire::Dtr)),
        other => Err(D::Error::custom(format!(
            "supply = {other:?}: expected \"rts\" or \"dtr\"; leave it out if the contact has a \
             supply of its own"
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use toml::Value;

    fn plan(keys: &str) -> Result<KeyboardPlan, KeyboardError> {
        KeyboardPlan::of_settings(&format!("[keyboard]\n{keys}"), Table::new())
    }

    #[test]
    fn a_keyboard_of_a_settings_file() {
        let usual = KeyboardPlan::of_settings("[shelf]\nlearn = true", Table::new());
        assert_eq!(usual, Ok(KeyboardPlan::default()));
        let own = plan("way = \"cts:/dev/ttyUSB0\"\nsupply = \"dtr\"\necho = \"wanted\"").unwrap();
        assert_eq!((own.supply, own.echo), (Some(Wire::Dtr), EchoIs::Wanted));
        let changes = Table::from_iter([("way".into(), Value::String("codes:-".into()))]);
        let other = KeyboardPlan::of_settings("[keyboard]\nrate_baud = 50", changes).unwrap();
        assert_eq!(other.way, Some(KeyboardWords::Codes(None)));
        assert_eq!(other.speed().rate_baud, 50.0);
    }

    #[test]
    fn what_is_wrong_is_told() {
        for (keys, parts) in [
            ("way = \"smoke\"", ["smoke", "cts:PORT"]),
            ("rate_baud = 5", ["rate_baud = 5", "30 to 300"]),
            ("break_s = 9", ["break_s = 9", "0.1 to 5"]),
            ("supply = \"cts\"", ["\"cts\"", "\"dtr\""]),
            ("figures = \"x\"", ["\"x\"", "ita2"]),
            (
                "way = \"serial:x\"\ninverted = true",
                ["inverted", "status wire"],
            ),
            ("rates = 3", ["`rates`", "`rate_baud`"]),
        ] {
            let error = plan(keys).unwrap_err().to_string();
            for part in parts {
                assert!(error.contains(part), "{keys}: {error:?} lacks {part:?}");
            }
        }
        let error = KeyboardPlan::of_settings("keyboard = 3", Table::new()).unwrap_err();
        assert!(error.to_string().contains("integer"), "{error}");
        assert!(KeyboardPlan::default().open().is_err());
    }
}
