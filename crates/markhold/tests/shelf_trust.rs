//! A shelf that can only be read, is damaged, or holds names that were made to harm: what a
//! person is told, in words.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use std::path::{Path, PathBuf};
use std::process::Command;

struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    /// A shelf with one short evening, added from a file of this name.
    fn with(name: &str) -> Bench {
        let folder = tempfile::tempdir().unwrap();
        let bench = Bench { folder };
        let more = ["--es-n0", "15", "--seed", "3", "--lead", "2"];
        let path = recording(&bench.folder, name, "NET AT NINE ON THE MARSH\n", &more);
        let done = bench.shelf(&["add", &path, "--begin", "2026-03-21T19:30:00Z"]);
        assert_eq!(done.code, 0, "{}", done.err);
        bench
    }

    fn place(&self) -> PathBuf {
        self.folder.path().join("shelf")
    }

    fn command(&self, words: &[&str]) -> Command {
        let place = self.place().display().to_string();
        let mut command = command(["shelf", "--utc", "--shelf", &place]);
        command
            .args(words)
            .env("XDG_CONFIG_HOME", self.folder.path());
        command
    }

    fn shelf(&self, words: &[&str]) -> Done {
        finished(self.command(words))
    }
}

fn finished(mut command: Command) -> Done {
    done(command.output().unwrap())
}

/// The same command as a user who may write nothing there, where we are root; `None` where that
/// cannot be had.
#[cfg(unix)]
fn powerless(command: &Command) -> Option<Command> {
    use std::os::unix::fs::MetadataExt;
    let root = std::fs::metadata("/proc/self").ok()?.uid() == 0;
    let mut other = match root {
        true => Command::new("setpriv"),
        false => Command::new("env"),
    };
    if root {
        other.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
    }
    other.arg(command.get_program()).args(command.get_args());
    command.get_envs().for_each(|(key, value)| {
        other.env(key, value.unwrap_or_default());
    });
    let mut tried = match root {
        true => Command::new("setpriv"),
        false => Command::new("env"),
    };
    if root {
        tried.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
    }
    tried.arg(command.get_program()).arg("--version");
    tried.output().ok()?.status.success().then_some(other)
}

#[cfg(unix)]
fn protect(path: &Path, write: bool) {
    use std::os::unix::fs::PermissionsExt;
    let is_folder = path.is_dir();
    let mode = match (is_folder, write) {
        (true, false) => 0o555,
        (false, false) => 0o444,
        (true, true) => 0o755,
        (false, true) => 0o644,
    };
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    if is_folder {
        for entry in std::fs::read_dir(path).unwrap() {
            protect(&entry.unwrap().path(), write);
        }
    }
}

#[cfg(unix)]
#[test]
fn a_shelf_that_may_only_be_read_is_read() {
    let bench = Bench::with("one.wav");
    let asked: [&[&str]; 5] = [
        &["list"],
        &["show", "last"],
        &["search", "marsh"],
        &["export", "1", "--format", "jsonl"],
        &["check"],
    ];
    let before: Vec<Done> = asked.iter().map(|words| bench.shelf(words)).collect();
    let read = |bench: &Bench| {
        protect(&bench.place(), false);
        protect_top(bench);
        let mut all = Vec::new();
        for words in asked {
            let Some(command) = powerless(&bench.command(words)) else {
                eprintln!("skipped: nobody powerless is to be had here");
                protect(&bench.place(), true);
                return None;
            };
            all.push(finished(command));
        }
        protect(&bench.place(), true);
        Some(all)
    };
    let same = |after: &[Done]| {
        for (before, after) in before.iter().zip(after) {
            assert_eq!(
                (before.code, &before.out),
                (after.code, &after.out),
                "{}",
                after.err
            );
        }
    };
    let Some(after) = read(&bench) else { return };
    same(&after);
    assert!(after[4].err.contains("not looked at"), "{}", after[4].err);
    // With a journal that a crash left behind, nothing can be played there.
    let file = bench.place().join("markhold.sqlite");
    let crash = bench.folder.path().join("crash");
    std::fs::create_dir(&crash).unwrap();
    {
        let archive = rusqlite::Connection::open(&file).unwrap();
        let one = "UPDATE evenings SET input = 'a receiver on the marsh'";
        archive.execute_batch(one).unwrap();
        for behind in ["", "-wal"] {
            let name = format!("markhold.sqlite{behind}");
            std::fs::copy(bench.place().join(&name), crash.join(&name)).unwrap();
        }
    }
    for behind in ["", "-wal"] {
        let name = format!("markhold.sqlite{behind}");
        std::fs::copy(crash.join(&name), bench.place().join(&name)).unwrap();
    }
    let after = read(&bench).expect("as before");
    assert!(
        after[0].out.contains("a receiver on the marsh"),
        "{}",
        after[0].out
    );
    assert_eq!(after[2].out, before[2].out);
}

/// Others may go through the test's own folder.
#[cfg(unix)]
fn protect_top(bench: &Bench) {
    use std::os::unix::fs::PermissionsExt;
    let open = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(bench.folder.path(), open).unwrap();
}

#[test]
fn names_work_no_terminal() {
    let bench = Bench::with("\u{1b}[2Jmarsh.wav");
    for words in [&["list"][..], &["show", "last"], &["check"]] {
        let done = bench.shelf(words);
        assert!(
            !done.out.contains('\u{1b}') && !done.err.contains('\u{1b}'),
            "{words:?}"
        );
    }
    assert!(bench.shelf(&["list"]).out.contains("\\u{1b}[2Jmarsh.wav"));
}

#[test]
fn what_cannot_be_written_is_said_in_a_sentence() {
    let bench = Bench::with("one.wav");
    let missing = bench
        .folder
        .path()
        .join("no/such/file.txt")
        .display()
        .to_string();
    let mut cases = vec![(
        missing.as_str(),
        "there is no such file or folder; check the name",
    )];
    if Path::new("/dev/full").exists() {
        cases.push(("/dev/full", "the disk is full; make room on it"));
    }
    for (out, words) in cases {
        for format in ["text", "html", "jsonl"] {
            let done = bench.shelf(&["export", "1", "--format", format, "--out", out]);
            assert_eq!(done.code, 2, "{}", done.err);
            assert!(
                done.err.contains(words) && !done.err.contains("os error"),
                "{}",
                done.err
            );
        }
    }
}

#[test]
fn an_archive_without_a_byte_is_said_to_be_one() {
    let bench = Bench::with("one.wav");
    std::fs::write(bench.place().join("markhold.sqlite"), b"").unwrap();
    let done = bench.shelf(&["check"]);
    assert_eq!(done.code, 2);
    assert!(done.err.contains("empty, not one byte"), "{}", done.err);
}
