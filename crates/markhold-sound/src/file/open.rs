//! Opening files so that nothing hangs: a pipe may have nobody at its other end.

use std::fs::File;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::Duration;

/// How long a pipe may be without anybody at its other end: who gives its name has begun
/// what writes, or does so now.
const PATIENCE: Duration = Duration::from_secs(3);

/// Opens a file, or a named pipe that somebody writes into.
///
/// # Errors
///
/// Those of the system; [`ErrorKind::TimedOut`] where nobody writes.
pub fn open_file(path: &Path) -> io::Result<File> {
    let nobody = "this is a pipe that nobody writes into; start what writes first";
    opened(path, File::open, nobody)
}

/// Makes a file, or opens a named pipe that somebody reads from.
///
/// # Errors
///
/// Those of the system; [`ErrorKind::TimedOut`] where nobody reads.
pub fn create_file(path: &Path) -> io::Result<File> {
    let nobody = "this is a pipe that nobody reads from; start what reads first";
    opened(path, File::create, nobody)
}

fn opened(
    path: &Path,
    open: fn(PathBuf) -> io::Result<File>,
    nobody: &'static str,
) -> io::Result<File> {
    if !is_pipe(path) {
        return open(path.into());
    }
    // Opening a pipe waits for the other end, and nothing but the end of the program stops it.
    let (tell, told) = mpsc::channel();
    let path = path.to_path_buf();
    std::thread::spawn(move || tell.send(open(path)));
    let opened = told.recv_timeout(PATIENCE);
    opened.unwrap_or_else(|_| Err(io::Error::new(ErrorKind::TimedOut, nobody)))
}

#[cfg(unix)]
fn is_pipe(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt;
    std::fs::metadata(path).is_ok_and(|about| about.file_type().is_fifo())
}

#[cfg(not(unix))]
fn is_pipe(_path: &Path) -> bool {
    false
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::io::{Read, Write};

    fn pipe() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        assert!(made.unwrap().success());
        (folder, path)
    }

    #[test]
    fn a_pipe_without_another_end_hangs_nothing() {
        for open in [open_file, create_file] {
            // A pipe each: who waits for the other end goes on waiting.
            let (_folder, path) = pipe();
            let error = open(&path).expect_err("nobody is there");
            assert_eq!(error.kind(), ErrorKind::TimedOut);
            assert!(error.to_string().contains("start what"), "{error}");
        }
    }

    #[test]
    fn a_pipe_with_two_ends_is_a_file() {
        let (_folder, path) = pipe();
        let other = path.clone();
        let writer = std::thread::spawn(move || create_file(&other)?.write_all(b"sound"));
        let mut read = String::new();
        open_file(&path).unwrap().read_to_string(&mut read).unwrap();
        writer.join().unwrap().unwrap();
        assert_eq!(read, "sound");
    }
}
