//! What the desk asks of whoever keeps skeds: it knows neither shelf nor settings file.

use markhold_station::Room;
use serde_json::Value;

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

    /// Removes one.
    ///
    /// # Errors
    ///
    /// There is none, or the shelf cannot be written.
    fn remove(&self, id: i64) -> Result<(), String>;
}
