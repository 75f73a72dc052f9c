//! `markhold machine` and `markhold copy --to` as a script sees them.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_code::{Code, FiguresRow, decode};

/// An empty settings file, so that none of this computer's is read.
fn no_settings(folder: &tempfile::TempDir) -> String {
    file(folder, "settings.toml", "")
}

fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn machines_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let text = "[machine.shack]\nkind = \"ita2-69-50\"\nway = \"rts:/dev/ttyUSB0\"";
    let settings = file(&folder, "settings.toml", text);
    let done = markhold(["machine", "--settings", &settings]);
    assert_eq!(done.code, 0, "{}", done.err);
    let first = done.out.lines().next().unwrap();
    assert!(first.starts_with("shack") && first.contains("69 columns, 50 baud, ITA2 row"));
    assert!(first.ends_with("rts:/dev/ttyUSB0"), "{first}");
    assert!(done.out.contains("us-72-45"));
}

#[test]
fn a_description_can_stand_in_the_settings_file() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let done = markhold(["machine", "ita2-69-50", "--settings", &none]);
    assert_eq!(done.code, 0, "{}", done.err);
    let settings = file(
        &folder,
        "own.toml",
        &done.out.replace("ita2-69-50", "shack"),
    );
    let again = markhold(["machine", "shack", "--settings", &settings]);
    assert_eq!(again.out, done.out.replace("ita2-69-50", "shack"));
}

#[test]
fn text_is_shown_as_the_machine_would_print_it() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let notice = file(
        &folder,
        "notice.txt",
        "The café opens at 9.\n\nBring paper.",
    );
    let words = [
        "machine",
        "us-72-45",
        &notice,
        "--text",
        "73",
        "--dry",
        "--settings",
        &none,
    ];
    let done = markhold(words.into_iter().chain(["--set", "columns=20"]));
    assert_eq!(done.code, 0, "{}", done.err);
    assert_eq!(done.out, "\nTHE CAFE OPENS AT 9.\n\nBRING PAPER.\n73\n\n");
}

#[test]
fn pages_are_of_the_kind_their_name_says() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let begins: [(&str, &[u8]); 5] = [
        ("page.txt", b"\nRYRY"),
        ("page.html", b"<!DOCTYPE html>"),
        ("page.svg", b"<svg "),
        ("page.pdf", b"%PDF-"),
        ("page.png", b"\x89PNG"),
    ];
    for (name, begin) in begins {
        let path = folder.path().join(name).display().to_string();
        let words = [
            "machine",
            "us-72-45",
            "--test",
            "ry",
            "--page",
            &path,
            "--settings",
            &none,
        ];
        let done = markhold(words);
        assert_eq!((done.code, done.out.as_str()), (0, ""), "{}", done.err);
        assert!(std::fs::read(&path).unwrap().starts_with(begin), "{name}");
    }
}

/// Sent as plain codes to a file, and kept in the record; a fast line keeps the test short.
#[test]
fn what_is_sent_reaches_the_way_and_the_record() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("line").display().to_string();
    std::fs::write(&path, "").unwrap();
    let record = folder.path().join("paper").display().to_string();
    let settings = format!(
        "[machine.shack]\nkind = \"us-72-45\"\nrate_baud = 300\nreturn_s = 0\nway = \"codes:{path}\""
    );
    let settings = file(&folder, "settings.toml", &settings);
    let words = [
        "machine",
        "shack",
        "--text",
        "Q1ABC",
        "--settings",
        &settings,
    ];
    let done = markhold(words.into_iter().chain(["--record", &record]));
    assert_eq!((done.code, done.out.as_str()), (0, ""), "{}", done.err);
    assert!(
        done.err.contains("caution") && done.err.contains("sending for 0:00."),
        "{}",
        done.err
    );
    let codes: Vec<Code> = std::fs::read(&path)
        .unwrap()
        .into_iter()
        .map(|byte| Code::new(byte).unwrap())
        .collect();
    assert_eq!(decode(&codes, FiguresRow::Us, true), "\r\r\nQ1ABC\r\r\n");
    let day = std::fs::read_dir(&record).unwrap().next().unwrap().unwrap();
    assert!(day.file_name().to_str().unwrap().starts_with("paper-20"));
    let lines = std::fs::read_to_string(day.path()).unwrap();
    assert_eq!(lines.lines().count(), codes.len());
}

/// What was found, what was expected and what to do; the exit code is 2.
#[test]
fn what_is_wrong_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let text = ["--text", "X"];
    for (words, parts) in [
        (vec!["attic", "--dry"], ["\"attic\"", "us-72-45"]),
        (
            vec!["us-72-45", "--set", "columns=7", "--dry"],
            ["columns = 7", "20 to 200"],
        ),
        (
            vec!["us-72-45", "--set", "colums=74", "--dry"],
            ["`colums`", "`columns`"],
        ),
        (
            vec!["us-72-45", "--set", "columns", "--dry"],
            ["--set columns", "KEY=VALUE"],
        ),
        (vec!["us-72-45"], ["no way to us-72-45", "--dry"]),
        (
            vec!["us-72-45", "--way", "smoke"],
            ["\"smoke\"", "serial:PORT"],
        ),
        (vec!["us-72-45", "--page", "page.doc"], ["page.doc", ".pdf"]),
        (
            vec!["us-72-45", "nowhere.txt", "--dry"],
            ["nowhere.txt", "no such file"],
        ),
        (
            vec!["us-72-45", "--way", "serial:/dev/nowhere"],
            ["/dev/nowhere", "not there"],
        ),
    ] {
        let all = ["machine"].into_iter().chain(words.clone()).chain(text);
        let done = markhold(all.chain(["--settings", &none]));
        assert_eq!((done.code, done.out.as_str()), (2, ""), "{words:?}");
        for part in parts {
            assert!(done.err.contains(part), "{words:?}: {}", done.err);
        }
    }
    let done = markhold(["copy", "x.wav", "--dry"]);
    assert!(done.code == 2 && done.err.contains("--to"), "{}", done.err);
}

/// A recording is copied straight to a machine: with all patience, and with none, when the
/// early readings are sent.
#[test]
fn copy_goes_to_a_machine() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let text = "LOW MARSH TELEPRINTER CIRCLE GOOD EVENING ALL STATIONS 73 DE Q7LMT";
    let sound = recording(&folder, "evening.wav", text, &["--es-n0", "20"]);
    for patience in ["patience_s=8", "patience_s=0"] {
        let words = [
            "copy",
            &sound,
            "--to",
            "us-72-45",
            "--dry",
            "--settings",
            &none,
        ];
        let done = markhold(
            words
                .into_iter()
                .chain(["--set", "columns=40", "--set", patience]),
        );
        assert_eq!(done.code, 0, "{}", done.err);
        let expected = "LOW MARSH TELEPRINTER CIRCLE GOOD\nEVENING ALL STATIONS 73 DE Q7LMT\n";
        assert!(
            done.out.contains(expected),
            "{patience}: {}\n{}",
            done.out,
            done.err
        );
    }
}

/// Stopped from the keyboard in the middle of a long text: the program says so, and no code
/// leaves any more.
#[cfg(target_os = "linux")]
#[test]
fn stopped_from_the_keyboard_the_line_is_left_in_mark() {
    use std::process::{Command, Stdio};
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let path = folder.path().join("line").display().to_string();
    std::fs::write(&path, "").unwrap();
    let way = format!("codes:{path}");
    let words = [
        "machine",
        "us-72-45",
        "--test",
        "ry",
        "--way",
        &way,
        "--settings",
        &none,
    ];
    // Tests that a shell started with `&` ignore Ctrl-C, and so would the program.
    let mut sending = Command::new("env");
    sending.arg("--default-signal=INT").arg(common::program());
    sending.args(words).stderr(Stdio::piped());
    let child = sending.spawn().unwrap();
    while std::fs::read(&path).unwrap().len() < 2 {
        std::thread::yield_now();
    }
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    let output = child.wait_with_output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(130), "{err}");
    assert!(err.contains("the line is in mark"), "{err}");
    // Three lines of 72 were asked for.
    assert!(std::fs::read(&path).unwrap().len() < 100);
}

#[test]
fn a_way_is_tried_without_sending_anything() {
    let folder = tempfile::tempdir().unwrap();
    let none = no_settings(&folder);
    let codes = file(&folder, "codes", "");
    let way = format!("codes:{codes}");
    let words = ["machine", "us-72-45", "--trial", "--settings", &none];
    let done = markhold(words.into_iter().chain(["--way", &way]));
    assert_eq!(
        (done.code, done.out.as_str()),
        (0, "us-72-45: the way is open\n")
    );
    assert_eq!(std::fs::read(&codes).unwrap(), b"");
    let done = markhold(words.into_iter().chain(["--way", "rts:/dev/no-such-port"]));
    assert_eq!(done.code, 2);
    assert!(done.err.contains("is not there"), "{}", done.err);
    let done = markhold(words);
    assert!(
        done.code == 2 && done.err.contains("no way to us-72-45"),
        "{}",
        done.err
    );
}
