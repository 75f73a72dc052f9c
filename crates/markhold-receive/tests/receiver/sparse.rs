//! Senders that show little of themselves: one tone alone, or a character now and then.

use crate::hear::{Heard, hear, hear_scene, sender};
use markhold_air::{Carrier, Keying, Noise, Place, Scene};
use markhold_code::Code;
use markhold_receive::Settings;

const RATE_HZ: f64 = 8000.0;
const ELEMENT_S: f64 = 0.022;
/// Mark and space, Hz.
const TONES_HZ: [f64; 2] = [1415.0, 1585.0];
const TEXT: &str = "ONE TONE IS ENOUGH FOR THOSE WHO KNOW WHEN IT HAS TO BE THERE DE Q6ONE";

/// Uniform values by a small congruential generator; twelve of them make noise.
struct Random(u64);

impl Random {
    fn noise(&mut self) -> f64 {
        let mut uniform = || {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
            self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 40) as f64 / (1u64 << 24) as f64
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }
}

/// When the line changes, s, and to what: mark, space or nothing. Each character is followed
/// by mark of so many elements, its stop among them.
fn line(characters: &[(Code, f64)], element_s: f64) -> Vec<(f64, Option<usize>)> {
    let mut changes = vec![(0.0, None), (2.0, Some(0))];
    let mut at_s = 4.0;
    for (code, stop) in characters {
        let data = (0..5).map(|k| 1 - usize::from(code.value() >> k & 1));
        for (k, tone) in [1].into_iter().chain(data).chain([0]).enumerate() {
            changes.push((at_s + k as f64 * element_s, Some(tone)));
        }
        at_s += (6.0 + stop) * element_s;
    }
    changes.extend([(at_s, None), (at_s + 2.0, None)]);
    changes
}

/// Its sound: tones of these amplitudes in noise of variance 1/100.
fn wave(characters: &[(Code, f64)], levels: [f64; 2], seed: u64) -> Vec<f32> {
    sound_of(line(characters, ELEMENT_S), levels, seed)
}

/// Sound of a line.
fn sound_of(changes: Vec<(f64, Option<usize>)>, levels: [f64; 2], seed: u64) -> Vec<f32> {
    let mut random = Random(seed);
    let end_s = changes.last().expect("some").0;
    let (mut place, mut phase) = (0, 0.0);
    let sample = |n: usize| {
        let at_s = n as f64 / RATE_HZ;
        while changes.get(place + 1).is_some_and(|c| c.0 <= at_s) {
            place += 1;
        }
        let (level, hz) = changes[place]
            .1
            .map_or((0.0, 0.0), |k| (levels[k], TONES_HZ[k]));
        phase += std::f64::consts::TAU * hz / RATE_HZ;
        (0.1 * (level * f64::cos(phase) + 0.1 * random.noise())) as f32
    };
    (0..(end_s * RATE_HZ) as usize).map(sample).collect()
}

fn heard(sound: &[f32]) -> Heard {
    hear(sound, RATE_HZ as u32, Settings::default())
}

/// 21 dB in an element. Where mark is what is not heard, nobody can tell its stop from the end:
/// the last three do not count.
#[test]
fn one_tone_alone_is_copied() {
    let codes = sender(TEXT).codes;
    let characters: Vec<(Code, f64)> = codes.iter().map(|code| (*code, 1.5)).collect();
    for missing in [0, 1] {
        let mut levels = [0.17; 2];
        levels[missing] = 0.0;
        let heard = heard(&wave(&characters, levels, 3));
        let printed = heard.printed();
        assert!(
            printed.contains(&TEXT[10..TEXT.len() - 3]),
            "without {missing}: {printed}"
        );
        assert_eq!(heard.found().len(), 1, "without {missing}");
    }
}

/// Two characters, then 9 s of mark, and so on: seconds that tell nothing of the rate, longer than
/// what a trial listens to.
#[test]
fn a_few_characters_after_long_mark_are_read() {
    for rate_baud in [45.45, 50.0, 75.0] {
        let codes = sender("WHO IS THERE NOW").codes;
        let idle = 9.0 * rate_baud;
        let stop = |k: usize| if k % 2 == 1 { idle } else { 1.5 };
        let characters: Vec<(Code, f64)> =
            codes.iter().zip(0..).map(|(c, k)| (*c, stop(k))).collect();
        let sound = sound_of(line(&characters, 1.0 / rate_baud), [0.17; 2], 5);
        let heard = heard(&sound);
        assert_eq!(heard.printed(), "WHO IS THERE NOW", "{rate_baud} baud");
    }
}

/// Morse of any speed is keyed on one tone as well, and two of them on two.
#[test]
fn morse_is_no_line_with_one_tone() {
    for (k, wpm) in [10.0, 14.0, 18.0, 22.0, 27.0, 33.0, 40.0]
        .into_iter()
        .enumerate()
    {
        for count in 1..3 {
            let carrier = |hz: f64| Carrier {
                place: Place::At(hz),
                keying: Keying::Morse { wpm },
                level_db: 3.0,
                ..Carrier::default()
            };
            let scene = Scene {
                seed: 70 + k as u64,
                duration_s: Some(60.0),
                senders: vec![],
                noise: Noise::SnrDb {
                    snr_db: 0.0,
                    bandwidth_hz: 3000.0,
                },
                carriers: [1100.0, 1270.0][..count]
                    .iter()
                    .map(|hz| carrier(*hz))
                    .collect(),
                ..Scene::default()
            };
            let heard = hear_scene(scene);
            assert_eq!(heard.printed(), "", "{wpm} words a minute, {count}");
        }
    }
}
