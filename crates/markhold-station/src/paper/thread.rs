//! The live copy on a machine's paper, in a thread of its own.
//!
//! ```text
//!   board --reports--> [feed] --orders--> Player (its own thread) --> keyer --> line
//!                         |
//!                         +--> PaperState, several times a second
//! ```
//!
//! The live path never waits for any of it: a report that is not fetched in time is made up
//! for from the snapshot, and what waits for a slow machine waits in the player's queue.

use super::Feed;
use crate::board::Board;
use crate::follower::Follower;
use crate::report::{PaperState, Report};
use markhold_event::Event;
use markhold_page::{Order, Ordered};
use markhold_wire::play::{News, PaperRecord, Patience, Player, Setup};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Between two looks at what was told: an eighth of the shortest character in use, 70 ms.
const LOOK: Duration = Duration::from_millis(8);
/// Between two attempts to open a way that was lost.
const RETRY: Duration = Duration::from_secs(1);
/// How long an ended player may take to leave the line in mark and switch the motor off: a
/// character at 45 baud takes 0.17 s. One that opens a way just then is left to itself.
const LEAVE: Duration = Duration::from_secs(1);

/// What to print on.
#[derive(Clone, Debug, PartialEq)]
pub struct PaperPlan {
    /// What the person calls the machine.
    pub name: String,
    /// The machine, the way to it, and how long a better reading is waited for.
    pub setup: Setup,
    /// The folder in which is kept what goes to paper; `None` = it is not kept.
    pub record: Option<PathBuf>,
    /// What is sent from here is printed as well.
    pub sent: bool,
}

/// Takes the states of printing.
pub type Tell = Arc<dyn Fn(&PaperState) + Send + Sync>;

enum Asked {
    Patience(f64),
    Stop,
}

/// Prints the live copy. Dropping it stops printing.
pub struct Paper {
    asks: Sender<Asked>,
    thread: Option<JoinHandle<()>>,
}

impl Paper {
    /// Begins to print what is copied from now on. A way that is not there yet is waited for,
    /// with the reason in [`PaperState::error`]. States are told through `tell`.
    ///
    /// # Errors
    ///
    /// There is no way, the machine's table does not hold together, or the folder of the
    /// record cannot be made; in words.
    pub fn start(board: &Board, plan: PaperPlan, tell: Tell) -> Result<Paper, String> {
        let Some(open) = plan.setup.opener() else {
            return Err(format!(
                "there is no way to {} yet; choose one, or give one in the settings file",
                plan.name
            ));
        };
        let machine = &plan.setup.machine;
        let feed = Feed::new(&plan.setup).map_err(|error| error.to_string())?;
        let record = plan.record.as_ref().map(|folder| {
            PaperRecord::new(folder, machine)
                .map_err(|error| format!("{}: {error}; choose another folder", folder.display()))
        });
        let patience = Patience {
            retry: RETRY,
            run_up_s: machine.run_up_s,
        };
        let player = Player::attend(open, record.transpose()?, patience);
        let follower = Follower::new(board);
        let state = PaperState {
            machine: Some(plan.name),
            runs: true,
            motor: machine.motor.then_some(false),
            patience_s: plan.setup.patience_s,
            kept: plan.record.map(|folder| folder.display().to_string()),
            layout: Some(Arc::new(machine.clone())),
            ..PaperState::default()
        };
        tell(&state);
        let (asks, asked) = channel();
        let work = Work {
            character_s: machine.speed().character_s(),
            begun: Instant::now(),
            tell,
            asked,
            follower,
            one: board.look(|sum| sum.in_use.all),
            prints_sent: plan.sent,
            feed,
            player,
            told: state.clone(),
            state,
        };
        let thread = std::thread::Builder::new()
            .name("paper".into())
            .spawn(move || work.run())
            .map_err(|error| format!("the system gives no thread: {error}; close programs"))?;
        Ok(Paper {
            asks,
            thread: Some(thread),
        })
    }

    /// Waits so long for better readings from here on, s.
    pub fn set_patience(&self, patience_s: f64) {
        // Printing may have ended.
        let _ = self.asks.send(Asked::Patience(patience_s));
    }

    /// Stops within a character: the line is in mark and the motor off when this returns.
    /// What waited is dropped; the copy has it.
    pub fn stop(mut self) {
        self.end();
    }

    fn end(&mut self) {
        let _ = self.asks.send(Asked::Stop);
        if let Some(thread) = self.thread.take() {
            // A panic was told on standard error.
            let _ = thread.join();
        }
    }
}

impl Drop for Paper {
    fn drop(&mut self) {
        self.end();
    }
}

/// What the thread holds.
struct Work {
    // Configured.
    character_s: f64,
    begun: Instant,
    tell: Tell,
    asked: Receiver<Asked>,
    // State.
    follower: Follower,
    /// Several signals are copied, and one has the paper.
    one: bool,
    prints_sent: bool,
    feed: Feed,
    player: Player,
    state: PaperState,
    /// The state told last.
    told: PaperState,
}

impl Work {
    fn run(mut self) {
        loop {
            let mut orders = Vec::new();
            self.take_reports(&mut orders);
            self.feed.pass(self.now_s(), &mut orders);
            self.player.play(&orders);
            let ended = self.player.has_ended();
            self.tell();
            if ended {
                break;
            }
            match self.asked.recv_timeout(LOOK) {
                Ok(Asked::Patience(patience_s)) => {
                    self.feed.set_patience(patience_s);
                    self.state.patience_s = patience_s;
                }
                Err(RecvTimeoutError::Timeout) => {}
                Ok(Asked::Stop) | Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        self.stop();
    }

    fn now_s(&self) -> f64 {
        self.begun.elapsed().as_secs_f64()
    }

    fn take_reports(&mut self, orders: &mut Vec<Ordered>) {
        while let Some(report) = self.follower.poll() {
            match &*report {
                Report::Event(event) => self.take(event, orders),
                Report::Sent(line) if self.prints_sent && line.closed => {
                    self.feed.sent(&line.text, self.now_s(), orders);
                }
                Report::Settings(in_use) => self.one = in_use.all,
                _ => {}
            }
        }
    }

    fn take(&mut self, event: &Event, orders: &mut Vec<Ordered>) {
        let heard;
        let event = match event {
            // What is on paper stays: it holds what was heard, and no guess of language.
            Event::Character(character) => {
                heard = Event::Character(character.by_signal());
                &heard
            }
            other => other,
        };
        self.feed.event(event, self.one, self.now_s(), orders);
    }

    fn tell(&mut self) {
        for news in self.player.news() {
            match news {
                News::Lost(error) | News::Ended(error) => {
                    self.state.error = Some(error.to_string())
                }
                News::Back => self.state.error = None,
                News::NotRecorded(error) => self.state.not_kept = Some(error.to_string()),
            }
        }
        let (waiting, unlike) = (self.player.codes_waiting(), self.feed.unlike());
        let state = &mut self.state;
        state.runs &= !self.player.has_ended();
        state.open = self.player.is_open();
        state.motor = state.motor.map(|_| self.player.motor_runs());
        state.waiting = waiting;
        state.waiting_s = waiting as f64 * self.character_s;
        state.sent = self.player.codes_sent();
        state.unlike = unlike.changed + unlike.unconfirmed;
        state.garbled = self.feed.left().garbled;
        if *state != self.told {
            self.told.clone_from(state);
            (self.tell)(state);
        }
    }

    /// The line to mark, the motor off.
    fn stop(mut self) {
        self.state.dropped = self.player.codes_waiting();
        self.player.cancel();
        if self.state.motor.is_some() {
            self.player.play(&[MOTOR_OFF]);
        }
        self.player.end();
        await_end(&self.player);
        self.state.runs = false;
        self.tell();
        leave(self.player);
    }
}

/// The last order to a machine whose motor is switched.
pub(crate) const MOTOR_OFF: Ordered = Ordered {
    order: Order::Motor(false),
    source: None,
};

/// Waits until a player that was ended has left the line in mark, or for as long as that may take.
pub(crate) fn await_end(player: &Player) {
    let begun = Instant::now();
    while !player.has_ended() && begun.elapsed() < LEAVE {
        std::thread::sleep(LOOK);
    }
}

/// Leaves a player to itself that waits for a way, which opens or fails in its own time.
pub(crate) fn leave(player: Player) {
    if !player.has_ended() {
        std::thread::spawn(move || drop(player));
    }
}
