//! Printing along: the machine that is fed with the live copy.

use super::{Paper, PaperPlan, Tell};
use crate::board::Board;
use crate::machines::{Listing, Machines};
use crate::report::Room;
use crate::wish::PrintOn;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Most that a better reading is waited for, s; as in the settings file.
const MOST_PATIENCE_S: f64 = 60.0;

/// The machine that prints along, if any.
pub struct Printing {
    // Configured.
    machines: Arc<dyn Machines>,
    tell: Tell,
    // State: what is printed, and of which room.
    paper: Mutex<Option<(Room, Paper)>>,
}

impl Printing {
    /// Nothing is printed yet. How printing stands is told through `tell`.
    pub fn new(machines: Arc<dyn Machines>, tell: Tell) -> Self {
        Self {
            machines,
            tell,
            paper: Mutex::new(None),
        }
    }

    /// What may be printed on. May take a moment.
    pub fn list(&self) -> Listing {
        self.machines.list()
    }

    /// Begins to print what is told on a room's board, and ends what was printed before. May
    /// take a moment. A machine that is not there yet is no error: it is waited for, and the
    /// state says why. What goes to paper is kept in `record`, one folder a machine.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    pub fn start(
        &self,
        (room, board): (Room, &Board),
        on: &PrintOn,
        record: Option<PathBuf>,
    ) -> Result<(), String> {
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
        let plan = PaperPlan {
            sent: on.sent,
            record: record.map(|at| at.join(folder(&on.machine))),
            name: on.machine.clone(),
            setup,
        };
        *paper = Some((room, Paper::start(board, plan, self.tell.clone())?));
        Ok(())
    }

    /// Stops within a character; the line is in mark when this returns.
    pub fn stop(&self) {
        drop(self.paper().take());
    }

    /// Stops if it is this room that is printed.
    pub fn leave(&self, room: Room) {
        drop(self.paper().take_if(|(printed, _)| *printed == room));
    }

    /// Waits so long for better readings from here on, s.
    ///
    /// # Errors
    ///
    /// No such time, in words.
    pub fn set_patience(&self, patience_s: f64) -> Result<(), String> {
        let patience_s = checked(patience_s)?;
        if let Some((_, paper)) = &*self.paper() {
            paper.set_patience(patience_s);
        }
        Ok(())
    }

    fn paper(&self) -> MutexGuard<'_, Option<(Room, Paper)>> {
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
pub fn folder(name: &str) -> String {
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
