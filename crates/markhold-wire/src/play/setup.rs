//! A machine of the settings file, and the way to it.
//!
//! ```toml
//! [machine.shack]
//! kind = "us-72-45"
//! columns = 74
//! way = "rts:/dev/ttyUSB0"
//! ```

use super::way_words::{Tones, WayWords};
use crate::keyboard::{Echo, Echoed};
use crate::{Keyer, KeyerError, Way, Wire};
use markhold_page::{Machine, kind};
use std::collections::BTreeMap;
use toml::{Table, Value};

/// A machine and the way to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// The machine.
    pub machine: Machine,
    /// The way to its line; `None` = it can only be shown what it would print.
    pub way: Option<WayWords>,
    /// The wire that switches the motor.
    pub motor_wire: Option<Wire>,
    /// Tones, for ways that have some.
    pub tones: Tones,
    /// How long a better reading is waited for, s: 0 sends every early reading at once.
    pub patience_s: f64,
    /// Where it is noted what is sent to the machine, if its own keyboard is listened to.
    pub echo: Option<Echo>,
}

/// Wait for a better reading where none is set, s: longer than the receiver's final reading
/// takes, so that a machine prints the best copy unless told to hurry.
pub const USUAL_PATIENCE_S: f64 = 8.0;

/// What is wrong with the machines of a settings file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SetupError {
    /// The file is not TOML, or a table is missing its form.
    #[error("{0}")]
    File(String),
    /// A key of one machine.
    #[error("[machine.{name}]: {problem}")]
    Machine {
        /// The machine's name.
        name: String,
        /// What was found, what was expected and what to do.
        problem: String,
    },
}

impl Setup {
    /// This machine without a way to it, and everything else as usual.
    pub fn of(machine: Machine) -> Setup {
        Setup {
            machine,
            way: None,
            motor_wire: None,
            tones: Tones::default(),
            patience_s: USUAL_PATIENCE_S,
            echo: None,
        }
    }

    /// The table of one machine.
    ///
    /// # Errors
    ///
    /// The first key that does not do; further keys than those of [`Machine`]: `way`,
    /// `motor_wire`, `mark_hz`, `space_hz`, `patience_s`.
    pub fn of_table(mut table: Table) -> Result<Setup, String> {
        let way = text(&mut table, "way")?.map(|words| words.parse::<WayWords>());
        let way = way.transpose().map_err(|error| format!("way: {error}"))?;
        let motor_wire = text(&mut table, "motor_wire")?
            .map(|word| wire(&word))
            .transpose()?;
        let usual = Tones::default();
        let tones = Tones {
            mark_hz: number(&mut table, "mark_hz", 100.0, 5000.0)?.unwrap_or(usual.mark_hz),
            space_hz: number(&mut table, "space_hz", 100.0, 5000.0)?.unwrap_or(usual.space_hz),
        };
        let patience_s = number(&mut table, "patience_s", 0.0, 60.0)?;
        let machine = table
            .try_into::<Machine>()
            .map_err(|error| told(error.message()))?;
        Ok(Setup {
            machine,
            way,
            motor_wire,
            tones,
            patience_s: patience_s.unwrap_or(USUAL_PATIENCE_S),
            echo: None,
        })
    }

    /// The way, if there is one.
    pub fn way(&self) -> Option<Way> {
        let machine = &self.machine;
        let words = self.way.as_ref()?;
        Some(words.way(machine.speed(), self.motor_wire, self.tones, machine.motor))
    }

    /// What opens the way, again and again, if there is one.
    pub fn opener(&self) -> Option<impl Fn() -> Result<Box<dyn Keyer>, KeyerError> + Send + use<>> {
        let way = self.way()?;
        let (echo, speed) = (self.echo.clone(), self.machine.speed());
        Some(move || {
            let keyer = way.open()?;
            Ok(match &echo {
                Some(echo) => Box::new(Echoed::new(keyer, echo.clone(), speed)) as Box<dyn Keyer>,
                None => keyer,
            })
        })
    }
}

/// The machine of this name, of the settings file or ready-made, with some keys changed;
/// `None` if there is none. Other tables of the file are left alone.
///
/// # Errors
///
/// The first thing that does not do, with its place or its machine.
pub fn setup(settings: &str, name: &str, changes: Table) -> Result<Option<Setup>, SetupError> {
    let mut table = match (tables(settings)?.remove(name), kind(name)) {
        (Some(value), _) => value,
        (None, Some(_)) => Value::Table(Table::from_iter([("kind".to_string(), name.into())])),
        (None, None) => return Ok(None),
    };
    if let Value::Table(table) = &mut table {
        table.extend(changes);
    }
    of_value(name.to_string(), table).map(|(_, setup)| Some(setup))
}

/// The machines of a settings file, by name. Other tables of the file are left alone.
///
/// # Errors
///
/// The first thing that does not do, with its place or its machine.
pub fn setups(settings: &str) -> Result<BTreeMap<String, Setup>, SetupError> {
    tables(settings)?
        .into_iter()
        .map(|(name, value)| of_value(name, value))
        .collect()
}

/// What stands under each machine's name.
fn tables(settings: &str) -> Result<Table, SetupError> {
    let mut file: Table = settings
        .parse()
        .map_err(|error: toml::de::Error| SetupError::File(error.to_string()))?;
    match file.remove("machine") {
        None => Ok(Table::new()),
        Some(Value::Table(machines)) => Ok(machines),
        Some(other) => {
            let found = other.type_str();
            let expected = "expected tables like [machine.shack]; give each machine its own table";
            Err(SetupError::File(format!(
                "machine is a {found}: {expected}"
            )))
        }
    }
}

fn of_value(name: String, value: Value) -> Result<(String, Setup), SetupError> {
    let table = match value {
        Value::Table(table) => Ok(table),
        other => Err(format!(
            "found {other}: expected a table; write [machine.{name}] above"
        )),
    };
    match table.and_then(Setup::of_table) {
        Ok(setup) => Ok((name, setup)),
        Err(problem) => Err(SetupError::Machine { name, problem }),
    }
}

/// An error of the machine's keys. An unknown key may be one of the way, too.
fn told(message: &str) -> String {
    match message.starts_with("unknown field") {
        true => format!("{message}, `way`, `motor_wire`, `mark_hz`, `space_hz`, `patience_s`"),
        false => message.trim_end().to_string(),
    }
}

fn text(table: &mut Table, key: &str) -> Result<Option<String>, String> {
    match table.remove(key) {
        None => Ok(None),
        Some(Value::String(text)) => Ok(Some(text)),
        Some(other) => Err(format!(
            "{key} = {other}: expected a text; put it between quotes"
        )),
    }
}

fn number(table: &mut Table, key: &str, least: f64, most: f64) -> Result<Option<f64>, String> {
    let Some(value) = table.remove(key) else {
        return Ok(None);
    };
    let found = match value {
        Value::Float(number) => number,
        Value::Integer(number) => number as f64,
        _ => f64::NAN,
    };
    if (least..=most).contains(&found) {
        return Ok(Some(found));
    }
    let expected = format!("expected a number from {least} to {most}");
    Err(format!(
        "{key} = {value}: {expected}; leave the key out for the usual one"
    ))
}

fn wire(word: &str) -> Result<Wire, String> {
    match word.to_ascii_lowercase().as_str() {
        "rts" => Ok(Wire::Rts),
        "dtr" => Ok(Wire::Dtr),
        _ => Err(format!(
            "motor_wire = {word:?}: expected \"rts\" or \"dtr\"; leave it out if the motor has a \
             switch of its own"
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn machines_of_a_settings_file() {
        let all = setups(
            "[desk]\nport = 1\n[machine.shack]\nkind = \"us-72-45\"\ncolumns = 74\n\
             way = \"rts:/dev/ttyUSB0\"\nmotor_wire = \"dtr\"\npatience_s = 1\n[machine.plain]\n",
        )
        .unwrap();
        assert_eq!(all.keys().collect::<Vec<_>>(), ["plain", "shack"]);
        let shack = &all["shack"];
        assert_eq!((shack.machine.columns, shack.patience_s), (74, 1.0));
        assert_eq!(shack.motor_wire, Some(Wire::Dtr));
        assert!(matches!(shack.way(), Some(Way::Timed(_))));
        assert_eq!(all["plain"].machine, Machine::default());
        assert_eq!(all["plain"].way(), None);
        assert!(setups("").unwrap().is_empty());
    }

    #[test]
    fn one_machine_with_changes() {
        let settings = "[machine.shack]\ncolumns = 74\nway = \"tones\"\n[machine.bad]\nx = 1";
        let changes = |text: &str| text.parse::<Table>().unwrap();
        let one = |name: &str, text: &str| setup(settings, name, changes(text));
        let shack = one("shack", "columns = 80").unwrap().unwrap();
        assert_eq!(shack.machine.columns, 80);
        assert!(matches!(shack.way(), Some(Way::Sound { .. })));
        assert_eq!(one("attic", "").unwrap(), None);
        for kind in markhold_page::kinds() {
            let ready_made = one(kind.name, "").unwrap().unwrap();
            assert_eq!(
                (ready_made.way(), &ready_made.machine),
                (None, &kind.machine)
            );
        }
        assert!(one("bad", "").is_err() && one("shack", "columns = 3").is_err());
    }

    /// What was found, what was expected, and where.
    #[test]
    fn what_is_wrong_is_told() {
        for (settings, parts) in [
            (
                "[machine.a]\ncolums = 72",
                ["machine.a", "`colums`", "`columns`", "`way`"],
            ),
            (
                "[machine.a]\ncolumns = 7",
                ["machine.a", "columns = 7", "20 to 200", "72"],
            ),
            (
                "[machine.a]\nway = \"smoke\"",
                ["machine.a", "smoke", "serial:PORT", "way"],
            ),
            (
                "[machine.a]\nway = 3",
                ["machine.a", "way = 3", "text", "quotes"],
            ),
            (
                "[machine.a]\nmark_hz = 1",
                ["machine.a", "mark_hz = 1", "100 to 5000", "leave"],
            ),
            (
                "[machine.a]\nmotor_wire = \"x\"",
                ["machine.a", "\"x\"", "\"rts\"", "leave"],
            ),
            (
                "machine = 3",
                ["machine", "integer", "[machine.shack]", "own table"],
            ),
            (
                "[machine]\na = 3",
                ["machine.a", "found 3", "a table", "write"],
            ),
            ("[machine", ["line 1", "[machine", "^", "error"]),
        ] {
            let error = setups(settings).unwrap_err().to_string();
            for part in parts {
                assert!(error.contains(part), "{settings}: {error:?} lacks {part:?}");
            }
        }
    }
}
