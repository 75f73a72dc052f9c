//! The desk as a script sees it: what it is told of a machine.

mod common;

use common::{command, markhold};
use std::io::{BufRead, BufReader, Read};
use std::net::TcpListener;

#[test]
fn a_machine_that_cannot_be_is_told_before_anything_opens() {
    for (words, part) in [
        ("--to attic", "no machine is called \"attic\""),
        ("--to us-72-45", "no way to us-72-45"),
        ("--to us-72-45 --way smoke", "smoke"),
        ("--to us-72-45 --way tones --patience 99", "0 to 60 s"),
        (
            "--to us-72-45 --way codes:-",
            "name a file, a pipe or a socket",
        ),
        ("--to us-72-45 --way tones --set columns=3", "columns = 3"),
    ] {
        let all = format!("--practice --port 0 --settings /dev/null {words}");
        let done = markhold(all.split(' '));
        assert_eq!(done.code, 2, "{words}: {}", done.err);
        assert!(done.err.contains(part), "{words}: {}", done.err);
    }
    let done = markhold(["--practice", "--way", "tones"]);
    assert_eq!(done.code, 2);
    assert!(done.err.contains("--to"), "{}", done.err);
}

/// The practice band at twenty times its pace, on a machine at the other end of a socket.
#[cfg(unix)]
#[test]
fn the_live_copy_goes_to_the_machine_and_what_was_printed_to_the_shelf() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let shelf = folder.path().display().to_string();
    let way = format!("codes:{}", listener.local_addr().unwrap());
    let words = "--practice --port 0 --pace 20 --to us-72-45 --set rate_baud=300 --patience 0";
    let words = words.split(' ').chain(["--way", &way, "--shelf", &shelf]);
    let mut child = command(words).spawn().unwrap();
    let (mut machine, _) = listener.accept().unwrap();
    let mut codes = [0; 60];
    machine.read_exact(&mut codes).unwrap();
    assert!(codes.iter().all(|code| *code < 32));
    // Told to stop, it leaves the machine first.
    let asked = std::process::Command::new("kill")
        .arg(child.id().to_string())
        .status();
    assert!(asked.unwrap().success());
    let mut rest = Vec::new();
    machine.read_to_end(&mut rest).unwrap();
    assert!(child.wait().unwrap().success());
    let said = BufReader::new(child.stderr.take().unwrap());
    assert!(
        said.lines()
            .any(|line| line.unwrap().contains("moving parts"))
    );
    let kept = folder.path().join("paper/us-72-45");
    let mut lines = 0;
    for file in std::fs::read_dir(kept).unwrap() {
        lines += std::fs::read_to_string(file.unwrap().path())
            .unwrap()
            .lines()
            .count();
    }
    assert_eq!(lines, codes.len() + rest.len());
}
