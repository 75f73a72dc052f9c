//! What the settings need of the computer: ports, the clock's precision, the daemon.

use crate::skeds::Receiver;
use markhold_wire::Way;
use markhold_wire::keyboard::{KeyboardPlan, KeyboardWords};
use markhold_wire::play::setups;
use markhold_wire::transmit::{KeyWords, TransmitterPlan};
use std::net::SocketAddr;
use toml::Table;

/// What is needed, and by whom.
#[derive(Debug, Default, PartialEq)]
pub struct Needed {
    /// Port, and what it is for.
    pub ports: Vec<(String, String)>,
    /// Who keys a line by the clock, or reads one.
    pub by_clock: Vec<String>,
    /// Where the radio control daemon listens.
    pub daemon: Option<SocketAddr>,
}

impl Needed {
    /// From the settings file's text. A table that will not do needs nothing: what is wrong with it
    /// is said of the settings.
    pub fn by(settings: &str) -> Self {
        let mut needed = Needed::default();
        for (name, setup) in setups(settings).unwrap_or_default() {
            needed.take(&format!("[machine.{name}]"), setup.way());
        }
        if let Ok(plan) = TransmitterPlan::of_settings(settings, Table::new()) {
            needed.take("[transmitter]", plan.way());
            match plan.key() {
                KeyWords::Wire(_, Some(port)) => {
                    needed.ports.push((port, "[transmitter]".into()));
                }
                KeyWords::Daemon(address) => needed.daemon = Some(address),
                KeyWords::Wire(_, None) | KeyWords::ByHand | KeyWords::Command => {}
            }
        }
        needed.keyboard(settings);
        // The same daemon may be asked where the dial stands.
        let read_by = Receiver::of_text(settings).ok().and_then(|r| r.daemon);
        needed.daemon = needed.daemon.or(read_by);
        needed
    }

    fn keyboard(&mut self, settings: &str) {
        let plan = KeyboardPlan::of_settings(settings, Table::new()).unwrap_or_default();
        if let Some(port) = plan.way.as_ref().and_then(KeyboardWords::port) {
            self.ports.push((port.into(), "[keyboard]".into()));
        }
        if let Some(KeyboardWords::Wire(..)) = plan.way {
            self.by_clock.push("[keyboard]".into());
        }
    }

    fn take(&mut self, whose: &str, way: Option<Way>) {
        match way {
            Some(Way::Serial(plan)) => self.ports.push((plan.port, whose.into())),
            Some(Way::Timed(plan)) => {
                self.by_clock.push(whose.into());
                self.ports.push((plan.port, whose.into()));
            }
            Some(Way::Sound { .. } | Way::SoundFile { .. } | Way::Bytes { .. }) | None => {}
        }
    }

    /// Who needs this port.
    pub fn who_needs(&self, port: &str) -> Vec<&str> {
        let needs = self.ports.iter().filter(|(name, _)| name == port);
        needs.map(|(_, who)| who.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ports_clock_and_daemon_of_a_settings_file() {
        let settings = "\
[machine.shack]\nway = \"rts:/dev/ttyUSB0\"\n[machine.attic]\nway = \"serial:/dev/ttyS0\"
[transmitter]\nway = \"tones\"\nkey = \"rigctld:127.0.0.1:4532\"\n";
        let needed = Needed::by(settings);
        assert_eq!(needed.who_needs("/dev/ttyUSB0"), ["[machine.shack]"]);
        assert_eq!(needed.who_needs("/dev/ttyS0"), ["[machine.attic]"]);
        assert_eq!(needed.by_clock, ["[machine.shack]"]);
        let typed = Needed::by("[keyboard]\nway = \"cts:/dev/ttyUSB0\"\n");
        assert_eq!(typed.who_needs("/dev/ttyUSB0"), ["[keyboard]"]);
        assert_eq!(typed.by_clock, ["[keyboard]"]);
        assert_eq!(needed.daemon, "127.0.0.1:4532".parse().ok());
        let read = Needed::by("[receiver]\nread_by = \"rigctld:127.0.0.1:4532\"\n");
        assert_eq!(read.daemon, needed.daemon);
        assert_eq!(Needed::by("[transmitter"), Needed::default());
    }
}
