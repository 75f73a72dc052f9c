//! What all browsers share.

use crate::door::Door;
use crate::inputs::{InputChoice, Inputs, NoInputs, PRACTICE};
use crate::machines::{Machines, NoMachines};
use crate::practice::{PracticeReceiver, Turned};
use crate::printing::{PrintOn, Printing};
use crate::sheet::Sheets;
use crate::warm::{Drifted, Warm};
use markhold_page::Machine;
use markhold_station::live::{Command, CommandError, Delivery, Live, Report, Subscription};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// The drift is worked out anew after this long: a thousand points take a millisecond or two.
const DRIFT_EVERY: Duration = Duration::from_secs(4);

/// How to begin.
pub struct DeskOptions {
    /// Who may come in.
    pub door: Door,
    /// What may be listened to.
    pub inputs: Arc<dyn Inputs>,
    /// The practice receiver.
    pub practice: PracticeReceiver,
    /// The input that `Live` was started with: an id of [`Inputs`], or [`PRACTICE`].
    pub input: String,
    /// Where the evening is kept, in words; `None` when it is not.
    pub kept: Option<String>,
    /// What may be printed on.
    pub machines: Arc<dyn Machines>,
    /// The folder in which what went to paper is kept; `None` when it is not.
    pub record: Option<PathBuf>,
    /// The machine that the sheet is laid out for, with its name if it has one.
    pub sheet: (Machine, Option<String>),
}

impl Default for DeskOptions {
    /// Loopback, practice only, nothing kept.
    fn default() -> Self {
        Self {
            door: Door::loopback(),
            inputs: Arc::new(NoInputs),
            practice: PracticeReceiver::new(1, 1.0),
            input: PRACTICE.into(),
            kept: None,
            machines: Arc::new(NoMachines),
            record: None,
            sheet: (plain_machine(), None),
        }
    }
}

/// The machine that the sheet is laid out for where none is meant: that of international
/// telegraph practice, whose lines are the shortest.
pub fn plain_machine() -> Machine {
    markhold_page::kind("ita2-69-50").map_or_else(Machine::default, |kind| kind.machine.clone())
}

/// What all browsers share.
pub struct Desk {
    /// Who may come in.
    pub door: Door,
    /// The sound and all that is made of it.
    pub live: Live,
    /// The practice receiver.
    pub practice: PracticeReceiver,
    /// Where the evening is kept, in words.
    pub kept: Option<String>,
    /// The machine that prints along.
    pub printing: Printing,
    /// The copy, laid out.
    pub sheets: Sheets,
    inputs: Arc<dyn Inputs>,
    input: Mutex<String>,
    drifted: watch::Sender<Arc<Drifted>>,
}

impl Desk {
    /// A desk for what is listened to already.
    pub fn new(live: Live, options: DeskOptions) -> Arc<Self> {
        Arc::new(Self {
            door: options.door,
            sheets: Sheets::start(live.clone(), options.sheet.0, options.sheet.1),
            printing: Printing::new(live.clone(), options.machines, options.record),
            live,
            practice: options.practice,
            kept: options.kept,
            inputs: options.inputs,
            input: Mutex::new(options.input),
            drifted: watch::Sender::default(),
        })
    }

    /// The input listened to.
    pub fn input(&self) -> String {
        let input = self.input.lock().unwrap_or_else(PoisonError::into_inner);
        input.clone()
    }

    /// All inputs, the practice band last. May take a moment.
    pub fn inputs(&self) -> Vec<InputChoice> {
        let mut all = self.inputs.list();
        all.push(InputChoice {
            id: PRACTICE.into(),
            name: "Practice band".into(),
        });
        all
    }

    /// Listens to another input. May take a moment.
    ///
    /// # Errors
    ///
    /// Why it cannot, in words; the input before is kept then.
    pub fn listen(&self, id: &str) -> Result<(), String> {
        let source = if id == PRACTICE {
            self.practice.source()?
        } else {
            self.inputs.open(id)?
        };
        self.live.listen_to(source).map_err(|e| e.to_string())?;
        *self.input.lock().unwrap_or_else(PoisonError::into_inner) = id.into();
        if id == PRACTICE {
            self.tell_sideband(&self.practice.stands());
        }
        Ok(())
    }

    /// Prints on a machine, for which the sheet is then laid out too. May take a moment.
    ///
    /// # Errors
    ///
    /// As [`Printing::start`].
    pub fn print(&self, on: &PrintOn) -> Result<(), String> {
        let machine = self.printing.start(on)?;
        self.sheets.set_machine(&machine, Some(on.machine.clone()));
        Ok(())
    }

    /// Turns the practice receiver. Which sideband it is on is then known to the tuning.
    pub fn turn(&self, turned: Turned) {
        self.practice.turn(turned);
        if turned.sideband.is_some() && self.input() == PRACTICE {
            self.tell_sideband(&turned);
        }
    }

    /// Sets something. Changes that come at once add up.
    ///
    /// # Errors
    ///
    /// A value that cannot work.
    pub fn set(&self, command: Command) -> Result<(), CommandError> {
        self.live.command(command)
    }

    fn tell_sideband(&self, turned: &Turned) {
        // Asked in any case: what is in force may lag behind what was asked for last. A live
        // path that has ended needs no telling.
        let _ = self.live.command(Command::Sideband(turned.sideband));
    }

    /// Tells when the drift was worked out anew.
    pub fn drift(&self) -> watch::Receiver<Arc<Drifted>> {
        self.drifted.subscribe()
    }

    /// Works out the drift for as long as there is something to hear. Runs beside the server.
    pub async fn watch_drift(self: Arc<Self>) {
        let (mut warm, mut reports) = self.join_drift();
        let mut told: Option<Instant> = None;
        while let Some(delivery) = reports.next().await {
            match delivery {
                Delivery::Report(report) => match &*report {
                    Report::Followed(followed) => warm.take(followed),
                    _ => continue,
                },
                Delivery::Missed(_) => (warm, reports) = self.join_drift(),
            }
            if told.is_none_or(|t| t.elapsed() >= DRIFT_EVERY) {
                self.drifted.send_replace(Arc::new(warm.drifted()));
                told = Some(Instant::now());
            }
        }
    }

    fn join_drift(&self) -> (Warm, Subscription) {
        let (snapshot, reports) = self.live.join();
        (Warm::of(&snapshot.drift), reports)
    }
}
