//! The machines of this station, as the page offers them.

use markhold_wire::play::Setup;
use serde::Serialize;

/// One machine that may be printed on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineChoice {
    /// What to ask for.
    pub name: String,
    /// What it is, in a few words.
    pub about: String,
    /// The way to it in words, if it has one of its own.
    pub way: Option<String>,
    /// How long it waits for a better reading, s.
    pub patience_s: f64,
    /// Columns of its paper.
    pub columns: u16,
}

/// One way to a machine that may be chosen here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WayChoice {
    /// What to ask for.
    pub way: String,
    /// What a person calls it.
    pub name: String,
}

/// Everything that may be chosen.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Listing {
    /// The machines, the person's own first.
    pub machines: Vec<MachineChoice>,
    /// Ways that this computer has now.
    pub ways: Vec<WayChoice>,
    /// The machine that is meant unless another is chosen.
    pub meant: Option<String>,
    /// Why some are missing, in words.
    pub problem: Option<String>,
}

/// The machines of this station.
pub trait Machines: Send + Sync {
    /// What there is now. May take a moment: it is not called where others wait.
    fn list(&self) -> Listing;

    /// One of them, ready to print; its own way unless another one is given.
    ///
    /// # Errors
    ///
    /// Why that cannot be, in words.
    fn setup(&self, name: &str, way: Option<&str>) -> Result<Setup, String>;
}

/// A station without machines.
pub struct NoMachines;

impl Machines for NoMachines {
    fn list(&self) -> Listing {
        Listing::default()
    }

    fn setup(&self, name: &str, _way: Option<&str>) -> Result<Setup, String> {
        Err(format!("no machine is called \"{name}\" here"))
    }
}

impl Listing {
    /// Whether a browser may ask for this way: one of those shown, and no other file or
    /// device of this computer.
    pub fn offers(&self, way: &str) -> bool {
        self.ways.iter().any(|choice| choice.way == way)
    }
}
