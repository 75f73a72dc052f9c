//! `markhold send`: what is shown, what is refused, and that nothing goes out unarmed.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

mod common;

use common::{Done, command, done, markhold, markhold_with};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use serialport::SerialPort;
use std::fs::File;
use std::io::Write;

const NONE: [&str; 2] = ["--settings", "/dev/null"];

fn send(words: &[&str]) -> Done {
    markhold(
        ["send"]
            .into_iter()
            .chain(words.iter().copied())
            .chain(NONE),
    )
}

/// Started in a terminal at which somebody types this.
fn typed(words: &[&str], keys: &str, remote: bool) -> Done {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let name = ptsname(&master, Vec::new()).unwrap();
    let name = name.to_str().unwrap();
    let terminal = File::options().read(true).write(true).open(name).unwrap();
    let mut command = command(
        ["send"]
            .into_iter()
            .chain(words.iter().copied())
            .chain(NONE),
    );
    for name in ["SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY"] {
        command.env_remove(name);
    }
    if remote {
        command.env("SSH_TTY", "/dev/pts/9");
    }
    let mut person = File::from(master);
    person.write_all(keys.as_bytes()).unwrap();
    done(command.stdin(terminal).output().unwrap())
}

#[test]
fn without_a_transmitter_it_is_shown_and_nothing_is_sent() {
    let shown = send(&["good evening = 73", "--call", "Q1ABC"]);
    assert_eq!(
        (shown.code, shown.out.trim()),
        (0, "GOOD EVENING  EQUALS  73\nDE Q1ABC")
    );
    assert!(shown.err.contains("no transmitter is set"), "{}", shown.err);
    let piped = markhold_with(["send", "-", "--dry"].into_iter().chain(NONE), b"CQ\nCQ");
    assert_eq!((piped.code, piped.out.trim()), (0, "CQ\nCQ"));
}

#[test]
fn a_file_is_its_text_and_a_dry_run_its_sound() {
    let folder = tempfile::tempdir().unwrap();
    let (text, sound) = (
        folder.path().join("notice"),
        folder.path().join("notice.wav"),
    );
    std::fs::write(&text, "GOOD EVENING TO ALL WHO LISTEN DE Q1ABC\n").unwrap();
    let (text, sound) = (text.display().to_string(), sound.display().to_string());
    let made = send(&[
        &text,
        "--dry",
        "--call",
        "Q1ABC",
        "--sideband",
        "upper",
        "--out",
        &sound,
    ]);
    assert_eq!(made.code, 0, "{}", made.err);
    let copied = markhold(["copy", &sound]);
    assert_eq!(
        copied.out.trim(),
        "GOOD EVENING TO ALL WHO LISTEN DE Q1ABC",
        "{}",
        copied.err
    );
    assert!(
        copied.err.contains("mark is the higher tone"),
        "{}",
        copied.err
    );
}

/// A way to the air that ends at an output which is not there.
const NO_OUTPUT: [&str; 6] = [
    "--to",
    "tones:no such output",
    "--key",
    "by-hand",
    "--call",
    "Q1ABC",
];

#[test]
fn nothing_goes_out_that_nobody_armed() {
    let words = |more: &[&'static str]| [&["CQ"][..], &NO_OUTPUT[..], more].concat();
    // No terminal, one over the network, another answer than the call, none.
    let timer = send(&words(&["--armed-for", "5min"]));
    let no_terminal = timer.err.contains("there is none") || timer.err.contains("no such output");
    assert!(timer.code == 2 && no_terminal, "{}", timer.err);
    let remote = typed(&words(&["--armed-for", "5min"]), "", true);
    assert!(
        remote.code == 2 && remote.err.contains("over the network"),
        "{}",
        remote.err
    );
    for keys in ["yes\n", "\n", "\u{4}"] {
        let not = typed(&words(&[]), keys, false);
        assert!(
            not.code == 2 && not.err.contains("not armed"),
            "{}",
            not.err
        );
        assert!(
            not.err.contains("Your licence, the band plan"),
            "{}",
            not.err
        );
    }
    let short = typed(&words(&["--armed-for", "2s"]), "", false);
    assert!(
        short.code == 2 && short.err.contains("armed for 0:02.0"),
        "{}",
        short.err
    );
    // Armed, it gets as far as the output that is not there.
    for (more, keys) in [(&[][..], "q1abc\n"), (&["--armed-for", "5min"][..], "")] {
        let armed = typed(&words(more), keys, false);
        assert!(
            armed.code == 2 && armed.err.contains("no such output"),
            "{}",
            armed.err
        );
    }
}

/// Keyed by break on a pseudo terminal, which takes it and does nothing.
#[test]
fn what_was_sent_is_on_the_shelf_as_sent() {
    let folder = tempfile::tempdir().unwrap();
    let shelf = folder.path().join("shelf").display().to_string();
    let (_master, slave) = serialport::TTYPort::pair().unwrap();
    let way = format!("break:{}", slave.name().unwrap());
    drop(slave);
    let words = [
        "QRU 73",
        "--to",
        &way,
        "--key",
        "by-hand",
        "--call",
        "Q1ABC",
        "--armed-for",
        "1min",
    ];
    let not = typed(&[&words[..], &["--no-keep"]].concat(), "", false);
    let keeps = [&words[..], &["--shelf", &shelf]].concat();
    assert!(!not.err.contains("Kept as"), "{}", not.err);
    // On a busy computer an edge may come too late, which ends an over.
    let kept = (0..5)
        .map(|_| typed(&keeps, "", false))
        .find(|done| done.code == 0)
        .expect("one of five overs in time");
    let said = kept
        .err
        .split("Kept as evening ")
        .nth(1)
        .expect("it says so");
    let evening = said.split(' ').next().unwrap();
    let shown = markhold(["shelf", "show", evening, "--shelf", &shelf]);
    assert_eq!(shown.code, 0, "{}", shown.err);
    for line in ["> QRU 73", "> DE Q1ABC"] {
        assert!(shown.out.contains(line), "{}", shown.out);
    }
    let found = markhold(["shelf", "search", "QRU", "--shelf", &shelf]);
    assert!(found.out.contains("> QRU 73"), "{}{}", found.out, found.err);
}

/// What was found, what was expected, and what to do.
#[test]
fn what_is_wrong_is_told() {
    let tones = ["--to", "tones", "--key", "by-hand"];
    let long = "RY".repeat(2000);
    for (words, parts) in [
        (vec!["CQ", "--to", "tones"], ["no call is set", "--call"]),
        (
            vec!["CQ", "--to", "tones", "--call", "Q1ABC"],
            ["keyed", "--key"],
        ),
        (
            vec!["CQ", "--to", "tones-file:x"],
            ["no way to the air", "expected"],
        ),
        (
            vec!["CQ", "--to", "tones", "--key", "rigctld:192.0.2.7:4532"],
            ["192.0.2.7", "this computer"],
        ),
        (vec!["CQ", "--call", "ABC"], ["ABC", "figures"]),
        (vec!["CQ", "--rate", "5"], ["rate_baud = 5", "30"]),
        (vec!["CQ", "--set", "wait"], ["--set wait", "KEY=VALUE"]),
        (vec!["CQ", "--typed", "0"], ["--typed 0", "1 to 600"]),
        (
            [&[long.as_str(), "--call", "Q1ABC"][..], &tones[..]].concat(),
            ["longest over", "--longest"],
        ),
    ] {
        let told = send(&words);
        assert_eq!(told.code, 2, "{words:?}");
        for part in parts {
            assert!(
                told.err.contains(part),
                "{words:?}: {} lacks {part:?}",
                told.err
            );
        }
    }
}

/// Whichever way the sideband is set: mark by the turns of the sound before the first character,
/// both tones by the receiver of this program, which measures a smoothly keyed pair to some hertz.
#[test]
fn exactly_the_tones_of_a_pair_are_sent() {
    let folder = tempfile::tempdir().unwrap();
    let sound = folder.path().join("pair.wav").display().to_string();
    let text = "GOOD EVENING TO ALL WHO LISTEN DE Q1ABC";
    for (pair, side, wanted) in [
        ("1483.2,1653.7", "lower", [1483.2, 1653.7]),
        ("1653.7Hz,1483.2Hz", "lower", [1653.7, 1483.2]),
        ("1653.7,1483.2", "upper", [1653.7, 1483.2]),
    ] {
        let made = send(&[
            text,
            "--dry",
            "--call",
            "Q1ABC",
            "--pair",
            pair,
            "--sideband",
            side,
            "--out",
            &sound,
        ]);
        assert_eq!(made.code, 0, "{}", made.err);
        let mut file = hound::WavReader::open(&sound).unwrap();
        let rate = file.spec().sample_rate as usize;
        let samples: Vec<f32> = file.samples().take(3 * rate).map(|s| s.unwrap()).collect();
        // A tenth of a second in, for two seconds and a half.
        let mark = &samples[rate / 10..rate / 10 + 5 * rate / 2];
        let turns = mark
            .windows(2)
            .filter(|p| p[0] < 0.0 && p[1] >= 0.0)
            .count();
        assert!(
            (turns as f64 / 2.5 - wanted[0]).abs() <= 0.4,
            "{turns} turns, {pair}"
        );
        let copied = markhold(["copy", &sound, "--json"]);
        let mut ends = copied.out.lines().filter_map(|line| {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            (line["type"] == "end").then_some(line)
        });
        let signal = ends.next_back().expect("it is copied");
        for (tone, wanted_hz) in [("mark_hz", wanted[0]), ("space_hz", wanted[1])] {
            let found_hz = signal[tone].as_f64().unwrap();
            assert!(
                (found_hz - wanted_hz).abs() < 2.0,
                "{pair} {side}: {signal}"
            );
        }
    }
    for (words, said) in [
        (&["--pair", "1500"][..], "mark first"),
        (&["--pair", "1500,1505"][..], "5.0 Hz apart"),
        (
            &["--pair", "2900,3070"][..],
            "beyond what the transmitter carries",
        ),
        (
            &["--pair", "1500,1670", "--lower", "1500"][..],
            "cannot be used with",
        ),
    ] {
        let done = send(&[&["CQ", "--dry"][..], words].concat());
        assert!(done.code == 2 && done.err.contains(said), "{}", done.err);
    }
}

/// It hears nobody, so it guesses nothing.
#[test]
fn the_tones_of_a_received_pair_need_a_receiver() {
    let received = [&["CQ"][..], &NO_OUTPUT, &["--set", "tones=received"]].concat();
    let done = send(&received);
    assert!(
        done.code == 2 && done.err.contains("--pair MARK,SPACE"),
        "{}",
        done.err
    );
    let done = send(&[&received[..], &["--pair", "1500,1670"]].concat());
    assert!(!done.err.contains("received pair"), "{}", done.err);
}
