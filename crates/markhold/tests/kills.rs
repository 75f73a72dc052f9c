//! The program is killed while it listens, again and again: the sound is whole, and the copy is
//! whole after the next start.
//!
//! Twice in the tests; `MARKHOLD_KILLS=100 cargo test --release -p markhold --test kills -- --nocapture`
//! kills as often as is said, at one to eight times real time, and prints what it found;
//! `MARKHOLD_SEED` has other sound than others, and other moments.
#![allow(missing_docs, reason = "tests")]
#![cfg(unix)]

mod common;
#[path = "late/mod.rs"]
mod late;
use common::{command, told};
use late::Late;
use markhold_event::Event;
use markhold_shelf::{KeptEvening, Shelf, settings_from_json};
use markhold_sound::{ReadOptions, SoundReader};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Child;
use std::time::{Duration, Instant};

/// Paces at which the practice band is heard.
const PACES: [u32; 4] = [8, 4, 8, 1];

/// What a kill may cost of the sound, s of real time: what the program has heard is handed to
/// the system with the next turn of a thread that does nothing else. On a busy computer that
/// has to wait for its turn, and this test's own thread too.
const MOST_LOST_S: f64 = 0.3;

/// How long the program may take to end when it is told to.
const MOST_END: Duration = Duration::from_secs(12);

/// Characters that are compared at the end of a reading.
const TAIL: usize = 30;

/// Starts listening; returns once the desk is open, with its port.
fn start(place: &Path, seed: u32, pace: u32) -> (Child, u16) {
    let (seed, pace) = (seed.to_string(), pace.to_string());
    let place = place.display().to_string();
    let words = [
        "--practice",
        "--port",
        "0",
        "--shelf",
        &place,
        "--seed",
        &seed,
        "--pace",
        &pace,
    ];
    let mut child = command(words)
        .env("XDG_CONFIG_HOME", &place)
        .spawn()
        .unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut address = String::new();
    out.read_line(&mut address).unwrap();
    let port = address.trim().rsplit(':').next().unwrap();
    let port = port.trim_end_matches('/').parse();
    (child, port.unwrap_or_else(|_| panic!("{address:?}")))
}

/// Until where the program has taken sound in, s, as it tells a browser that comes just now.
fn heard_s(port: u16) -> f64 {
    let mut browser = TcpStream::connect(("127.0.0.1", port)).unwrap();
    let host = format!("localhost:{port}");
    let ask = format!(
        "GET /socket HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: \
         Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
         Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    );
    browser.write_all(ask.as_bytes()).unwrap();
    let (mut said, mut bytes) = (String::new(), [0; 256]);
    // The first that it says is the sum of everything, which begins with this.
    loop {
        let count = browser.read(&mut bytes).unwrap();
        assert!(count > 0, "no sum: {said:?}");
        said += &String::from_utf8_lossy(&bytes[..count]);
        let sum = said.split_once(r#""until_s":"#);
        if let Some((until_s, _)) = sum.and_then(|(_, rest)| rest.split_once(',')) {
            return until_s.parse().unwrap();
        }
    }
}

/// Until where there is sound on the disk, s, of the evening that is kept now, by the files alone.
fn on_disk_s(place: &Path) -> f64 {
    let sound = place.join("sound");
    let mut folders: Vec<_> = std::fs::read_dir(sound)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    // By the time at which they begin: what is put in order of an earlier one changes its folder.
    folders.sort();
    let files = std::fs::read_dir(folders.last().unwrap())
        .unwrap()
        .map(|e| e.unwrap().path());
    let bytes = files.filter(|p| p.extension().is_some_and(|e| e == "wav"));
    bytes
        .map(|p| (std::fs::metadata(p).unwrap().len() as f64 - 700.0) / 16_000.0)
        .sum()
}

fn text(shelf: &Shelf, reading: i64) -> String {
    let mut text = String::new();
    let mut take = |event: Event| {
        if let Event::Character(c) = event {
            text.extend(c.symbol.text());
        }
    };
    shelf.events(reading, &mut take).unwrap();
    text
}

/// Files that follow each other without a hole, whose samples are all there.
fn sound_is_whole(shelf: &Shelf, evening: &KeptEvening) -> f64 {
    let mut end_s = 0.0;
    for (segment, path) in shelf.sound(evening.id).unwrap() {
        assert!(
            (segment.begin_s - end_s).abs() < 1e-3,
            "{segment:?} after {end_s}"
        );
        let mut sound = SoundReader::open(&path, &ReadOptions::default()).unwrap();
        let (mut block, mut count) = (vec![0.0; 8192], 0);
        loop {
            match sound.read(&mut block).unwrap() {
                0 => break,
                n => count += n as u64,
            }
        }
        assert_eq!(count, segment.samples);
        end_s = segment.end_s();
    }
    end_s
}

/// Least number of characters put in, left out or changed that makes one text the other.
fn distance(a: &[char], b: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let put = corner + usize::from(x != y);
            corner = row[j + 1];
            row[j + 1] = put.min(corner + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

fn due(shelf: &Shelf) -> usize {
    let evenings = shelf.evenings(None, None, usize::MAX).unwrap();
    let whole = |evening: &KeptEvening| {
        let best = evening.best_reading().unwrap();
        evening.end.is_none() || !best.live || best.heard_s - best.copied_s <= 0.5
    };
    evenings.iter().filter(|evening| !whole(evening)).count()
}

#[test]
fn a_kill_costs_neither_sound_nor_copy() {
    let kills = told("MARKHOLD_KILLS", 2) as u32;
    let seeds = 1_000 * told("MARKHOLD_SEED", 0) as u32;
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path();
    let (mut lost_s, mut late_s, mut heard) = (0f64, 0f64, 0.0);
    let computer = Late::new();
    for kill in 0..kills {
        let pace = PACES[kill as usize % PACES.len()];
        let begun = Instant::now();
        let (mut child, port) = start(place, seeds + kill + 1, pace);
        // Spread over five seconds in an order that jumps about.
        let later_ms = u64::from(seeds + kill) * 3_701 % 5_000;
        std::thread::sleep(Duration::from_millis(3_000 + later_ms));
        let heard_s = heard_s(port);
        child.kill().unwrap();
        child.wait().unwrap();
        let lost = (heard_s - on_disk_s(place)).max(0.0) / f64::from(pace);
        heard += heard_s;
        lost_s = lost_s.max(lost);
        let late = computer.since(begun).as_secs_f64();
        late_s = late_s.max(late);
        let most = MOST_LOST_S + 2.0 * late;
        assert!(lost < most, "{lost} s lost at pace {pace}, {late} s late");
    }
    // The next start copies again what is missing, by itself.
    assert!(heard >= f64::from(kills), "only {heard} s were heard");
    let (mut child, _) = start(place, seeds + 999, 1);
    let begin = Instant::now();
    while due(&Shelf::open(place).unwrap()) > 0 {
        assert!(begin.elapsed() < Duration::from_secs(600 + 10 * u64::from(kills)));
        std::thread::sleep(Duration::from_millis(200));
    }
    let mended = begin.elapsed();
    let lived = end(&mut child);
    assert!(lived < MOST_END, "it lived for {lived:?}");
    check(place, kills as usize, lost_s);
    println!(
        "the computer was late by {late_s:.2} s at most; mended {mended:.0?} after the next start; told to end, it lived for {lived:.1?}"
    );
}

/// Tells it to end; how long it lived.
fn end(child: &mut Child) -> Duration {
    let told = Instant::now();
    let pid = child.id().to_string();
    let asked = std::process::Command::new("kill").arg(pid).status();
    assert!(asked.unwrap().success() && child.wait().unwrap().success());
    told.elapsed()
}

/// At the highest pace there is, sound waits to be copied when it is told to end.
#[test]
fn behind_schedule_it_ends_as_soon() {
    let folder = tempfile::tempdir().unwrap();
    let (mut child, port) = start(folder.path(), 5, 20);
    std::thread::sleep(Duration::from_secs(4));
    let heard_s = heard_s(port);
    let lived = end(&mut child);
    println!("{heard_s:.0} s heard at 20 times real time; told to end, it lived for {lived:.1?}");
    assert!(lived < MOST_END, "it lived for {lived:?}");
    let shelf = Shelf::open(folder.path()).unwrap();
    let evening = shelf.evening(1).unwrap();
    assert!(evening.end.is_some() && sound_is_whole(&shelf, &evening) >= heard_s - 0.1);
}

fn check(place: &Path, kills: usize, lost_s: f64) {
    let mut shelf = Shelf::open(place).unwrap();
    assert!(shelf.check().unwrap().is_well());
    let evenings = shelf.evenings(None, None, usize::MAX).unwrap();
    assert_eq!(evenings.len(), kills + 1);
    let (mut sound_s, mut characters, mut differ, mut tails, mut joined) = (0.0, 0, 0, 0, 0);
    for evening in &evenings {
        sound_s += sound_is_whole(&shelf, evening);
        let best = evening.best_reading().unwrap();
        joined += usize::from(!best.live);
        let found = text(&shelf, best.id);
        let settings = settings_from_json(&evening.settings);
        let again = shelf
            .copy_again(evening.id, &settings, &mut |_| {})
            .unwrap();
        let all: Vec<char> = text(&shelf, again).chars().collect();
        let found: Vec<char> = found.chars().collect();
        differ += distance(&found, &all);
        characters += all.len();
        let tail = |text: &[char]| text[text.len().saturating_sub(TAIL)..].to_vec();
        tails += distance(&tail(&found), &tail(&all));
    }
    println!(
        "{kills} kills in {sound_s:.0} s of sound: at most {lost_s:.2} s of sound lost; {joined} \
         readings joined; {differ} of {characters} characters unlike a copy of the kept sound from \
         beginning to end, {tails} of those among the last {TAIL}"
    );
    println!(
        "figures kills tries={kills} failures=0 sound_s={sound_s:.0} most_lost_s={lost_s:.2} \
         joined={joined} characters={characters} unlike={differ}"
    );
    assert!(differ * 50 <= characters, "{differ} of {characters}");
    assert!(tails <= kills, "{tails}");
}
