//! Standard input that ends where the program is told to stop: a pipe that gives nothing just
//! then must not keep what was copied so far.

use crate::stopping;
use std::io::{self, Read};
use std::sync::mpsc::{Receiver, RecvTimeoutError, sync_channel};
use std::time::Duration;

/// Bytes that are read at once, and how many such pieces may wait.
const PIECE: usize = 1 << 16;
const WAITING: usize = 4;

/// How often it looks whether it was told to stop: nobody notices.
const LOOK: Duration = Duration::from_millis(50);

/// Bytes of a pipe, read by a thread of its own.
pub struct Piped {
    pieces: Receiver<io::Result<Vec<u8>>>,
    /// What is left of the last one.
    piece: io::Cursor<Vec<u8>>,
}

impl Piped {
    /// Begins to read.
    ///
    /// # Errors
    ///
    /// The system gives no thread.
    pub fn new(mut input: impl Read + Send + 'static) -> io::Result<Self> {
        let (give, pieces) = sync_channel(WAITING);
        let read = move || {
            let mut bytes = vec![0; PIECE];
            loop {
                let piece = match input.read(&mut bytes) {
                    Ok(0) => return,
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    other => other.map(|count| bytes[..count].to_vec()),
                };
                // Nobody may read any more.
                if give.send(piece).is_err() {
                    return;
                }
            }
        };
        let thread = std::thread::Builder::new().name("input".into());
        thread.spawn(read)?;
        let piece = io::Cursor::default();
        Ok(Piped { pieces, piece })
    }
}

impl Read for Piped {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        loop {
            let count = self.piece.read(out)?;
            if count > 0 || out.is_empty() {
                return Ok(count);
            }
            match self.pieces.recv_timeout(LOOK) {
                Ok(piece) => self.piece = io::Cursor::new(piece?),
                Err(RecvTimeoutError::Timeout) if !stopping::told() => {}
                Err(_) => return Ok(0),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_come_as_they_were_and_end() {
        let all: Vec<u8> = (0..200_000u32).map(|k| (k % 251) as u8).collect();
        let mut piped = Piped::new(io::Cursor::new(all.clone())).unwrap();
        let mut back = Vec::new();
        piped.read_to_end(&mut back).unwrap();
        assert!(back == all);
    }
}
