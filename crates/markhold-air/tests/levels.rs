//! Levels and gain as heard: signal, neighbour, crashes, AGC.

mod common;

use common::{between, power, tone_power};
use markhold_air::{
    Agc, Air, Carrier, Channel, Crashes, Drift, Jump, Keying, Noise, Passband, Place, Scene,
    Sender, Truth,
};

const RATE: f64 = 8000.0;

fn render(scene: Scene) -> (Vec<f32>, Truth) {
    let air = Air::new(scene, RATE as u32).expect("a good scene");
    let truth = air.truth();
    (air.render(), truth)
}

fn db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Idle mark for as long as the scene.
fn idle(seconds: f64) -> Sender {
    Sender {
        lead_in_s: seconds,
        tail_s: 0.0,
        ..Sender::default()
    }
}

#[test]
fn the_mean_level_is_the_level_asked_for() {
    for (noise, passband) in [
        (Noise::Silent, None),
        (Noise::EsN0Db(8.0), None),
        (Noise::EsN0Db(8.0), Some(Passband::default())),
        (
            Noise::SnrDb {
                snr_db: -20.0,
                bandwidth_hz: 3000.0,
            },
            Some(Passband::default()),
        ),
    ] {
        let scene = Scene {
            senders: vec![idle(30.0)],
            noise,
            passband,
            ..Scene::default()
        };
        let level = db(power(&render(scene).0));
        assert!(
            (level + 15.0).abs() < 0.2,
            "{noise:?} {passband:?}: {level} dBFS"
        );
    }
}

#[test]
fn carriers_count_in_the_mean_level() {
    for (keying, within) in [(Keying::Steady, 0.01), (Keying::Morse { wpm: 20.0 }, 1.0)] {
        let carrier = Carrier {
            level_db: 10.0,
            keying,
            ..Carrier::default()
        };
        let scene = Scene {
            carriers: vec![carrier],
            senders: vec![idle(120.0)],
            ..Scene::default()
        };
        let level = db(power(&render(scene).0));
        assert!((level + 15.0).abs() < within, "{keying:?}: {level} dBFS");
    }
}

#[test]
fn with_agc_a_steady_tone_has_the_level_asked_for() {
    for level_db in [-30.0, 0.0, 30.0] {
        let sender = Sender {
            level_db,
            ..idle(20.0)
        };
        let scene = Scene {
            senders: vec![sender],
            agc: Some(Agc::default()),
            ..Scene::default()
        };
        let (samples, _) = render(scene);
        let level = db(power(&samples[80_000..]));
        assert!((level + 15.0).abs() < 0.1, "{level_db} dB: {level} dBFS");
    }
}

#[test]
fn a_neighbour_is_as_far_above_the_signal_and_as_far_beside_it_as_asked() {
    for (level_db, beside_hz) in [(20.0, 330.0), (-6.0, -200.0)] {
        let carrier = Carrier {
            level_db,
            place: Place::Beside(beside_hz),
            keying: Keying::Morse { wpm: 12.0 },
            ..Carrier::default()
        };
        let scene = Scene {
            senders: vec![idle(30.0)],
            carriers: vec![carrier],
            ..Scene::default()
        };
        let (samples, truth) = render(scene);
        let hz = truth.carrier_hz(0, 0.0).expect("a carrier");
        let edge = if beside_hz > 0.0 { 2295.0 } else { 2125.0 };
        assert_eq!(hz, edge + beside_hz);
        for down in truth.key_down(0).iter().take(20) {
            // 80 ms hold whole periods of the difference of the two tones.
            let middle_s = (down.start_s + 0.005 + down.end_s) / 2.0;
            let part = between(&samples, RATE, middle_s - 0.04, middle_s + 0.04);
            let ratio = db(tone_power(part, hz, RATE) / tone_power(part, 2125.0, RATE));
            assert!(
                (ratio - level_db).abs() < 0.5,
                "{ratio} dB, not {level_db} dB"
            );
        }
    }
}

/// Density of crashes over that of the steady noise, measured between and in crashes.
#[test]
fn crashes_are_as_far_above_the_noise_as_asked() {
    let scene = Scene {
        senders: vec![idle(60.0)],
        noise: Noise::SnrDb {
            snr_db: 0.0,
            bandwidth_hz: 4000.0,
        },
        crashes: Some(Crashes {
            level_db: 20.0,
            ..Crashes::default()
        }),
        // Low enough that nothing is clipped.
        level_dbfs: -60.0,
        ..Scene::default()
    };
    let (samples, truth) = render(scene);
    let crashes = truth.crashes();
    let crashed: Vec<f32> = crashes
        .iter()
        .flat_map(|c| between(&samples, RATE, c.start_s, c.end_s).iter().copied())
        .collect();
    let calm: Vec<f32> = crashes
        .windows(2)
        .flat_map(|w| {
            between(&samples, RATE, w[0].end_s, w[1].start_s)
                .iter()
                .copied()
        })
        .collect();
    // Signal, noise in 4 kHz and crash stand as 1 : 1 : 100, and 4 kHz is the whole band.
    let ratio = db(power(&crashed) / power(&calm));
    assert!((ratio - db(102.0 / 2.0)).abs() < 0.2, "{ratio} dB");
}

/// A strong neighbour takes the gain down with it: this is what pumping sounds like.
#[test]
fn agc_is_pumped_by_a_neighbour() {
    let carrier = Carrier {
        level_db: 30.0,
        keying: Keying::Steady,
        from_s: 5.0,
        until_s: 7.0,
        ..Carrier::default()
    };
    let agc = Agc {
        attack_ms: 5.0,
        decay_s: 0.5,
        ..Agc::default()
    };
    let scene = Scene {
        senders: vec![idle(15.0)],
        carriers: vec![carrier],
        agc: Some(agc),
        ..Scene::default()
    };
    let (samples, _) = render(scene);
    let mark = |from_s: f64| {
        db(tone_power(
            between(&samples, RATE, from_s, from_s + 0.1),
            2125.0,
            RATE,
        ))
    };
    let (before, during) = (mark(4.5), mark(6.5));
    assert!(
        (before - during - 30.0).abs() < 1.0,
        "gain fell by {} dB",
        before - during
    );
    // The detector falls from 31.6 to 1 as 1 + 30.6 exp(-t / 0.5 s).
    for after_s in [0.5, 1.0, 2.0, 4.0] {
        let middle_s: f64 = after_s + 0.05;
        let expected = -20.0 * (1.0 + 30.6 * (-middle_s / 0.5).exp()).log10();
        let found = mark(7.0 + after_s) - before;
        assert!(
            (found - expected).abs() < 0.5,
            "{after_s} s after: {found}, not {expected} dB"
        );
    }
}

#[test]
fn fading_heard_is_fading_told() {
    for channel in [
        Channel::MID_LATITUDE_DISTURBED,
        Channel::Flat { spread_hz: 1.0 },
    ] {
        let sender = Sender {
            channel,
            ..idle(60.0)
        };
        let (samples, truth) = render(Scene {
            senders: vec![sender],
            ..Scene::default()
        });
        // Fixed gain: power 1 comes out at -15 dBFS.
        let full = 10f64.powf(-1.5);
        for told in truth.fading(0, 0.1).skip(1) {
            let around = between(&samples, RATE, told.at_s - 0.01, told.at_s + 0.01);
            let heard = (tone_power(around, 2125.0, RATE) / full).sqrt();
            // The mean over 20 ms bends a little in the sharpest fades.
            let clipped = told.mark * (2.0 * full).sqrt() > 1.0;
            assert!(
                clipped || (heard - told.mark).abs() < 0.02,
                "{told:?}: {heard} heard"
            );
        }
    }
}

#[test]
fn tones_are_where_the_truth_says() {
    let sender = Sender {
        offset_hz: 12.0,
        drift: Drift {
            warm_up_hz: 200.0,
            warm_up_s: 8.0,
            ..Drift::default()
        },
        ..idle(30.0)
    };
    let dial_drift = Drift {
        linear_hz_per_s: -3.0,
        jumps: vec![Jump {
            at_s: 14.95,
            by_hz: 55.0,
        }],
        ..Drift::default()
    };
    let (samples, truth) = render(Scene {
        senders: vec![sender],
        dial_drift,
        ..Scene::default()
    });
    let full = 10f64.powf(-1.5);
    for k in 0..29 {
        let from_s = f64::from(k);
        let hz = truth.mark_hz(0, from_s + 0.05).expect("a sender");
        let part = between(&samples, RATE, from_s, from_s + 0.1);
        let at = |hz| tone_power(part, hz, RATE) / full;
        assert!(at(hz) > 0.98, "{from_s} s: {} at {hz} Hz", at(hz));
        // 5 Hz beside, a 100 ms window sees 4/pi^2 of the power.
        assert!(at(hz + 5.0) < 0.5 && at(hz - 5.0) < 0.5, "{from_s} s");
    }
    assert_eq!(
        truth.jumps(0),
        [Jump {
            at_s: 14.95,
            by_hz: 55.0
        }]
    );
    assert_eq!(
        truth.space_hz(0, 3.0),
        truth.mark_hz(0, 3.0).map(|hz| hz + 170.0)
    );
}
