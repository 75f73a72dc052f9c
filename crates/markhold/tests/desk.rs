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

/// A desk of the practice band in a process of its own, with at most so many descriptors.
#[cfg(unix)]
fn practice(descriptors: u32, words: &str) -> (std::process::Child, std::net::SocketAddr) {
    let program = common::program().display().to_string();
    let line =
        format!("ulimit -n {descriptors}; exec {program} --practice --no-keep --port 0 {words}");
    let mut child = std::process::Command::new("sh")
        .args(["-c", &line])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut address = String::new();
    let out = child.stdout.take().unwrap();
    BufReader::new(out).read_line(&mut address).unwrap();
    let port = address.trim().trim_end_matches('/').rsplit(':').next();
    let port = port.and_then(|port| port.parse().ok()).expect(&address);
    (child, std::net::SocketAddr::from(([127, 0, 0, 1], port)))
}

/// 1100 half requests at a desk that may have 200 descriptors: the owner gets the page, and
/// afterwards the descriptors are given back.
#[cfg(unix)]
#[test]
fn a_flood_of_half_requests_locks_nobody_out() {
    use std::io::Write;
    use std::net::TcpStream;
    let (mut child, place) = practice(200, "");
    let open = || {
        let folder = format!("/proc/{}/fd", child.id());
        std::fs::read_dir(folder).map_or(0, |all| all.count())
    };
    let before = open();
    let connect = || {
        let stream = TcpStream::connect(place).unwrap();
        let patience = Some(std::time::Duration::from_secs(10));
        stream.set_read_timeout(patience).unwrap();
        stream
    };
    let mut held = Vec::new();
    for k in 0..1100 {
        let mut half = connect();
        half.write_all(b"GET / HTTP/1.1\r\nHost: localhost\r\n")
            .unwrap();
        held.push(half);
        // As many as this test itself may have.
        if held.len() == 500 {
            held.clear();
        }
        if k % 250 == 249 {
            let mut owner = connect();
            let asked = b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
            owner.write_all(asked).unwrap();
            let mut page = String::new();
            owner.read_to_string(&mut page).unwrap();
            assert!(page.starts_with("HTTP/1.1 200"), "after {k}: {page:.80}");
        }
    }
    drop(held);
    let begun = std::time::Instant::now();
    while open() > before + 4 && begun.elapsed() < std::time::Duration::from_secs(10) {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let after = open();
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(
        after <= before + 4,
        "{before} descriptors before, {after} after"
    );
}

#[cfg(unix)]
#[test]
fn where_it_is_shared_that_is_said_and_keys_are_forgotten_by_a_command() {
    let (mut child, place) = practice(400, "--share");
    let port = place.port().to_string();
    let done = markhold(["--forget-keys", "--port", &port]);
    child.kill().unwrap();
    let mut said = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut said)
        .unwrap();
    child.wait().unwrap();
    assert_eq!(
        (done.code, &*done.err),
        (0, "Keys forgotten: 0. Who came in with one is out.\n")
    );
    assert!(said.contains("travels unencrypted"), "{said}");
    let nobody = markhold(["--forget-keys", "--port", &port]);
    assert_eq!(nobody.code, 2);
    assert!(
        nobody.err.contains("no desk answers at port"),
        "{}",
        nobody.err
    );
}
