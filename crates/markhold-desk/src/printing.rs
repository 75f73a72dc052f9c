//! Printing along: the machine that is fed with the live copy.

use crate::machines::{Listing, Machines};
use markhold_page::Machine;
use markhold_station::live::Live;
use markhold_station::paper::{Paper, PaperPlan, PaperState};
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::watch;

/// Most that a better reading is waited for, s; as in the settings file.
const MOST_PATIENCE_S: f64 = 60.0;

/// What to print on, as a browser or the command line asks for it.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintOn {
    /// Name of the machine.
    pub machine: String,
    /// A way of [`Listing::ways`]; the machine's own if left out.
    #[serde(default)]
    pub way: Option<String>,
    /// How long a better reading is waited for, s, 0 to 60; as the machine has it if left
    /// out.
    #[serde(default)]
    pub patience_s: Option<f64>,
}

/// The machine that prints along, if any.
pub struct Printing {
    // Configured.
    live: Live,
    machines: Arc<dyn Machines>,
    /// Folder in which what went to paper is kept, one folder a machine.
    record: Option<PathBuf>,
    // State.
    paper: Mutex<Option<Paper>>,
    state: watch::Sender<PaperState>,
}

impl Printing {
    /// Nothing is printed yet.
    pub fn new(live: Live, machines: Arc<dyn Machines>, record: Option<PathBuf>) -> Self {
        Self {
            live,
            machines,
            record,
            paper: Mutex::new(None),
            state: watch::Sender::default(),
        }
    }

    /// What may be printed on. May take a moment.
    pub fn list(&self) -> Listing {
        self.machines.list()
    }

    /// Begins to print, and ends what was printed on before; gives the machine. May take a
    /// moment. A machine that is not there yet is no error: it is waited for, and the state
    /// says why.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    pub fn start(&self, on: &PrintOn) -> Result<Machine, String> {
        if let Some(way) = on.way.as_deref().filter(|way| !self.list().offers(way)) {
            return Err(format!(
                "\"{way}\" is no way offered here; choose one of the list"
            ));
        }
        let mut setup = self.machines.setup(&on.machine, on.way.as_deref())?;
        if let Some(patience_s) = on.patience_s {
            setup.patience_s = checked(patience_s)?;
        }
        if setup.way.is_none() {
            let name = &on.machine;
            return Err(format!(
                "there is no way to {name} yet; choose one, or give one in the settings file"
            ));
        }
        let mut paper = self.paper();
        // The way can be open once only.
        drop(paper.take());
        let machine = setup.machine.clone();
        let plan = PaperPlan {
            record: self.record.as_ref().map(|at| at.join(folder(&on.machine))),
            name: on.machine.clone(),
            setup,
        };
        *paper = Some(Paper::start(&self.live, plan, self.state.clone())?);
        Ok(machine)
    }

    /// Stops within a character; the line is in mark when this returns.
    pub fn stop(&self) {
        if let Some(paper) = self.paper().take() {
            paper.stop();
        }
    }

    /// Waits so long for better readings from here on, s.
    ///
    /// # Errors
    ///
    /// No such time, in words.
    pub fn set_patience(&self, patience_s: f64) -> Result<(), String> {
        let patience_s = checked(patience_s)?;
        if let Some(paper) = &*self.paper() {
            paper.set_patience(patience_s);
        }
        Ok(())
    }

    /// Tells how printing stands, several times a second while it changes.
    pub fn watch(&self) -> watch::Receiver<PaperState> {
        self.state.subscribe()
    }

    fn paper(&self) -> MutexGuard<'_, Option<Paper>> {
        self.paper.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn checked(patience_s: f64) -> Result<f64, String> {
    if (0.0..=MOST_PATIENCE_S).contains(&patience_s) {
        return Ok(patience_s);
    }
    Err(format!(
        "a better reading can be waited for 0 to {MOST_PATIENCE_S} s, not {patience_s} s"
    ))
}

/// A machine's name as that of a folder.
fn folder(name: &str) -> String {
    let plain = |c: char| {
        if c.is_alphanumeric() || c == '-' {
            c
        } else {
            '_'
        }
    };
    name.chars().map(plain).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patience_has_its_limits() {
        assert_eq!(checked(2.5), Ok(2.5));
        for bad in [-1.0, 61.0, f64::NAN] {
            assert!(checked(bad).unwrap_err().contains("0 to 60 s"));
        }
    }

    #[test]
    fn a_machine_cannot_leave_the_shelf() {
        assert_eq!(folder("us-72-45"), "us-72-45");
        assert_eq!(folder("../x y"), "___x_y");
    }
}
