//! What else is heard: carriers, Morse, hum, static. Amplitudes are relative to the wanted
//! signal's tone, which has 1.

use crate::draw::Draw;
use std::f64::consts::TAU;

/// Something that adds to the sound.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// A steady carrier that drifts by so many Hz a second.
    Carrier {
        hz: f64,
        level_db: f64,
        drift_hz_per_s: f64,
    },
    /// A carrier keyed in Morse, random characters at so many words a minute.
    Morse { hz: f64, level_db: f64, wpm: f64 },
    /// Mains and its harmonics up to 3 kHz, the first at this level, the rest falling by so
    /// many dB each octave.
    Hum {
        mains_hz: f64,
        level_db: f64,
        falls_db: f64,
    },
    /// Crashes: so many a second, this loud at the peak, dying in about so many seconds.
    Static {
        per_s: f64,
        level_db: f64,
        lasts_s: f64,
    },
}

impl Trouble {
    /// Adds it to the sound.
    pub fn add(&self, sound: &mut [f32], rate: f64, draw: &mut Draw) {
        match *self {
            Trouble::Carrier {
                hz,
                level_db,
                drift_hz_per_s,
            } => {
                let on = |at_s: f64| (amplitude(level_db), hz + drift_hz_per_s * at_s);
                tone(sound, rate, draw, on);
            }
            Trouble::Morse { hz, level_db, wpm } => {
                let (keyed, unit_s) = morse(wpm, sound.len() as f64 / rate, draw);
                let high = amplitude(level_db);
                // Keyed softly: the level follows in about 5 ms, as clicks are kept down.
                let mut level = 0.0;
                let soft = (-1.0 / (0.005 * rate)).exp();
                let on = |at_s: f64| {
                    let down = keyed.get((at_s / unit_s) as usize).is_some_and(|k| *k);
                    level = soft * level + (1.0 - soft) * if down { high } else { 0.0 };
                    (level, hz)
                };
                tone(sound, rate, draw, on);
            }
            Trouble::Hum {
                mains_hz,
                level_db,
                falls_db,
            } => {
                for k in 1..=(3000.0 / mains_hz) as usize {
                    let level = amplitude(level_db - falls_db * (k as f64).log2());
                    tone(sound, rate, draw, |_| (level, mains_hz * k as f64));
                }
            }
            Trouble::Static {
                per_s,
                level_db,
                lasts_s,
            } => {
                let mut at_s = draw.waiting(1.0 / per_s);
                while at_s < sound.len() as f64 / rate {
                    let loud = amplitude(level_db) * draw.ratio(0.3, 1.0);
                    crash(
                        &mut sound[(at_s * rate) as usize..],
                        rate,
                        loud,
                        lasts_s,
                        draw,
                    );
                    at_s += draw.waiting(1.0 / per_s);
                }
            }
        }
    }
}

/// The amplitude of a level.
pub fn amplitude(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

/// Adds a tone whose amplitude and frequency are told for each instant.
fn tone(sound: &mut [f32], rate: f64, draw: &mut Draw, mut on: impl FnMut(f64) -> (f64, f64)) {
    let mut turn = draw.range(0.0, 1.0);
    for (n, sample) in sound.iter_mut().enumerate() {
        let (level, hz) = on(n as f64 / rate);
        turn = (turn + hz / rate).fract();
        *sample += (level * (TAU * turn).sin()) as f32;
    }
}

/// Key down or up for each dot length, and that length: PARIS is 50 of them (ITU-R M.1677).
fn morse(wpm: f64, seconds: f64, draw: &mut Draw) -> (Vec<bool>, f64) {
    let unit_s = 1.2 / wpm;
    let mut keyed = vec![false; draw.below(200)];
    while (keyed.len() as f64) < seconds / unit_s {
        for _ in 0..1 + draw.below(5) {
            let down = if draw.chance(0.5) { 1 } else { 3 };
            keyed.extend(std::iter::repeat_n(true, down));
            keyed.push(false);
        }
        let gap = if draw.chance(0.2) { 6 } else { 2 };
        keyed.extend(std::iter::repeat_n(false, gap));
    }
    (keyed, unit_s)
}

fn crash(sound: &mut [f32], rate: f64, loud: f64, lasts_s: f64, draw: &mut Draw) {
    for (n, sample) in sound
        .iter_mut()
        .enumerate()
        .take((5.0 * lasts_s * rate) as usize)
    {
        let level = loud * (-(n as f64) / (lasts_s * rate)).exp();
        *sample += (level * draw.gauss()[0]) as f32;
    }
}
