//! What the desk asks of whoever keeps skeds: it knows neither shelf nor settings file.

use markhold_station::Room;
use serde::Deserialize;
use serde_json::Value;

/// What the person says of the receiver's dial; nothing at all: it stands somewhere else now.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DialSaid {
    /// What it reads, kHz.
    #[serde(default)]
    pub khz: Option<f64>,
    /// The receiver was switched on just now.
    #[serde(default)]
    pub switched_on: bool,
}

/// Where skeds are kept, for the page. Its answers are JSON; its errors words for the person.
pub trait SkedBook: Send + Sync {
    /// What is on now and next, and all skeds, in a room.
    ///
    /// # Errors
    ///
    /// They cannot be read.
    fn tonight(&self, room: Room) -> Result<Value, String>;

    /// How all skeds went over the last weeks.
    ///
    /// # Errors
    ///
    /// It cannot be read.
    fn went(&self) -> Result<Value, String>;

    /// Adds a sked, or puts it in the place of another.
    ///
    /// # Errors
    ///
    /// It cannot be, or not be kept.
    fn put(&self, id: Option<i64>, sked: Value) -> Result<(), String>;

    /// The person says where the receiver's dial stands, or when it was switched on.
    ///
    /// # Errors
    ///
    /// It cannot be, or not be kept.
    fn dial(&self, said: DialSaid) -> Result<(), String>;

    /// Removes one.
    ///
    /// # Errors
    ///
    /// There is none, or the shelf cannot be written.
    fn remove(&self, id: i64) -> Result<(), String>;
}
