//! What was found, how much it matters, and what to do.

use serde::Serialize;
use std::fmt;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// As it should be.
    Good,
    /// Something is not done as well as it could be, or not at all; nothing that is set needs it.
    Remark,
    /// It stands in the way of copying, keeping, printing or sending as the settings have it.
    Wrong,
}

impl Verdict {
    fn word(self) -> &'static str {
        match self {
            Verdict::Good => "good",
            Verdict::Remark => "remark",
            Verdict::Wrong => "WRONG",
        }
    }
}

/// What is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The settings file.
    Settings,
    /// A sound input.
    Sound,
    /// A serial port.
    Port,
    /// The radio control daemon.
    Daemon,
    /// A place before other programs, for edges by the clock.
    RealTime,
    /// The shelf and its disk.
    Shelf,
    /// The computer's clock.
    Clock,
}

impl Part {
    fn word(self) -> &'static str {
        match self {
            Part::Settings => "settings",
            Part::Sound => "sound",
            Part::Port => "port",
            Part::Daemon => "daemon",
            Part::RealTime => "real time",
            Part::Shelf => "shelf",
            Part::Clock => "clock",
        }
    }
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What kind of thing it is.
    pub part: Part,
    /// Which one: a name, a path, a place in a file; `None` where there is one only.
    pub which: Option<String>,
    /// How much it matters.
    pub verdict: Verdict,
    /// What was found, in words.
    pub found: String,
    /// What to do about it, in words; `None` where nothing needs to be done.
    pub cure: Option<String>,
    /// Measured values by name and unit, as in `rms_db`.
    pub figures: serde_json::Map<String, serde_json::Value>,
}

impl Finding {
    /// What is wrong, in words that say after a semicolon what to do; `otherwise` where they do not.
    pub fn wrong(part: Part, said: &str, otherwise: &str) -> Self {
        let (found, cure) = said.split_once("; ").unwrap_or((said, otherwise));
        Finding::good(part, found).but(Verdict::Wrong, cure)
    }

    /// All is well with it.
    pub fn good(part: Part, found: impl Into<String>) -> Self {
        Finding {
            part,
            which: None,
            verdict: Verdict::Good,
            found: found.into(),
            cure: None,
            figures: serde_json::Map::new(),
        }
    }

    /// The same thing under a name.
    pub fn of(self, which: impl Into<String>) -> Self {
        let which = Some(which.into());
        Finding { which, ..self }
    }

    /// The same thing with what is to be done about it.
    pub fn but(self, verdict: Verdict, cure: impl Into<String>) -> Self {
        let cure = Some(cure.into());
        Finding {
            verdict,
            cure,
            ..self
        }
    }

    /// The same thing with a measured value.
    pub fn with(mut self, name: &str, value: impl Into<serde_json::Value>) -> Self {
        self.figures.insert(name.into(), value.into());
        self
    }
}

impl fmt::Display for Finding {
    /// One line, and a second with the cure.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:7} {:10} ", self.verdict.word(), self.part.word())?;
        if let Some(which) = &self.which {
            write!(f, "{which}: ")?;
        }
        f.write_str(&self.found)?;
        match &self.cure {
            Some(cure) => write!(f, "\n{:19}{cure}", ""),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cure_stands_below_what_was_found() {
        let good = Finding::good(Part::Clock, "set by the network");
        assert_eq!(good.to_string(), "good    clock      set by the network");
        let wrong = Finding::good(Part::Port, "this user may not open it");
        let wrong = wrong.of("/dev/ttyS0").but(Verdict::Wrong, "join its group");
        let expected = "WRONG   port       /dev/ttyS0: this user may not open it\n                   join its group";
        assert_eq!(wrong.to_string(), expected);
        assert!(Verdict::Good < Verdict::Remark && Verdict::Remark < Verdict::Wrong);
    }
}
