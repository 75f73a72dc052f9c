//! How far key clicks reach: the tails of the spectrum of each sender model.
//!
//! Far from the tones a spectrum is made by the breaks in the signal. A break of size d in
//! the signal itself has the spectrum d/(2 pi f), so beyond F on both sides lies the energy
//! `|d|^2 / (2 pi^2 F)`; between random phases the mean of `|d|^2` is 2. A phase-continuous
//! sender breaks only its slope, by 2 pi shift, with the spectrum slope/(2 pi f)^2 and the
//! energy `slope^2 / (24 pi^4 F^3)` beyond F (Fourier transform of a step and of a ramp).

mod common;

use markhold_air::{Air, Scene, Sender, SenderModel};
use std::f64::consts::PI;

const RATE: f64 = 48_000.0;
const CENTRE_HZ: f64 = 12_000.0;
const SHIFT_HZ: f64 = 170.0;

/// Share of the power further than `beyond_hz` from the centre, and transitions and code
/// elements per second.
fn tails(model: SenderModel, beyond_hz: f64) -> (f64, f64, f64) {
    let sender = Sender {
        codes: common::codes(600),
        model,
        centre_hz: CENTRE_HZ,
        lead_in_s: 0.0,
        tail_s: 0.0,
        ..Sender::default()
    };
    let scene = Scene {
        senders: vec![sender.clone()],
        ..Scene::default()
    };
    let samples = Air::new(scene, RATE as u32).expect("a good scene").render();
    let seconds = samples.len() as f64 / RATE;
    let transitions: u32 = sender
        .codes
        .iter()
        .map(|code| {
            let line: Vec<bool> = [false]
                .into_iter()
                .chain(code.elements())
                .chain([true])
                .collect();
            // Within the character, and into the next start element.
            line.windows(2)
                .map(|w| u32::from(w[0] != w[1]))
                .sum::<u32>()
                + 1
        })
        .sum();
    (
        outside(&samples, beyond_hz),
        f64::from(transitions) / seconds,
        7.0 * sender.codes.len() as f64 / seconds,
    )
}

/// Share of the power outside, with a window whose own tails fall fast enough (Blackman).
fn outside(samples: &[f32], beyond_hz: f64) -> f64 {
    let size = 1 << 15;
    let transform = markhold_transform::forward_real(size);
    let (mut out, mut all) = (0.0, 0.0);
    for block in samples.chunks_exact(size) {
        let mut windowed: Vec<f32> = (0..size)
            .map(|n| {
                let x = 2.0 * PI * n as f64 / size as f64;
                block[n] * (0.42 - 0.5 * x.cos() + 0.08 * (2.0 * x).cos()) as f32
            })
            .collect();
        let mut spectrum = transform.make_output_vec();
        transform
            .process(&mut windowed, &mut spectrum)
            .expect("sizes agree");
        for (k, z) in spectrum.iter().enumerate() {
            let hz = k as f64 * RATE / size as f64;
            let power = f64::from(z.norm_sqr());
            all += power;
            out += if (hz - CENTRE_HZ).abs() > beyond_hz {
                power
            } else {
                0.0
            };
        }
    }
    out / all
}

fn assert_db(found: f64, expected: f64, what: &str) {
    let off = 10.0 * (found / expected).log10();
    assert!(
        off.abs() < 1.0,
        "{what}: {found}, expected {expected}, {off} dB off"
    );
}

#[test]
fn a_phase_continuous_sender_breaks_only_its_slope() {
    for beyond_hz in [1000.0, 2000.0, 4000.0_f64] {
        let (found, transitions, _) = tails(SenderModel::PhaseContinuous, beyond_hz);
        let slope = 2.0 * PI * SHIFT_HZ;
        let expected = transitions * slope * slope / (24.0 * PI.powi(4) * beyond_hz.powi(3));
        assert_db(found, expected, &format!("beyond {beyond_hz} Hz"));
    }
}

#[test]
fn the_other_models_click() {
    for beyond_hz in [1000.0, 4000.0] {
        let (free, transitions, elements) = tails(SenderModel::TwoOscillators, beyond_hz);
        // A sampled step has d / (2 fs sin(pi f / fs)) in place of d / (2 pi f): what lies
        // beyond half the sample rate comes back.
        let per_break = 2.0 / (2.0 * PI * RATE * (PI * beyond_hz / RATE).tan());
        assert_db(
            free,
            transitions * per_break,
            &format!("free, beyond {beyond_hz} Hz"),
        );
        let (random, ..) = tails(SenderModel::RandomPhase, beyond_hz);
        assert_db(
            random,
            elements * per_break,
            &format!("random, beyond {beyond_hz} Hz"),
        );
    }
}
