//! Tables of the settings file, and values that more than one of them has.

use markhold_code::FiguresRow;
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer};
use std::str::FromStr;
use toml::{Table, Value};

/// A table of the settings file's text, with some keys changed; one that is not there is empty.
/// Other tables are left alone.
///
/// # Errors
///
/// What was found and what is expected.
pub(crate) fn table_of<T: DeserializeOwned>(
    settings: &str,
    name: &str,
    changes: Table,
) -> Result<T, String> {
    let mut file: Table = settings
        .parse()
        .map_err(|e: toml::de::Error| e.to_string())?;
    let mut table = match file.remove(name) {
        None => Table::new(),
        Some(Value::Table(table)) => table,
        Some(other) => {
            let found = other.type_str();
            return Err(format!(
                "found a {found}: expected a table; write [{name}] above its keys"
            ));
        }
    };
    table.extend(changes);
    let read = Value::Table(table).try_into();
    read.map_err(|error: toml::de::Error| error.message().trim_end().into())
}

/// A value in words of its own.
pub(crate) fn some_words<'de, D, T>(value: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: std::fmt::Display>,
{
    let words = String::deserialize(value)?;
    words.parse().map(Some).map_err(D::Error::custom)
}

/// A figures row.
pub(crate) fn row<'de, D: Deserializer<'de>>(value: D) -> Result<FiguresRow, D::Error> {
    match String::deserialize(value)?.as_str() {
        "us" => Ok(FiguresRow::Us),
        "ita2" => Ok(FiguresRow::Ita2),
        other => Err(D::Error::custom(format!(
            "figures = {other:?}: expected \"us\" or \"ita2\""
        ))),
    }
}
