//! Another program that keys or unkeys something: run to its end, and not for ever.

use std::io;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// How long it may take. It stands between a person and a keyed transmitter.
const PATIENCE: Duration = Duration::from_secs(2);
/// Between two looks at whether it has ended.
const LOOK: Duration = Duration::from_millis(2);

/// Runs a command, its program first, without a shell.
///
/// # Errors
///
/// It cannot be started, does not end within two seconds (then it is ended), or ends badly.
pub(crate) fn run(words: &[String]) -> io::Result<()> {
    let (program, rest) = words
        .split_first()
        .ok_or_else(|| io::Error::other("a command without a program"))?;
    let child = Command::new(program)
        .args(rest)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    let told = |error: String| io::Error::other(format!("the command {program}: {error}"));
    let mut child = child.map_err(|error| told(error.to_string()))?;
    match wait(&mut child)? {
        Some(status) if status.success() => Ok(()),
        Some(status) => Err(told(format!("{status}, expected 0"))),
        None => Err(told(format!("did not end within {PATIENCE:?}"))),
    }
}

fn wait(child: &mut Child) -> io::Result<Option<ExitStatus>> {
    let begun = Instant::now();
    while begun.elapsed() < PATIENCE {
        if let Some(status) = child.try_wait()? {
            return Ok(Some(status));
        }
        std::thread::sleep(LOOK);
    }
    child.kill()?;
    child.wait().map(|_| None)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    fn words(line: &str) -> Vec<String> {
        line.split(' ').map(String::from).collect()
    }

    #[test]
    fn good_bad_and_none() {
        assert!(run(&words("true")).is_ok());
        let error = run(&words("false")).unwrap_err().to_string();
        assert!(
            error.contains("false") && error.contains("expected 0"),
            "{error}"
        );
        assert!(run(&words("no-such-program-here on")).is_err());
        assert!(run(&[]).is_err());
    }
}
