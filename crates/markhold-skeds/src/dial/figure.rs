//! From a published figure to the middle of the two tones.

use crate::{Channel, Figure, MarkOnAir, Sked};

/// Shift taken where none is known, Hz: that of most amateur stations (common practice).
const USUAL_SHIFT_HZ: f64 = 170.0;

/// Shift in Hz and mark of a sked, the usual ones where it does not say.
pub(super) fn keying(sked: &Sked) -> (f64, MarkOnAir) {
    let mark = sked.mark.unwrap_or(MarkOnAir::Higher);
    (sked.shift_hz.unwrap_or(USUAL_SHIFT_HZ), mark)
}

/// The middle of the two tones of a channel, kHz.
pub(super) fn middle(
    channel: &Channel,
    shift: f64,
    mark: MarkOnAir,
    steps: &mut Vec<String>,
) -> f64 {
    let (khz, half) = (channel.khz, shift / 2e3);
    let (value, line) = match (channel.means, mark) {
        (Figure::Middle, _) => (
            khz,
            format!("{khz:.3} is assigned, the middle of the tones"),
        ),
        (Figure::Mark, MarkOnAir::Higher) => (
            khz - half,
            format!("{khz:.3} is mark, the higher one: the middle is {khz:.3} - {half:.3}"),
        ),
        (Figure::Mark, MarkOnAir::Lower) => (
            khz + half,
            format!("{khz:.3} is mark, the lower one: the middle is {khz:.3} + {half:.3}"),
        ),
        (Figure::LowerCarrier { pitch_hz }, _) => {
            let pitch = pitch_hz / 1e3;
            let line = format!(
                "{khz:.3} is the carrier of the lower sideband: the middle is {khz:.3} - {pitch:.3}"
            );
            (khz - pitch, line)
        }
        (Figure::UpperCarrier { pitch_hz }, _) => {
            let pitch = pitch_hz / 1e3;
            let line = format!(
                "{khz:.3} is the carrier of the upper sideband: the middle is {khz:.3} + {pitch:.3}"
            );
            (khz + pitch, line)
        }
    };
    steps.push(format!("{line} = {value:.3} kHz"));
    value
}

pub(super) fn assumed(sked: &Sked) -> String {
    let shift = sked
        .shift_hz
        .is_none()
        .then(|| format!("a shift of {USUAL_SHIFT_HZ} Hz"));
    let mark = sked
        .mark
        .is_none()
        .then(|| "mark as the higher radio frequency".to_string());
    let both: Vec<String> = shift.into_iter().chain(mark).collect();
    format!(
        "assumed, since the sked does not say: {}",
        both.join(" and ")
    )
}
