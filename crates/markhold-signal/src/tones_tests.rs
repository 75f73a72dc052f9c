//! Laws of the tone maker; its spectrum and timing are measured from outside by
//! `checks/check_tones.py`.

use super::*;
use markhold_code::Code;
use proptest::prelude::*;

const SPEED: StartStop = StartStop::new(1.0 / 0.022, 1.5);

fn plan() -> TonePlan {
    TonePlan::new(2125.0, 2295.0, SPEED)
}

fn give(maker: &mut ToneMaker, code: Code) {
    SPEED
        .stretches(code)
        .into_iter()
        .for_each(|s| maker.push(s));
}

fn all_made(maker: &mut ToneMaker) -> Vec<f32> {
    let mut out = vec![0.0; (maker.given_s() * maker.rate_hz) as usize + 1];
    let made = maker.fill(&mut out);
    out.truncate(made);
    out
}

fn message(plan: TonePlan, rate_hz: f64, values: &[u8]) -> Vec<f32> {
    let mut maker = ToneMaker::new(plan, rate_hz).unwrap();
    for value in values {
        let code = Code::new(*value).unwrap();
        give(&mut maker, code);
    }
    maker.end();
    all_made(&mut maker)
}

/// The slow way: the phase summed in steps of 1/64 sample from the definition of a glide.
fn slowly(plan: TonePlan, rate_hz: f64, edges_s: &[f64], count: usize) -> Vec<f64> {
    let fine = 64;
    let course = |t: f64| {
        let u = (t / plan.glide_s).clamp(0.0, 1.0);
        match plan.course {
            Course::HalfCosine => (1.0 - (PI * u).cos()) / 2.0,
            Course::RaisedCosine => u - (TAU * u).sin() / TAU,
        }
    };
    let mut phase = 0.0;
    let mut out = Vec::new();
    for k in 0..count * fine {
        if k % fine == 0 {
            out.push((TAU * phase).sin());
        }
        let t = (k as f64 + 0.5) / (rate_hz * fine as f64);
        let space: f64 = edges_s
            .iter()
            .enumerate()
            .map(|(n, edge)| if n % 2 == 0 { 1.0 } else { -1.0 } * course(t - edge))
            .sum();
        let hz = plan.mark_hz + (plan.space_hz - plan.mark_hz) * space;
        phase += hz / (rate_hz * fine as f64);
    }
    out
}

#[test]
fn agrees_with_the_slow_way_at_odd_rates() {
    for (rate_hz, course) in [
        (8000.0, Course::HalfCosine),
        (8000.0, Course::RaisedCosine),
        (11_025.0, Course::HalfCosine),
        (44_100.0, Course::HalfCosine),
    ] {
        let plan = TonePlan {
            level: 1.0,
            rise_s: 0.0,
            course,
            ..plan()
        };
        let mut maker = ToneMaker::new(plan, rate_hz).unwrap();
        // Start and R, 01010: edges after 0, 2, 3, 4, 5 and 6 elements of 22 ms.
        let code = Code::from_elements([false, true, false, true, false]);
        give(&mut maker, code);
        let made = all_made(&mut maker);
        let edges = [0.0, 2.0, 3.0, 4.0, 5.0, 6.0].map(|n| n * 0.022);
        let slow = slowly(plan, rate_hz, &edges, made.len());
        for (k, (a, b)) in made.iter().zip(&slow).enumerate() {
            // Midpoint steps of 1/64 sample: far below the rounding of f32 samples.
            assert!((f64::from(*a) - b).abs() < 2e-6, "{rate_hz} Hz, sample {k}");
        }
    }
}

/// A character of 165 ms is 7276.5 samples at 44 100 Hz: a thousand of them must not
/// wander by the half sample each.
#[test]
fn lengths_are_exact_over_a_thousand_characters() {
    let mut maker = ToneMaker::new(plan(), 44_100.0).unwrap();
    let mut block = [0.0; 500];
    let mut made = 0;
    for _ in 0..1000 {
        give(&mut maker, Code::LETTERS);
        loop {
            let count = maker.fill(&mut block);
            made += count;
            if count < block.len() {
                break;
            }
        }
    }
    let wander = made as f64 + maker.given as f64 / PARTS - 7_276_500.0;
    assert!(wander.abs() < 1e-3, "{wander} samples");
}

#[test]
fn idle_is_mark_at_its_level() {
    let plan = TonePlan {
        rise_s: 0.0,
        ..plan()
    };
    let mut maker = ToneMaker::new(plan, 8000.0).unwrap();
    maker.push(Stretch {
        mark: true,
        length_s: 0.1,
    });
    for (k, sample) in all_made(&mut maker).iter().enumerate() {
        let expected = 0.5 * (TAU * 2125.0 * k as f64 / 8000.0).sin();
        assert!((f64::from(*sample) - expected).abs() < 1e-7, "sample {k}");
    }
}

#[test]
fn begins_and_ends_softly() {
    let sound = message(plan(), 8000.0, &[10, 21]);
    let peak = |part: &[f32]| part.iter().fold(0.0f32, |a, b| a.max(b.abs()));
    let end = sound.len();
    // Raised cosine over 80 samples: sin^2(pi 8 / 160) = 0.024 after a tenth of it.
    assert!(peak(&sound[..8]) < 0.5 * 0.025 && peak(&sound[end - 8..]) < 0.5 * 0.025);
    assert!(peak(&sound[80..end - 80]) > 0.499);
}

#[test]
fn cancel_leaves_mark_after_what_has_begun() {
    let mut maker = ToneMaker::new(plan(), 8000.0).unwrap();
    give(&mut maker, Code::BLANK);
    let mut out = [0.0; 400];
    maker.fill(&mut out); // 50 ms: within the second element, space
    maker.cancel();
    assert!(maker.given_s() == 0.0 && !maker.mark);
    maker.push(Stretch {
        mark: true,
        length_s: 0.02,
    });
    all_made(&mut maker);
    assert_eq!((maker.settled, maker.edges.len()), (0.0, 0));
}

#[test]
fn refuses_what_cannot_be_made() {
    for (plan, word) in [
        (
            TonePlan {
                space_hz: 3975.0,
                ..plan()
            },
            "space tone",
        ),
        (
            TonePlan {
                mark_hz: f64::NAN,
                ..plan()
            },
            "mark tone",
        ),
        (
            TonePlan {
                level: 1.5,
                ..plan()
            },
            "level",
        ),
        (
            TonePlan {
                glide_s: -1.0,
                ..plan()
            },
            "glide",
        ),
    ] {
        let text = ToneMaker::new(plan, 8000.0).unwrap_err().to_string();
        assert!(text.contains(word) && text.contains("expected"), "{text}");
    }
}

proptest! {
    #[test]
    fn any_block_size_gives_the_same(
        values in prop::collection::vec(0u8..32, 1..6), block in 1usize..400, rate in 8000u32..48_000,
    ) {
        let rate_hz = f64::from(rate);
        let whole = message(plan(), rate_hz, &values);
        let mut maker = ToneMaker::new(plan(), rate_hz).unwrap();
        let mut blocks = Vec::new();
        let mut out = vec![0.0; block];
        for value in &values {
            for stretch in SPEED.stretches(Code::new(*value).unwrap()) {
                maker.push(stretch);
                // Made while it is given, in blocks that end anywhere.
                let made = maker.fill(&mut out);
                blocks.extend_from_slice(&out[..made]);
            }
        }
        maker.end();
        blocks.extend(all_made(&mut maker));
        prop_assert!(whole == blocks);
        maker.reset();
        values.iter().for_each(|v| give(&mut maker, Code::new(*v).unwrap()));
        maker.end();
        prop_assert!(whole == all_made(&mut maker));
    }

    /// The largest step between samples of a tone is level * 2 pi f / rate; a click would
    /// be larger.
    #[test]
    fn no_step_is_larger_than_the_higher_tone_makes(values in prop::collection::vec(0u8..32, 1..6)) {
        let sound = message(plan(), 8000.0, &values);
        let most = 2.0 * 0.5 * (PI * 2295.0 / 8000.0).sin() + 1e-6;
        for pair in sound.windows(2) {
            prop_assert!(f64::from((pair[1] - pair[0]).abs()) <= most);
        }
    }
}
