//! A keyboard of somebody else's interface: plain codes, one byte a character.
//!
//! As what is printed goes to an interface (see [`ByteFormat::Codes`](crate::ByteFormat)): 0 to
//! 31, element 1 in the lowest bit. 255 is a break; other bytes are nothing that is known, and
//! count as misread.

use super::line::{Heard, KeyboardLine, Stroke};
use crate::KeyerError;
use markhold_code::Code;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::time::Duration;

/// A break.
const BREAK: u8 = 255;
/// Bytes that may wait: who types is read long before.
const WAITING: usize = 4096;

/// What comes from an interface.
pub struct BytesKeyboard {
    name: String,
    bytes: Receiver<io::Result<u8>>,
    ended: bool,
}

impl BytesKeyboard {
    /// Reads a named pipe, a pseudo terminal or a file; `None` = standard input.
    ///
    /// # Errors
    ///
    /// It is not there, or this user may not read it.
    pub fn open(path: Option<&Path>) -> Result<Self, KeyerError> {
        let Some(path) = path else {
            return Self::new("standard input", io::stdin());
        };
        let name = path.display().to_string();
        let file = open(path).map_err(|source| match source.kind() {
            io::ErrorKind::NotFound => KeyerError::Missing {
                what: name.clone(),
                remedy: "start what writes it, or name another".into(),
            },
            io::ErrorKind::PermissionDenied => KeyerError::NoPermission {
                what: name.clone(),
                remedy: "let this user read it".into(),
            },
            _ => KeyerError::Io {
                what: name.clone(),
                source,
            },
        })?;
        Self::new(&name, file)
    }

    /// Reads anything; `name` is what errors call it.
    ///
    /// # Errors
    ///
    /// The system gives no thread.
    pub fn new(name: &str, mut from: impl Read + Send + 'static) -> Result<Self, KeyerError> {
        let (give, bytes) = sync_channel(WAITING);
        let read = move || {
            let mut byte = [0];
            loop {
                let came = match from.read(&mut byte) {
                    Ok(0) => Err(io::ErrorKind::UnexpectedEof.into()),
                    Ok(_) => Ok(byte[0]),
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    Err(error) => Err(error),
                };
                let failed = came.is_err();
                // Nobody may listen any more.
                if give.send(came).is_err() || failed {
                    return;
                }
            }
        };
        let thread = std::thread::Builder::new().name("keyboard line".into());
        let spawned = thread.spawn(read);
        spawned.map_err(|source| KeyerError::Io {
            what: name.into(),
            source,
        })?;
        Ok(BytesKeyboard {
            name: name.into(),
            bytes,
            ended: false,
        })
    }

    fn closed(&self) -> KeyerError {
        KeyerError::Closed {
            what: self.name.clone(),
        }
    }
}

impl KeyboardLine for BytesKeyboard {
    fn next(&mut self, patience: Duration) -> Result<Option<Heard>, KeyerError> {
        match self.bytes.recv_timeout(patience) {
            Ok(Ok(byte)) => Ok(Some(Heard::now(stroke(byte)))),
            Err(RecvTimeoutError::Timeout) => Ok(None),
            // A file that was read to its end is not read again.
            Ok(Err(error)) if error.kind() == io::ErrorKind::UnexpectedEof => {
                self.ended = true;
                Err(self.closed())
            }
            Err(RecvTimeoutError::Disconnected) if self.ended => Err(self.closed()),
            Ok(Err(_)) | Err(RecvTimeoutError::Disconnected) => Err(KeyerError::PulledOut {
                what: self.name.clone(),
            }),
        }
    }
}

fn stroke(byte: u8) -> Stroke {
    match (Code::new(byte), byte) {
        (Some(code), _) => Stroke::Code(code),
        (None, BREAK) => Stroke::Break,
        (None, _) => Stroke::Misread,
    }
}

/// A pseudo terminal must not become this program's own. A named pipe is opened for writing as
/// well: so nobody waits for a writer, and the pipe does not end with each of them.
#[cfg(unix)]
fn open(path: &Path) -> io::Result<File> {
    use rustix::fs::{FileType, Mode, OFlags};
    let kind = FileType::from_raw_mode(rustix::fs::stat(path)?.st_mode);
    let access = match kind {
        FileType::Fifo => OFlags::RDWR,
        _ => OFlags::RDONLY,
    };
    let flags = access | OFlags::NOCTTY | OFlags::CLOEXEC;
    Ok(rustix::fs::open(path, flags, Mode::empty())?.into())
}

#[cfg(not(unix))]
fn open(path: &Path) -> io::Result<File> {
    File::open(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_codes_and_255_is_a_break() {
        let bytes: &[u8] = &[3, 31, 255, 77];
        let mut keyboard = BytesKeyboard::new("it", bytes).unwrap();
        let mut all = Vec::new();
        let ended = loop {
            match keyboard.next(Duration::from_secs(5)) {
                Ok(heard) => all.push(heard.expect("within five seconds").stroke),
                Err(error) => break error,
            }
        };
        let code = |value| Stroke::Code(Code::new(value).unwrap());
        assert_eq!(all, [code(3), code(31), Stroke::Break, Stroke::Misread]);
        assert!(matches!(ended, KeyerError::Closed { .. }), "{ended}");
        assert!(
            keyboard.next(Duration::from_secs(5)).is_err(),
            "it has ended for good"
        );
    }

    #[test]
    fn what_is_not_there_says_so() {
        let error = BytesKeyboard::open(Some(Path::new("/no/such/pipe")))
            .err()
            .unwrap();
        assert!(
            error.to_string().contains("start what writes it"),
            "{error}"
        );
    }
}
