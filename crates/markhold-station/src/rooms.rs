//! The rooms of a station: each with its live path, its board and its evening.

use crate::answering::{
    Air, AnswerState, Answering, Busy, Ears, Keyboard, KeyboardState, NoPair, ReceivedPair, Took,
};
use crate::board::Board;
use crate::busy::busy;
use crate::inputs::{Missing, PRACTICE};
use crate::keeping::OnShelf;
use crate::live::{KeepNothing, KeepSound, Live, LiveOptions};
use crate::options::{Shelved, StationOptions};
use crate::paper::Printing;
use crate::received::pair;
use crate::report::{Report, Room};
use crate::snapshot::Snapshot;
use crate::wish::WishError;
use markhold_code::Tones;
use markhold_receive::Settings;
use markhold_sound::Source;
use markhold_wire::keyboard::Typed;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

/// What all handles of a station share.
pub(super) struct Shared {
    pub(super) options: StationOptions,
    pub(super) rooms: Mutex<Rooms>,
    pub(super) boards: Boards,
    pub(super) printing: Printing,
    /// The station's transmitter, and that of practice.
    pub(super) answering: Answering,
    pub(super) practising: Answering,
    pub(super) keyboard: Mutex<Option<Keyboard>>,
}

/// Somebody is at the practice receiver.
pub(super) struct Guest(pub(super) Weak<Shared>);

impl Drop for Guest {
    fn drop(&mut self) {
        if let Some(shared) = self.0.upgrade() {
            shared.practice_left();
        }
    }
}

/// The room in which the input of this id is heard.
pub fn room_of(id: &str) -> Room {
    match id {
        PRACTICE => Room::Practice,
        _ => Room::Radio,
    }
}

/// The boards of all rooms in use: what is told of the whole station goes to each.
pub(super) type Boards = Arc<Mutex<Vec<Board>>>;

/// The rooms in use.
#[derive(Default)]
pub(super) struct Rooms {
    /// Nothing is opened any more.
    pub(super) stopped: bool,
    pub(super) shown: Room,
    pub(super) open: Vec<(Room, Live)>,
    /// Who is in practice by themselves.
    pub(super) guest: Weak<Guest>,
}

impl Rooms {
    pub(super) fn live(&self, room: Room) -> Option<&Live> {
        let mut open = self.open.iter();
        open.find(|(name, _)| *name == room).map(|(_, live)| live)
    }
}

/// Tells all rooms in use.
pub(super) fn tell_all(boards: &Boards, report: &Report) {
    for board in lock(boards).iter() {
        board.tell(report.clone());
    }
}

/// A thread that died while it held the lock left all of it whole enough to go on.
pub(super) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Tells one room, if it is in use.
fn tell_room(boards: &Boards, room: Room, report: &Report) {
    let boards = lock(boards).clone();
    let in_room = |board: &&Board| board.look(|sum| sum.room) == room;
    if let Some(board) = boards.iter().find(in_room) {
        board.tell(report.clone());
    }
}

/// The receiver of a room, for who would send in it.
struct RoomEars {
    shared: Weak<Shared>,
    room: Room,
    /// The latest overs of its own, s of live time; one without an end is being sent.
    own: Mutex<VecDeque<(f64, f64)>>,
}

/// Overs of its own that are remembered: those of some minutes.
const OWN_OVERS: usize = 16;

impl RoomEars {
    /// Looks at what was told in the room; `None` where nobody listens in it.
    fn look<T>(&self, look: impl FnOnce(&Snapshot) -> T) -> Option<T> {
        let shared = self.shared.upgrade()?;
        let live = lock(&shared.rooms).live(self.room).cloned()?;
        Some(live.board().look(look))
    }
}

impl Ears for RoomEars {
    fn busy(&self, tones: Tones) -> Option<Busy> {
        self.look(|sum| busy(sum, tones)).flatten()
    }

    fn pair(&self) -> Result<ReceivedPair, NoPair> {
        let own = lock(&self.own).make_contiguous().to_vec();
        let found = self.look(|sum| pair(sum, &own));
        found.unwrap_or_else(|| Err(NoPair::NotSure("nobody listens here".into())))
    }

    fn sends(&self, on: bool) {
        let Some(now_s) = self.look(|sum| sum.until_s) else {
            return;
        };
        let mut own = lock(&self.own);
        match (on, own.back_mut()) {
            (true, _) => own.push_back((now_s, f64::INFINITY)),
            (false, Some(last)) => last.1 = now_s,
            (false, None) => {}
        }
        let over = own.len().saturating_sub(OWN_OVERS);
        own.drain(..over);
    }
}

/// A transmitter whose state and lines are told in its own room, and kept there.
pub(super) fn answering_in(room: Room, air: Arc<dyn Air>, shared: &Weak<Shared>) -> Answering {
    let (tells, sends) = (Weak::clone(shared), Weak::clone(shared));
    let tell = move |state: &AnswerState| {
        if let Some(shared) = tells.upgrade() {
            tell_room(
                &shared.boards,
                room,
                &Report::Answer(Box::new(state.clone())),
            );
        }
    };
    let sent = move |line| {
        let live = sends
            .upgrade()
            .and_then(|shared| lock(&shared.rooms).live(room).cloned());
        if let Some(live) = live {
            live.sent(line);
        }
    };
    let ears = RoomEars {
        shared: Weak::clone(shared),
        room,
        own: Mutex::default(),
    };
    Answering::new(air, Arc::new(ears), Arc::new(tell), Arc::new(sent))
}

/// Listens to the machine's keyboard, if there is one.
pub(super) fn attend_keyboard(shared: &Arc<Shared>) -> Result<(), String> {
    let Some(setup) = shared.options.keyboard.clone() else {
        return Ok(());
    };
    let begins = setup.plan.begins;
    let (takes, tells) = (Arc::downgrade(shared), Arc::downgrade(shared));
    let take = move |typed: &Typed| match takes.upgrade() {
        Some(shared) => shared.typed(typed, begins),
        None => Took::Dropped,
    };
    let tell = move |state: &KeyboardState| {
        if let Some(shared) = tells.upgrade() {
            shared.answering.keyboard(state);
            shared.practising.keyboard(state);
        }
    };
    *lock(&shared.keyboard) = Some(Keyboard::attend(setup, take, tell)?);
    Ok(())
}

impl Shared {
    /// Typed at the machine: it belongs to the transmitter that is armed. Where both are, nobody
    /// knows which is meant, and what was meant for practice must not be on the air.
    fn typed(&self, typed: &Typed, begins: bool) -> Took {
        let (air, practice) = (&self.answering, &self.practising);
        let text = match typed {
            Typed::Text(text) => text,
            Typed::Break => {
                air.broken();
                practice.broken();
                return Took::Taken;
            }
        };
        let taken = match (air.is_armed(), practice.is_armed()) {
            (true, false) => air.typed(text, begins).is_ok(),
            (false, true) => practice.typed(text, begins).is_ok(),
            (false, false) | (true, true) => false,
        };
        match taken {
            true => Took::Taken,
            false => Took::Dropped,
        }
    }

    /// Opens a room, or chooses another input in it.
    pub(super) fn open(&self, room: Room, id: &str) -> Result<(), WishError> {
        let before = lock(&self.rooms).live(room).cloned();
        let hears = before.is_some_and(|live| {
            let heard = |sum: &Snapshot| sum.input == id && sum.gone.is_none();
            live.board().look(heard)
        });
        // Opening may take a moment, and nobody waits for it.
        let source = (!hears).then(|| self.source(id)).transpose()?;
        let mut rooms = lock(&self.rooms);
        if rooms.stopped {
            return Err(WishError::Stopped);
        }
        match (source, rooms.live(room)) {
            // What is heard already is only shown.
            (None, _) => {}
            (Some(source), Some(live)) => {
                live.listen_to(source)?;
                live.board().tell(Report::Chosen(id.into()));
            }
            (Some(source), None) => {
                let live = self.begin(room, id, source)?;
                rooms.open.push((room, live));
            }
        }
        Ok(())
    }

    fn source(&self, id: &str) -> Result<Box<dyn Source>, String> {
        if id == PRACTICE {
            return self.options.practice.source();
        }
        match self.options.inputs.open(id) {
            Err(why) if self.options.patient && lock(&self.rooms).open.is_empty() => {
                Ok(Box::new(Missing::new(why)))
            }
            opened => opened,
        }
    }

    /// A room opens with its own live path, board and evening.
    fn begin(&self, room: Room, id: &str, source: Box<dyn Source>) -> Result<Live, WishError> {
        let options = &self.options;
        let practice = options.practice.stands();
        let mut in_use = options.in_use;
        if room == Room::Practice {
            in_use.sideband = practice.sideband;
        }
        let shelf = self.shelf(room);
        let other = lock(&self.boards).last().cloned().unwrap_or_default();
        let paper = other.look(|sum| sum.paper.clone());
        let board = Board::new(Snapshot {
            in_use,
            room,
            input: id.into(),
            kept: shelf.map(|shelf| shelf.words.clone()),
            practice,
            paper,
            ..Snapshot::default()
        });
        let settings = Settings {
            learned: options.learned.clone(),
            ..in_use.settings()
        };
        let keeper: Box<dyn KeepSound> = match shelf {
            Some(shelf) => Box::new(OnShelf::new(
                shelf.place.clone(),
                &settings,
                shelf.keep.clone(),
            )),
            None => Box::new(KeepNothing),
        };
        let live = LiveOptions {
            board: board.clone(),
            learned: options.learned.clone(),
            keeper,
            clocks: (options.clocks)(),
        };
        let live = Live::start(source, live)?;
        lock(&self.boards).push(board);
        Ok(live)
    }

    /// The transmitter of a room.
    pub(super) fn answering(&self, room: Room) -> &Answering {
        match room {
            Room::Radio => &self.answering,
            Room::Practice => &self.practising,
        }
    }

    /// Where a room is kept, if it is.
    pub(super) fn shelf(&self, room: Room) -> Option<&Shelved> {
        let shelf = self.options.shelf.as_ref();
        match room {
            Room::Radio => shelf,
            Room::Practice => shelf
                .filter(|shelf| shelf.practice)
                .or(self.options.practice_shelf.as_ref()),
        }
    }

    /// Practice ends when it is shown to nobody.
    pub(super) fn practice_left(&self) {
        let live = {
            let mut rooms = lock(&self.rooms);
            if rooms.shown == Room::Practice || rooms.guest.strong_count() > 0 {
                return;
            }
            let live = rooms.live(Room::Practice).cloned();
            rooms.open.retain(|(name, _)| *name != Room::Practice);
            live
        };
        let Some(live) = live else { return };
        self.printing.leave(Room::Practice);
        self.practising.stop();
        lock(&self.boards).retain(|board| !board.is(live.board()));
        // What was heard is copied to its end, which nobody waits for.
        let stopping = live.clone();
        let thread = std::thread::Builder::new().name("practice".into());
        if thread.spawn(move || stopping.stop()).is_err() {
            live.stop();
        }
    }
}
