//! Needs: what is asked of a line before it is believed.

use markhold_code::usual;

use super::probe::Probe;
use crate::characters::reading::Reading;

/// Evidence, in natural logarithm, by which a start-stop line must beat all else: a false
/// one in noise once in some hundred million trials.
pub(super) const LEAST_EVIDENCE: f32 = 32.0;
/// What a hypothesis must bring more if its rate, or its shift, is none of the usual ones
/// (as measured: carriers keyed by hand pass for a start-stop line of some odd kind now and
/// then in an hour, with evidence up to 46).
const UNUSUAL_RATE_EVIDENCE: f32 = 18.0;
const UNUSUAL_SHIFT_EVIDENCE: f32 = 12.0;
/// What a line of which one tone is not sent must bring more: nothing but its rhythm tells it
/// from Morse and from all that is keyed.
const ONE_TONE_EVIDENCE: f32 = 30.0;
/// How far a usual rate may be off, as a share, and a usual shift as measured, Hz.
const USUAL_RATE: f64 = 0.012;
const USUAL_SHIFT_HZ: f64 = 10.0;

pub(super) fn is_usual_rate(rate: f64) -> bool {
    usual::nearest(&usual::RATES_BAUD, rate, USUAL_RATE).is_some()
}

pub(super) fn is_usual_shift(shift_hz: f64) -> bool {
    usual::nearest(&usual::SHIFTS_HZ, shift_hz, USUAL_SHIFT_HZ / shift_hz).is_some()
}

/// Evidence that a pair needs.
pub(super) fn needed(probe: &Probe, rate: f64) -> f32 {
    let shift = probe.tones_hz[1] - probe.tones_hz[0];
    let unless = |usual: bool, more: f32| if usual { 0.0 } else { more };
    LEAST_EVIDENCE
        + unless(is_usual_rate(rate), UNUSUAL_RATE_EVIDENCE)
        + match probe.missing {
            Some(_) => ONE_TONE_EVIDENCE,
            None => unless(is_usual_shift(shift), UNUSUAL_SHIFT_EVIDENCE),
        }
}

/// Whether all characters are the same: reversals, or some machine's beat, rather than text.
pub(super) fn is_rhythm(heard: &[Reading]) -> bool {
    let same = heard
        .windows(2)
        .filter(|pair| pair[0].best() == pair[1].best())
        .count();
    10 * same > 8 * heard.len()
}

/// Whether four codes make up most of it. Morse of the pace of an element is made of a few marks,
/// and so are a few codes; the four commonest of English text, the space among them, are less
/// than half of it. Test rows of two letters have to wait for text.
pub(super) fn is_few_codes(heard: &[Reading]) -> bool {
    let mut counts = [0; 32];
    for reading in heard {
        counts[reading.best()] += 1;
    }
    counts.sort_unstable();
    10 * counts[28..].iter().sum::<usize>() > 8 * heard.len()
}
