//! Plain codes for other people's interfaces: over a pipe, a file or a TCP socket.
//!
//! Two formats, both at the line's pace, one character when its start element would
//! begin:
//!
//! * **codes**: one byte a character, 0 to 31, element 1 in the lowest bit and 1 = mark,
//!   so `A`, 11000 on the line, is the byte 3. Nothing else is sent.
//! * **lines**: one line of ASCII a happening, ended by a line feed: five digits `0` and
//!   `1` for a character, in the order sent, 1 = mark (`11000`); `hold 1.500` where mark
//!   is held, s; `motor on` and `motor off`; `cancel`. A reader ignores lines it does not
//!   know.
//!
//! **Caution:** whatever makes the line of these bytes has the machine's loop at its other
//! end: see [`machine`](super).

use super::pace::Pace;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop};
use std::io::{self, Write};

/// How long a reader may take nothing, s.
pub(super) const STALL_S: f64 = 5.0;

/// How characters are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ByteFormat {
    /// One byte a character, 0 to 31.
    Codes,
    /// One line of text a happening.
    Lines,
}

/// Where bytes go.
pub trait ByteSink: Write + Send {
    /// Errors if nobody is there any more. A pipe tells it with the next write.
    fn check(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl ByteSink for std::fs::File {}
impl ByteSink for io::Stdout {}

/// Writes plain codes.
pub struct BytesKeyer {
    // Configured.
    name: String,
    format: ByteFormat,
    sink: Box<dyn ByteSink>,
    // State.
    pace: Pace,
}

impl BytesKeyer {
    /// Writes to any sink; `name` is what errors call it.
    ///
    /// Errors: a speed that is none.
    pub fn new(
        name: &str,
        format: ByteFormat,
        speed: StartStop,
        sink: impl ByteSink + 'static,
    ) -> Result<Self, KeyerError> {
        Ok(BytesKeyer {
            name: name.to_string(),
            format,
            sink: Box::new(sink),
            pace: Pace::new(speed)?,
        })
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), KeyerError> {
        let sink = &mut self.sink;
        let written = sink.check().and_then(|()| sink.write_all(bytes));
        let done = written.and_then(|()| sink.flush());
        done.map_err(|error| write_error(&self.name, error))
    }

    fn line(&mut self, text: &str) -> Result<(), KeyerError> {
        match self.format {
            ByteFormat::Codes => Ok(()),
            ByteFormat::Lines => self.write(format!("{text}\n").as_bytes()),
        }
    }
}

/// What errors call standard output. Its reader does not come back.
pub(super) const STANDARD_OUTPUT: &str = "standard output";

pub(super) fn write_error(name: &str, source: io::Error) -> KeyerError {
    use io::ErrorKind::{
        BrokenPipe, ConnectionAborted, ConnectionReset, NotConnected, TimedOut, UnexpectedEof,
        WouldBlock,
    };
    let what = name.to_string();
    match source.kind() {
        BrokenPipe if name == STANDARD_OUTPUT => KeyerError::Closed { what },
        BrokenPipe | ConnectionReset | ConnectionAborted | NotConnected | UnexpectedEof => {
            KeyerError::PulledOut { what }
        }
        TimedOut | WouldBlock => KeyerError::Stalled {
            what,
            seconds: STALL_S,
        },
        _ => KeyerError::Io { what, source },
    }
}

impl Keyer for BytesKeyer {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.pace.rest();
        match self.format {
            ByteFormat::Codes => self.write(&[code.value()])?,
            ByteFormat::Lines => self.line(&code.to_string())?,
        }
        self.pace.character();
        Ok(())
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        super::keyer::duration(seconds)?;
        self.line(&format!("hold {seconds:.3}"))?;
        self.pace.hold(seconds)
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.line(if on { "motor on" } else { "motor off" })
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.pace.rest();
        Ok(())
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.line("cancel")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    const FAST: StartStop = StartStop::new(10_000.0, 1.5);

    #[derive(Clone, Default)]
    struct Shared(Arc<Mutex<Vec<u8>>>);

    impl Write for Shared {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    impl ByteSink for Shared {}

    fn written(format: ByteFormat) -> Vec<u8> {
        let shared = Shared::default();
        let mut keyer = BytesKeyer::new("pipe", format, FAST, shared.clone()).unwrap();
        keyer.motor(true).unwrap();
        // A is 11000 (ITU-T S.1).
        keyer.send(Code::new(3).unwrap()).unwrap();
        keyer.hold(0.001).unwrap();
        keyer.send(Code::LETTERS).unwrap();
        keyer.finish().unwrap();
        keyer.cancel().unwrap();
        keyer.motor(false).unwrap();
        assert!(keyer.hold(-1.0).is_err());
        let bytes = shared.0.lock().unwrap();
        bytes.clone()
    }

    #[test]
    fn codes_are_their_values_and_nothing_else() {
        assert_eq!(written(ByteFormat::Codes), [3, 31]);
    }

    #[test]
    fn lines_tell_everything() {
        let text = String::from_utf8(written(ByteFormat::Lines)).unwrap();
        let expected = "motor on\n11000\nhold 0.001\n11111\ncancel\nmotor off\n";
        assert_eq!(text, expected);
    }
}
