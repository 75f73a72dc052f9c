//! The station: one object that owns sound, live path, shelf, paper and practice.

use crate::answering::{Answer, AnswerState, Hand};
use crate::board::Board;
use crate::ear::Ear;
use crate::follower::Follower;
use crate::inputs::{InputChoice, PRACTICE};
use crate::live::Live;
use crate::machines::Listing;
use crate::options::StationOptions;
use crate::paper::Printing;
use crate::practice::{PracticeAir, Turned};
use crate::report::{Report, Room};
use crate::rooms::{
    Boards, Guest, Rooms, Shared, answering_in, attend_keyboard, lock, room_of, tell_all,
};
use crate::settings::InUse;
use crate::snapshot::Snapshot;
use crate::subscription::Subscription;
use crate::wish::{PrintOn, Wish, WishError};
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard};

/// A station. Clones are the same one; it ends with [`Station::stop`] or with the last of them.
///
/// Each [`Room`] has a live path, a board and an evening of its own, so that practice never
/// stands on the sheet or on the shelf with what was really heard. The radio goes on while
/// practice is shown; practice ends when everybody has left it. Who enters a room with
/// [`Station::enter`] is there alone: others stay where they are.
#[derive(Clone)]
pub struct Station {
    shared: Arc<Shared>,
    /// The room that this handle is in; `None` = the one that the station shows.
    room: Option<Room>,
    /// Practice lasts for as long as somebody is in it.
    _guest: Option<Arc<Guest>>,
}

impl Station {
    /// Begins to listen to the input of this id, or to [`PRACTICE`]. May take a moment.
    ///
    /// # Errors
    ///
    /// Why it cannot, in words.
    pub fn start(options: StationOptions, id: &str) -> Result<Self, WishError> {
        let boards = Boards::default();
        let told = boards.clone();
        let tell = Arc::new(move |state: &_| tell_all(&told, &Report::Paper(Clone::clone(state))));
        let shared = Arc::new_cyclic(|shared| Shared {
            answering: answering_in(Room::Radio, options.air.clone(), shared),
            practising: answering_in(Room::Practice, practice_air(&options), shared),
            printing: Printing::new(options.machines.clone(), tell),
            keyboard: Mutex::default(),
            options,
            rooms: Mutex::default(),
            boards,
        });
        attend_keyboard(&shared)?;
        let station = Station {
            shared,
            room: None,
            _guest: None,
        };
        station.listen(id)?;
        Ok(station)
    }

    /// The station as seen from the room in which the input of this id is heard: what is told
    /// and asked for there is of that room, whatever others look at. May take a moment.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    pub fn enter(&self, id: &str) -> Result<Self, WishError> {
        self.offered(id)?;
        let room = room_of(id);
        let guest = (room == Room::Practice).then(|| self.guest());
        self.shared.open(room, id)?;
        Ok(Station {
            shared: self.shared.clone(),
            room: Some(room),
            _guest: guest,
        })
    }

    /// The room that this handle is in.
    pub fn room(&self) -> Room {
        self.room.unwrap_or_else(|| self.rooms().shown)
    }

    fn guest(&self) -> Arc<Guest> {
        let mut rooms = self.rooms();
        rooms.guest.upgrade().unwrap_or_else(|| {
            let guest = Arc::new(Guest(Arc::downgrade(&self.shared)));
            rooms.guest = Arc::downgrade(&guest);
            guest
        })
    }

    /// Everything so far in the room that is shown, and a queue with everything from here on.
    /// After [`Report::Room`] there is another room to join.
    pub fn join(&self) -> (Snapshot, Subscription) {
        self.board().join()
    }

    /// As [`Station::join`], of the characters only those of the latest `span_s`, and no drift: see
    /// [`Snapshot::latest`].
    pub fn join_latest(&self, span_s: f64) -> (Snapshot, Subscription) {
        self.board().join_latest(span_s)
    }

    /// A queue with everything that is told in the room shown from here on.
    pub fn reports(&self) -> Subscription {
        self.board().follow()
    }

    /// The sound of the room that is shown, from here on.
    pub fn ear(&self) -> Ear {
        self.board().ear()
    }

    /// Looks at everything so far in the room that is shown. Everything waits meanwhile.
    pub fn look<T>(&self, look: impl FnOnce(&Snapshot) -> T) -> T {
        self.board().look(look)
    }

    /// As [`Station::look`], in a room that need not be shown; `None` if it is not open.
    pub fn look_in<T>(&self, room: Room, look: impl FnOnce(&Snapshot) -> T) -> Option<T> {
        let live = self.rooms().live(room).cloned();
        live.map(|live| live.board().look(look))
    }

    /// The folder of the shelf that the room shown is kept on, if it is.
    pub fn place(&self) -> Option<&Path> {
        self.shared
            .shelf(self.room())
            .map(|shelf| shelf.place.as_path())
    }

    /// The folder of the shelf that a room is kept on, if it is.
    pub fn place_of(&self, room: Room) -> Option<&Path> {
        self.shared.shelf(room).map(|shelf| shelf.place.as_path())
    }

    /// Follows the room that is shown, from its start on.
    pub fn follow(&self) -> Follower {
        Follower::from_the_start(&self.board())
    }

    /// All inputs, the practice band last. May take a moment.
    pub fn inputs(&self) -> Vec<InputChoice> {
        let mut all = self.shared.options.inputs.list();
        all.push(InputChoice {
            id: PRACTICE.into(),
            name: "Practice band".into(),
        });
        all
    }

    /// What may be printed on. May take a moment.
    pub fn machines(&self) -> Listing {
        self.shared.printing.list()
    }

    /// Asks for something, in the room that is shown; what comes of it is told as reports. May
    /// take a moment.
    ///
    /// # Errors
    ///
    /// Why it cannot be, in words; nothing is changed then.
    pub fn wish(&self, wish: &Wish) -> Result<(), WishError> {
        match wish {
            Wish::Listen(id) => {
                self.offered(id)?;
                match self.room {
                    Some(room) if room == room_of(id) => self.shared.open(room, id)?,
                    Some(_) => return Err(WishError::Cannot("that is in another room".into())),
                    None => self.listen(id)?,
                }
            }
            Wish::Practice(turned) => self.turn(*turned),
            Wish::Print(on) => self.print(on)?,
            Wish::StopPrinting => self.shared.printing.stop(),
            Wish::Patience(patience_s) => self.shared.printing.set_patience(*patience_s)?,
            Wish::Answer(_) => {
                return Err(WishError::Cannot(
                    "only an open page can ask for that".into(),
                ));
            }
            _ => {
                let live = self.live().ok_or(WishError::Stopped)?;
                live.change(|in_use| wish.set(in_use).unwrap_or(Ok(in_use)))?;
            }
        }
        Ok(())
    }

    /// Asks for something about answering in the room that is shown, as this page.
    ///
    /// # Errors
    ///
    /// Why it cannot be, in words.
    pub fn answer(&self, hand: Hand, answer: &Answer) -> Result<(), WishError> {
        Ok(self.shared.answering(self.room()).ask(hand, answer)?)
    }

    /// How answering stands in the room that is shown.
    pub fn answering(&self) -> AnswerState {
        self.answering_in(self.room())
    }

    /// How answering stands in a room.
    pub fn answering_in(&self, room: Room) -> AnswerState {
        self.shared.answering(room).state()
    }

    /// This page is gone: what it armed is off.
    pub fn leave(&self, hand: Hand) {
        self.shared.answering.leave(hand);
        self.shared.practising.leave(hand);
    }

    /// Ends. The transmitter and the machine first: its line is in mark before anything that may take longer. Then
    /// what was heard is copied to its end, and the evening is finished.
    pub fn stop(&self) {
        self.shared.answering.stop();
        self.shared.practising.stop();
        self.shared.printing.stop();
        drop(lock(&self.shared.keyboard).take());
        let open = {
            let mut rooms = self.rooms();
            rooms.stopped = true;
            std::mem::take(&mut rooms.open)
        };
        open.iter().for_each(|(_, live)| live.stop());
    }

    fn rooms(&self) -> MutexGuard<'_, Rooms> {
        lock(&self.shared.rooms)
    }

    /// The live path of the room that is shown; `None` after the end.
    fn live(&self) -> Option<Live> {
        let rooms = self.rooms();
        rooms.live(self.room.unwrap_or(rooms.shown)).cloned()
    }

    /// The board of the room that is shown, which stays after the end.
    fn board(&self) -> Board {
        let live = self.live().map(|live| live.board().clone());
        live.or_else(|| lock(&self.shared.boards).last().cloned())
            .unwrap_or_default()
    }

    /// What is not in the list is not listened to: the system knows inputs by names that make
    /// it read files or give sound without end.
    fn offered(&self, id: &str) -> Result<(), WishError> {
        let offered = self.inputs().iter().any(|choice| choice.id == id);
        offered.then_some(()).ok_or_else(|| {
            let why = "that is no input of the list; choose one from it";
            WishError::Cannot(why.into())
        })
    }

    /// Listens, and shows the room to all who are in none of their own.
    fn listen(&self, id: &str) -> Result<(), WishError> {
        let room = room_of(id);
        self.shared.open(room, id)?;
        let (before, left) = {
            let mut rooms = self.rooms();
            let before = std::mem::replace(&mut rooms.shown, room);
            let left = rooms.live(before).filter(|_| before != room).cloned();
            (before, left)
        };
        if let Some(live) = left {
            live.board().tell(Report::Room(room));
        }
        if before == Room::Practice {
            self.shared.practice_left();
        }
        Ok(())
    }

    /// Which sideband the practice receiver is on is then known to the tuning.
    fn turn(&self, turned: Turned) {
        let practice = &self.shared.options.practice;
        practice.turn(turned);
        tell_all(&self.shared.boards, &Report::Practice(practice.stands()));
        let live = self.rooms().live(Room::Practice).cloned();
        if let (Some(live), Some(_)) = (live, turned.sideband) {
            // A live path that has ended needs no telling.
            let _ = live.change(|in_use| {
                Ok(InUse {
                    sideband: turned.sideband,
                    ..in_use
                })
            });
        }
    }

    fn print(&self, on: &PrintOn) -> Result<(), WishError> {
        let room = self.room();
        let live = self.live().ok_or(WishError::Stopped)?;
        let record = self
            .shared
            .shelf(room)
            .map(|shelf| shelf.place.join("paper"));
        Ok(self
            .shared
            .printing
            .start((room, live.board()), on, record)?)
    }
}

fn practice_air(options: &StationOptions) -> Arc<PracticeAir> {
    let receiver = options.practice.clone();
    Arc::new(PracticeAir::new(options.air.clone(), receiver))
}
