//! `markhold copy --input`: a sound input copied in a terminal, with no page, from a sound server
//! of its own. Takes about 10 s, most of it sound being played. Where PulseAudio is missing it
//! says so and tests nothing.
#![cfg(unix)]

mod common;
#[allow(dead_code, reason = "this test has no use for all of it")]
#[path = "../../markhold-station/tests/pulse/server.rs"]
mod server;

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::{Code, FiguresRow, StartStop, decode};
use markhold_shelf::Shelf;
use server::{MONITOR, RATE, Server, environment, is_installed, play};
use std::io::{BufRead, BufReader, Read};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const TEXT: &str = "NW NW QUIET EVENING ALL DE Q1ABC HARBOUR CLUB 73 NNNN";

/// A text at 100 baud with noise, as a file.
fn write(folder: &Path) -> PathBuf {
    let sender = Sender {
        speed: StartStop::new(100.0, 1.5),
        ..Sender::of_text(TEXT, FiguresRow::Ita2).expect("it can be sent")
    };
    let scene = Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(20.0),
        silence_after_s: 1.0,
        ..Scene::default()
    };
    let file = folder.join("evening.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&file, spec).unwrap();
    for sample in Air::new(scene, RATE).expect("a scene").render() {
        writer.write_sample((sample * 32_767.0) as i16).unwrap();
    }
    writer.finalize().unwrap();
    file
}

/// Tells a program to stop as Ctrl-C does, and waits for its end; how long that took.
fn interrupt(child: &mut Child) -> Duration {
    let begun = Instant::now();
    let pid = child.id().to_string();
    let sent = Command::new("kill").args(["-INT", &pid]).status();
    assert!(sent.unwrap().success());
    child.wait().unwrap();
    begun.elapsed()
}

#[test]
fn a_sound_input_is_copied_kept_and_printed_without_a_page() {
    if !is_installed() {
        println!("sound server: not tested, pulseaudio and pulseaudio-utils are not installed");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let server = Server::start(folder.path());
    let (file, shelf) = (write(folder.path()), folder.path().join("shelf"));
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let way = format!("codes:{}", listener.local_addr().unwrap());
    let words = "copy --to us-72-45 --set rate_baud=300 --settings /dev/null";
    let words = words
        .split(' ')
        .chain(["--input", MONITOR, "--way", &way, "--shelf"]);
    // Tests that a shell started with `&` ignore Ctrl-C, and so would the program.
    let mut copying = Command::new("env");
    copying.arg("--default-signal=INT").arg(common::program());
    copying.args(words).arg(&shelf).stdin(Stdio::null());
    copying.stdout(Stdio::piped()).stderr(Stdio::piped());
    environment(&mut copying, folder.path());
    let mut child = copying.spawn().unwrap();
    let (mut machine, _) = listener.accept().unwrap();
    let mut said = BufReader::new(child.stderr.take().unwrap()).lines();
    let listening = said.find(|line| line.as_ref().unwrap().contains("Listening to"));
    assert!(listening.is_some());
    assert!(play(&file, folder.path()).wait().unwrap().success());
    // What is decided stands on standard output before anything ends.
    let mut text = String::new();
    let mut out = child.stdout.take().unwrap();
    let mut byte = [0];
    while !text.contains("NNNN") {
        assert_eq!(out.read(&mut byte).unwrap(), 1, "ended at {text:?}");
        text.push(char::from(byte[0]));
    }
    assert!(text.contains(TEXT), "{text:?}");
    // The last word leaves for the machine when nothing followed it for a while.
    std::thread::sleep(Duration::from_secs(3));
    let took = interrupt(&mut child);
    assert!(took < Duration::from_secs(20), "{took:?}");
    assert_eq!(child.wait().unwrap().code(), Some(0));
    drop(server);

    let mut codes = Vec::new();
    machine.read_to_end(&mut codes).unwrap();
    let codes: Vec<Code> = codes.iter().map(|c| Code::new(*c).unwrap()).collect();
    let printed = decode(&codes, FiguresRow::Ita2, false);
    let printed = printed.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        printed.contains("QUIET EVENING ALL DE Q1ABC HARBOUR"),
        "{printed}"
    );

    let rest: Vec<String> = said.map(|line| line.unwrap()).collect();
    let place = shelf.display().to_string();
    let kept = rest.iter().find(|line| line.contains(&place));
    assert!(
        kept.is_some_and(|line| line.contains("evening 1")),
        "{rest:?}"
    );
    let shelf = Shelf::open(&shelf).unwrap();
    let evening = shelf.evening(1).unwrap();
    assert!(
        evening.end.is_some() && evening.sound_s > 5.0,
        "{evening:?}"
    );
    let read = evening.best_reading().unwrap();
    assert!(read.characters >= TEXT.len() as u64, "{read:?}");
    let paper = std::fs::read_dir(Path::new(&place).join("paper/us-72-45")).unwrap();
    assert!(paper.count() >= 1);
}

#[test]
fn what_does_not_belong_to_a_sound_input_is_told() {
    for (words, part) in [
        ("copy --input x evening.wav", "cannot be used with"),
        ("copy --shelf /tmp evening.wav", "--input"),
        (
            "copy --input x --to us-72-45 --dry",
            "--dry, --page and --record",
        ),
        (
            "copy --input no-such-input",
            "no input is named \"no-such-input\"",
        ),
    ] {
        let done = common::markhold(words.split(' '));
        assert_eq!(done.code, 2, "{words}: {}", done.err);
        assert!(done.err.contains(part), "{words}: {}", done.err);
    }
}
