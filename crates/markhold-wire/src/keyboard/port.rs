//! A keyboard on a port that reads five-unit words itself, at the line's speed.

use super::line::{Heard, KeyboardLine};
use super::marked::Marked;
use crate::guard::Guard;
use crate::port::Port;
use crate::serial::{guard, set_five};
use crate::{KeyerError, SerialPlan, Word};
use markhold_code::StartStop;
use serialport::{DataBits, SerialPort};
use std::io::{self, Read};
use std::time::Duration;

/// A keyboard on a serial port.
pub struct PortKeyboard {
    port: Port,
    marked: Marked,
    /// Somebody keys over the same port, and keeps its speed.
    beside: bool,
    /// Puts back the divisor, where one was changed. Dropped last.
    _guard: Option<Guard>,
}

impl PortKeyboard {
    /// Opens a port, or shares it with the machine's line that goes over it.
    ///
    /// # Errors
    ///
    /// The port is missing, busy or forbidden; it has no five-bit words or cannot come near
    /// enough to the speed.
    pub fn open(name: &str, speed: StartStop) -> Result<Self, KeyerError> {
        let mut port = Port::open_beside(name)?;
        let plan = SerialPlan {
            port: name.into(),
            speed,
            word: Word::Five,
            motor: None,
        };
        let beside = port.is_keyed();
        let is_set = beside && port.checked(port.port.data_bits())? == DataBits::Five;
        let guard = match is_set {
            true => None,
            false => {
                let guard = guard(&plan, &port)?;
                set_five(&mut port, speed)?;
                guard
            }
        };
        mark_breaks(&port)?;
        Ok(PortKeyboard {
            port,
            marked: Marked::default(),
            beside,
            _guard: guard,
        })
    }
}

impl KeyboardLine for PortKeyboard {
    fn next(&mut self, patience: Duration) -> Result<Option<Heard>, KeyerError> {
        let set = self.port.port.set_timeout(patience);
        self.port.checked(set)?;
        let keyed = self.port.is_keyed();
        if std::mem::replace(&mut self.beside, keyed) && !keyed {
            // Its speed went with whoever kept it: it is set anew when this is opened again.
            let what = self.port.name.clone();
            return Err(KeyerError::PulledOut { what });
        }
        let mut byte = [0];
        loop {
            match self.port.port.read(&mut byte) {
                Ok(0) => {
                    let gone = Err(io::Error::from(io::ErrorKind::UnexpectedEof).into());
                    return self.port.checked(gone);
                }
                Ok(_) => {
                    if let Some(stroke) = self.marked.take(byte[0]) {
                        return Ok(Some(Heard::now(stroke)));
                    }
                }
                Err(error) if error.kind() == io::ErrorKind::TimedOut => return Ok(None),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return self.port.checked(Err(error.into())),
            }
        }
    }
}

/// A break and a stop element in space are to be told from a blank (POSIX, PARMRK).
#[cfg(unix)]
fn mark_breaks(port: &Port) -> Result<(), KeyerError> {
    use crate::port::descriptor;
    use rustix::termios::{InputModes, OptionalActions, tcgetattr, tcsetattr};
    let set = || {
        let mut state = tcgetattr(descriptor(&port.port))?;
        state.input_modes |= InputModes::PARMRK | InputModes::INPCK;
        state.input_modes &= !(InputModes::IGNBRK | InputModes::BRKINT | InputModes::IGNPAR);
        tcsetattr(descriptor(&port.port), OptionalActions::Now, &state)
    };
    set().map_err(|error: rustix::io::Errno| KeyerError::Io {
        what: port.name.clone(),
        source: error.into(),
    })
}

/// Elsewhere a break reads as a blank, and stops nothing.
#[cfg(not(unix))]
fn mark_breaks(_port: &Port) -> Result<(), KeyerError> {
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    /// A pty keeps eight bits whatever it is told: only reading back shows it.
    #[test]
    fn a_port_without_five_bit_words_is_found_out() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let name = slave.name().unwrap();
        drop(slave);
        let speed = StartStop::new(1.0 / 0.022, 1.5);
        let error = PortKeyboard::open(&name, speed).err().unwrap();
        assert!(error.to_string().contains("expected 5"), "{error}");
    }

    /// Whoever listens and whoever keys share a port, in either order; two that key do not.
    #[test]
    fn a_port_is_listened_on_beside_what_is_keyed_over_it() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let name = slave.name().unwrap();
        drop(slave);
        let listening = Port::open_beside(&name).unwrap();
        assert!(!listening.is_keyed());
        let keying = Port::open(&name).unwrap();
        assert!(listening.is_keyed());
        let second = Port::open(&name).err().unwrap();
        assert!(matches!(second, KeyerError::Busy { .. }), "{second}");
        let other = keying.another().unwrap();
        drop(keying);
        assert!(listening.is_keyed(), "the other one may still key");
        drop(other);
        assert!(!listening.is_keyed());
        drop(listening);
        let keying = Port::open(&name).unwrap();
        assert!(Port::open_beside(&name).unwrap().is_keyed());
        drop(keying);
    }
}
