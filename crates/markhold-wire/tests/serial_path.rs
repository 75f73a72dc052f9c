//! A machine on a serial port that comes, goes and comes back; a pty stands in for the port.
//! It takes bytes, does not pace them, and has no wires.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

use markhold_code::{Code, StartStop};
use markhold_page::{Order, Ordered};
use markhold_wire::play::{News, Patience, Player};
use markhold_wire::{KeyerError, SerialKeyer, SerialPlan, Word};
use serialport::{SerialPort, TTYPort};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// 0.75 s a character, so that a test that is slow for a moment still comes in between two.
const SPEED: StartStop = StartStop::new(10.0, 1.5);

/// The other end of a new pty, which is then found under this name, and the near end: while
/// nobody holds it, reading at the other end fails.
fn plug_in(at: &Path) -> (TTYPort, TTYPort) {
    let (master, slave) = TTYPort::pair().expect("the system has ptys");
    let _ = std::fs::remove_file(at);
    std::os::unix::fs::symlink(slave.name().expect("a name"), at).expect("linked");
    (master, slave)
}

fn player(at: &Path) -> Player {
    let plan = SerialPlan {
        port: at.display().to_string(),
        speed: SPEED,
        word: Word::Eight(9600),
        motor: None,
    };
    let patience = Patience {
        retry: Duration::from_millis(20),
        run_up_s: 0.0,
    };
    Player::attend(move || SerialKeyer::open(&plan), None, patience)
}

fn codes(values: impl IntoIterator<Item = u8>) -> Vec<Ordered> {
    let send = |value| Ordered {
        order: Order::Send(Code::new(value).expect("five bits")),
        source: None,
    };
    values.into_iter().map(send).collect()
}

/// Waits for the next thing that happens to the way.
fn next(player: &Player, all: &mut Vec<News>) -> String {
    while all.is_empty() {
        all.extend(player.news());
        std::thread::yield_now();
    }
    match all.remove(0) {
        News::Lost(error) => error.to_string(),
        other => format!("{other:?}"),
    }
}

fn read(master: &mut TTYPort, count: usize) -> Vec<u8> {
    master
        .set_timeout(Duration::from_secs(60))
        .expect("a timeout");
    let mut bytes = vec![0; count];
    master.read_exact(&mut bytes).expect("bytes");
    bytes
}

fn somewhere() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path().join("adapter");
    (folder, at)
}

#[test]
fn pulled_out_in_the_middle_it_resumes_with_the_character_being_sent() {
    let (_folder, at) = somewhere();
    let (mut master, near) = plug_in(&at);
    let (player, mut news) = (player(&at), Vec::new());
    player.play(&codes(1..=4));
    assert_eq!(read(&mut master, 2), [1, 2]);
    drop((master, near));
    let told = next(&player, &mut news);
    for part in [
        "adapter",
        "went away",
        "plug it in",
        "goes on with the character",
    ] {
        assert!(told.contains(part), "{told}");
    }
    // Gone for good, as far as the system knows.
    std::fs::remove_file(&at).expect("unplugged");
    let told = next(&player, &mut news);
    assert!(
        told.contains("is not there") || told.contains("system says"),
        "{told}"
    );
    let (mut master, _near) = plug_in(&at);
    // The second character had not left the port when it went: it is sent again.
    assert_eq!(read(&mut master, 3), [2, 3, 4]);
    while news.is_empty() || !matches!(news[news.len() - 1], News::Back) {
        news.extend(player.news());
    }
    let (left, _) = player.finish();
    assert!(left.is_empty());
}

#[test]
fn an_adapter_that_is_plugged_in_later_is_waited_for() {
    let (_folder, at) = somewhere();
    let (player, mut news) = (player(&at), Vec::new());
    player.play(&codes([7]));
    let told = next(&player, &mut news);
    assert!(
        told.contains("is not there; plug the adapter in")
            || told.contains("is not there; no serial port"),
        "{told}"
    );
    let (mut master, _near) = plug_in(&at);
    assert_eq!(read(&mut master, 1), [7]);
    assert_eq!(next(&player, &mut news), "Back");
    player.finish();
}

#[test]
fn a_port_that_is_taken_is_waited_for() {
    let (_folder, at) = somewhere();
    let (mut master, _near) = plug_in(&at);
    let taken = SerialKeyer::open(&SerialPlan {
        port: at.display().to_string(),
        speed: SPEED,
        word: Word::Eight(9600),
        motor: None,
    });
    let taken = taken.expect("free so far");
    let (player, mut news) = (player(&at), Vec::new());
    player.play(&codes([9]));
    let told = next(&player, &mut news);
    assert!(told.contains("in use by another program; close"), "{told}");
    drop(taken);
    assert_eq!(read(&mut master, 1), [9]);
    player.finish();
}

/// A pty has no five-bit words, as many adapters have none: nothing mends that.
#[test]
fn a_port_without_five_bit_words_ends_and_says_what_else_does() {
    let (_folder, at) = somewhere();
    let _both = plug_in(&at);
    let plan = SerialPlan {
        port: at.display().to_string(),
        speed: SPEED,
        word: Word::Five,
        motor: None,
    };
    let error = SerialKeyer::open(&plan).err().expect("refused");
    assert!(matches!(error, KeyerError::CannotSpeed { .. }), "{error}");
    let words = error.to_string();
    assert!(words.contains("key a control line by the clock"), "{words}");
    assert!(!error.may_reopen());
}
