//! Es/N0 is what it says: element error rates of a matched filter against theory.
//!
//! Formulas: non-coherent orthogonal FSK, steady, `1/2 exp(-g/2)`; in slow Rayleigh fading
//! `1/(2+G)` (Proakis, Digital Communications). 50 baud with 200 Hz shift makes the tones
//! exactly orthogonal.

mod common;

use markhold_air::{Air, Channel, Drift, Hops, Noise, Scene, Sender, SenderModel, Sense};
use markhold_code::StartStop;

const RATE: u32 = 6000;

fn sender(characters: usize) -> Sender {
    Sender {
        codes: common::codes(characters),
        speed: StartStop::new(50.0, 1.5),
        shift_hz: 200.0,
        centre_hz: 1500.0,
        ..Sender::default()
    }
}

fn measured(sender: &Sender, es_n0_db: f64) -> f64 {
    let scene = Scene {
        senders: vec![sender.clone()],
        noise: Noise::EsN0Db(es_n0_db),
        ..Scene::default()
    };
    let air = Air::new(scene, RATE).expect("a good scene");
    let truth = air.truth();
    common::element_error_rate(&air.render(), f64::from(RATE), &truth, sender)
}

/// Fails if the measured rate is further off than four standard deviations of a count of
/// `independent` trials.
fn assert_rate(found: f64, expected: f64, independent: f64, what: &str) {
    let within = 4.0 * (expected * (1.0 - expected) / independent).sqrt();
    assert!(
        (found - expected).abs() < within,
        "{what}: {found}, expected {expected} +- {within}"
    );
}

fn steady(es_n0_db: f64) -> f64 {
    0.5 * (-0.5 * 10f64.powf(es_n0_db / 10.0)).exp()
}

#[test]
fn steady_signal_in_noise() {
    let sender = sender(4000);
    for db in [2.0, 4.0, 6.0, 8.0] {
        assert_rate(
            measured(&sender, db),
            steady(db),
            20_000.0,
            &format!("{db} dB"),
        );
    }
}

#[test]
fn every_sender_model_and_either_sense() {
    for model in SenderModel::ALL {
        for sense in [Sense::LowerTone, Sense::HigherTone] {
            let sender = Sender {
                model,
                sense,
                ..sender(2000)
            };
            assert_rate(
                measured(&sender, 6.0),
                steady(6.0),
                10_000.0,
                &format!("{model:?} {sense:?}"),
            );
        }
    }
}

#[test]
fn a_drifting_signal_is_where_the_truth_says() {
    let drift = Drift {
        linear_hz_per_s: 0.5,
        warm_up_hz: -150.0,
        warm_up_s: 60.0,
        hops: Some(Hops {
            period_s: 30.0,
            by_hz: 80.0,
        }),
        ..Drift::default()
    };
    let sender = Sender {
        drift,
        ..sender(3000)
    };
    assert_rate(measured(&sender, 6.0), steady(6.0), 15_000.0, "drifting");
}

#[test]
fn slow_rayleigh_fading() {
    let sender = Sender {
        channel: Channel::Flat { spread_hz: 2.0 },
        ..sender(8000)
    };
    // 1200 s of 2 Hz spread hold about 1200 * 2 * sqrt(2 pi) = 6000 independent fades: the
    // width of the squared autocorrelation exp(-pi^2 B^2 t^2) is 1/(sqrt(pi) B).
    let independent = 1200.0 * 2.0 * std::f64::consts::PI.sqrt();
    for db in [0.0_f64, 5.0, 10.0] {
        let expected = 1.0 / (2.0 + 10f64.powf(db / 10.0));
        assert_rate(
            measured(&sender, db),
            expected,
            independent,
            &format!("{db} dB"),
        );
    }
}

/// 100 % keying without noise: nothing in the road itself makes errors.
#[test]
fn no_noise_no_errors() {
    for channel in [Channel::Steady, Channel::Flat { spread_hz: 0.5 }] {
        let sender = Sender {
            channel,
            jitter_ms: 1.0,
            bias_percent: 10.0,
            ..sender(500)
        };
        assert_eq!(measured(&sender, 100.0), 0.0, "{channel:?}");
    }
}
