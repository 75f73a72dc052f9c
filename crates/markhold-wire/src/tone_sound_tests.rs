//! The worker against a sink that takes everything at once.

use super::*;
use std::sync::{Arc, Mutex};

const SPEED: StartStop = StartStop::new(50.0, 1.5);
const RATE_HZ: f64 = 8000.0;

#[derive(Default)]
struct State {
    taken: Vec<f32>,
    gone: bool,
}

/// Takes everything, 2 ms of sound in each 50 microseconds: no idle sound fills the
/// memory while a test waits.
#[derive(Clone, Default)]
struct Heard(Arc<Mutex<State>>);

impl Sink for Heard {
    fn rate_hz(&self) -> f64 {
        RATE_HZ
    }

    fn room(&mut self) -> usize {
        std::thread::sleep(Duration::from_micros(50));
        1000
    }

    fn put(&mut self, samples: &[f32]) {
        self.0.lock().unwrap().taken.extend_from_slice(samples);
    }

    fn delay_s(&self) -> f64 {
        0.02
    }

    fn missing(&self) -> u64 {
        0
    }

    fn check(&mut self) -> Result<(), KeyerError> {
        match self.0.lock().unwrap().gone {
            true => Err(gone()),
            false => Ok(()),
        }
    }
}

fn started(autostart: bool) -> (ToneSound, Heard) {
    let settings = ToneSettings {
        speed: SPEED,
        plan: TonePlan::new(1275.0, 1445.0, SPEED),
        autostart,
    };
    let heard = Heard::default();
    let sink = heard.clone();
    (ToneSound::start(settings, move || Ok(sink)).unwrap(), heard)
}

/// Elements by the crudest decoder there is: which tone correlates more over the middle
/// half of each element, from the first change to space on.
fn decode(sound: &[f32], count: usize) -> Vec<u8> {
    let power = |from: usize, len: usize, hz: f64| {
        let (mut re, mut im) = (0.0, 0.0);
        for (k, s) in sound[from..from + len].iter().enumerate() {
            let (sin, cos) = (std::f64::consts::TAU * hz * k as f64 / RATE_HZ).sin_cos();
            re += f64::from(*s) * cos;
            im += f64::from(*s) * sin;
        }
        re * re + im * im
    };
    let mark = |from: usize| power(from, 80, 1275.0) > power(from, 80, 1445.0);
    let mut at = 80;
    let mut values = Vec::new();
    while values.len() < count {
        while mark(at - 40) {
            at += 4;
        }
        // The start edge stands near `at`; elements are 160 samples.
        let element = |n: usize| u8::from(mark(at + 160 * n + 40)) << (n - 1);
        values.push((1..=5).map(element).sum());
        at += 160 * 6 + 80;
    }
    values
}

#[test]
fn codes_come_out_as_tones_with_idle_mark_between() {
    let (mut keyer, heard) = started(false);
    let codes = [10, 21, 0, 31, 4].map(|v| Code::new(v).unwrap());
    for code in codes {
        keyer.send(code).unwrap();
    }
    keyer.hold(0.1).unwrap();
    keyer.finish().unwrap();
    keyer.motor(false).unwrap();
    drop(keyer);
    let sound = std::mem::take(&mut heard.0.lock().unwrap().taken);
    assert_eq!(decode(&sound, 5), [10, 21, 0, 31, 4]);
    // Neither a gap nor a jump: no step is larger than the higher tone makes at its level.
    let most = 2.0 * 0.5 * (std::f64::consts::PI * 1445.0 / RATE_HZ).sin() + 1e-6;
    assert!(
        sound
            .windows(2)
            .all(|p| f64::from((p[1] - p[0]).abs()) <= most)
    );
    let loud = |part: &[f32]| part.iter().any(|s| s.abs() > 0.4);
    assert!(
        sound[200..sound.len() - 400].chunks_exact(40).all(loud),
        "no gaps"
    );
    assert!(sound.last().unwrap().abs() < 1e-6, "fades out");
}

#[test]
fn autostart_is_silent_without_the_motor() {
    let (mut keyer, heard) = started(true);
    keyer.motor(false).unwrap();
    keyer.hold(0.2).unwrap();
    keyer.motor(false).unwrap();
    heard.0.lock().unwrap().taken.clear();
    keyer.cancel().unwrap();
    keyer.motor(true).unwrap();
    keyer.send(Code::SPACE).unwrap();
    assert!(heard.0.lock().unwrap().taken.iter().any(|s| s.abs() > 0.4));
}

/// Between two overs, and without a jump: the old tone has faded, the new one rises.
#[test]
fn other_tones_are_made_once_nothing_sounds() {
    let (mut keyer, heard) = started(true);
    let other = TonePlan::new(1483.2, 1653.7, SPEED);
    let error = keyer.tones(other).unwrap_err();
    assert!(error.to_string().contains("between two overs"), "{error}");
    keyer.hold(0.05).unwrap();
    keyer.motor(false).unwrap();
    keyer.tones(other).unwrap();
    let before = heard.0.lock().unwrap().taken.len();
    keyer.motor(true).unwrap();
    keyer.hold(0.5).unwrap();
    let sound = std::mem::take(&mut heard.0.lock().unwrap().taken);
    let most = 2.0 * 0.5 * (std::f64::consts::PI * 1653.7 / RATE_HZ).sin() + 1e-6;
    let steps = || sound.windows(2).map(|p| f64::from((p[1] - p[0]).abs()));
    assert!(steps().all(|step| step <= most));
    // Whole turns of a quarter of a second, by their upward crossings.
    let loud = sound[before..].iter().position(|s| s.abs() > 0.4);
    let from = before + loud.unwrap() + 200;
    let risen = &sound[from..from + 2000];
    let turns = risen
        .windows(2)
        .filter(|p| p[0] < 0.0 && p[1] >= 0.0)
        .count();
    assert!(turns.abs_diff((1483.2 * 0.25) as usize) <= 1, "{turns}");
    let too_high = TonePlan::new(1483.2, 4445.0, SPEED);
    keyer.motor(false).unwrap();
    assert!(keyer.tones(too_high).is_err());
    keyer.motor(true).unwrap();
    keyer.send(Code::SPACE).unwrap();
}

/// What is left of a line need not be whole samples: a hold after it ends all the same.
#[test]
fn a_line_of_broken_samples_is_waited_for_and_no_longer() {
    let (mut keyer, heard) = started(false);
    let stretch = Stretch {
        mark: false,
        // 100.7 samples.
        length_s: 100.7 / RATE_HZ,
    };
    keyer.line(&[stretch]).unwrap();
    for _ in 0..3 {
        keyer.hold(0.01).unwrap();
    }
    keyer.finish().unwrap();
    assert!(heard.0.lock().unwrap().taken.len() >= 340);
}

#[test]
fn a_device_that_goes_away_is_told_with_the_character() {
    let (mut keyer, heard) = started(false);
    keyer.send(Code::SPACE).unwrap();
    heard.0.lock().unwrap().gone = true;
    let error = keyer.send(Code::SPACE).unwrap_err();
    assert!(matches!(error, KeyerError::PulledOut { .. }), "{error}");
    assert!(keyer.send(Code::SPACE).is_err());
}

#[test]
fn what_open_says_comes_back() {
    let settings = ToneSettings {
        speed: SPEED,
        plan: TonePlan::new(1275.0, 4445.0, SPEED),
        autostart: false,
    };
    let heard = Heard::default();
    let error = ToneSound::start(settings, move || Ok(heard)).err().unwrap();
    assert!(matches!(error, KeyerError::Setting { .. }), "{error}");
    let none = || -> Result<Heard, KeyerError> { Err(gone()) };
    assert!(ToneSound::start(settings, none).is_err());
}
