//! What is put to rest.

use crate::control_lines::Lines;
use crate::divisor::{self, Borrowed};
use crate::port::OsPort;
use crate::rig::Rig;
use serde::{Deserialize, Serialize};
use serialport::SerialPort;
use std::net::SocketAddr;

/// Something that must not stay as it is when nobody keys it any more, as it is told to a
/// guardian.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// A serial port, whose descriptor travels with this.
    Port(PortRest),
    /// A transmitter that the radio control daemon at this address keys.
    Rig(SocketAddr),
    /// Whatever this command, its program first, puts to rest: it has done so when it ends well.
    Command(Vec<String>),
}

impl Thing {
    /// Takes charge of it; a port comes with it open.
    pub(super) fn held(self, port: Option<OsPort>) -> Result<Box<dyn Rest>, String> {
        Ok(match (self, port) {
            (Thing::Port(rest), Some(port)) => Box::new(PortAtRest { rest, port }),
            (Thing::Port(rest), None) => {
                return Err(format!("{} came without its descriptor", rest.name));
            }
            (Thing::Rig(address), _) => Box::new(RigAtRest { address, rig: None }),
            (Thing::Command(words), _) => Box::new(CommandAtRest(words)),
        })
    }

    /// Whether a port belongs to it.
    pub(super) fn has_port(&self) -> bool {
        matches!(self, Thing::Port(_))
    }
}

/// Why something is not known to be at rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotAtRest {
    /// It is gone, and whatever it drove with it.
    Gone,
    /// To be tried again; the reason in words.
    Again(String),
}

/// Something that can be put to rest.
pub trait Rest: Send {
    /// Puts it to rest, whatever state it is in. To be called again after
    /// [`NotAtRest::Again`]; calling it once more than needed changes nothing.
    ///
    /// # Errors
    ///
    /// See [`NotAtRest`].
    fn rest(&mut self) -> Result<(), NotAtRest>;

    /// Puts back what was changed for keying and outlives the program. Nothing can be done
    /// if that fails.
    fn give_back(&mut self);
}

/// How a serial port stands at rest, and what it is given back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PortRest {
    /// What messages call the port.
    pub name: String,
    /// RTS at rest, `true` = asserted; `None` = it is left alone.
    pub rts: Option<bool>,
    /// DTR at rest, likewise.
    pub dtr: Option<bool>,
    /// Whether the sending wire is keyed by break, and is to be put to mark.
    pub break_off: bool,
    /// The driver's divisor as it was found.
    pub(crate) divisor: Option<Borrowed>,
}

/// An open port and how it stands at rest.
struct PortAtRest {
    rest: PortRest,
    port: OsPort,
}

impl PortAtRest {
    /// Everything is tried, whatever fails; the first error is given.
    fn put(&mut self) -> serialport::Result<()> {
        let (rest, port) = (&self.rest, &mut self.port);
        let rts = rest.rts.map(|level| port.write_request_to_send(level));
        let dtr = rest.dtr.map(|level| port.write_data_terminal_ready(level));
        let mark = rest.break_off.then(|| port.clear_break());
        [rts, dtr, mark].into_iter().flatten().collect()
    }
}

impl PortAtRest {
    /// A wire that the system still reports as up though it was dropped.
    fn stays_up(&self) -> Option<String> {
        let lines = Lines::of(&self.port)?;
        let dropped = [
            ("RTS", self.rest.rts, lines.rts),
            ("DTR", self.rest.dtr, lines.dtr),
        ];
        let stays = dropped
            .into_iter()
            .find(|(_, rest, up)| *rest == Some(false) && *up);
        stays
            .map(|(wire, ..)| format!("{}: {wire} stays up, though it was dropped", self.rest.name))
    }
}

impl Rest for PortAtRest {
    fn rest(&mut self) -> Result<(), NotAtRest> {
        if let Err(error) = self.put() {
            return Err(match self.port.bytes_to_write() {
                Ok(_) => NotAtRest::Again(format!("{}: {error}", self.rest.name)),
                // A port that is gone answers no question.
                Err(_) => NotAtRest::Gone,
            });
        }
        self.stays_up()
            .map_or(Ok(()), |why| Err(NotAtRest::Again(why)))
    }

    fn give_back(&mut self) {
        if let Some(borrowed) = self.rest.divisor.take() {
            // A word that is on its way leaves at the speed it was given.
            let _ = std::io::Write::flush(&mut self.port);
            divisor::give_back(&self.port, borrowed);
        }
    }
}

/// A transmitter, unkeyed over a connection of its own: that of who keyed it may hang.
struct RigAtRest {
    address: SocketAddr,
    rig: Option<Rig>,
}

impl RigAtRest {
    fn unkey(&mut self) -> std::io::Result<()> {
        let rig = match self.rig.take() {
            Some(rig) => self.rig.insert(rig),
            None => self.rig.insert(Rig::connect(self.address)?),
        };
        rig.unkey()
    }
}

impl Rest for RigAtRest {
    /// A daemon that is gone may have left the transmitter keyed: it is never `Gone`.
    fn rest(&mut self) -> Result<(), NotAtRest> {
        self.unkey().map_err(|error| {
            self.rig = None;
            NotAtRest::Again(format!("{}: {error}", self.address))
        })
    }

    fn give_back(&mut self) {}
}

/// What a command puts to rest.
struct CommandAtRest(Vec<String>);

impl Rest for CommandAtRest {
    fn rest(&mut self) -> Result<(), NotAtRest> {
        crate::command::run(&self.0).map_err(|error| NotAtRest::Again(error.to_string()))
    }

    fn give_back(&mut self) {}
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::testing::Fake;
    use std::sync::atomic::Ordering;

    #[test]
    fn a_transmitter_is_unkeyed_in_the_end() {
        let fake = Fake::start();
        let mut thing = Thing::Rig(fake.address).held(None).unwrap();
        assert_eq!(thing.rest(), Ok(()));
        Rig::connect(fake.address).unwrap().key(true).unwrap();
        fake.deaf.store(2, Ordering::SeqCst);
        let mut tries = 0;
        while let Err(error) = thing.rest() {
            assert!(matches!(error, NotAtRest::Again(_)));
            tries += 1;
        }
        assert_eq!((tries, fake.keyed.load(Ordering::SeqCst)), (2, false));
    }
}
