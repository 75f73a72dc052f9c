//! Laws: silence, any sound, blocks, reset.

use super::*;
use proptest::prelude::*;

#[test]
fn silence_stays_silence_and_is_not_remarkable() {
    let sound = recorded(&scene(12.0, 4.0), 8000);
    let zeros = vec![0.0; 16_000];
    for parts in [
        vec![&zeros],
        vec![&zeros, &sound],
        vec![&sound, &zeros, &sound],
    ] {
        let whole: Vec<f32> = parts.into_iter().flatten().copied().collect();
        let levelled = level(&whole, 8000.0);
        assert!(levelled.out == whole);
        assert!(levelled.cells.iter().all(|c| *c == CellLevel::UNTOUCHED));
    }
}

#[test]
fn quantisation_noise_is_not_blown_up() {
    let mut sound = recorded(&scene(12.0, 4.0), 8000);
    let dither = (0..16_000_u32).map(|i| ((i.wrapping_mul(2_654_435_761) >> 13) % 3) as f32 - 1.0);
    sound.extend(dither.map(|x| x / 32767.0));
    let levelled = level(&sound, 8000.0);
    let most = levelled.cells.iter().map(|c| c.gain).fold(0.0, f32::max);
    assert!(most <= 100.001, "{most}");
}

#[test]
fn any_finite_sound_gives_finite_sound() {
    let n = 24_000_u32;
    let square = |size: f32| (0..n).map(move |i| if i / 7 % 2 == 0 { size } else { -size });
    let noise = recorded(&scene(12.0, 3.0), 8000);
    let mut impulse = vec![0.0; n as usize];
    impulse[12_000] = 1.0;
    let mut jump = noise.clone();
    jump[15_000..].fill(f32::MAX);
    let sounds: [Vec<f32>; 8] = [
        vec![1.0; n as usize],
        square(1.0).collect(),
        square(f32::MAX).collect(),
        square(1e15).collect(),
        square(1e-20).collect(),
        noise.iter().map(|x| x * 1e6).collect(),
        impulse,
        jump,
    ];
    for rate in [6000.0, 8000.0, 11_025.0, 22_050.0, 192_000.0] {
        for (k, sound) in sounds.iter().enumerate() {
            let levelled = level(sound, rate);
            let fine = |c: &CellLevel| (0.0..=1.0).contains(&c.clear) && c.gain.is_finite();
            assert!(
                levelled.out.iter().all(|x| x.is_finite()),
                "sound {k} at {rate} Hz"
            );
            assert!(levelled.cells.iter().all(fine), "sound {k} at {rate} Hz");
        }
    }
}

/// A clean signal has no floor to level: only its own keying and rounding are heard there.
/// Both take the quartiles two seconds to reach.
#[test]
fn clean_signals_steady_tones_and_square_waves_are_left_alone() {
    let quiet = Scene {
        noise: Noise::Silent,
        ..scene(0.0, 16.0)
    };
    let tone = (0..128_000_u32).map(|n| (0.7 * n as f32).sin() * 0.5);
    let square = (0..128_000_u32).map(|n| if n / 8 % 2 == 0 { 1.0 } else { -1.0 });
    for (name, sound) in [
        ("FSK", recorded(&quiet, 8000)),
        ("tone", tone.collect()),
        ("square wave", square.collect()),
    ] {
        let cells = &level(&sound, 8000.0).cells[2000..];
        let touched = cells.iter().filter(|c| c.clear < 1.0).count();
        assert_eq!(touched, 0, "{name}");
        // A gain that was found before goes back to 1 when nothing more can be told.
        let last = &cells[10_000..];
        let moved = last.iter().filter(|c| (c.gain - 1.0).abs() > 0.12).count();
        assert_eq!(moved, 0, "{name}");
    }
}

#[test]
fn the_latency_is_what_it_is_said_to_be() {
    for rate in [6000.0, 8000.0, 11_025.0, 48_000.0, 192_000.0] {
        let mut leveller = Leveller::new(BandPlan::new(rate));
        let latency = leveller.latency();
        assert!(
            latency as f64 / rate <= 0.0501,
            "{rate} Hz: {latency} samples"
        );
        let (mut out, mut cells) = (Vec::new(), Vec::new());
        for n in 1..3 * latency {
            leveller.process(&[0.1], &mut out, &mut cells);
            assert!(out.len() + latency > n, "{rate} Hz after {n} samples");
            assert_eq!(out.len(), cells.len() * leveller.cell());
        }
    }
}

/// Three seconds in which everything happens.
fn eventful() -> Vec<f32> {
    let scene = Scene {
        crashes: Some(Crashes {
            rate_per_s: 6.0,
            ..Crashes::default()
        }),
        agc: Some(Agc::default()),
        duration_s: Some(3.0),
        ..with_neighbour(20.0)
    };
    recorded(&scene, 8000)
}

#[test]
fn reset_equals_new() {
    let sound = eventful();
    let mut leveller = Leveller::new(BandPlan::new(8000.0));
    let mut run = |sound: &[f32]| {
        let (mut out, mut cells) = (Vec::new(), Vec::new());
        leveller.process(sound, &mut out, &mut cells);
        let tail = (out.len(), cells.len());
        leveller.finish(&mut out, &mut cells);
        (out, cells, tail)
    };
    let first = run(&sound);
    assert_eq!(first, run(&sound), "finish resets");
    leveller.process(&sound[..7777], &mut Vec::new(), &mut Vec::new());
    leveller.reset();
    let (mut out, mut cells) = (Vec::new(), Vec::new());
    leveller.process(&sound, &mut out, &mut cells);
    assert_eq!(out, first.0[..first.2.0]);
    assert_eq!(cells, first.1[..first.2.1]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn block_size_does_not_matter(block in 1_usize..3000, length in 0_usize..24_000) {
        let sound = &eventful()[..length];
        let whole = level_in_blocks(sound, 8000.0, 24_000);
        let parts = level_in_blocks(sound, 8000.0, block);
        prop_assert_eq!(whole.out, parts.out);
        prop_assert_eq!(whole.cells, parts.cells);
    }
}
