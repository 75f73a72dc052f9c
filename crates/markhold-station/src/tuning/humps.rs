//! Humps: tones that stand out of a short spectrum.

use crate::instruments::floor::{db, median};
use crate::instruments::spectra::BIN_HZ;
use std::collections::VecDeque;

/// Tones are looked for from here, Hz: below it there is hum.
const LOWEST_HZ: f64 = 150.0;
/// Two humps nearer than this are one, Hz: the window's main lobe is 62 Hz wide.
const APART_HZ: f64 = 60.0;
/// Humps that are this far below the strongest are its keying sidebands, dB.
const BELOW_STRONGEST_DB: f32 = 17.0;
/// Most humps worth looking at.
const MOST: usize = 6;
/// Keying sidebands of a tone lie no further from it, Hz.
const SIDEBANDS_HZ: f64 = 250.0;
/// Most tones of a band that are told of: a list that is read at a glance.
const MOST_PLACES: usize = 10;

/// A tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hump {
    /// Where it stands, Hz.
    pub hz: f64,
    /// Power of its bin: 1 for a tone at full scale.
    pub power: f32,
}

/// Mean power of spectra in each bin; of one at least.
pub fn mean(spectra: &VecDeque<Vec<f32>>) -> Vec<f32> {
    let mut mean = vec![0.0; spectra[0].len()];
    for power in spectra {
        mean.iter_mut().zip(power).for_each(|(m, p)| *m += p);
    }
    let share = 1.0 / spectra.len() as f32;
    mean.iter_mut().for_each(|m| *m *= share);
    mean
}

/// Tones that stand at least `over_db` over the middle bin of the passband, strongest
/// first.
pub fn humps(power: &[f32], over_db: f32) -> Vec<Hump> {
    let mut humps: Vec<Hump> = Vec::new();
    for hump in tops(power, over_db) {
        let near = humps.iter().any(|h| (h.hz - hump.hz).abs() < APART_HZ);
        let weak = humps.first().is_some_and(|first| is_weak(&hump, first));
        if !near && !weak && humps.len() < MOST {
            humps.push(hump);
        }
    }
    humps
}

/// Tones of a long mean, strongest first, weak ones far from a strong one too; and the noise of a
/// bin, dB.
pub fn places(power: &[f32], over_db: f32) -> (Vec<Hump>, f32) {
    let mut places: Vec<Hump> = Vec::new();
    for hump in tops(power, over_db) {
        let is_masked = |h: &Hump| {
            let apart_hz = (h.hz - hump.hz).abs();
            apart_hz < APART_HZ || (apart_hz < SIDEBANDS_HZ && is_weak(&hump, h))
        };
        if !places.iter().any(is_masked) && places.len() < MOST_PLACES {
            places.push(hump);
        }
    }
    let first = (LOWEST_HZ / BIN_HZ) as usize;
    (places, db(noise(&power[first..])))
}

fn is_weak(hump: &Hump, beside: &Hump) -> bool {
    hump.power < beside.power * 10f32.powf(-BELOW_STRONGEST_DB / 10.0)
}

/// All tops that stand so far over the noise, strongest first.
fn tops(power: &[f32], over_db: f32) -> Vec<Hump> {
    let first = (LOWEST_HZ / BIN_HZ) as usize;
    let least = noise(&power[first..]) * 10f32.powf(over_db / 10.0);
    let tops = (first..power.len() - 3)
        .filter(|&k| power[k] > least && power[k] >= power[k - 1] && power[k] > power[k + 1]);
    let mut tops: Vec<Hump> = tops.map(|k| top(power, k)).collect();
    tops.sort_by(|a, b| b.power.total_cmp(&a.power));
    tops
}

/// The middle bin of those that the receiver lets through: bins that are empty (above half
/// the sampling rate) or far below the rest say nothing about noise.
fn noise(power: &[f32]) -> f32 {
    let mut all: Vec<f32> = power.iter().copied().filter(|p| *p > 0.0).collect();
    let rough = median(&mut all);
    let mut inside: Vec<f32> = all.into_iter().filter(|p| *p > 0.05 * rough).collect();
    // A clean tone without any noise has no floor but its own far leakage.
    median(&mut inside).max(1e-10)
}

/// The top of a parabola through three levels.
fn top(power: &[f32], k: usize) -> Hump {
    let level = |i: usize| f64::from(power[i].max(1e-13).ln());
    let (a, b, c) = (level(k - 1), level(k), level(k + 1));
    let bend = a - 2.0 * b + c;
    let off = if bend < 0.0 {
        0.5 * (a - c) / bend
    } else {
        0.0
    };
    Hump {
        hz: (k as f64 + off) * BIN_HZ,
        power: power[k],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::spectra::Spectra;
    use std::f64::consts::TAU;

    fn heard(tones: &[(f64, f64)]) -> Vec<Hump> {
        let sample = |n: u32| {
            let t = f64::from(n) / 8000.0;
            let wave = |(hz, size): &(f64, f64)| size * (TAU * hz * t).sin();
            tones.iter().map(wave).sum::<f64>() as f32
        };
        let sound: Vec<f32> = (0..512).map(sample).collect();
        let mut found = Vec::new();
        Spectra::new(8000, 0.0).process(&sound, &mut |s| found = humps(&s.power, 13.0));
        found
    }

    #[test]
    fn tones_are_placed_within_a_few_hertz() {
        for hz in [310.0, 1000.0, 1507.0, 2295.0, 3303.0] {
            let found = heard(&[(hz, 0.3)]);
            assert_eq!(found.len(), 1, "{hz}: {found:?}");
            assert!((found[0].hz - hz).abs() < 2.0, "{hz}: {found:?}");
        }
    }

    #[test]
    fn two_tones_of_every_usual_shift_are_two_humps() {
        for shift in [85.0, 170.0, 200.0, 425.0, 850.0] {
            let found = heard(&[(1500.0, 0.3), (1500.0 + shift, 0.2)]);
            assert_eq!(found.len(), 2, "{shift}: {found:?}");
            assert!(
                (found[1].hz - 1500.0 - shift).abs() < 8.0,
                "{shift}: {found:?}"
            );
        }
    }

    #[test]
    fn hum_and_silence_are_no_tones() {
        assert!(heard(&[(50.0, 0.5)]).is_empty());
        assert!(heard(&[]).is_empty());
    }
}
