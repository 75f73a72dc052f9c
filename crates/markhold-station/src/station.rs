//! The station: one object that owns sound, live path, shelf, paper and practice.

use crate::board::Board;
use crate::follower::Follower;
use crate::inputs::{InputChoice, Inputs, Missing, NoInputs, PRACTICE};
use crate::keeping::OnShelf;
use crate::live::{Clocks, KeepNothing, KeepSound, Live, LiveOptions};
use crate::machines::{Listing, Machines, NoMachines};
use crate::paper::Printing;
use crate::practice::{PracticeReceiver, Turned};
use crate::report::{Report, Room};
use crate::settings::InUse;
use crate::snapshot::Snapshot;
use crate::subscription::Subscription;
use crate::wish::{PrintOn, Wish, WishError};
use markhold_language::Learned;
use markhold_receive::Settings;
use markhold_shelf::KeepSettings;
use markhold_sound::Source;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The shelf that an evening is kept on.
#[derive(Clone, Debug)]
pub struct Shelved {
    /// Its folder.
    pub place: PathBuf,
    /// How it is kept.
    pub keep: KeepSettings,
    /// Where it is kept, in words for a person.
    pub words: String,
    /// Practice is kept there too, as an evening of its own.
    pub practice: bool,
}

/// How to begin.
pub struct StationOptions {
    /// What is set at the start.
    pub in_use: InUse,
    /// What the archive's own copy taught, if that is wanted.
    pub learned: Option<Arc<Learned>>,
    /// Where evenings are kept; `None` = they are not.
    pub shelf: Option<Shelved>,
    /// What may be listened to.
    pub inputs: Arc<dyn Inputs>,
    /// What may be printed on.
    pub machines: Arc<dyn Machines>,
    /// The practice receiver.
    pub practice: PracticeReceiver,
    /// Begins even where the input cannot be opened; why is told, and another may be chosen.
    pub patient: bool,
    /// Gives each room its clocks; others than the computer's only in tests.
    pub clocks: Arc<dyn Fn() -> Clocks + Send + Sync>,
}

impl Default for StationOptions {
    /// Practice only, everything is found, nothing is kept.
    fn default() -> Self {
        StationOptions {
            in_use: InUse::default(),
            learned: None,
            shelf: None,
            inputs: Arc::new(NoInputs),
            machines: Arc::new(NoMachines),
            practice: PracticeReceiver::new(1, 1.0),
            patient: false,
            clocks: Arc::new(Clocks::default),
        }
    }
}

/// A station. Clones are the same one; it ends with [`Station::stop`] or with the last of them.
///
/// Each [`Room`] has a live path, a board and an evening of its own, so that practice never
/// stands on the sheet or on the shelf with what was really heard. The radio goes on while
/// practice is shown; practice ends when it is left.
#[derive(Clone)]
pub struct Station(Arc<Shared>);

struct Shared {
    options: StationOptions,
    rooms: Mutex<Rooms>,
    boards: Boards,
    printing: Printing,
}

/// The boards of all rooms in use: what is told of the whole station goes to each.
type Boards = Arc<Mutex<Vec<Board>>>;

#[derive(Default)]
struct Rooms {
    /// Nothing is opened any more.
    stopped: bool,
    shown: Room,
    open: Vec<(Room, Live)>,
}

impl Rooms {
    fn live(&self, room: Room) -> Option<&Live> {
        let mut open = self.open.iter();
        open.find(|(name, _)| *name == room).map(|(_, live)| live)
    }
}

fn tell_all(boards: &Boards, report: &Report) {
    for board in lock(boards).iter() {
        board.tell(report.clone());
    }
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
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
        let station = Station(Arc::new(Shared {
            printing: Printing::new(options.machines.clone(), tell),
            options,
            rooms: Mutex::default(),
            boards,
        }));
        station.listen(id)?;
        Ok(station)
    }

    /// Everything so far in the room that is shown, and a queue with everything from here on.
    /// After [`Report::Room`] there is another room to join.
    pub fn join(&self) -> (Snapshot, Subscription) {
        self.board().join()
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
        let room = self.rooms().shown;
        self.shelf(room).map(|shelf| shelf.place.as_path())
    }

    /// Follows the room that is shown, from its start on.
    pub fn follow(&self) -> Follower {
        Follower::from_the_start(&self.board())
    }

    /// All inputs, the practice band last. May take a moment.
    pub fn inputs(&self) -> Vec<InputChoice> {
        let mut all = self.0.options.inputs.list();
        all.push(InputChoice {
            id: PRACTICE.into(),
            name: "Practice band".into(),
        });
        all
    }

    /// What may be printed on. May take a moment.
    pub fn machines(&self) -> Listing {
        self.0.printing.list()
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
                self.listen(id)?;
            }
            Wish::Practice(turned) => self.turn(*turned),
            Wish::Print(on) => self.print(on)?,
            Wish::StopPrinting => self.0.printing.stop(),
            Wish::Patience(patience_s) => self.0.printing.set_patience(*patience_s)?,
            _ => {
                let live = self.live().ok_or(WishError::Stopped)?;
                live.change(|in_use| wish.set(in_use).unwrap_or(Ok(in_use)))?;
            }
        }
        Ok(())
    }

    /// Ends. The machine first: its line is in mark before anything that may take longer. Then
    /// what was heard is copied to its end, and the evening is finished.
    pub fn stop(&self) {
        self.0.printing.stop();
        let open = {
            let mut rooms = self.rooms();
            rooms.stopped = true;
            std::mem::take(&mut rooms.open)
        };
        open.iter().for_each(|(_, live)| live.stop());
    }

    fn rooms(&self) -> MutexGuard<'_, Rooms> {
        lock(&self.0.rooms)
    }

    /// The live path of the room that is shown; `None` after the end.
    fn live(&self) -> Option<Live> {
        let rooms = self.rooms();
        rooms.live(rooms.shown).cloned()
    }

    /// The board of the room that is shown, which stays after the end.
    fn board(&self) -> Board {
        let live = self.live().map(|live| live.board().clone());
        live.or_else(|| lock(&self.0.boards).last().cloned())
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

    fn listen(&self, id: &str) -> Result<(), WishError> {
        let room = match id {
            PRACTICE => Room::Practice,
            _ => Room::Radio,
        };
        let before = self.rooms().live(room).cloned();
        let hears = before.is_some_and(|live| {
            let heard = |sum: &Snapshot| sum.input == id && sum.gone.is_none();
            live.board().look(heard)
        });
        // Opening may take a moment, and nobody waits for it.
        let source = (!hears).then(|| self.source(id)).transpose()?;
        let mut rooms = self.rooms();
        if rooms.stopped {
            return Err(WishError::Stopped);
        }
        match (source, rooms.live(room)) {
            // What is heard already is only shown again.
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
        let before = std::mem::replace(&mut rooms.shown, room);
        let left = rooms.live(before).filter(|_| before != room).cloned();
        rooms
            .open
            .retain(|(name, _)| *name != Room::Practice || *name == room);
        drop(rooms);
        if let Some(live) = left {
            self.leave(before, &live, room);
        }
        Ok(())
    }

    fn source(&self, id: &str) -> Result<Box<dyn Source>, String> {
        if id == PRACTICE {
            return self.0.options.practice.source();
        }
        match self.0.options.inputs.open(id) {
            Err(why) if self.0.options.patient && self.live().is_none() => {
                Ok(Box::new(Missing::new(why)))
            }
            opened => opened,
        }
    }

    /// A room opens with its own live path, board and evening.
    fn begin(&self, room: Room, id: &str, source: Box<dyn Source>) -> Result<Live, WishError> {
        let options = &self.0.options;
        let practice = options.practice.stands();
        let mut in_use = options.in_use;
        if room == Room::Practice {
            in_use.sideband = practice.sideband;
        }
        let shelf = self.shelf(room);
        let other = lock(&self.0.boards).last().cloned().unwrap_or_default();
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
        lock(&self.0.boards).push(board);
        Ok(live)
    }

    /// Where a room is kept, if it is.
    fn shelf(&self, room: Room) -> Option<&Shelved> {
        let shelf = self.0.options.shelf.as_ref();
        shelf.filter(|shelf| room == Room::Radio || shelf.practice)
    }

    /// Who follows the room that was shown is told of the other one. Practice ends.
    fn leave(&self, room: Room, live: &Live, other: Room) {
        live.board().tell(Report::Room(other));
        if room == Room::Practice {
            self.0.printing.leave(room);
            live.stop();
            lock(&self.0.boards).retain(|board| !board.is(live.board()));
        }
    }

    /// Which sideband the practice receiver is on is then known to the tuning.
    fn turn(&self, turned: Turned) {
        let practice = &self.0.options.practice;
        practice.turn(turned);
        tell_all(&self.0.boards, &Report::Practice(practice.stands()));
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
        let room = self.rooms().shown;
        let live = self.live().ok_or(WishError::Stopped)?;
        let record = self.shelf(room).map(|shelf| shelf.place.join("paper"));
        Ok(self.0.printing.start((room, live.board()), on, record)?)
    }
}
