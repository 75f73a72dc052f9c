//! What opening a port tells of a cable that keys by it, on a port that a library stands for
//! (`ends/line.c`): told, confirmed or refused.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

#[path = "ends/mod.rs"]
mod ends;
#[path = "late/mod.rs"]
mod late;

use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

struct Stand {
    folder: tempfile::TempDir,
    shim: PathBuf,
}

struct Done {
    code: Option<i32>,
    out: String,
    err: String,
    /// Whether anything was keyed, the line's break or a wire.
    keyed: bool,
}

impl Stand {
    /// `None` where a port's wires cannot be stood for.
    fn new() -> Option<Stand> {
        let folder = tempfile::tempdir().expect("a folder");
        let shim = ends::shim(folder.path())?;
        Some(Stand { folder, shim })
    }

    /// Started at a terminal, at which somebody types this.
    fn run(&self, words: &[&str], keys: &str, cable: &[(&str, &str)]) -> Done {
        let (_master, port) = ends::pty().expect("a port");
        let (person, terminal) = ends::pty().expect("a terminal");
        let terminal = File::options().read(true).write(true).open(terminal);
        File::from(person.try_clone().expect("a descriptor"))
            .write_all(keys.as_bytes())
            .expect("typed");
        let log = self.folder.path().join("log");
        let _ = std::fs::remove_file(&log);
        let words = words.iter().map(|word| word.replace("PORT", &port));
        let mut command = Command::new(ends::program());
        for name in ["SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY"] {
            command.env_remove(name);
        }
        let done = command
            .args(words)
            .args(["--settings", "/dev/null"])
            .env("LD_PRELOAD", &self.shim)
            .env("LINE_LOG", &log)
            .envs(cable.iter().copied())
            .stdin(terminal.expect("a terminal"))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .output()
            .expect("it ends");
        Done {
            code: done.status.code(),
            out: String::from_utf8_lossy(&done.stdout).into(),
            err: String::from_utf8_lossy(&done.stderr).into(),
            keyed: ends::changes(&log).iter().any(|change| change.value != 0),
        }
    }
}

fn stand() -> Option<Stand> {
    let stand = Stand::new();
    if stand.is_none() {
        println!("skipped: needs Linux and a C compiler (cc)");
    }
    stand
}

/// A command of the air on a port whose RTS is its key.
fn on_air(command: [&'static str; 2], more: &[&'static str]) -> Vec<&'static str> {
    let way = ["--to", "break:PORT", "--key", "rts", "--call", "Q1ABC"];
    [&command, &way[..], more].concat()
}

fn sending(more: &[&'static str]) -> Vec<&'static str> {
    on_air(["send", "E"], &[&["--no-keep"], more].concat())
}

const LOOPED: [(&str, &str); 1] = [("LINE_LOOP", "cts")];

#[test]
fn what_answers_to_the_opening_must_be_confirmed() {
    let Some(stand) = stand() else { return };
    // Armed, and then not confirmed.
    let not = stand.run(&sending(&[]), "Q1ABC\nno\n", &LOOPED);
    assert!(not.err.contains("raised RTS and DTR"), "{}", not.err);
    assert!(
        not.err.contains("a cable that keys by RTS alone"),
        "{}",
        not.err
    );
    assert!(not.err.contains("CTS of /dev/pts/"), "{}", not.err);
    assert!(not.err.contains("not armed"), "{}", not.err);
    assert_eq!((not.code, not.keyed), (Some(2), false), "{}", not.err);
    // Nobody is there to be asked.
    let beforehand = stand.run(&sending(&["--armed-for", "1min"]), "", &LOOPED);
    assert!(
        beforehand.err.contains("wired_back = true"),
        "{}",
        beforehand.err
    );
    assert_eq!((beforehand.code, beforehand.keyed), (Some(2), false));
    // Confirmed, or known to be harmless.
    let known = sending(&["--set", "wired_back=true"]);
    for (words, keys) in [(sending(&[]), "Q1ABC\nq1abc\n"), (known, "Q1ABC\n")] {
        // On a busy computer an edge may come too late, which ends an over; keyed it was then too.
        let sent = stand.run(&words, keys, &LOOPED);
        assert!(sent.keyed, "{}", sent.err);
    }
    // A cable that gives no answer is only told of.
    let quiet = stand.run(&sending(&[]), "Q1ABC\n", &[]);
    assert!(
        quiet.keyed && quiet.err.contains("a cable that keys by RTS alone"),
        "{}",
        quiet.err
    );
    assert!(!quiet.err.contains("moved when"), "{}", quiet.err);
}

/// A wire that the system reports as up though it was dropped: nothing is keyed over it.
#[test]
fn a_wire_that_stays_up_is_refused() {
    let Some(stand) = stand() else { return };
    let stuck = stand.run(&sending(&[]), "Q1ABC\n", &[("LINE_STUCK", "rts")]);
    assert!(stuck.err.contains("RTS stays up"), "{}", stuck.err);
    assert_eq!((stuck.code, stuck.keyed), (Some(2), false), "{}", stuck.err);
}

#[test]
fn trials_tell_what_opening_did() {
    let Some(stand) = stand() else { return };
    let words = on_air(["send", "--trial"], &[]);
    let tried = stand.run(&words, "Q1ABC\n", &LOOPED);
    assert_eq!((tried.code, tried.keyed), (Some(0), false), "{}", tried.err);
    for said in [
        "keys by RTS alone",
        "CTS of /dev/pts/",
        "that you must have seen",
    ] {
        assert!(tried.out.contains(said), "{}", tried.out);
    }
    let not = stand.run(&words, "\n", &LOOPED);
    assert!(not.code == Some(2) && not.out.is_empty(), "{}", not.err);
    let machine = ["machine", "us-72-45", "--way", "rts:PORT", "--trial=1s"];
    let tried = stand.run(&machine, "", &LOOPED);
    // A busy computer may be found too late to key.
    if tried.code == Some(0) {
        assert!(tried.out.contains("raised RTS and DTR"), "{}", tried.out);
        assert!(tried.out.contains("CTS of /dev/pts/"), "{}", tried.out);
    }
}
