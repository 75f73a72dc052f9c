//! How a command ended.

use markhold_shelf::{io_words, plain};
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

/// An error with its causes, as one sentence; what the system refused is told in words.
pub fn in_words(error: &anyhow::Error) -> String {
    let words = |cause: &(dyn std::error::Error + 'static)| match cause.downcast_ref::<io::Error>()
    {
        Some(io) => io_words(io),
        None => without_number(&cause.to_string()),
    };
    let mut all: Vec<String> = error.chain().map(words).collect();
    // Some errors say what their cause says.
    all.dedup();
    all.join(": ")
}

/// What the system says itself, without the number that it is known by.
fn without_number(words: &str) -> String {
    let Some((before, number)) = words.split_once(" (os error ") else {
        return words.to_string();
    };
    let after = number.split_once(')').map_or("", |(_, after)| after);
    format!("{before}{after}")
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
    fn what_the_system_refuses_is_told_in_words() {
        use anyhow::Context;
        let refused = || io::Error::from_raw_os_error(2);
        let error = Err::<(), _>(refused()).context("a.txt").unwrap_err();
        let said = "a.txt: there is no such file or folder; check the name";
        assert_eq!(in_words(&error), said);
        let inner = anyhow::anyhow!("it failed: {}, so it is", refused());
        assert_eq!(
            in_words(&inner),
            "it failed: No such file or directory, so it is"
        );
    }

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
