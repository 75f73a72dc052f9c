//! The walk against the obvious sum, and what phases are good for.

use super::super::heard::Heard;
use super::super::lattice::Lattice;
use super::super::model::{SenderModel, Tuning};
use super::super::sound::{Likelihood, MARK, SPACE};
use super::{Walked, walk};
use crate::elements::ToneOnGrid;
use crate::senders::testing::{EXACT, STEPS, TUNING, sent, with_sound};
use markhold_signal::Complex32;
use std::f32::consts::PI;

const STEADY: SenderModel = SenderModel {
    continuous: true,
    wander: 0.0,
    kick: 0.0,
    start: 0.0,
};

fn heard<const N: usize>(tones: &[ToneOnGrid; 2], lattice: &Lattice) -> Heard<N> {
    with_sound(tones, |sound| Heard::new(sound, lattice))
}

/// The slow obvious way: every pair of first phases, every code, one after the other.
/// With a bias the phase of the tone to come turns `change` steps at each transition.
fn obvious(heard: &Heard<16>, codes: usize, change: usize) -> Vec<[f64; 32]> {
    // Turn of one element in steps of sixteen: 12/16 of a circle.
    const TURN: usize = 12;
    let mut sums = vec![[0.0f64; 32]; codes];
    for first in 0..256 {
        for all in 0..32usize.pow(codes as u32) {
            let (mut mark, mut space) = (first / 16, first % 16);
            let (mut ln, mut last) = (0.0f64, MARK);
            let mut take = |tone: usize, s: &Likelihood<16>| {
                match (last, tone) {
                    (MARK, SPACE) => space = (space + change) % 16,
                    (SPACE, MARK) => mark = (mark + change) % 16,
                    _ => {}
                }
                last = tone;
                let phase = [mark, space][tone];
                ln += f64::from(s.phases[phase].ln() + s.ln);
                match tone {
                    MARK => space = (space + TURN) % 16,
                    _ => mark = (mark + 16 - TURN) % 16,
                }
            };
            for (c, elements) in heard.elements.iter().enumerate() {
                let code = all / 32usize.pow(c as u32) % 32;
                take(SPACE, &elements.start);
                for k in 0..5 {
                    let tone = if code >> k & 1 == 1 { MARK } else { SPACE };
                    take(tone, &elements.data[k][tone]);
                }
                take(MARK, &elements.stop);
            }
            for (c, sum) in sums.iter_mut().enumerate() {
                sum[all / 32usize.pow(c as u32) % 32] += (ln - 60.0).exp();
            }
        }
    }
    sums.iter()
        .map(|s| {
            let total: f64 = s.iter().sum();
            s.map(|x| x / total)
        })
        .collect()
}

#[test]
fn agrees_with_the_obvious_sum_over_all_codes_and_phases() {
    for (seed, change) in [(0, 0), (1, 0), (2, 3), (0, 14)] {
        let codes = [5 + 6 * seed as usize, 30 - 7 * seed as usize];
        let (tones, lattice) = sent(&codes, &EXACT, 2.0, seed + 1);
        let heard = heard::<16>(&tones, &lattice);
        let biased = Tuning {
            bias: change as f64 / 16.0 / (3.0 + 12.0 / 16.0),
            ..EXACT
        };
        let walked = walk(&heard, &lattice, &STEADY, &biased);
        let slow = obvious(&heard, 2, change);
        for c in 0..2 {
            // The rest is noise alone, whose evidence is 0.
            let present = 1.0 - (-walked.evidence).exp();
            assert!((walked.present[c] - present).abs() < 1e-3, "{walked:?}");
            for code in 0..32 {
                let (fast, slow) = (f64::from(walked.codes[c][code]), slow[c][code]);
                assert!(
                    (fast - slow).abs() < 3e-3,
                    "character {c}, code {code}: {fast} instead of {slow}"
                );
            }
        }
    }
}

fn errors(walked: &Walked, codes: &[usize]) -> usize {
    let best = |p: &[f32; 32]| (0..32).fold(0, |b, c| if p[c] > p[b] { c } else { b });
    let pairs = walked.codes.iter().zip(codes);
    pairs.filter(|(p, c)| best(p) != **c).count()
}

#[test]
fn phase_halves_the_errors_of_envelopes_several_times() {
    let codes: Vec<usize> = (0..60).map(|i| i * 11 % 32).collect();
    let (mut plain, mut phased) = (0, 0);
    for seed in 1..6 {
        let (tones, lattice) = sent(&codes, &TUNING, 4.0, seed);
        let model = SenderModel {
            wander: 0.05,
            ..STEADY
        };
        let walked = walk(&heard::<16>(&tones, &lattice), &lattice, &model, &TUNING);
        phased += errors(&walked, &codes);
        let without = walk(&heard::<1>(&tones, &lattice), &lattice, &model, &TUNING);
        plain += errors(&without, &codes);
        assert!(walked.evidence > without.evidence + 60.0);
    }
    // Limits of a single element and of ten, at 6 dB: 30 % and 1 %.
    assert!((60..=120).contains(&plain), "{plain} of 300");
    assert!(phased <= 9, "{phased} of 300");
}

#[test]
fn a_lost_element_shows_in_the_phase_after_it() {
    let codes = [9, 22, 13];
    let (mut tones, lattice) = sent(&codes, &EXACT, 20.0, 3);
    // Element 3 of the second character is wiped out: nothing but silence.
    let from = (7 + 3) * STEPS;
    for tone in &mut tones {
        let lost = tone.sums[from + STEPS] - tone.sums[from];
        for (i, sum) in tone.sums.iter_mut().enumerate().skip(from) {
            let part = ((i - from) as f32 / STEPS as f32).min(1.0);
            *sum -= lost * part;
        }
    }
    let phased = walk(&heard::<16>(&tones, &lattice), &lattice, &STEADY, &EXACT);
    let plain = walk(&heard::<1>(&tones, &lattice), &lattice, &STEADY, &EXACT);
    assert!(phased.codes[1][22] > 0.99, "{}", phased.codes[1][22]);
    assert!(
        (plain.codes[1][22] - 0.5).abs() < 0.05,
        "{}",
        plain.codes[1][22]
    );
}

#[test]
fn a_random_phase_is_better_explained_without() {
    let codes: Vec<usize> = (0..30).map(|i| i * 7 % 32).collect();
    let (mut tones, lattice) = sent(&codes, &TUNING, 6.0, 4);
    for tone in &mut tones {
        let old = tone.sums.clone();
        for i in 1..old.len() {
            let turn =
                Complex32::from_polar(1.0, 2.4 * ((i - 1) / STEPS).pow(2) as f32 % (2.0 * PI));
            tone.sums[i] = tone.sums[i - 1] + (old[i] - old[i - 1]) * turn;
        }
    }
    let model = SenderModel {
        wander: 0.05,
        ..STEADY
    };
    let phased = walk(&heard::<16>(&tones, &lattice), &lattice, &model, &TUNING);
    let plain = walk(&heard::<1>(&tones, &lattice), &lattice, &model, &TUNING);
    assert!(plain.evidence > phased.evidence + 20.0);
}
