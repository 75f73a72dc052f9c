//! What all browsers share.

use crate::door::Door;
use crate::sked_book::SkedBook;
use crate::view::{View, watch_drift};
use markhold_page::Machine;
use markhold_station::{Room, Station, WishError, room_of};
use std::sync::{Arc, Mutex, OnceLock, PoisonError, Weak};

/// The machine that the sheet is laid out for where none is meant: that of international
/// telegraph practice, whose lines are the shortest.
pub fn plain_machine() -> Machine {
    markhold_page::kind("ita2-69-50").map_or_else(Machine::default, |kind| kind.machine.clone())
}

/// What all browsers share: a station, and what is seen of its rooms.
pub struct Desk {
    /// Who may come in.
    pub door: Door,
    /// The station shown.
    pub station: Station,
    /// Where skeds are kept; without it the page shows none.
    pub skeds: OnceLock<Box<dyn SkedBook>>,
    /// The room in which a browser begins.
    first: Arc<View>,
    /// The other one, for as long as a browser is in it.
    other: Mutex<Weak<View>>,
    sheet: (Machine, Option<String>),
}

impl Desk {
    /// A desk for this station, with the machine that the sheet is laid out for until another
    /// is printed on, and its name if it has one.
    pub fn new(door: Door, station: Station, sheet: (Machine, Option<String>)) -> Arc<Self> {
        Arc::new(Self {
            door,
            first: View::new(station.clone(), sheet.clone()),
            other: Mutex::default(),
            skeds: OnceLock::new(),
            station,
            sheet,
        })
    }

    /// The room in which a browser begins.
    pub fn first(&self) -> Arc<View> {
        Arc::clone(&self.first)
    }

    /// The room in which the input of this id is heard. Who enters it takes nobody along. May take
    /// a moment.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    pub fn enter(&self, id: &str) -> Result<Arc<View>, WishError> {
        let room: Room = room_of(id);
        if self.first.station.room() == room {
            self.first.station.enter(id)?;
            return Ok(self.first());
        }
        let station = self.station.enter(id)?;
        let mut other = self.other.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(view) = other.upgrade() {
            return Ok(view);
        }
        let view = View::new(station, self.sheet.clone());
        *other = Arc::downgrade(&view);
        tokio::spawn(watch_drift(Arc::downgrade(&view)));
        Ok(view)
    }

    /// Works out the drift of the first room for as long as there is something to hear. Runs
    /// beside the server.
    pub async fn watch_drift(self: Arc<Self>) {
        watch_drift(Arc::downgrade(&self.first)).await;
    }
}
