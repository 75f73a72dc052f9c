//! How many static crashes are counted that were none, and how many are missed, over hours of
//! invented sound. Figures, not a test.
//!
//! cargo run --release -p markhold-station --example crashes -- [MINUTES] [SEED]

use markhold_air::practice::{Controls, Practice};
use markhold_air::{
    Agc, Air, Carrier, Channel, Crashes, Interval, Keying, Noise, Passband, Place, Scene, Sender,
    Speech,
};
use markhold_code::FiguresRow;
use markhold_station::instruments::CrashCounter;
use markhold_station::instruments::spectra::Spectra;

const RATE: u32 = 8000;
/// A count belongs to a crash when it comes within this of it, s: it is told when the rise is over.
const NEAR_S: f64 = 0.3;

fn main() {
    let mut words = std::env::args().skip(1).map(|w| w.parse::<u64>());
    let minutes = words.next().map_or(20, |n| n.expect("minutes"));
    let seed = words.next().map_or(1, |n| n.expect("a seed"));
    println!(
        "| sound | minutes | crashes | missed | counted that were none | in an hour | caution |"
    );
    println!("| --- | ---: | ---: | ---: | ---: | ---: | --- |");
    for (name, scene) in scenes(60.0 * minutes as f64, seed) {
        let air = Air::new(scene, RATE).expect("a scene that works");
        let truth = air.truth();
        let crashes: Vec<Interval> = truth.crashes();
        let mut air = air;
        let mut block = vec![0.0; 4000];
        let (counted, caution) = count(&mut |out: &mut Vec<f32>| {
            let got = air.fill(&mut block);
            out.extend_from_slice(&block[..got]);
            got > 0
        });
        tell(name, minutes, &crashes, &counted, caution);
    }
    practice(minutes, seed);
}

/// The practice band as it stands without static: nothing is to be counted.
fn practice(minutes: u64, seed: u64) {
    let mut band = Practice::new(RATE, seed).expect("a rate that works");
    band.set(Controls {
        static_per_min: 0.0,
        ..Controls::default()
    });
    let mut left = minutes * 60 * u64::from(RATE);
    let mut block = vec![0.0; 4000];
    let (counted, caution) = count(&mut |out: &mut Vec<f32>| {
        band.fill(&mut block);
        out.extend_from_slice(&block);
        left = left.saturating_sub(4000);
        left > 0
    });
    tell(
        "practice band without static",
        minutes,
        &[],
        &counted,
        caution,
    );
}

/// When crashes were counted, s, and whether the caution came.
fn count(next: &mut dyn FnMut(&mut Vec<f32>) -> bool) -> (Vec<f64>, bool) {
    let mut counter = CrashCounter::default();
    let mut spectra = Spectra::new(RATE, 0.0);
    let (mut times, mut caution, mut so_far) = (Vec::new(), false, 0);
    let mut sound = Vec::new();
    while next(&mut sound) {
        spectra.process(&sound, &mut |spectrum| {
            counter.process(&spectrum);
            let counts = counter.counts(spectrum.until_s);
            times.extend((so_far..counts.crashes).map(|_| spectrum.until_s));
            so_far = counts.crashes;
            caution |= counts.lightning_caution;
        });
        sound.clear();
    }
    (times, caution)
}

fn tell(name: &str, minutes: u64, crashes: &[Interval], counted: &[f64], caution: bool) {
    let near = |at: f64, c: &Interval| at > c.start_s - NEAR_S && at < c.end_s + NEAR_S;
    let missed = crashes
        .iter()
        .filter(|c| !counted.iter().any(|at| near(*at, c)))
        .count();
    let wrong = counted
        .iter()
        .filter(|at| !crashes.iter().any(|c| near(**at, c)))
        .count();
    let share = match crashes.len() {
        0 => String::new(),
        all => format!("{:.0} %", 100.0 * missed as f64 / all as f64),
    };
    println!(
        "| {name} | {minutes} | {} | {share} | {wrong} | {:.1} | {} |",
        crashes.len(),
        wrong as f64 * 60.0 / minutes as f64,
        if caution { "came" } else { "" }
    );
}

fn scenes(seconds: f64, seed: u64) -> Vec<(&'static str, Scene)> {
    let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING ";
    let sender = Sender::of_text(text, FiguresRow::Ita2).expect("in the alphabet");
    let signal = Scene {
        seed,
        senders: vec![Sender {
            repeat: true,
            ..sender.clone()
        }],
        noise: Noise::SnrDb {
            snr_db: 15.0,
            bandwidth_hz: 3000.0,
        },
        passband: Some(Passband::default()),
        agc: Some(Agc::default()),
        duration_s: Some(seconds),
        ..Scene::default()
    };
    let empty = Scene {
        senders: Vec::new(),
        ..signal.clone()
    };
    let with = |per_minute: f64, shortest_ms: f64, longest_ms: f64, scene: &Scene| Scene {
        crashes: Some(Crashes {
            rate_per_s: per_minute / 60.0,
            shortest_ms,
            longest_ms,
            ..Crashes::default()
        }),
        ..scene.clone()
    };
    let beside = |level_db: f64, keying: Keying| Scene {
        carriers: vec![Carrier {
            place: Place::At(900.0),
            keying,
            level_db,
            ..Carrier::default()
        }],
        ..signal.clone()
    };
    let spoken = |level_db: f64, pitch_hz: f64| Scene {
        voices: vec![Speech {
            level_db,
            pitch_hz,
            ..Speech::default()
        }],
        ..empty.clone()
    };
    let voice = spoken(0.0, 120.0);
    let faded = |channel: Channel| Scene {
        senders: vec![Sender {
            repeat: true,
            channel,
            ..sender.clone()
        }],
        ..signal.clone()
    };
    let morse = |wpm: f64| Keying::Morse { wpm };
    vec![
        ("noise of an empty band", empty.clone()),
        ("a steady signal", signal.clone()),
        (
            "a signal in quiet fading",
            faded(Channel::MID_LATITUDE_QUIET),
        ),
        (
            "a signal in disturbed fading",
            faded(Channel::MID_LATITUDE_DISTURBED),
        ),
        ("a signal, Morse 10 dB over it", beside(10.0, morse(18.0))),
        ("a signal, Morse 20 dB over it", beside(20.0, morse(22.0))),
        ("a signal, Morse 35 dB over it", beside(35.0, morse(15.0))),
        ("speech alone", voice.clone()),
        ("a high voice, 10 dB louder", spoken(10.0, 210.0)),
        ("a low voice, 10 dB weaker", spoken(-10.0, 100.0)),
        ("a low voice, 20 dB louder", spoken(20.0, 120.0)),
        (
            "speech and quiet static, 4 a minute",
            with(4.0, 15.0, 60.0, &voice),
        ),
        (
            "quiet static, 4 a minute, empty band",
            with(4.0, 15.0, 60.0, &empty),
        ),
        (
            "quiet static, 4 a minute, a signal",
            with(4.0, 15.0, 60.0, &signal),
        ),
        (
            "static, 40 a minute, a signal",
            with(40.0, 15.0, 60.0, &signal),
        ),
        (
            "long crashes, 12 a minute, a signal",
            with(12.0, 80.0, 350.0, &signal),
        ),
        (
            "static, 12 a minute, disturbed fading",
            with(12.0, 15.0, 60.0, &faded(Channel::MID_LATITUDE_DISTURBED)),
        ),
    ]
}
