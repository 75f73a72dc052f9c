//! A status wire of a serial port as a line's contact: transitions by looking, again and again.
//!
//! **Caution:** the wire is driven by an opto-coupler or relay rated for the loop, never by
//! the loop itself (see [`machine`](super)).

use super::KeyerError;
use super::port::{Port, Wire};
use serialport::SerialPort;
use std::time::{Duration, Instant};

/// Between two looks: at 100 baud 2 % of an element, which averages out over a few
/// characters. What the system makes of it is measured and told with every transition.
const LOOK: Duration = Duration::from_micros(200);

/// A status wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StatusWire {
    /// Clear to send.
    Cts,
    /// Data set ready.
    Dsr,
    /// Data carrier detect.
    Dcd,
    /// Ring indicator.
    Ri,
}

/// Something that is asserted or not.
pub trait Looked {
    /// How it is now.
    ///
    /// # Errors
    ///
    /// It went away, or cannot be looked at.
    fn look(&mut self) -> Result<bool, KeyerError>;
}

/// A status wire of an open port.
pub struct PortWire {
    port: Port,
    wire: StatusWire,
}

impl PortWire {
    /// Opens a port and looks at the wire once.
    ///
    /// # Errors
    ///
    /// The port is missing, busy or forbidden, or has no status wires.
    pub fn open(port: &str, wire: StatusWire) -> Result<Self, KeyerError> {
        Self::of(Port::open(port)?, wire)
    }

    fn of(port: Port, wire: StatusWire) -> Result<Self, KeyerError> {
        let name = port.name.clone();
        let mut opened = PortWire { port, wire };
        opened.read().map_err(|source| KeyerError::Io {
            what: format!("{name} has no status wires that can be read"),
            source: source.into(),
        })?;
        Ok(opened)
    }

    /// As [`PortWire::open`], over a port that this program may have open for something else.
    /// With `supply` that wire is raised: it feeds a contact that has no supply of its own.
    ///
    /// # Errors
    ///
    /// As [`PortWire::open`].
    pub fn beside(port: &str, wire: StatusWire, supply: Option<Wire>) -> Result<Self, KeyerError> {
        let mut port = Port::open_beside(port)?;
        if let Some(supply) = supply {
            port.set(supply, true)?;
        }
        Self::of(port, wire)
    }

    fn read(&mut self) -> serialport::Result<bool> {
        let port = &mut self.port.port;
        match self.wire {
            StatusWire::Cts => port.read_clear_to_send(),
            StatusWire::Dsr => port.read_data_set_ready(),
            StatusWire::Dcd => port.read_carrier_detect(),
            StatusWire::Ri => port.read_ring_indicator(),
        }
    }
}

impl Looked for PortWire {
    fn look(&mut self) -> Result<bool, KeyerError> {
        let level = self.read();
        self.port.checked(level)
    }
}

/// A transition that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// The middle between the looks before and after it, s from the first look.
    pub at_s: f64,
    /// Whether the wire is asserted from then on.
    pub asserted: bool,
    /// Time between the two looks, s: it came anywhere between them.
    pub gap_s: f64,
}

/// Looks at something for transitions.
pub struct Watch<L> {
    // Configured.
    wire: L,
    begun: Instant,
    // State.
    asserted: bool,
    looked_s: f64,
}

impl<L: Looked> Watch<L> {
    /// Begins to look.
    ///
    /// # Errors
    ///
    /// As [`Looked::look`].
    pub fn new(mut wire: L) -> Result<Self, KeyerError> {
        let asserted = wire.look()?;
        Ok(Watch {
            wire,
            begun: Instant::now(),
            asserted,
            looked_s: 0.0,
        })
    }

    /// Waits for the next transition, not much longer than `patience`.
    ///
    /// # Errors
    ///
    /// As [`Looked::look`].
    pub fn next(&mut self, patience: Duration) -> Result<Option<Seen>, KeyerError> {
        let until_s = (self.begun.elapsed() + patience).as_secs_f64();
        while self.looked_s < until_s {
            std::thread::sleep(LOOK);
            // The look is somewhere between the two readings of the clock.
            let before_s = self.looked_s;
            let asserted = self.wire.look()?;
            self.looked_s = self.begun.elapsed().as_secs_f64();
            if asserted != self.asserted {
                self.asserted = asserted;
                return Ok(Some(Seen {
                    at_s: (before_s + self.looked_s) / 2.0,
                    asserted,
                    gap_s: self.looked_s - before_s,
                }));
            }
        }
        Ok(None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Is asserted at these looks.
    struct Fake(Vec<bool>);

    impl Looked for Fake {
        fn look(&mut self) -> Result<bool, KeyerError> {
            match self.0.is_empty() {
                true => Err(KeyerError::PulledOut { what: "p".into() }),
                false => Ok(self.0.remove(0)),
            }
        }
    }

    #[test]
    fn transitions_lie_between_two_looks() {
        let levels = [false, false, true, true, true, false];
        let mut watch = Watch::new(Fake(levels.into())).unwrap();
        let day = Duration::from_secs(86_400);
        let up = watch.next(day).unwrap().unwrap();
        let down = watch.next(day).unwrap().unwrap();
        assert!(up.asserted && !down.asserted);
        for seen in [up, down] {
            assert!(seen.gap_s > 0.0 && seen.at_s > seen.gap_s / 2.0 - 1e-12);
        }
        assert!(down.at_s - down.gap_s / 2.0 >= up.at_s + up.gap_s / 2.0);
        assert!(matches!(watch.next(day), Err(KeyerError::PulledOut { .. })));
    }

    #[test]
    fn nothing_is_waited_for_no_longer_than_asked() {
        let mut watch = Watch::new(Fake(vec![true; 100_000])).unwrap();
        assert_eq!(watch.next(Duration::from_millis(3)).unwrap(), None);
    }

    #[cfg(unix)]
    #[test]
    fn a_port_without_wires_says_so() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let name = slave.name().unwrap();
        drop(slave);
        let error = PortWire::open(&name, StatusWire::Cts).err().unwrap();
        assert!(error.to_string().contains("no status wires"), "{error}");
    }
}
