//! The receiver's gain: what a neighbour or a crash does to it is taken out.

use super::*;

/// The true gain of the receiver in each cell, dB, from the scene with and without AGC.
fn true_gain_db(scene: &Scene, cell: usize) -> Vec<f64> {
    let with = Air::new(scene.clone(), 8000).expect("fine").render();
    let fixed = Scene {
        agc: None,
        level_dbfs: -80.0,
        ..scene.clone()
    };
    let without = Air::new(fixed, 8000).expect("fine").render();
    let power = |x: &[f32]| x.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
    let cells = with.chunks(cell).zip(without.chunks(cell));
    cells
        .map(|(a, b)| 10.0 * (power(a) / power(b)).log10())
        .collect()
}

/// The receiver's gain times ours, dB, around its mean over 4 s, where there has been no
/// edge or crash for 10 ms; and the receiver's alone.
fn left_of_gain(scene: &Scene) -> (Vec<f64>, Vec<f64>) {
    let levelled = level(&recorded(scene, 8000), 8000.0);
    let gain = true_gain_db(scene, 8);
    let ours = levelled
        .cells
        .iter()
        .map(|c| 20.0 * f64::from(c.gain).log10());
    let total: Vec<f64> = gain.iter().zip(ours).map(|(a, b)| a + b).collect();
    let truth = Air::new(scene.clone(), 8000).expect("fine").truth();
    let crash = |k: usize| {
        let t = k as f64 / 1000.0;
        truth
            .crashes()
            .iter()
            .any(|c| c.start_s - 0.01 < t && t < c.end_s + 0.01)
    };
    let edge = |k: usize| (k - 10..k + 10).any(|i| gain[i] - gain[i + 1] > 0.7);
    let first = (SETTLED_S * 1000.0) as usize;
    let counted = (first..total.len() - 2000).filter(|&k| !edge(k) && !crash(k));
    let around = |x: &[f64], k: usize| x[k] - x[k - 2000..k + 2000].iter().sum::<f64>() / 4000.0;
    counted
        .map(|k| (around(&total, k), around(&gain, k)))
        .unzip()
}

fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|x| x * x).sum::<f64>() / x.len() as f64).sqrt()
}

fn share_off(left: &[f64]) -> f64 {
    left.iter().filter(|x| x.abs() > 2.0).count() as f64 / left.len() as f64
}

#[test]
fn the_gain_that_a_neighbour_pumps_is_taken_out() {
    for (level_db, attack_ms, decay_s) in [
        (10.0, 2.0, 0.5),
        (25.0, 2.0, 0.5),
        (25.0, 5.0, 1.5),
        // Rises by 80 dB/s and more, faster than it is followed.
        (25.0, 2.0, 0.1),
    ] {
        for seed in SEEDS {
            let agc = Agc {
                attack_ms,
                decay_s,
                ..Agc::default()
            };
            let scene = Scene {
                seed,
                agc: Some(agc),
                ..with_neighbour(level_db)
            };
            let (left, before) = left_of_gain(&scene);
            let case = format!("+{level_db} dB, {attack_ms} ms, {decay_s} s, seed {seed}");
            let (off, raw) = (rms(&left), rms(&before));
            assert!(off < raw, "{case}: {off} of {raw} dB");
            let bad = share_off(&left);
            assert!(
                bad < 0.02,
                "{case}: {bad} of the cells are off by more than 2 dB"
            );
        }
    }
}

/// AGC brings all but the first milliseconds of a crash down to the usual level. That it is
/// one shows in the gain after it, so what lies further ahead than 28 ms is not known: of
/// crashes between 5 and 60 ms long (3 ms of onset, 28 of end) 76 % are sure to be seen.
#[test]
fn crashes_are_seen_through_agc_and_the_gain_after_them_is_taken_out() {
    for seed in SEEDS {
        let scene = Scene {
            seed,
            crashes: crashes(25.0),
            agc: Some(Agc {
                attack_ms: 2.0,
                ..Agc::default()
            }),
            ..scene(15.0, 20.0)
        };
        let truth = Air::new(scene.clone(), 8000).expect("fine").truth();
        let levelled = level(&recorded(&scene, 8000), 8000.0);
        let (hit, wrong) = hits_and_false_from(SETTLED_S, &levelled, &truth.crashes(), 0.0015);
        assert!(hit > 0.75, "seed {seed}: {hit} of the crash cells");
        assert!(wrong < 0.001, "seed {seed}: {wrong} of the other cells");
        let (left, before) = left_of_gain(&scene);
        let (off, raw) = (rms(&left), rms(&before));
        assert!(off < 0.4 * raw, "seed {seed}: {off} of {raw} dB");
        let bad = share_off(&left);
        assert!(
            bad < 0.05,
            "seed {seed}: {bad} of the cells are off by more than 2 dB"
        );
    }
}
