//! How a command ended.

use markhold_shelf::plain;
use markhold_sound::SoundError;
use std::io::{self, Write};
use std::process::ExitCode;

/// What the exit code says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Text was copied, or a recording made: 0.
    Done,
    /// There was nothing to copy: 1.
    NothingFound,
    /// Something went wrong and was told: 2.
    Failed,
}

impl Outcome {
    /// The outcome of two parts: an error anywhere is an error, text anywhere is text.
    pub fn and(self, other: Outcome) -> Outcome {
        match (self, other) {
            (Outcome::Failed, _) | (_, Outcome::Failed) => Outcome::Failed,
            (Outcome::Done, _) | (_, Outcome::Done) => Outcome::Done,
            _ => Outcome::NothingFound,
        }
    }
}

impl Outcome {
    /// The exit code.
    pub fn code(self) -> u8 {
        match self {
            Outcome::Done => 0,
            Outcome::NothingFound => 1,
            Outcome::Failed => 2,
        }
    }
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        ExitCode::from(outcome.code())
    }
}

/// Says a line on standard error; if nobody listens there, nobody is told. Control characters,
/// which may come from a name, are written out; a new line is one.
pub fn say(line: &str) {
    let lines: Vec<String> = line.split('\n').map(plain).collect();
    let _ = writeln!(io::stderr(), "{}", lines.join("\n"));
}

/// Whether the reader of our output went away, as `head` does. Nobody is left to be told.
pub fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        let io = match cause.downcast_ref::<SoundError>() {
            Some(SoundError::Io(io)) => Some(io),
            _ => cause.downcast_ref::<io::Error>(),
        };
        io.is_some_and(|io| io.kind() == io::ErrorKind::BrokenPipe)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_wins_then_text() {
        use Outcome::*;
        assert_eq!(NothingFound.and(NothingFound), NothingFound);
        assert_eq!(NothingFound.and(Done), Done);
        assert_eq!(Done.and(NothingFound), Done);
        assert_eq!(Done.and(Failed), Failed);
        assert_eq!(Failed.and(NothingFound), Failed);
    }
}
