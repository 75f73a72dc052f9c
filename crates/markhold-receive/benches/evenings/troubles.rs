//! What else is heard beside a signal. Levels are relative to the wanted signal's tone,
//! which has 0 dB.

use super::draw::Draw;
use super::strangers::Stranger;
use super::tone::{self, amplitude};

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
    /// Somebody tunes up: a carrier sweeps through the band, in so many seconds each time.
    Sweep { level_db: f64, lasts_s: f64 },
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
    /// A click at each half wave of the mains, as a bad contact or supply makes it.
    Buzz { mains_hz: f64, level_db: f64 },
    /// Another service.
    Stranger { stranger: Stranger, level_db: f64 },
}

impl Trouble {
    /// Adds it to the sound.
    pub fn add(&self, sound: &mut [f32], rate: f64, draw: &mut Draw) {
        match *self {
            Trouble::Carrier {
                hz,
                level_db,
                drift_hz_per_s,
            } => tone::add(sound, rate, draw, |at_s| {
                (amplitude(level_db), hz + drift_hz_per_s * at_s)
            }),
            Trouble::Morse { hz, level_db, wpm } => {
                let high = amplitude(level_db);
                morse(sound, rate, draw, wpm, |level| (high * level, hz));
            }
            Trouble::Sweep { level_db, lasts_s } => {
                let begin = draw.range(0.0, 1.0);
                tone::add(sound, rate, draw, |at_s| {
                    let part = (begin + at_s / lasts_s).fract();
                    (amplitude(level_db), 200.0 + 3000.0 * part)
                });
            }
            Trouble::Hum {
                mains_hz,
                level_db,
                falls_db,
            } => {
                for k in 1..=(3000.0 / mains_hz) as usize {
                    let level = amplitude(level_db - falls_db * (k as f64).log2());
                    tone::add(sound, rate, draw, |_| (level, mains_hz * k as f64));
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
                    let from = (at_s * rate) as usize;
                    crash(&mut sound[from..], rate, loud, lasts_s, draw);
                    at_s += draw.waiting(1.0 / per_s);
                }
            }
            Trouble::Buzz { mains_hz, level_db } => {
                let loud = amplitude(level_db);
                let clicks = sound.len() as f64 / rate * 2.0 * mains_hz;
                for k in 0..clicks as usize {
                    let from = (k as f64 / (2.0 * mains_hz) * rate) as usize;
                    crash(&mut sound[from..], rate, loud, 0.0002, draw);
                }
            }
            Trouble::Stranger { stranger, level_db } => {
                let seconds = sound.len() as f64 / rate;
                let heard = stranger.sound(rate, seconds, draw);
                let level = amplitude(level_db) as f32;
                sound
                    .iter_mut()
                    .zip(heard)
                    .for_each(|(s, h)| *s += level * h);
            }
        }
    }
}

/// Adds a keyed tone; `on` makes amplitude and frequency of the key's level, 0 to 1.
pub fn morse(
    sound: &mut [f32],
    rate: f64,
    draw: &mut Draw,
    wpm: f64,
    mut on: impl FnMut(f64) -> (f64, f64),
) {
    let (keyed, unit_s) = dots(wpm, sound.len() as f64 / rate, draw);
    // Keyed softly: the level follows in about 5 ms, as clicks are kept down.
    let soft = (-1.0 / (0.005 * rate)).exp();
    let mut level = 0.0;
    tone::add(sound, rate, draw, |at_s| {
        let down = keyed.get((at_s / unit_s) as usize).is_some_and(|k| *k);
        level = soft * level + (1.0 - soft) * f64::from(u8::from(down));
        on(level)
    });
}

/// Key down or up for each length of a dot, and that length: the word PARIS is 50 of them
/// (common practice); a dash is three, spaces are one, three and seven (ITU-R M.1677).
fn dots(wpm: f64, seconds: f64, draw: &mut Draw) -> (Vec<bool>, f64) {
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
    let length = (5.0 * lasts_s * rate) as usize + 1;
    for (n, sample) in sound.iter_mut().enumerate().take(length) {
        let level = loud * (-(n as f64) / (lasts_s * rate)).exp();
        *sample += (level * draw.gauss()[0]) as f32;
    }
}
