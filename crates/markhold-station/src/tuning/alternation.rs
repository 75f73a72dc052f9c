//! Whether two tones take turns, as the two tones of one sender do: where one is, the other
//! is not. A neighbour's Morse beside an idle mark, two keyed carriers, two voices do not.
//!
//! The amplitudes of both tones over the latest spectra are correlated. Of one sender they go
//! against each other (-0.95 at 20 dB Es/N0, -0.74 at 10 dB); of two they have nothing to do
//! with each other. How sure that is grows with the number of spectra.

use crate::instruments::floor::median;
use crate::instruments::spectra::{BIN_HZ, Spectrum};
use std::collections::VecDeque;

/// Spectra by which two tones are judged: 1.5 s, some ten characters.
const OF_TWO: usize = 38;
/// Spectra by which one tone is: 5 s, in which Morse of any speed has a pause between words.
const OF_ONE: usize = 125;
/// Fewer say nothing: 0.3 s, two characters.
const LEAST: usize = 8;
/// Correlation counts from here on, in standard deviations of what chance makes of as many
/// independent spectra (Fisher's transform): one in 70 000 by chance. Two Morse senders of 12
/// words a minute, whose elements last longer than a spectrum, came to it in 0.3 % of all
/// moments, text at 10 dB in 95 % with 38 spectra (simulated).
const SURE: f64 = 4.2;
/// One of the two tones is always there: the sum of both amplitudes, each as a share of its
/// usual level when on, is seldom below this. Both are there in part where an element ends.
const SUM: f32 = 0.6;
/// How seldom: a crash or a fade takes a spectrum now and then. A keyed tone and a sideband of
/// its own go against each other too, and are both gone for a third of the time.
const SELDOM: f64 = 0.12;
/// A tone that is keyed by start-stop signals is never off for longer than its five units and
/// a start, at the slowest rate 130 ms; spectra overlap by a third, so it may look like so many.
const LONGEST_OFF: usize = 4;
/// It goes off at least so often in that time: each character has an element of either kind.
const FEWEST_OFF: usize = 10;
/// Off is so far below the usual level when on, as amplitude: 6 dB.
const OFF: f32 = 0.5;

/// Tones nearer than this may be one tone and a sideband of its keying, Hz: those of 100 baud
/// that are strong enough to be seen.
const SIDEBAND_HZ: f64 = 130.0;
/// A sideband stands on the other side of its tone as well, at like strength; that of another
/// tone does not: this share of it, as amplitude, is between (keyed tones leave 0.3 there).
const MIRRORED: f32 = 0.65;

/// A crash lifts everything, and the receiver's gain gives way after it: spectra whose middle bin is
/// this many times above or below its usual amplitude say nothing of two tones (5 dB).
const BROAD: f32 = 1.8;
/// Where that would leave out more than this share of the spectra it is how this band sounds, and
/// all count.
const MOST_LEFT_OUT: f64 = 0.4;

/// A spectrum as it is remembered.
#[derive(Clone, Debug)]
struct Heard {
    amplitudes: Vec<f32>,
    /// That of the middle bin of all.
    broad: f32,
}

/// Remembers spectra and judges tones by them.
#[derive(Clone, Debug, Default)]
pub struct Alternation {
    // state
    latest: VecDeque<Heard>,
}

impl Alternation {
    /// Takes a spectrum.
    pub fn take(&mut self, spectrum: &Spectrum) {
        let amplitudes: Vec<f32> = spectrum.power.iter().map(|p| p.sqrt()).collect();
        let broad = median(&mut amplitudes.clone());
        self.latest.push_back(Heard { amplitudes, broad });
        let over = self.latest.len().saturating_sub(OF_ONE);
        self.latest.drain(..over);
    }

    /// The dial was turned: what was heard before says nothing of these places.
    pub fn forget(&mut self) {
        let over = self.latest.len().saturating_sub(1);
        self.latest.drain(..over);
    }

    /// Whether the tones at these places, Hz, take turns beyond chance.
    pub fn is_one_sender(&self, pair_hz: [f64; 2]) -> bool {
        let [low, high] = pair_hz.map(|hz| self.quiet_levels(hz));
        low.len() >= LEAST
            && surely_opposed(&low, &high) > SURE
            && is_always_one(&low, &high)
            && !self.is_tone_and_sideband(pair_hz, [&low, &high].map(|row| usual_when_on(row)))
    }

    /// Whether the weaker of two near tones has its like on the other side of the stronger one.
    fn is_tone_and_sideband(&self, [low_hz, high_hz]: [f64; 2], on: [f32; 2]) -> bool {
        let apart_hz = high_hz - low_hz;
        if apart_hz > SIDEBAND_HZ {
            return false;
        }
        let (mirror_hz, weaker) = match on[0] > on[1] {
            true => (low_hz - apart_hz, on[1]),
            false => (high_hz + apart_hz, on[0]),
        };
        usual_when_on(&self.quiet_levels(mirror_hz)) > MIRRORED * weaker
    }

    /// Whether the tone at this place, Hz, goes on and off as one of a start-stop pair does:
    /// often, and never for long. Morse has pauses between its letters and words.
    pub fn is_start_stop(&self, hz: f64) -> bool {
        let levels = self.levels(hz, OF_ONE);
        if levels.len() < OF_ONE {
            return false;
        }
        let on = usual_when_on(&levels);
        let (mut run, mut longest, mut times) = (0, 0, 0);
        for level in levels {
            let off = level < OFF * on;
            times += usize::from(off && run == 0);
            run = if off { run + 1 } else { 0 };
            longest = longest.max(run);
        }
        longest <= LONGEST_OFF && times >= FEWEST_OFF
    }

    /// Amplitude at a place in the latest spectra without crashes.
    fn quiet_levels(&self, hz: f64) -> Vec<f32> {
        let all = self.levels(hz, OF_TWO);
        let over = self.latest.len().saturating_sub(OF_TWO);
        let broad = self.latest.iter().map(|heard| heard.broad);
        let usual = median(&mut broad.clone().collect::<Vec<f32>>());
        let is_quiet = |b: f32| b < BROAD * usual && b * BROAD > usual;
        let quiet: Vec<f32> = broad
            .skip(over)
            .zip(&all)
            .filter_map(|(b, level)| is_quiet(b).then_some(*level))
            .collect();
        let left_out = (all.len() - quiet.len()) as f64;
        if left_out > MOST_LEFT_OUT * all.len() as f64 {
            return all;
        }
        quiet
    }

    /// Amplitude at a place in each of the latest spectra, within a bin of it.
    fn levels(&self, hz: f64, count: usize) -> Vec<f32> {
        let bin = (hz / BIN_HZ).round().max(1.0) as usize;
        let near = |Heard { amplitudes, .. }: &Heard| {
            let end = (bin + 2).min(amplitudes.len());
            let start = (bin - 1).min(end);
            amplitudes[start..end].iter().copied().fold(0.0, f32::max)
        };
        let over = self.latest.len().saturating_sub(count);
        self.latest.iter().skip(over).map(near).collect()
    }
}

/// The usual level of a keyed tone when it is on: it is for a third of the time at least.
fn usual_when_on(levels: &[f32]) -> f32 {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f32::total_cmp);
    sorted[levels.len() * 4 / 5]
}

/// Whether one of the two is there at nearly every moment.
fn is_always_one(a: &[f32], b: &[f32]) -> bool {
    let (on_a, on_b) = (usual_when_on(a), usual_when_on(b));
    let both_off = a
        .iter()
        .zip(b)
        .filter(|(a, b)| **a / on_a + **b / on_b < SUM);
    both_off.count() as f64 <= SELDOM * a.len() as f64
}

/// By how many standard deviations two rows go against each other more than chance makes them.
fn surely_opposed(a: &[f32], b: &[f32]) -> f64 {
    let count = a.len() as f64;
    let mean = |values: &[f32]| values.iter().map(|v| f64::from(*v)).sum::<f64>() / count;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (f64::from(*x) - mean_a, f64::from(*y) - mean_b);
        ab += x * y;
        aa += x * x;
        bb += y * y;
    }
    let spread = (aa * bb).sqrt();
    if spread < 1e-12 * count {
        return 0.0;
    }
    let opposed = (-ab / spread).clamp(-0.999, 0.999);
    opposed.atanh() * (count - 3.0).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::spectra::Spectra;
    use markhold_air::{Air, Carrier, Keying, Noise, Place, Scene, Sender, Speech};
    use markhold_code::{FiguresRow, StartStop};

    /// Shares of moments in which the pair is one sender, and in which its lower tone is keyed by start-stop signals.
    fn shares(scene: Scene, pair: [f64; 2]) -> (f64, f64) {
        let scene = Scene {
            duration_s: Some(40.0),
            ..scene
        };
        let sound = Air::new(scene, 8000).expect("a scene").render();
        let (mut alternation, mut all, mut one, mut keyed) = (Alternation::default(), 0, 0, 0);
        Spectra::new(8000, 0.0).process(&sound, &mut |s| {
            alternation.take(&s);
            // The lead-in is over, and the memory full.
            if s.until_s > 8.0 {
                all += 1;
                one += u32::from(alternation.is_one_sender(pair));
                keyed += u32::from(alternation.is_start_stop(pair[0]));
            }
        });
        let share = |count: u32| f64::from(count) / f64::from(all);
        (share(one), share(keyed))
    }

    fn sender(rate_baud: f64, shift_hz: f64, es_n0_db: f64) -> Scene {
        let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING ";
        let sender = Sender::of_text(text, FiguresRow::Ita2).expect("fits");
        Scene {
            senders: vec![Sender {
                speed: StartStop::new(rate_baud, 1.5),
                shift_hz,
                centre_hz: 1500.0,
                repeat: true,
                ..sender
            }],
            noise: Noise::EsN0Db(es_n0_db),
            ..Scene::default()
        }
    }

    #[test]
    fn the_tones_of_a_sender_take_turns() {
        for (rate, shift) in [(45.45, 170.0), (50.0, 425.0), (75.0, 850.0), (45.45, 85.0)] {
            for (es_n0_db, least) in [(12.0, 0.95), (20.0, 0.99)] {
                let pair = [1500.0 - shift / 2.0, 1500.0 + shift / 2.0];
                let (one, _) = shares(sender(rate, shift, es_n0_db), pair);
                assert!(one >= least, "{rate} {shift} {es_n0_db}: {one}");
            }
        }
    }

    #[test]
    fn one_tone_of_a_sender_is_told_from_morse() {
        let (_, keyed) = shares(sender(45.45, 170.0, 20.0), [1415.0, 1585.0]);
        assert!(keyed > 0.5, "{keyed}");
        for wpm in [12.0, 18.0, 25.0, 30.0] {
            let (_, keyed) = shares(beside(Keying::Morse { wpm }, 18.0), [1415.0, 1585.0]);
            assert!(keyed < 0.02, "{wpm}: {keyed}");
        }
    }

    #[test]
    fn crashes_do_not_hide_a_sender() {
        for (agc, least) in [(None, 0.85), (Some(markhold_air::Agc::default()), 0.7)] {
            let scene = Scene {
                crashes: Some(markhold_air::Crashes {
                    rate_per_s: 0.2,
                    ..markhold_air::Crashes::default()
                }),
                agc,
                ..sender(45.45, 170.0, 20.0)
            };
            let (one, _) = shares(scene, [1415.0, 1585.0]);
            assert!(one >= least, "{agc:?}: {one}");
        }
    }

    /// The other tone is beyond the edge of the filter: what stands beside the one is of its
    /// own keying.
    #[test]
    fn a_tone_and_its_sidebands_are_not_two() {
        for (rate, shift) in [(45.45, 425.0), (75.0, 850.0)] {
            let scene = Scene {
                passband: Some(markhold_air::Passband {
                    low_hz: 1500.0,
                    high_hz: 2700.0,
                }),
                ..sender(rate, shift, 20.0)
            };
            let tone = 1500.0 + shift / 2.0;
            for apart in [75.0, 90.0, 110.0, -75.0, -90.0, -110.0] {
                let (one, _) = shares(scene.clone(), [tone, tone + apart]);
                assert!(one < 0.05, "{rate} {apart}: {one}");
            }
        }
    }

    fn beside(keying: Keying, wpm: f64) -> Scene {
        let carrier = |hz, keying| Carrier {
            place: Place::At(hz),
            keying,
            ..Carrier::default()
        };
        Scene {
            carriers: vec![
                carrier(1415.0, keying),
                carrier(1585.0, Keying::Morse { wpm }),
            ],
            noise: Noise::SnrDb {
                snr_db: 10.0,
                bandwidth_hz: 3000.0,
            },
            ..Scene::default()
        }
    }

    #[test]
    fn two_of_others_do_not() {
        let pair = [1415.0, 1585.0];
        for wpm in [12.0, 18.0, 25.0, 35.0] {
            let (one, _) = shares(beside(Keying::Steady, wpm), pair);
            assert!(one < 0.01, "beside a carrier, {wpm}: {one}");
            let keying = Keying::Morse { wpm: 1.07 * wpm };
            let (one, _) = shares(beside(keying, wpm), pair);
            assert!(one < 0.02, "two, {wpm}: {one}");
        }
        let voice = Scene {
            voices: vec![Speech::default()],
            noise: Noise::SnrDb {
                snr_db: 20.0,
                bandwidth_hz: 3000.0,
            },
            ..Scene::default()
        };
        let (one, keyed) = shares(voice, [600.0, 770.0]);
        assert!(one < 0.02 && keyed < 0.02, "a voice: {one} {keyed}");
    }
}
