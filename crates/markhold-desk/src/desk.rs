//! What all browsers share.

use crate::door::Door;
use crate::sked_book::SkedBook;
use crate::view::{View, watch_drift};
use markhold_contact::{Log, Texts};
use markhold_page::Machine;
use markhold_station::{Room, Station, WishError, room_of};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, OnceLock, PoisonError, Weak};
use tempfile::TempDir;

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
    /// The folder of texts that are ready to go; without it there are those that are always there.
    pub texts: OnceLock<PathBuf>,
    /// Where practice keeps its contacts, for as long as the program runs.
    practice_log: OnceLock<TempDir>,
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
            texts: OnceLock::new(),
            practice_log: OnceLock::new(),
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

    /// The log of contacts of a room. Practice has one of its own, which is gone with the desk,
    /// unless it is kept on a shelf.
    ///
    /// # Errors
    ///
    /// Why there is none, in words.
    pub fn log(&self, room: Room) -> Result<Log, String> {
        if let Some(place) = self.station.place_of(room) {
            return Ok(Log::in_folder(place));
        }
        if room == Room::Radio {
            return Err("nothing is kept here".into());
        }
        if self.practice_log.get().is_none() {
            let folder = tempfile::Builder::new().prefix("markhold-").tempdir();
            // Somebody else may have been first; one is enough.
            let _ = self
                .practice_log
                .set(folder.map_err(|error| error.to_string())?);
        }
        let folder = self.practice_log.get().ok_or("practice has no folder")?;
        Ok(Log::in_folder(folder.path()))
    }

    /// Texts that are ready to go.
    ///
    /// # Errors
    ///
    /// One of them cannot be read; why, in words.
    pub fn texts(&self) -> Result<Texts, String> {
        let folder = self.texts.get().map(|folder| Texts::in_folder(folder));
        let texts = folder.unwrap_or_else(|| Ok(Texts::default()));
        texts.map_err(|error| error.to_string())
    }

    /// Works out the drift of the first room for as long as there is something to hear. Runs
    /// beside the server.
    pub async fn watch_drift(self: Arc<Self>) {
        watch_drift(Arc::downgrade(&self.first)).await;
    }
}
