//! Where plain codes can go: standard output, a file or pipe, a TCP socket.

use super::KeyerError;
use super::bytes::{ByteSink, STALL_S, STANDARD_OUTPUT, write_error};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Where plain codes go.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ByteTarget {
    /// Standard output.
    Output,
    /// A file, which grows, or a named pipe that somebody reads.
    Path(PathBuf),
    /// A socket that another program listens on.
    Connect(SocketAddr),
    /// A socket that another program connects to, one at a time.
    Listen(SocketAddr),
}

/// How long to wait for another program.
const WAIT: Duration = Duration::from_secs(10);

impl ByteTarget {
    /// What errors call it.
    pub fn name(&self) -> String {
        match self {
            ByteTarget::Output => STANDARD_OUTPUT.into(),
            ByteTarget::Path(path) => path.display().to_string(),
            ByteTarget::Connect(to) | ByteTarget::Listen(to) => format!("the socket {to}"),
        }
    }

    /// Opens it. Other computers are reached, and reach this one, only where `network`
    /// allows it: what a machine prints is nobody else's to decide.
    ///
    /// Errors: nobody is there; forbidden; the address is taken or not of this computer.
    pub fn open(&self, network: bool) -> Result<Box<dyn ByteSink>, KeyerError> {
        match self {
            ByteTarget::Output => Ok(Box::new(io::stdout())),
            ByteTarget::Path(path) => Ok(Box::new(open_path(path)?)),
            ByteTarget::Connect(to) => {
                check_loopback(*to, network)?;
                let stream = TcpStream::connect_timeout(to, WAIT);
                let stream = stream.map_err(|error| self.absent(error))?;
                socket(stream).map_err(|error| self.absent(error))
            }
            ByteTarget::Listen(at) => {
                check_loopback(*at, network)?;
                let listener = TcpListener::bind(at).map_err(|error| self.absent(error))?;
                accept(&listener, WAIT).map_err(|error| self.absent(error))
            }
        }
    }

    fn absent(&self, error: io::Error) -> KeyerError {
        let what = self.name();
        match error.kind() {
            io::ErrorKind::AddrInUse => KeyerError::Busy { what },
            io::ErrorKind::ConnectionRefused | io::ErrorKind::TimedOut => KeyerError::Missing {
                what,
                remedy: "start the interface's program, then try again".into(),
            },
            io::ErrorKind::PermissionDenied => KeyerError::NoPermission {
                what,
                remedy: "choose a port above 1023".into(),
            },
            _ => KeyerError::Io {
                what,
                source: error,
            },
        }
    }
}

impl ByteSink for Box<dyn ByteSink> {
    fn check(&mut self) -> io::Result<()> {
        (**self).check()
    }
}

fn check_loopback(address: SocketAddr, network: bool) -> Result<(), KeyerError> {
    if network || address.ip().is_loopback() {
        return Ok(());
    }
    Err(KeyerError::Setting {
        what: "the socket's address",
        found: address.to_string(),
        expected: "this computer (127.0.0.1), or leave to use the network".into(),
    })
}

/// A pipe that nobody reads is an error rather than a wait without end.
fn open_path(path: &Path) -> Result<File, KeyerError> {
    let mut options = OpenOptions::new();
    options.append(true).create(true);
    #[cfg(target_os = "linux")]
    std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, libc::O_NONBLOCK);
    options.open(path).map_err(|error| {
        let what = path.display().to_string();
        match error.kind() {
            io::ErrorKind::PermissionDenied => KeyerError::NoPermission {
                what,
                remedy: "choose a file of your own".into(),
            },
            io::ErrorKind::NotFound => KeyerError::Missing {
                what,
                remedy: "make the folder, or name another".into(),
            },
            _ if no_reader(&error) => KeyerError::Missing {
                what: format!("a reader of {what}"),
                remedy: "start the program that reads the pipe, then try again".into(),
            },
            _ => write_error(&what, error),
        }
    })
}

/// What Linux says of a named pipe without a reader.
fn no_reader(error: &io::Error) -> bool {
    cfg!(target_os = "linux") && error.raw_os_error() == Some(6)
}

/// Waits for one program to connect.
fn accept(listener: &TcpListener, wait: Duration) -> io::Result<Box<dyn ByteSink>> {
    listener.set_nonblocking(true)?;
    let until = Instant::now() + wait;
    loop {
        match listener.accept() {
            Ok((stream, _)) => {
                stream.set_nonblocking(false)?;
                return socket(stream);
            }
            Err(error) if error.kind() != io::ErrorKind::WouldBlock => return Err(error),
            Err(_) if Instant::now() > until => return Err(io::ErrorKind::TimedOut.into()),
            Err(_) => std::thread::sleep(Duration::from_millis(20)),
        }
    }
}

fn socket(stream: TcpStream) -> io::Result<Box<dyn ByteSink>> {
    // A character is to leave when it is written, not when more have gathered.
    stream.set_nodelay(true)?;
    stream.set_write_timeout(Some(Duration::from_secs_f64(STALL_S)))?;
    Ok(Box::new(Socket(stream)))
}

struct Socket(TcpStream);

impl Write for Socket {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl ByteSink for Socket {
    /// The first write after the other end has closed still succeeds, and a character
    /// would be lost: looking for the end of what it sends finds out before.
    fn check(&mut self) -> io::Result<()> {
        self.0.set_nonblocking(true)?;
        let seen = self.0.peek(&mut [0]);
        self.0.set_nonblocking(false)?;
        match seen {
            Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
            Err(error) if error.kind() != io::ErrorKind::WouldBlock => Err(error),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ByteFormat, BytesKeyer, Keyer};
    use markhold_code::{Code, StartStop};
    use std::io::Read;

    const FAST: StartStop = StartStop::new(10_000.0, 1.5);

    fn keyer(target: &ByteTarget) -> Result<BytesKeyer, KeyerError> {
        let sink = target.open(false)?;
        BytesKeyer::new(&target.name(), ByteFormat::Codes, FAST, sink)
    }

    #[test]
    fn a_socket_gets_the_codes_and_its_end_is_noticed_before_one_is_lost() {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let target = ByteTarget::Connect(listener.local_addr().unwrap());
        let mut keyer = keyer(&target).unwrap();
        let (mut other, _) = listener.accept().unwrap();
        keyer.send(Code::LETTERS).unwrap();
        keyer.send(Code::SPACE).unwrap();
        let mut bytes = [0; 2];
        other.read_exact(&mut bytes).unwrap();
        assert_eq!(bytes, [31, 4]);
        drop(other);
        // On a busy computer that it is gone comes here a little later.
        std::thread::sleep(std::time::Duration::from_millis(100));
        let error = keyer.send(Code::BLANK).unwrap_err();
        assert!(matches!(error, KeyerError::PulledOut { .. }), "{error}");
        // Opened again, the character that failed is the next one.
        let mut again = super::tests::keyer(&target).unwrap();
        let (mut other, _) = listener.accept().unwrap();
        again.send(Code::BLANK).unwrap();
        other.read_exact(&mut bytes[..1]).unwrap();
        assert_eq!(bytes[0], 0);
    }

    #[test]
    fn another_program_connects() {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let at = listener.local_addr().unwrap();
        let error = ByteTarget::Listen(at).open(false).err().unwrap();
        assert!(matches!(error, KeyerError::Busy { .. }), "{error}");
        let mut other = TcpStream::connect(at).unwrap();
        let mut sink = accept(&listener, WAIT).unwrap();
        sink.write_all(&[7]).unwrap();
        let mut byte = [0];
        other.read_exact(&mut byte).unwrap();
        assert_eq!(byte, [7]);
        let none = accept(&listener, Duration::ZERO).err().unwrap();
        assert_eq!(none.kind(), io::ErrorKind::TimedOut);
    }

    #[test]
    fn nobody_there_and_another_computer() {
        let free = TcpListener::bind("127.0.0.1:0")
            .unwrap()
            .local_addr()
            .unwrap();
        let error = ByteTarget::Connect(free).open(false).err().unwrap();
        assert!(
            error.to_string().contains("start the interface's program"),
            "{error}"
        );
        let far = "192.0.2.1:7000".parse().unwrap();
        for target in [ByteTarget::Connect(far), ByteTarget::Listen(far)] {
            let error = target.open(false).err().unwrap();
            assert!(matches!(error, KeyerError::Setting { .. }), "{error}");
        }
    }

    #[test]
    fn files_grow_and_folders_must_be_there() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("codes");
        for _ in 0..2 {
            let mut keyer = keyer(&ByteTarget::Path(path.clone())).unwrap();
            keyer.send(Code::FIGURES).unwrap();
        }
        assert_eq!(std::fs::read(&path).unwrap(), [27, 27]);
        let nowhere = ByteTarget::Path(folder.path().join("none").join("codes"));
        assert!(matches!(
            keyer(&nowhere).err().unwrap(),
            KeyerError::Missing { .. }
        ));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_pipe_without_a_reader_says_so() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo")
            .arg(&path)
            .status()
            .unwrap();
        assert!(made.success());
        let error = keyer(&ByteTarget::Path(path.clone())).err().unwrap();
        assert!(error.to_string().contains("a reader of"), "{error}");
        let mut reader = OpenOptions::new();
        std::os::unix::fs::OpenOptionsExt::custom_flags(reader.read(true), libc::O_NONBLOCK);
        let mut reader = reader.open(&path).unwrap();
        let mut keyer = keyer(&ByteTarget::Path(path)).unwrap();
        keyer.send(Code::SPACE).unwrap();
        let mut byte = [0];
        reader.read_exact(&mut byte).unwrap();
        assert_eq!(byte, [4]);
        drop(reader);
        let error = keyer.send(Code::SPACE).unwrap_err();
        assert!(matches!(error, KeyerError::PulledOut { .. }), "{error}");
    }
}
