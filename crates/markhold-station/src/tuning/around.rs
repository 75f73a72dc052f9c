//! What else is heard: tones that stay where they are, and how each is keyed.
//!
//! A tone that somebody keys stays at its place for seconds; what a voice or a slide leaves
//! there does not. Its levels over the latest seconds tell how it is keyed: never off, off
//! often and never for long as one tone of start-stop signals is, or with the pauses between
//! letters and words that Morse has.

use super::alternation::Alternation;
use super::humps::{mean, places};
use super::subject::FollowedNow;
use crate::instruments::floor::db;
use crate::instruments::spectra::{BIN_HZ, PER_SECOND, Spectrum};
use serde::Serialize;
use std::collections::VecDeque;

/// Spectra by which tones are judged: 6 s, some words of Morse.
const MEMORY: usize = 6 * PER_SECOND as usize;
/// How far a tone stands over the noise when it is on, dB: what an eye sees in the strip.
const OVER_DB: f32 = 13.0;
/// How far its mean does: a tone that is on for a quarter of the time loses 6 dB in it.
const MEAN_OVER_DB: f32 = 6.0;
/// A steady tone stays within this of its level when on, dB: one at 13 dB over the noise is 2 to
/// either side, in a fade more.
const STEADY_DB: f32 = 7.0;
/// A keyed one is off when it is so far below that level, dB.
const OFF_DB: f32 = 9.0;
/// Keying goes off at least so often in that time, and is on for a share of it between these.
const FEWEST: usize = 5;
const SHARE_ON: (f64, f64) = (0.15, 0.85);
/// While it is on a tone is where it is within a bin in this share of the spectra.
const STAYS: f64 = 0.85;
/// A tone this near to one of a signal that is followed is that, or of its keying, Hz.
const OWN_HZ: f64 = 90.0;
/// Tones are the same from one look to the next within this, Hz.
const SAME_HZ: f64 = 24.0;
/// Looks, one a second, after which a tone is told, and after which it is no longer.
const TOLD_AFTER: u32 = 3;
const GONE_AFTER: u32 = 6;
/// Differences that nobody needs to be told, Hz and dB.
const PLAY: (f64, f32) = (8.0, 4.0);

/// How a tone is keyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Keying {
    /// Never off: a carrier, or an idle signal.
    Steady,
    /// On and off with pauses, as Morse is.
    Morse,
    /// Often off and never for long, as one tone of start-stop signals.
    StartStop,
}

/// A tone of nobody that is followed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tone {
    /// Where it stands, Hz.
    pub hz: f64,
    /// How far over the noise in a spectrum when it is on, dB.
    pub over_noise_db: f32,
    /// How it is keyed.
    pub keying: Keying,
}

/// A tone as it is remembered from look to look.
#[derive(Clone, Copy, Debug)]
struct Known {
    tone: Tone,
    looks: u32,
    missed: u32,
}

/// Watches the tones around.
#[derive(Clone, Debug, Default)]
pub struct Around {
    // state
    latest: VecDeque<Vec<f32>>,
    taken: u32,
    known: Vec<Known>,
    told: Vec<Tone>,
}

impl Around {
    /// Takes a spectrum, what is known of keying and the signals that are followed; all tones of others, by
    /// pitch, when they are others than those told before.
    pub fn process(
        &mut self,
        spectrum: &Spectrum,
        alternation: &Alternation,
        followed: &[FollowedNow],
    ) -> Option<Vec<Tone>> {
        self.latest.push_back(spectrum.power.clone());
        let over = self.latest.len().saturating_sub(MEMORY);
        self.latest.drain(..over);
        self.taken += 1;
        if self.latest.len() < MEMORY || !self.taken.is_multiple_of(PER_SECOND) {
            return None;
        }
        let own = |tone: &Tone| {
            let mut tones = followed.iter().flat_map(|f| f.tones_hz);
            tones.any(|hz| (hz - tone.hz).abs() < OWN_HZ)
        };
        let (tones, floor_db) = places(&mean(&self.latest), MEAN_OVER_DB);
        let seen = tones
            .iter()
            .filter_map(|hump| self.tone(hump.hz, floor_db, alternation))
            .filter(|tone| !own(tone))
            .collect();
        self.remember(seen);
        self.known.retain(|k| !own(&k.tone));
        let mut now: Vec<Tone> = self.shown().collect();
        now.sort_by(|a, b| a.hz.total_cmp(&b.hz));
        if is_same(&now, &self.told) {
            return None;
        }
        self.told.clone_from(&now);
        Some(now)
    }

    fn shown(&self) -> impl Iterator<Item = Tone> {
        let long = |known: &&Known| known.looks >= TOLD_AFTER;
        self.known.iter().filter(long).map(|known| known.tone)
    }

    /// How the tone at a place is keyed, if a tone stays there.
    fn tone(&self, hz: f64, floor_db: f32, alternation: &Alternation) -> Option<Tone> {
        let bin = (hz / BIN_HZ).round() as usize;
        let levels = self.levels(bin);
        let mut sorted = levels.clone();
        sorted.sort_by(f32::total_cmp);
        let at = |share: f64| sorted[(share * (sorted.len() - 1) as f64) as usize];
        let on_db = at(0.85);
        if on_db - floor_db < OVER_DB || !self.stays(bin, &levels, on_db) {
            return None;
        }
        let keying = if on_db - at(0.08) < STEADY_DB {
            Keying::Steady
        } else if alternation.is_start_stop(hz) {
            Keying::StartStop
        } else if is_keyed(&levels, on_db) {
            Keying::Morse
        } else {
            return None;
        };
        Some(Tone {
            hz,
            over_noise_db: on_db - floor_db,
            keying,
        })
    }

    /// Level within a bin of a place in each spectrum, dB.
    fn levels(&self, bin: usize) -> Vec<f32> {
        self.latest
            .iter()
            .map(|power| db(near(power, bin)))
            .collect()
    }

    /// Whether, while it is on, the highest bin around is that of the place.
    fn stays(&self, bin: usize, levels: &[f32], on_db: f32) -> bool {
        let is_here = |power: &[f32]| {
            let beside = [bin - 3, bin - 2, bin + 2, bin + 3];
            beside.iter().all(|b| power[*b] < near(power, bin))
        };
        let (mut on, mut here) = (0, 0);
        let all = self.latest.iter().zip(levels);
        for (power, _) in all.filter(|(_, l)| **l > on_db - 6.0) {
            on += 1;
            here += usize::from(is_here(power));
        }
        here as f64 >= STAYS * on as f64
    }

    fn remember(&mut self, seen: Vec<Tone>) {
        for known in &mut self.known {
            known.missed += 1;
        }
        for tone in seen {
            let same = |known: &&mut Known| (known.tone.hz - tone.hz).abs() < SAME_HZ;
            match self.known.iter_mut().find(same) {
                Some(known) => {
                    let looks = if known.missed > 1 {
                        known.looks.max(1)
                    } else {
                        known.looks + 1
                    };
                    *known = Known {
                        tone: steadied(known.tone, tone),
                        looks,
                        missed: 0,
                    };
                }
                None => self.known.push(Known {
                    tone,
                    looks: 1,
                    missed: 0,
                }),
            }
        }
        self.known.retain(|known| known.missed < GONE_AFTER);
    }
}

/// Power within a bin of a place.
fn near(power: &[f32], bin: usize) -> f32 {
    power[bin - 1..=bin + 1].iter().copied().fold(0.0, f32::max)
}

/// What is told does not flicker: small differences are none.
fn steadied(told: Tone, now: Tone) -> Tone {
    let near = (told.hz - now.hz).abs() < PLAY.0
        && (told.over_noise_db - now.over_noise_db).abs() < PLAY.1;
    match near && told.keying == now.keying {
        true => told,
        false => now,
    }
}

fn is_same(a: &[Tone], b: &[Tone]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| steadied(*a, *b) == *a)
}

/// Whether levels go off and on as a hand or a keyer makes them.
fn is_keyed(levels: &[f32], on_db: f32) -> bool {
    let (mut is_on, mut times, mut on) = (false, 0, 0);
    for level in levels {
        let now = match is_on {
            true => *level > on_db - OFF_DB,
            false => *level > on_db - 0.6 * OFF_DB,
        };
        times += usize::from(is_on && !now);
        is_on = now;
        on += usize::from(now);
    }
    let share = on as f64 / levels.len() as f64;
    times >= FEWEST && (SHARE_ON.0..SHARE_ON.1).contains(&share)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::spectra::Spectra;
    use markhold_air::{Air, Carrier, Keying as Sent, Noise, Place, Scene, Speech};

    const NOISE: Noise = Noise::SnrDb {
        snr_db: 10.0,
        bandwidth_hz: 3000.0,
    };

    /// Everything told of 60 s of a scene: each list with when it was told.
    fn told(scene: Scene) -> Vec<Vec<Tone>> {
        let scene = Scene {
            duration_s: Some(60.0),
            ..scene
        };
        let sound = Air::new(scene, 8000).expect("a scene").render();
        let (mut around, mut alternation, mut all) =
            (Around::default(), Alternation::default(), Vec::new());
        Spectra::new(8000, 0.0).process(&sound, &mut |s| {
            alternation.take(&s);
            all.extend(around.process(&s, &alternation, &[]));
        });
        all
    }

    fn carrier(hz: f64, keying: Sent) -> Carrier {
        Carrier {
            place: Place::At(hz),
            keying,
            ..Carrier::default()
        }
    }

    #[test]
    fn carrier_and_morse_are_told_by_pitch() {
        for wpm in [12.0, 18.0, 25.0] {
            let all = told(Scene {
                carriers: vec![
                    carrier(1700.0, Sent::Steady),
                    carrier(820.0, Sent::Morse { wpm }),
                ],
                noise: NOISE,
                ..Scene::default()
            });
            let last = all.last().expect("told");
            let what: Vec<(f64, Keying)> = last
                .iter()
                .map(|t| ((t.hz / 20.0).round() * 20.0, t.keying))
                .collect();
            assert_eq!(
                what,
                [(820.0, Keying::Morse), (1700.0, Keying::Steady)],
                "{wpm}"
            );
            assert!(all.len() <= 4, "{wpm}: told {} times: {all:?}", all.len());
        }
    }

    #[test]
    fn nothing_is_told_of_noise_and_little_of_a_voice() {
        let noise = told(Scene {
            noise: NOISE,
            ..Scene::default()
        });
        assert!(noise.is_empty(), "{noise:?}");
        let voice = told(Scene {
            voices: vec![Speech::default()],
            noise: Noise::SnrDb {
                snr_db: 20.0,
                bandwidth_hz: 3000.0,
            },
            ..Scene::default()
        });
        assert!(voice.iter().all(|list| list.len() <= 1), "{voice:?}");
    }
}
