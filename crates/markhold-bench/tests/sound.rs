//! Sent distortion against measured distortion, through sound.

mod common;

use common::Case;
use markhold_bench::Distortion;
use markhold_bench::measure::{Knowledge, Measurement, measure};
use markhold_bench::sound::{HearError, Heard, Keying, Pair, hear};
use proptest::prelude::*;

fn measured(sound: &[f32], rate_hz: f64, keying: Keying) -> Measurement {
    measured_edges(&hear(sound, rate_hz, keying, None).expect("keyed sound"))
}

fn measured_edges(heard: &Heard) -> Measurement {
    let knowledge = Knowledge {
        noise_s: heard.noise_s,
        worst_s: heard.worst_s,
        systematic_s: heard.systematic_s,
        either_sense: true,
        ..Knowledge::default()
    };
    measure(&heard.line, &knowledge).expect("a line")
}

fn distortion(bias: f64, end: f64, fortuitous: f64) -> Distortion {
    Distortion {
        bias,
        end,
        fortuitous,
    }
}

/// The target: within 1 % of an element.
fn agrees(case: &Case, found: &Measurement) {
    let sent = case.distortion;
    let told = format!(
        "{case:?}: speed {:?}, bias {:?}, end {:?}, gross {:?}, error {}",
        found.speed_error, found.bias, found.end, found.gross, found.error_rms
    );
    assert!(
        (found.nominal_baud / case.baud - 1.0).abs() < 1e-9,
        "{told}"
    );
    assert!((found.bias.value - sent.bias).abs() < 0.01, "{told}");
    let end = found.end.expect("marks end");
    assert!((end.value - sent.end).abs() < 0.01, "{told}");
    assert!(
        (found.speed_error.value - case.speed_error).abs() < 0.002,
        "{told}"
    );
}

#[test]
fn clean_sound_over_rates_shifts_and_sampling_rates() {
    let mut worst: f64 = 0.0;
    for rate_hz in [8000.0, 11_025.0, 44_100.0] {
        for baud in [1.0 / 0.022, 50.0, 75.0, 100.0] {
            for shift_hz in [85.0, 170.0, 425.0, 850.0] {
                // High sampling rates take their time: one shift stands for all there.
                if rate_hz > 40_000.0 && shift_hz != 170.0 {
                    continue;
                }
                let case = Case {
                    rate_hz,
                    baud,
                    shift_hz,
                    middle_hz: 1700.0,
                    speed_error: 0.006,
                    distortion: distortion(0.12, -0.07, 0.05),
                    count: 68,
                    ..Case::default()
                };
                let found = measured(&case.tones(), rate_hz, Keying::Tones(None));
                agrees(&case, &found);
                worst = worst.max((found.bias.value - 0.12).abs());
                assert_eq!(found.refusal(), None);
            }
        }
    }
    println!("worst bias error {:.2} % of an element", 100.0 * worst);
}

/// Peak distortion on clean sound, within 1 % of an element.
#[test]
fn degrees_on_clean_sound() {
    for (bias, end, fortuitous) in [
        (0.0, 0.0, 0.0),
        (0.35, 0.0, 0.0),
        (-0.2, 0.1, 0.1),
        (0.0, -0.4, 0.0),
    ] {
        let case = Case {
            distortion: distortion(bias, end, fortuitous),
            ..Case::default()
        };
        let line = markhold_bench::line::edges(&case.line());
        let truth = measure(&line, &Knowledge::default()).expect("a line");
        let found = measured(&case.tones(), case.rate_hz, Keying::Tones(None));
        for (name, found, truth) in [
            ("gross", found.gross, truth.gross),
            ("synchronous", found.synchronous, truth.synchronous),
            ("isochronous", found.isochronous, truth.isochronous),
        ] {
            assert!(
                (found.seen - truth.seen).abs() < 0.01,
                "{name} {case:?}: {found:?}, sent {truth:?}"
            );
        }
    }
}

/// On noisy sound: down to Es/N0 of 25 dB the line is judged; whatever is judged agrees
/// within 1 % and the interval of the degree holds the line's own. Where that would stop
/// being true, below 25 to 15 dB by rate and shift, the verdict is refused.
#[test]
fn noisy_sound() {
    for es_n0_db in [30.0, 25.0, 20.0, 17.0, 15.0, 12.0, 9.0] {
        for (baud, shift_hz) in [
            (1.0 / 0.022, 170.0),
            (50.0, 425.0),
            (75.0, 850.0),
            (100.0, 170.0),
        ] {
            let case = Case {
                baud,
                shift_hz,
                middle_hz: 1700.0,
                distortion: distortion(0.15, -0.1, 0.0),
                es_n0_db: Some(es_n0_db),
                count: 300,
                ..Case::default()
            };
            let sound = case.tones();
            let Ok(heard) = hear(&sound, case.rate_hz, Keying::Tones(None), None) else {
                assert!(es_n0_db < 25.0, "{case:?} not heard");
                continue;
            };
            let found = measured_edges(&heard);
            println!(
                "{es_n0_db} dB {baud:.1} Bd {shift_hz}: bias {:.4}+-{:.4} gross {:.3} ({:.3} to {:.3}) explained {:.3} {:?}",
                found.bias.value,
                found.bias.within,
                found.gross.seen,
                found.gross.least,
                found.gross.most,
                found.explained,
                found.refusal()
            );
            if found.refusal().is_some() {
                assert!(es_n0_db < 25.0, "{case:?} {:?}", found.refusal());
                continue;
            }
            agrees(&case, &found);
            let held = found.gross.least <= 0.151 && 0.149 <= found.gross.most;
            assert!(held, "{case:?} {:?}", found.gross);
        }
    }
}

#[test]
fn one_keyed_tone() {
    for (bias, end) in [(0.0, 0.0), (0.2, 0.0), (-0.1, 0.15)] {
        let case = Case {
            distortion: distortion(bias, end, 0.0),
            middle_hz: 1000.0,
            ..Case::default()
        };
        let found = measured(&case.carrier(), case.rate_hz, Keying::Carrier(None));
        agrees(&case, &found);
    }
}

#[test]
fn a_contact_by_way_of_a_sound_input() {
    for rate_hz in [8000.0, 44_100.0] {
        for (bias, end, es_n0_db) in [
            (0.0, 0.0, None),
            (0.2, 0.0, Some(50.0)),
            (-0.1, 0.15, Some(40.0)),
        ] {
            let case = Case {
                rate_hz,
                es_n0_db,
                distortion: distortion(bias, end, 0.0),
                ..Case::default()
            };
            let line = markhold_bench::line::edges(&case.line());
            let truth = measure(&line, &Knowledge::default()).expect("a line");
            let found = measured(&case.contact(), rate_hz, Keying::Contact);
            agrees(&case, &found);
            let off = found.gross.seen - truth.gross.seen;
            assert!(off.abs() < 0.01, "{case:?} {:?}", found.gross);
            assert!(
                found.gross.least <= truth.gross.seen + 1e-9,
                "{:?}",
                found.gross
            );
            assert!(
                found.gross.most >= truth.gross.seen - 1e-9,
                "{:?}",
                found.gross
            );
        }
    }
}

#[test]
fn what_holds_no_keying_is_refused() {
    let noise = Case {
        count: 0,
        ..Case::default()
    };
    let silence = vec![0.0; 16_000];
    assert_eq!(
        hear(&silence, 8000.0, Keying::Tones(None), None),
        Err(HearError::NoTones)
    );
    let steady = noise.carrier();
    assert!(hear(&steady, 8000.0, Keying::Tones(None), None).is_err());
    let pair = Pair {
        low_hz: 2000.0,
        high_hz: 5000.0,
    };
    let error = hear(&silence, 8000.0, Keying::Tones(Some(pair)), None).unwrap_err();
    assert!(error.to_string().contains("5000"), "{error}");
    assert!(hear(&[], 8000.0, Keying::Carrier(Some(1000.0)), None).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn sent_is_measured(
        (bias, end) in (-0.25..0.25f64, -0.25..0.25f64),
        fortuitous in 0.0..0.1f64,
        speed_error in -0.02..0.02f64,
        shift_hz in 100.0..500.0f64,
        middle_hz in 1000.0..2400.0f64,
        baud in prop::sample::select(vec![1.0 / 0.022, 50.0, 75.0, 100.0]),
    ) {
        let case = Case {
            baud, shift_hz, middle_hz, speed_error,
            distortion: distortion(bias, end, fortuitous),
            ..Case::default()
        };
        let line = markhold_bench::line::edges(&case.line());
        let truth = measure(&line, &Knowledge::default()).expect("a line");
        let found = measured(&case.tones(), case.rate_hz, Keying::Tones(None));
        prop_assert!((found.bias.value - truth.bias.value).abs() < 0.01, "{:?} {:?}", found.bias, truth.bias);
        prop_assert!((found.gross.seen - truth.gross.seen).abs() < 0.01, "{:?} {:?}", found.gross, truth.gross);
    }
}
