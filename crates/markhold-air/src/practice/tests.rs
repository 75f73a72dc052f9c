//! Laws of the practice band, and what its controls do.

use super::*;
use proptest::prelude::*;

const RATE: u32 = 8000;

fn practice(seed: u64) -> Practice {
    Practice::new(RATE, seed).expect("a rate that works")
}

fn heard(practice: &mut Practice, seconds: f64) -> Vec<f32> {
    let mut out = vec![0.0; (seconds * f64::from(RATE)) as usize];
    practice.fill(&mut out);
    out
}

/// Power at a frequency, by a plain sum over the samples.
fn power_at(samples: &[f32], hz: f64) -> f64 {
    let sum: Complex64 = (0..)
        .zip(samples)
        .map(|(n, &x)| cis(-hz * f64::from(n) / f64::from(RATE)) * f64::from(x))
        .sum();
    sum.norm_sqr() / (samples.len() as f64).powi(2)
}

/// A receiver on a station's usual place, settled, without static.
fn tuned(station: usize, sideband: Sideband) -> Practice {
    let mut practice = practice(3);
    let station = &stations()[station];
    practice.set(Controls {
        dial_hz: match sideband {
            Sideband::Lower => station.usual_dial_hz(),
            Sideband::Upper => station.mark_hz - 2125.0,
        },
        sideband,
        static_per_min: 0.0,
        warm_up: WarmUp {
            off_hz: 0.0,
            time_s: 60.0,
        },
        ..Controls::default()
    });
    practice
}

#[test]
fn mark_is_heard_where_the_dial_puts_it() {
    for sideband in [Sideband::Lower, Sideband::Upper] {
        for station in 0..stations().len() {
            let mut practice = tuned(station, sideband);
            let tones = practice.tones_hz(station).expect("a station");
            assert!((tones[0] - 2125.0).abs() < 1e-6, "{tones:?}");
            // The lead-in is idle mark, 2 s long.
            let samples = heard(&mut practice, 1.8);
            let at_mark = power_at(&samples[4000..], 2125.0);
            for hz in [1800.0, 2000.0, 2250.0] {
                let beside = power_at(&samples[4000..], hz);
                assert!(
                    at_mark > 100.0 * beside,
                    "{sideband:?} {station}: {at_mark} at mark, {beside} at {hz} Hz"
                );
            }
        }
    }
}

#[test]
fn the_sidebands_turn_the_tones_over() {
    let shift = |sideband| {
        let [mark, space] = tuned(0, sideband).tones_hz(0).expect("a station");
        space - mark
    };
    assert!((shift(Sideband::Lower) - 170.0).abs() < 1e-6);
    assert!((shift(Sideband::Upper) + 170.0).abs() < 1e-6);
    assert_eq!(practice(1).tones_hz(99), None);
}

#[test]
fn the_warm_up_moves_the_tones_and_settles() {
    let mut practice = tuned(0, Sideband::Lower);
    practice.set_warm_up(WarmUp {
        off_hz: 100.0,
        time_s: 10.0,
    });
    let mark = |practice: &Practice| practice.tones_hz(0).expect("a station")[0];
    // On the lower sideband audio rises as the receiver is tuned higher.
    assert!((mark(&practice) - 2225.0).abs() < 1e-6);
    heard(&mut practice, 10.0);
    assert!((mark(&practice) - 2125.0 - 36.79).abs() < 0.1);
}

/// Between two samples a tone of up to 2.9 kHz turns by less than 2.9 / 8 of a cycle; a
/// broken phase would turn it by up to half of one. Checked on the mixer alone, where no
/// filter hides it.
#[test]
fn turning_the_dial_never_breaks_the_phase() {
    let mut phase = 0.0;
    let mut last: Option<Complex64> = None;
    for n in 0..8000 {
        let beat_hz = if n / 100 % 2 == 0 { 1000.0 } else { 2300.0 };
        let now = turn(&mut phase, beat_hz, 8000.0);
        if let Some(last) = last {
            let turned = (now * last.conj()).arg().abs() / std::f64::consts::TAU;
            assert!(turned < 2300.1 / 8000.0, "sample {n}: {turned} cycles");
        }
        last = Some(now);
    }
}

#[test]
fn the_volume_clips_and_fades() {
    let share_full = |db: f64| {
        let mut practice = tuned(0, Sideband::Lower);
        practice.set_volume(db);
        let samples = heard(&mut practice, 1.0);
        let full = samples.iter().filter(|x| x.abs() >= 1.0).count();
        (full, samples.iter().fold(0.0_f32, |m, x| m.max(x.abs())))
    };
    assert_eq!(share_full(0.0).0, 0);
    assert!(share_full(30.0).0 > 100);
    assert!(share_full(-60.0).1 < 0.01);
}

#[test]
fn static_can_be_turned_up() {
    // Each crash pushes the gain down, and the tones with it, for about half a second.
    let pushed_down = |per_min: f64| {
        let mut practice = tuned(0, Sideband::Lower);
        practice.set_static(per_min);
        let samples = heard(&mut practice, 21.0);
        let rms = |c: &[f32]| (c.iter().map(|x| x * x).sum::<f32>() / c.len() as f32).sqrt();
        let all = samples[8000..].chunks(400).map(rms);
        all.filter(|&rms| rms < 0.06).count()
    };
    // Without static only the path fades, now and then.
    assert!(pushed_down(0.0) < 5, "{} of 400", pushed_down(0.0));
    assert!(pushed_down(240.0) > 40, "{} of 400", pushed_down(240.0));
}

#[test]
fn stations_come_back_after_a_pause() {
    let mut practice = tuned(3, Sideband::Upper);
    let mut overs = 0;
    for _ in 0..90 {
        heard(&mut practice, 1.0);
        overs = overs.max(practice.stations[3].source.overs());
    }
    assert!(overs >= 1, "75 baud sends its text in under a minute");
}

#[test]
fn a_rate_that_does_not_fit_is_told() {
    let told = Practice::new(6000, 1).err().map(|e| e.to_string());
    let expected = "sample rate of the practice band is 6000; give 8000 to 48000 Hz";
    assert_eq!(told.as_deref(), Some(expected));
}

/// One turn of a control.
#[derive(Clone, Debug)]
enum Turn {
    Dial(f64),
    Sideband(Sideband),
    WarmUp(f64),
    Static(f64),
    Volume(f64),
}

fn apply(practice: &mut Practice, turn: &Turn) {
    match *turn {
        Turn::Dial(hz) => practice.set_dial(hz),
        Turn::Sideband(sideband) => practice.set_sideband(sideband),
        Turn::WarmUp(off_hz) => practice.set_warm_up(WarmUp {
            off_hz,
            time_s: 20.0,
        }),
        Turn::Static(per_min) => practice.set_static(per_min),
        Turn::Volume(db) => practice.set_volume(db),
    }
}

fn turns() -> impl Strategy<Value = Turn> {
    prop_oneof![
        (7_030_000.0..7_050_000.0).prop_map(Turn::Dial),
        prop_oneof![Just(Sideband::Lower), Just(Sideband::Upper)].prop_map(Turn::Sideband),
        (-300.0..300.0).prop_map(Turn::WarmUp),
        (0.0..240.0).prop_map(Turn::Static),
        (-60.0..30.0).prop_map(Turn::Volume),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// However the sound is cut, the same turns at the same samples give the same samples.
    #[test]
    fn block_size_changes_nothing(
        seed in 0_u64..100,
        schedule in prop::collection::vec((1_usize..6000, turns()), 1..6),
        block in 1_usize..700,
    ) {
        let (mut whole, mut cut) = (practice(seed), practice(seed));
        for (samples, turn) in &schedule {
            let mut expected = vec![0.0; *samples];
            whole.fill(&mut expected);
            let mut found = vec![0.0; *samples];
            found.chunks_mut(block).for_each(|c| cut.fill(c));
            prop_assert_eq!(&expected, &found);
            apply(&mut whole, turn);
            apply(&mut cut, turn);
        }
        prop_assert_eq!(whole.position(), cut.position());
        prop_assert_eq!(whole.controls(), cut.controls());
    }
}
