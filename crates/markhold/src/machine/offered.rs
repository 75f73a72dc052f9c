//! The machines of the settings file and the ready-made ones, as a station offers them.

use super::Outfit;
use crate::outcome::in_words;
use markhold_desk::plain_machine;
use markhold_page::{Machine, kinds};
use markhold_station::machines::{Listing, MachineChoice, Machines, WayChoice};
use markhold_wire::keyboard::Echo;
use markhold_wire::{play::Setup, ports};

/// The machines of this station.
pub struct SettingsMachines {
    // Configured.
    /// The settings file, and what the command line changes of the machine named there.
    outfit: Outfit,
    /// The machine of the command line.
    to: Option<String>,
    /// Where it is noted what is sent to them, if a keyboard is listened to.
    echo: Option<Echo>,
}

impl SettingsMachines {
    /// Those of the settings file of `outfit`, which belongs to the machine `to`.
    pub fn new(outfit: Outfit, to: Option<String>) -> Self {
        let echo = None;
        Self { outfit, to, echo }
    }

    /// What is sent to them is noted here.
    #[must_use]
    pub fn echoing(self, echo: Option<Echo>) -> Self {
        Self { echo, ..self }
    }

    /// The machine that the sheet is laid out for: the one that is meant, if any.
    pub fn sheet(&self) -> (Machine, Option<String>) {
        let meant = self.meant();
        let setup = meant
            .as_deref()
            .and_then(|name| self.setup(name, None).ok());
        match (setup, meant) {
            (Some(setup), Some(name)) => (setup.machine, Some(name)),
            _ => (plain_machine(), None),
        }
    }

    /// A machine of one's own is meant before any ready-made one, and is not started.
    fn meant(&self) -> Option<String> {
        let own = || self.outfit.setups().ok()?.into_keys().next();
        self.to.clone().or_else(own)
    }

    /// What the command line changes belongs to the machine that it names.
    fn outfit(&self, name: &str) -> Outfit {
        let named = self.to.as_deref() == Some(name);
        Outfit {
            settings: self.outfit.settings.clone(),
            way: self.outfit.way.clone().filter(|_| named),
            set: if named {
                self.outfit.set.clone()
            } else {
                Vec::new()
            },
            ..Outfit::default()
        }
    }

    fn choice(&self, name: &str, about: Option<&str>) -> anyhow::Result<MachineChoice> {
        let setup = self.outfit(name).setup(name)?;
        Ok(MachineChoice {
            name: name.into(),
            about: about.map_or_else(|| words(&setup), String::from),
            way: setup.way.map(|way| way.to_string()),
            patience_s: setup.patience_s,
            columns: setup.machine.columns,
        })
    }
}

fn words(setup: &Setup) -> String {
    let machine = &setup.machine;
    let rate = (machine.rate_baud * 100.0).round() / 100.0;
    format!(
        "{} columns, {rate} baud, {} row",
        machine.columns, machine.figures
    )
}

impl Machines for SettingsMachines {
    fn list(&self) -> Listing {
        let own = self
            .outfit
            .setups()
            .map(|all| Vec::from_iter(all.into_keys()));
        let (own, problem) = match own {
            Ok(own) => (own, None),
            Err(error) => (Vec::new(), Some(in_words(&error))),
        };
        let ready_made = kinds()
            .iter()
            .filter(|kind| !own.iter().any(|name| name == kind.name));
        let names = own.iter().map(|name| (name.as_str(), None));
        let names = names.chain(ready_made.map(|kind| (kind.name, Some(kind.about))));
        let machines = names.filter_map(|(name, about)| self.choice(name, about).ok());
        Listing {
            machines: machines.collect(),
            ways: ways(),
            meant: self.meant(),
            problem,
        }
    }

    fn setup(&self, name: &str, way: Option<&str>) -> Result<Setup, String> {
        let mut outfit = self.outfit(name);
        if let Some(way) = way {
            outfit.way = Some(way.into());
        }
        let mut setup = outfit.setup(name).map_err(|error| in_words(&error))?;
        setup.echo.clone_from(&self.echo);
        match &setup.way {
            Some(way) if way.is_output() => Err(format!(
                "{way}: standard output is taken by what is said there; name a file, a pipe or a \
                 socket"
            )),
            _ => Ok(setup),
        }
    }
}

/// The ways that this computer has now: each serial port keyed in its ways, and tones.
fn ways() -> Vec<WayChoice> {
    let mut all = Vec::new();
    for port in ports() {
        for (way, how) in [
            ("serial", "sends five-bit words"),
            ("break", "its sending wire keyed by the clock"),
            ("rts", "RTS keyed by the clock"),
            ("dtr", "DTR keyed by the clock"),
        ] {
            all.push(WayChoice {
                way: format!("{way}:{port}"),
                name: format!("{port}, {how}"),
            });
        }
    }
    all.push(WayChoice {
        way: "tones".into(),
        name: "Tones on the system's sound output".into(),
    });
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn machines(settings: &str, to: Option<&str>, way: Option<&str>) -> SettingsMachines {
        let mut file = tempfile::NamedTempFile::new().expect("a file");
        file.write_all(settings.as_bytes()).expect("written");
        let (_, path) = file.keep().expect("kept until the test ends");
        SettingsMachines {
            outfit: Outfit {
                settings: Some(path),
                way: way.map(String::from),
                set: way.map(|_| "columns=70".to_string()).into_iter().collect(),
                ..Outfit::default()
            },
            to: to.map(String::from),
            echo: None,
        }
    }

    const SHACK: &str = "[machine.shack]\ncolumns = 74\nway = \"rts:/dev/ttyS9\"\n";

    #[test]
    fn machines_of_the_settings_file_come_first() {
        let listing = machines(SHACK, None, None).list();
        assert_eq!(listing.meant.as_deref(), Some("shack"));
        let first = &listing.machines[0];
        assert_eq!((first.name.as_str(), first.columns), ("shack", 74));
        assert_eq!(first.way.as_deref(), Some("rts:/dev/ttyS9"));
        assert_eq!(listing.machines.len(), 1 + kinds().len());
        assert!(listing.offers("tones") && !listing.offers("codes:/etc/passwd"));
    }

    #[test]
    fn the_command_line_changes_the_machine_it_names_only() {
        let all = machines(SHACK, Some("us-72-45"), Some("tones"));
        assert_eq!(all.list().meant.as_deref(), Some("us-72-45"));
        let named = all.setup("us-72-45", None).expect("ready-made");
        assert_eq!(named.machine.columns, 70);
        assert_eq!(
            named.way.map(|way| way.to_string()).as_deref(),
            Some("tones")
        );
        let shack = all.setup("shack", None).expect("of the file");
        assert_eq!(shack.machine.columns, 74);
        assert!(all.setup("attic", None).unwrap_err().contains("shack"));
    }

    #[test]
    fn a_settings_file_with_a_fault_is_told_and_ready_made_machines_stay() {
        let listing = machines("[machine.shack]\ncolums = 3", None, None).list();
        let problem = listing.problem.expect("told");
        assert!(problem.contains("colums"), "{problem}");
        assert_eq!(listing.machines.len(), kinds().len());
    }
}
