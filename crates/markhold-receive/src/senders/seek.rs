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
        false => {
            let straight = biased(tuning, -tuning.bias);
            (weigh(&straight), straight)
        }
    };
    let by_hz = |best| {
        let best = best_of(best, &BOTH_HZ, both, &weigh);
        let best = best_of(best, &DISTANCE_HZ, apart, &weigh);
        best_of(best, &FINE_HZ, both, &weigh)
    };
    let plain = by_hz(straight);
    let with_bias = best_of(straight, &BIASES, biased, &weigh);
    let with_bias = if kept.0 > with_bias.0 {
        kept
    } else {
        with_bias
    };
    let with_bias = match with_bias.1.bias == 0.0 {
        true => plain,
        false => by_hz(with_bias),
    };
    let with_bias = best_of(with_bias, &FINE_BIASES, biased, &weigh);
    let best = match with_bias.0 > plain.0 + CLEARLY_BETTER {
        true => with_bias,
        false => plain,
    };
    // A bias that is not clearly there any more is let go, whatever that costs.
    let is_kept = (best.1.bias == 0.0) == (tuning.bias == 0.0) && best.0 <= kept.0 + BETTER;
    if is_kept { *tuning } else { best.1 }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::senders::testing::{EXACT, sent, with_sound};

    /// What is sought from a tuning where no bias was sent and the tones lie as in [`EXACT`].
    fn sought(from: &Tuning) -> Tuning {
        let codes: Vec<usize> = (0..20).map(|i| i * 11 % 32).collect();
        let (tones, lattice) = sent(&codes, &EXACT, 6.0, 5);
        let heard = with_sound(&tones, |sound| Heard::<16>::new(sound, &lattice));
        seek(&heard, &lattice, from)
    }

    #[test]
    fn what_fits_is_kept() {
        assert_eq!(sought(&EXACT), EXACT);
    }

    #[test]
    fn a_distance_that_is_off_is_found() {
        for off_hz in [[2.5, -2.5], [-1.25, 1.25], [1.9, -3.1]] {
            let off = Tuning {
                offset_hz: off_hz,
                ..EXACT
            };
            let found = sought(&off);
            let [mark, space] = found.offset_hz;
            assert!(mark.abs() < 0.7 && space.abs() < 0.7, "{found:?}");
            assert_eq!(found.bias, 0.0);
        }
    }

    /// A distance that is off looks like a bias. Once the true one is in reach, the bias goes.
    #[test]
    fn a_bias_that_is_not_there_is_let_go() {
        for bias in [-0.12, -0.045, 0.03, 0.09] {
            let believed = Tuning {
                offset_hz: [1.25, -1.25],
                bias,
                ..EXACT
            };
            assert_eq!(sought(&believed).bias, 0.0, "{bias}");
        }
    }
}
