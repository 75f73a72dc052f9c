//! A serial port: opening it, and what its errors mean for the person.

use super::KeyerError;
use super::control_lines::{Lines, Opening};
use super::port_share::{Found, Share};
use serialport::{ErrorKind, SerialPort};
use std::io::{self, Write};
use std::time::{Duration, Instant};

/// How long a port may refuse to take one character, s. Without flow control nothing
/// holds a port up for long; a driver that hangs does.
const STALL_S: f64 = 2.0;

pub(super) use super::port_share::OsPort;

/// A control line of a serial port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wire {
    /// Request to send.
    Rts,
    /// Data terminal ready.
    Dtr,
}

/// An open serial port with the name it was opened by.
pub(super) struct Port {
    pub(super) name: String,
    pub(super) port: OsPort,
    /// What others of this program may have of it.
    share: Option<Share>,
    /// How its lines stood just after it was opened, and when that was; `None` = it was open
    /// before, or the system does not tell.
    raised: Option<(Lines, Instant)>,
}

impl Port {
    /// Opens a port at 9600 baud, eight bits; what is sent over it is set afterwards.
    ///
    /// Nobody else can open it meanwhile, and when nobody has it open any more, however that
    /// comes about, the system drops RTS and DTR.
    pub(super) fn open(name: &str) -> Result<Self, KeyerError> {
        Self::find_or_open(name, true)
    }

    /// Opens a port to listen on, or shares it with whoever has it open in this program: what is
    /// heard there need not come over a port of its own. Wires that rise at the opening are
    /// dropped.
    pub(super) fn open_beside(name: &str) -> Result<Self, KeyerError> {
        let mut port = Self::find_or_open(name, false)?;
        if !port.is_keyed() {
            // One that has no wires is no port that went away.
            let _ = port.port.write_request_to_send(false);
            let _ = port.port.write_data_terminal_ready(false);
        }
        Ok(port)
    }

    fn find_or_open(name: &str, keys: bool) -> Result<Self, KeyerError> {
        let (port, share, raised) = match Share::find(name, keys) {
            Found::Open(port, share) => (port, Some(share), None),
            Found::Keyed => return Err(KeyerError::Busy { what: name.into() }),
            Found::Nobody => {
                let port = open(name)?;
                let opened = Instant::now();
                let raised = Lines::of(&port).map(|lines| (lines, opened));
                let share = Share::begin(name, &port, keys);
                (port, share, raised)
            }
        };
        let name = name.to_string();
        Ok(Port {
            name,
            port,
            share,
            raised,
        })
    }

    /// The same open port once more: what is done to it here is not waited for there.
    pub(super) fn another(&self) -> Result<Port, KeyerError> {
        let port = self.checked(self.port.try_clone_native())?;
        Ok(Port {
            name: self.name.clone(),
            port,
            share: self.share.clone(),
            raised: None,
        })
    }

    /// What its lines told when it was opened, asked once its wires have been dropped; `None`
    /// where nothing is known.
    pub(super) fn opening(&self) -> Option<Opening> {
        let (raised, opened) = self.raised?;
        let lasted = opened.elapsed();
        Some(Opening {
            port: self.name.clone(),
            raised,
            rested: Lines::of(&self.port)?,
            lasted,
        })
    }

    /// Whether something may be keyed over it by this program.
    pub(super) fn is_keyed(&self) -> bool {
        self.share.as_ref().is_some_and(Share::is_keyed)
    }

    /// Passes a result on; an error of an open port is nearly always its end.
    pub(super) fn checked<T>(&self, result: serialport::Result<T>) -> Result<T, KeyerError> {
        result.map_err(|error| self.used(error.into()))
    }

    /// Writes all bytes; no more than `STALL_S` is waited for each.
    pub(super) fn write(&mut self, bytes: &[u8]) -> Result<(), KeyerError> {
        let written = self.port.write_all(bytes);
        written.map_err(|error| self.used(error))
    }

    /// Puts a control line to its level; `true` = asserted.
    pub(super) fn set(&mut self, wire: Wire, asserted: bool) -> Result<(), KeyerError> {
        let done = match wire {
            Wire::Rts => self.port.write_request_to_send(asserted),
            Wire::Dtr => self.port.write_data_terminal_ready(asserted),
        };
        self.checked(done)
    }

    /// Sets the speed, baud.
    pub(super) fn set_baud(&mut self, baud: u32) -> Result<(), KeyerError> {
        let done = self.port.set_baud_rate(baud);
        self.checked(done)
    }

    /// Errors if the port is gone. A port that is gone answers no question.
    pub(super) fn check_there(&self) -> Result<(), KeyerError> {
        self.checked(self.port.bytes_to_write()).map(|_| ())
    }

    /// Keeps what cannot be done apart from a port that went away.
    fn used(&self, error: io::Error) -> KeyerError {
        let what = self.name.clone();
        match error.kind() {
            io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock => KeyerError::Stalled {
                what,
                seconds: STALL_S,
            },
            io::ErrorKind::Unsupported | io::ErrorKind::InvalidInput => KeyerError::Io {
                what,
                source: error,
            },
            _ => {
                self.share.iter().for_each(Share::is_gone);
                KeyerError::PulledOut { what }
            }
        }
    }
}

fn open(name: &str) -> Result<OsPort, KeyerError> {
    let port = serialport::new(name, 9600)
        .timeout(Duration::from_secs_f64(STALL_S))
        .exclusive(true)
        .open_native()
        .map_err(|error| open_error(name, &error))?;
    #[cfg(unix)]
    drop_at_last_close(&port);
    Ok(port)
}

/// Sets HUPCL, which is usual but can have been switched off. A port that does not know it
/// is used all the same: it is the last of several nets.
#[cfg(unix)]
fn drop_at_last_close(port: &OsPort) {
    use rustix::termios::{ControlModes, OptionalActions, tcgetattr, tcsetattr};
    if let Ok(mut state) = tcgetattr(descriptor(port)) {
        state.control_modes |= ControlModes::HUPCL;
        let _ = tcsetattr(descriptor(port), OptionalActions::Now, &state);
    }
}

/// The descriptor of an open port.
#[cfg(unix)]
#[allow(
    unsafe_code,
    reason = "the library gives the raw descriptor only, without its lifetime"
)]
pub(super) fn descriptor(port: &OsPort) -> std::os::fd::BorrowedFd<'_> {
    use std::os::fd::{AsRawFd, BorrowedFd};
    // SAFETY: the port keeps its descriptor open as long as it lives, and it is borrowed for
    // as long as what is given here.
    unsafe { BorrowedFd::borrow_raw(port.as_raw_fd()) }
}

/// What comes in on a serial port, eight bits without parity.
pub struct PortReader(Port);

impl PortReader {
    /// Opens a port at this many baud.
    ///
    /// # Errors
    ///
    /// The port is missing, busy or forbidden, or does not know the speed.
    pub fn open(name: &str, baud: u32) -> Result<Self, KeyerError> {
        let mut port = Port::open(name)?;
        port.set_baud(baud)?;
        Ok(PortReader(port))
    }
}

impl io::Read for PortReader {
    /// Waits for bytes, however long that takes. A port that went away says so in words.
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        loop {
            match self.0.port.read(bytes) {
                Err(error) if error.kind() == io::ErrorKind::TimedOut => {}
                Err(error) => return Err(io::Error::other(self.0.used(error).to_string())),
                Ok(count) => return Ok(count),
            }
        }
    }
}

fn open_error(name: &str, error: &serialport::Error) -> KeyerError {
    let what = name.to_string();
    match error.kind {
        ErrorKind::Io(io::ErrorKind::NotFound) => KeyerError::Missing {
            what,
            remedy: ports_there(),
        },
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => KeyerError::NoPermission {
            what,
            remedy: "add yourself to the group that owns it (often dialout or uucp), \
                     then log in again"
                .into(),
        },
        // The library's word for a port that somebody else has locked.
        ErrorKind::NoDevice => KeyerError::Busy { what },
        _ => KeyerError::Io {
            what,
            source: io::Error::other(error.description.clone()),
        },
    }
}

/// The serial ports that are to be seen now, by name.
pub fn ports() -> Vec<String> {
    let ports = serialport::available_ports().unwrap_or_default();
    let mut names: Vec<String> = ports.into_iter().map(|port| port.port_name).collect();
    names.sort();
    names
}

/// Whether this user may open a port, without opening it: that would raise RTS and DTR.
///
/// # Errors
///
/// The port is missing or forbidden. Whether it is in use shows when it is opened.
pub fn may_open(name: &str) -> Result<(), KeyerError> {
    #[cfg(unix)]
    {
        use rustix::fs::{Access, access};
        access(name, Access::READ_OK | Access::WRITE_OK).map_err(|error| {
            let error = io::Error::from(error);
            let kind = ErrorKind::Io(error.kind());
            open_error(name, &serialport::Error::new(kind, error.to_string()))
        })
    }
    #[cfg(not(unix))]
    {
        match ports().iter().any(|port| port == name) {
            true => Ok(()),
            false => Err(KeyerError::Missing {
                what: name.to_string(),
                remedy: ports_there(),
            }),
        }
    }
}

fn ports_there() -> String {
    let names = ports();
    if names.is_empty() {
        "no serial port is to be seen: plug the adapter in".into()
    } else {
        format!("plug the adapter in, or choose one of {}", names.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_is_not_there_is_missing() {
        let error = Port::open("/dev/no-such-port").err().unwrap();
        assert!(matches!(error, KeyerError::Missing { .. }), "{error}");
        assert!(error.to_string().contains("plug the adapter in"), "{error}");
        let error = may_open("/dev/no-such-port").err().unwrap();
        assert!(matches!(error, KeyerError::Missing { .. }), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn a_port_may_be_opened_without_being_opened() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        // The pair holds it for itself: opening it would be refused.
        assert!(may_open(&slave.name().unwrap()).is_ok());
    }

    #[test]
    fn errors_say_what_to_do() {
        let of = |kind| open_error("port", &serialport::Error::new(kind, "said"));
        let denied = of(ErrorKind::Io(io::ErrorKind::PermissionDenied));
        assert!(denied.to_string().contains("dialout"), "{denied}");
        assert!(matches!(of(ErrorKind::NoDevice), KeyerError::Busy { .. }));
        assert!(matches!(of(ErrorKind::Unknown), KeyerError::Io { .. }));
    }

    #[cfg(unix)]
    #[test]
    fn what_comes_in_is_read_until_the_port_goes_away() {
        use std::io::Read;
        let (mut master, slave) = serialport::TTYPort::pair().unwrap();
        let mut reader = PortReader::open(&slave.name().unwrap(), 115_200).unwrap();
        drop(slave);
        master.write_all(b"0.5 space\n").unwrap();
        let mut bytes = [0; 10];
        reader.read_exact(&mut bytes).unwrap();
        assert_eq!(&bytes, b"0.5 space\n");
        drop(master);
        let mut rest = Vec::new();
        // A pty's end is the end of the file or an error, as the system likes.
        let gone = reader.read_to_end(&mut rest);
        let told = gone
            .err()
            .is_none_or(|error| error.to_string().contains("went away"));
        assert!(told && rest.is_empty());
    }

    #[cfg(unix)]
    #[test]
    fn the_last_close_drops_the_wires() {
        use rustix::termios::{ControlModes, OptionalActions, tcgetattr, tcsetattr};
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let mut state = tcgetattr(descriptor(&slave)).unwrap();
        state.control_modes.remove(ControlModes::HUPCL);
        tcsetattr(descriptor(&slave), OptionalActions::Now, &state).unwrap();
        let mut port = Port::open(&slave.name().unwrap()).unwrap();
        // Other settings leave it alone.
        port.set_baud(1200).unwrap();
        let state = tcgetattr(descriptor(&port.port)).unwrap();
        assert!(state.control_modes.contains(ControlModes::HUPCL));
    }

    #[cfg(unix)]
    #[test]
    fn a_file_is_no_port_and_a_port_in_use_is_busy() {
        let file = tempfile::NamedTempFile::new().unwrap();
        let error = Port::open(file.path().to_str().unwrap()).err().unwrap();
        assert!(matches!(error, KeyerError::Io { .. }), "{error}");
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let name = slave.name().unwrap();
        let _first = Port::open(&name).unwrap();
        let error = Port::open(&name).err().unwrap();
        assert!(matches!(error, KeyerError::Busy { .. }), "{error}");
    }
}
