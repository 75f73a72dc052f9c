//! A real sound path: sound is played into a sound server and heard from it; the server is
//! killed in the middle and comes back.
//!
//! Takes about 15 s, most of it sound being played. Where PulseAudio is missing it says so
//! and tests nothing.

mod server;

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::{FiguresRow, StartStop};
use markhold_event::{Character, Event};
use markhold_receive::{Receiver, Settings};
use markhold_shelf::GapCause;
use markhold_sound::device::{DeviceSource, InputId, SystemInput, inputs};
use markhold_sound::{Encoding, WavSpec, WavWriter};
use markhold_station::Snapshot;
use markhold_station::live::{KeepSound, Live, LiveOptions};
use markhold_station::report::{Anchor, InputReport};
use server::{MONITOR, RATE, Server, environment, is_installed, play};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Names the folder of the server to the process that has its environment.
const FOLDER: &str = "MARKHOLD_TEST_PULSE";
const TEXT: &str = "NW NW QUIET EVENING ALL DE Q1ABC HARBOUR CLUB 73 NNNN";

fn main() {
    if let Some(folder) = std::env::var_os(FOLDER) {
        return listen(Path::new(&folder));
    }
    if !is_installed() {
        println!("sound server: not tested, pulseaudio and pulseaudio-utils are not installed");
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let mut again = Command::new(std::env::current_exe().expect("this program"));
    again.env(FOLDER, folder.path());
    environment(&mut again, folder.path());
    assert!(again.status().expect("it starts").success());
}

/// Everything, in a process that can speak to one server only.
fn listen(folder: &Path) {
    let server = Server::start(folder);
    let sound = sound();
    let file = write(folder, &sound);
    let names: Vec<String> = inputs()
        .into_iter()
        .map(|i| format!("{} {}", i.id, i.name))
        .collect();
    assert!(
        names
            .iter()
            .any(|n| n.starts_with(MONITOR) && n.contains("Monitor")),
        "{names:?}"
    );

    let kept = Kept::default();
    let live = start(&kept);
    play(&file, folder).wait().expect("it plays");
    wait(&live, "the first copy", |s| printed(s).contains("NNNN"));
    println!("sound server: copied");

    let mut cut_short = play(&file, folder);
    std::thread::sleep(Duration::from_millis(2500));
    let killed = Instant::now();
    server.kill();
    cut_short.wait().expect("it ends");
    wait(&live, "word of the dead server", |s| s.gone.is_some());
    println!(
        "sound server: killed, told {:.1} s later: {}",
        killed.elapsed().as_secs_f64(),
        live.board().snapshot().gone.expect("told")
    );
    std::thread::sleep(Duration::from_millis(500));
    let server = Server::start(folder);
    wait(&live, "the way back", |s| s.gone.is_none());
    let away_s = killed.elapsed().as_secs_f64();
    println!("sound server: taken up again {away_s:.1} s after the kill");
    play(&file, folder).wait().expect("it plays");
    wait(&live, "the second copy", |s| {
        printed(s).matches("NNNN").count() == 2
    });
    live.stop();
    drop(server);
    check(&live.board().snapshot(), &kept, &sound, away_s);
    println!("sound server: ok");
}

fn check(told: &Snapshot, kept: &Kept, sound: &[f32], away_s: f64) {
    let text = printed(told);
    let expected = offline(sound);
    assert!(expected.contains(TEXT), "{expected}");
    assert_eq!(
        text.matches(expected.trim()).count(),
        2,
        "{text:?} holds {expected:?} twice"
    );
    let gaps: Vec<&InputReport> = told.inputs.iter().skip(1).collect();
    let [InputReport::Gone { .. }, InputReport::Back { lost_s, .. }] = gaps[..] else {
        panic!("gone and back, nothing else: {gaps:?}")
    };
    // Both clocks saw the same time, to a few blocks of the server.
    assert!(
        (lost_s - away_s).abs() < 0.5,
        "{lost_s} s lost, {away_s} s away"
    );
    let kept = kept.0.lock().expect("no panic");
    assert_eq!(kept.lost.len(), 1);
    // Bit for bit: what was played is in what was kept. A machine that is too busy for the
    // player has silence in between, so one of the two must be whole.
    let (before, after) = kept.samples.split_at(kept.lost[0].0);
    let found = [find(before, sound), find(after, sound)];
    println!(
        "sound server: {} samples, found whole at {found:?}",
        sound.len()
    );
    assert!(found.iter().any(Result::is_ok));
}

/// Where `part` stands in `whole`; says how far it goes where it is not whole.
fn find(whole: &[f32], part: &[f32]) -> Result<usize, String> {
    let (mut at, mut from, mut breaks) = (None, 0, Vec::new());
    let mut left = part;
    while let Some(head) = left.get(..64) {
        let place = whole[from..].windows(64).position(|w| w == head);
        let Some(place) = place.map(|p| p + from) else {
            // Lost here: on with what comes later.
            left = &left[64.min(left.len())..];
            continue;
        };
        let same = whole[place..]
            .iter()
            .zip(left)
            .take_while(|(a, b)| a == b)
            .count();
        breaks.push((part.len() - left.len(), place, same));
        at = at.or(Some(place));
        (from, left) = (place + same, &left[same..]);
    }
    match breaks[..] {
        [(0, at, same)] if same == part.len() => Ok(at),
        _ => Err(format!(
            "(place in the file, in the sound, how many are equal): {breaks:?}"
        )),
    }
}

/// A text at 100 baud, with noise, as 16-bit words have it.
fn sound() -> Vec<f32> {
    let sender = Sender {
        speed: StartStop::new(100.0, 1.5),
        ..Sender::of_text(TEXT, FiguresRow::Ita2).expect("it can be sent")
    };
    let scene = Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(20.0),
        ..Scene::default()
    };
    let sound = Air::new(scene, RATE).expect("a scene").render();
    sound
        .iter()
        .map(|s| (s * 32_768.0).round() / 32_768.0)
        .collect()
}

fn write(folder: &Path, sound: &[f32]) -> PathBuf {
    let file = folder.join("evening.wav");
    let spec = WavSpec {
        rate: RATE,
        channels: 1,
        encoding: Encoding::S16,
        bext: None,
    };
    let mut writer = WavWriter::create(&file, spec).expect("it can be written");
    writer
        .write(sound)
        .and_then(|()| writer.finish())
        .expect("it can be written");
    file
}

fn offline(sound: &[f32]) -> String {
    let mut text = String::new();
    let mut receiver = Receiver::new(f64::from(RATE), Settings::default()).expect("a rate");
    let mut print = |event| {
        if let Event::Character(Character { symbol, .. }) = event {
            text.extend(symbol.text());
        }
    };
    receiver.process(sound, &mut print);
    receiver.finish(&mut print);
    text
}

fn start(kept: &Kept) -> Live {
    let input = SystemInput {
        id: InputId(MONITOR.into()),
    };
    let source = DeviceSource::open(input, 1).expect("the monitor opens");
    let options = LiveOptions {
        keeper: Box::new(kept.clone()),
        ..LiveOptions::default()
    };
    Live::start(Box::new(source), options).expect("a rate")
}

fn printed(snapshot: &Snapshot) -> String {
    snapshot
        .sheet
        .iter()
        .filter_map(|c| c.symbol.text())
        .collect()
}

/// Waits until the page shows something.
fn wait(live: &Live, what: &str, shown: impl Fn(&Snapshot) -> bool) {
    let begun = Instant::now();
    while !shown(&live.board().snapshot()) {
        let now = live.board().snapshot();
        assert!(
            begun.elapsed() < Duration::from_secs(20),
            "waited in vain for {what}: {:?}, {:?}",
            printed(&now),
            now.inputs
        );
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[derive(Default)]
struct Samples {
    samples: Vec<f32>,
    /// After how many samples how many were lost.
    lost: Vec<(usize, u64)>,
}

/// Keeps all samples and gaps.
#[derive(Clone, Default)]
struct Kept(Arc<Mutex<Samples>>);

impl KeepSound for Kept {
    fn begin(&mut self, _: &str, _: u32, _: &Anchor, _: GapCause) {}

    fn sound(&mut self, samples: &[f32]) {
        let mut kept = self.0.lock().expect("no panic");
        kept.samples.extend_from_slice(samples);
    }

    fn gap(&mut self, lost: Option<u64>, _: GapCause) {
        let mut kept = self.0.lock().expect("no panic");
        let at = kept.samples.len();
        kept.lost.push((at, lost.unwrap_or(0)));
    }

    fn finish(&mut self) -> Result<(), String> {
        Ok(())
    }
}
