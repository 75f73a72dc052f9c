//! Laws of Air: block size, seed, reset, and one part not disturbing another.

mod common;

use markhold_air::{
    Agc, Air, Carrier, Channel, CrashTiming, Crashes, Drift, Gaps, Hops, Jump, Keying, Noise, Pace,
    Passband, Place, Scene, Sender, SenderModel, Sense, Speech,
};
use markhold_code::StartStop;
use proptest::prelude::*;

/// Everything at once.
fn busy() -> Scene {
    let typed = Sender {
        codes: common::codes(20),
        pace: Pace::Keyboard {
            characters_per_second: 4.0,
            gaps: Gaps::LogNormal { sigma: 0.5 },
        },
        jitter_ms: 1.0,
        bias_percent: -5.0,
        channel: Channel::MID_LATITUDE_DISTURBED,
        drift: Drift {
            linear_hz_per_s: 0.1,
            jumps: vec![Jump {
                at_s: 2.5,
                by_hz: 9.0,
            }],
            ..Drift::default()
        },
        ..Sender::default()
    };
    let neighbour = Sender {
        codes: common::codes(7),
        repeat: true,
        centre_hz: 1200.0,
        model: SenderModel::RandomPhase,
        sense: Sense::HigherTone,
        channel: Channel::Flat { spread_hz: 3.0 },
        ..Sender::default()
    };
    Scene {
        senders: vec![typed, neighbour],
        carriers: vec![Carrier {
            level_db: 20.0,
            ..Carrier::default()
        }],
        voices: vec![Speech::default()],
        dial_drift: Drift {
            hops: Some(Hops {
                period_s: 1.3,
                by_hz: -4.0,
            }),
            ..Drift::default()
        },
        noise: Noise::EsN0Db(10.0),
        crashes: Some(Crashes::default()),
        passband: Some(Passband::default()),
        agc: Some(Agc::default()),
        ..Scene::default()
    }
}

fn render(scene: &Scene, rate: u32) -> Vec<f32> {
    Air::new(scene.clone(), rate)
        .expect("a good scene")
        .render()
}

#[test]
fn a_seed_gives_the_same_samples_again_and_another_seed_others() {
    let scene = busy();
    assert_eq!(render(&scene, 8000), render(&scene, 8000));
    assert_ne!(
        render(&scene, 8000),
        render(
            &Scene {
                seed: 2,
                ..scene.clone()
            },
            8000
        )
    );
}

#[test]
fn reset_equals_new() {
    let mut air = Air::new(busy(), 8000).expect("a good scene");
    air.fill(&mut [0.0; 12_345]);
    air.reset();
    assert_eq!(air.position(), 0);
    assert_eq!(air.render(), render(&busy(), 8000));
}

#[test]
fn the_end_is_the_end() {
    let mut air = Air::new(busy(), 8000).expect("a good scene");
    let samples = air.samples() as usize;
    let mut out = vec![9.0; samples + 100];
    assert_eq!(air.fill(&mut out), samples);
    assert!(
        out[samples..].iter().all(|&x| x == 9.0),
        "the rest is left as it is"
    );
    assert_eq!(air.fill(&mut out), 0);
    assert_eq!(air.position(), air.samples());
}

#[test]
fn what_happens_when_does_not_depend_on_rate_or_on_other_parts() {
    let scene = busy();
    let quiet = Scene {
        noise: Noise::Silent,
        agc: None,
        voices: vec![],
        ..scene.clone()
    };
    let truth = |scene: &Scene, rate| Air::new(scene.clone(), rate).expect("a good scene").truth();
    let (a, b, c) = (
        truth(&scene, 8000),
        truth(&scene, 44_100),
        truth(&quiet, 8000),
    );
    for other in [&b, &c] {
        assert_eq!(a.characters(0), other.characters(0));
        assert_eq!(a.crashes(), other.crashes());
        assert_eq!(a.key_down(0), other.key_down(0));
        assert_eq!(a.jumps(0), other.jumps(0));
        assert!(a.fading(0, 0.1).eq(other.fading(0, 0.1)));
    }
    assert!(a.crashes().len() > 3 && a.jumps(0).len() > 3);
}

/// A scene without noise is the same sound at every sample rate.
#[test]
fn sample_rates_agree() {
    let crashes = None;
    let scene = Scene {
        noise: Noise::Silent,
        crashes,
        agc: None,
        passband: None,
        ..busy()
    };
    let scene = Scene {
        voices: vec![],
        ..scene
    };
    let (low, high) = (render(&scene, 8000), render(&scene, 48_000));
    for n in 0..low.len() {
        let (a, b) = (low[n], high[6 * n]);
        assert!((a - b).abs() < 1e-3, "sample {n}: {a} and {b}");
    }
}

fn channels() -> impl Strategy<Value = Channel> {
    prop_oneof![
        Just(Channel::Steady),
        (0.0..20.0).prop_map(|spread_hz: f64| Channel::Flat { spread_hz }),
        (0.0..9.0, 0.0..20.0).prop_map(|(delay_ms, spread_hz): (f64, f64)| {
            Channel::TwoPath {
                delay_ms,
                spread_hz: if spread_hz < 0.1 { 0.0 } else { spread_hz },
            }
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_blocks_give_the_same_samples(
        rate in prop_oneof![Just(6000_u32), Just(8000), Just(11_025), Just(48_000)],
        channel in channels(),
        model in prop::sample::select(SenderModel::ALL.to_vec()),
        baud in 45.0..110.0,
        seed: u64,
        blocks in prop::collection::vec(0_usize..5000, 1..20),
    ) {
        let mut scene = busy();
        scene.seed = seed;
        scene.senders[0].channel = channel;
        scene.senders[0].model = model;
        scene.senders[0].speed = StartStop::new(baud, 1.5);
        scene.duration_s = Some(2.0);
        let whole = render(&scene, rate);
        let mut air = Air::new(scene, rate).expect("a good scene");
        let mut pieces = Vec::new();
        // Blocks of no samples alone would never end.
        for size in blocks.into_iter().chain([1]).cycle() {
            let mut block = vec![f32::NAN; size];
            let count = air.fill(&mut block);
            pieces.extend_from_slice(&block[..count]);
            if count < size {
                break;
            }
        }
        prop_assert_eq!(pieces, whole);
    }

    /// Whatever is asked for, there is an error or there are samples in range.
    #[test]
    fn nothing_panics(
        numbers in prop::collection::vec(prop_oneof![any::<f64>(), -10.0..10.0, 0.0..3000.0], 24),
        rate in prop_oneof![Just(8000_u32), any::<u32>()],
    ) {
        let n = |k: usize| numbers[k];
        // One number in a good scene goes wrong, or many do.
        let which = n(23).abs() as usize;
        let pick = |k: usize, good: f64| if which % 24 == k || which > 2000 { n(k) } else { good };
        let sender = Sender {
            codes: common::codes(3),
            speed: StartStop::new(pick(0, 50.0), pick(1, 1.5)),
            begin_s: pick(2, 0.1),
            lead_in_s: pick(3, 0.1),
            tail_s: pick(4, 0.1),
            jitter_ms: pick(5, 1.0),
            bias_percent: pick(6, 5.0),
            centre_hz: pick(7, 1500.0),
            shift_hz: pick(8, 170.0),
            offset_hz: pick(9, 0.0),
            channel: Channel::TwoPath { delay_ms: pick(10, 1.0), spread_hz: pick(11, 1.0) },
            level_db: pick(12, 0.0),
            pace: Pace::Keyboard {
                characters_per_second: pick(13, 5.0),
                gaps: Gaps::LogNormal { sigma: pick(14, 0.5) },
            },
            drift: Drift {
                linear_hz_per_s: pick(15, 0.1),
                warm_up_hz: pick(16, 1.0),
                warm_up_s: pick(17, 1.0),
                hops: Some(Hops { period_s: pick(18, 1.0), by_hz: pick(19, 1.0) }),
                ..Drift::default()
            },
            ..Sender::default()
        };
        let scene = Scene {
            senders: vec![sender],
            carriers: vec![Carrier {
                keying: Keying::Morse { wpm: pick(20, 20.0) },
                place: Place::At(pick(21, 700.0)),
                ..Carrier::default()
            }],
            crashes: Some(Crashes {
                rate_per_s: pick(22, 2.0),
                timing: CrashTiming::Regular { jitter: 0.5 },
                ..Crashes::default()
            }),
            noise: Noise::EsN0Db(pick(23, 10.0)),
            duration_s: Some(1.0),
            ..Scene::default()
        };
        match Air::new(scene, rate) {
            Ok(air) => {
                let truth = air.truth();
                prop_assert!(truth.fading(0, 0.1).all(|g| g.mark.is_finite()));
                prop_assert!(air.render().iter().all(|x| (-1.0..=1.0).contains(x)));
            }
            Err(error) => prop_assert!(error.to_string().contains("; "), "no advice: {error}"),
        }
    }
}
