//! Seeking: the frequency error of both tones and of their distance, by trial.
//!
//! Phases tell frequency well once they are followed, which needs it known to about 1 Hz.
//! Until then a few offsets are walked and the evidence compared.

use super::heard::Heard;
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::walk::Walker;

/// Offsets of both tones that are tried, Hz.
const BOTH_HZ: [f64; 6] = [-1.2, 1.2, -2.4, 2.4, -3.6, 3.6];
/// Changes of the tones' distance that are tried, Hz.
const DISTANCE_HZ: [f64; 4] = [-2.5, 2.5, -5.0, 5.0];
/// Finer offsets of both tones around the best, Hz.
const FINE_HZ: [f64; 2] = [-0.6, 0.6];
/// Biases that are tried, elements: a turn of the shift is 0.27 elements at 170 Hz and 45.45
/// baud, and phases do not tell biases apart that differ by whole turns.
const BIASES: [f64; 8] = [-0.12, -0.09, -0.06, -0.03, 0.03, 0.06, 0.09, 0.12];
/// Finer biases around the best, elements.
const FINE_BIASES: [f64; 2] = [-0.015, 0.015];
/// How much better, in log evidence, an offset must be than none.
const BETTER: f32 = 12.0;
/// How much better, in log evidence, a bias must be than none: one that is not there would
/// spoil all that is copied with it, and noise tries many.
const CLEARLY_BETTER: f32 = 30.0;
/// The model that seeks: a phase that wanders as far as half a hertz takes it.
const SEEKER: SenderModel = SenderModel {
    continuous: true,
    wander: 0.2,
    kick: 0.1,
    start: 0.5,
};

/// The tuning under which phases are followed best, `tuning` itself unless another is
/// clearly better.
pub fn seek<const N: usize>(heard: &Heard<N>, lattice: &Lattice, tuning: &Tuning) -> Tuning {
    let all = vec![true; lattice.starts.len()];
    let weigh = |t: &Tuning| {
        let walker = Walker::new(heard, lattice, &all, &SEEKER, t);
        walker.backward().evidence
    };
    let kept = (weigh(tuning), *tuning);
    let straight = match tuning.bias == 0.0 {
        true => kept,
        false => best_of(kept, &[-tuning.bias], biased, &weigh),
    };
    let start = straight.0;
    let by_hz = |best| {
        let best = best_of(best, &BOTH_HZ, both, &weigh);
        let best = best_of(best, &DISTANCE_HZ, apart, &weigh);
        best_of(best, &FINE_HZ, both, &weigh)
    };
    let plain = by_hz(straight);
    let with_bias = match best_of(straight, &BIASES, biased, &weigh) {
        same if same.1 == straight.1 => plain,
        other => by_hz(other),
    };
    let with_bias = best_of(with_bias, &FINE_BIASES, biased, &weigh);
    let best = if with_bias.0 > plain.0 + CLEARLY_BETTER {
        with_bias
    } else {
        plain
    };
    if best.0 > start + BETTER {
        best.1
    } else {
        straight.1
    }
}

fn best_of(
    start: (f32, Tuning),
    steps_hz: &[f64],
    moved: impl Fn(&Tuning, f64) -> Tuning,
    weigh: &impl Fn(&Tuning) -> f32,
) -> (f32, Tuning) {
    let tried = steps_hz.iter().map(|&hz| moved(&start.1, hz));
    tried
        .map(|t| (weigh(&t), t))
        .fold(start, |a, b| if b.0 > a.0 { b } else { a })
}

fn both(tuning: &Tuning, hz: f64) -> Tuning {
    Tuning {
        offset_hz: tuning.offset_hz.map(|e| e + hz),
        ..*tuning
    }
}

fn biased(tuning: &Tuning, by: f64) -> Tuning {
    Tuning {
        bias: tuning.bias + by,
        ..*tuning
    }
}

fn apart(tuning: &Tuning, hz: f64) -> Tuning {
    let [mark, space] = tuning.offset_hz;
    Tuning {
        offset_hz: [mark + hz / 2.0, space - hz / 2.0],
        ..*tuning
    }
}
