//! Who is heard where this station is about to send.

use crate::report::Followed;
use crate::snapshot::Snapshot;
use crate::tuning::{Keying, Tone};

/// This near to the tones that are sent, others are in each other's way, Hz: half the bandwidth of
/// 45.45 baud and 170 Hz, 249.5 Hz (ITU-R SM.1138), on either side, less half the shift.
const BESIDE_HZ: f64 = 125.0;
/// Tones on top of each other are within this, Hz: what a person who tunes by ear is off.
const ON_HZ: f64 = 40.0;
/// A signal of which nothing was read for so long is not sending just now, s: more than a first
/// reading takes.
const SILENT_S: f64 = 3.0;

/// Whoever is heard on these tones or beside them, in words; `None` = nobody.
pub(crate) fn heard(sum: &Snapshot, lower_hz: f64, upper_hz: f64) -> Option<String> {
    let own = Own { lower_hz, upper_hz };
    let signals = sum.followed.iter().filter(|one| sends(sum, one));
    let signals = signals.filter_map(|one| own.signal(one));
    let tones = sum.around.iter().filter_map(|tone| own.tone(tone));
    let all: Vec<String> = signals.chain(tones).collect();
    (!all.is_empty()).then(|| all.join(" and "))
}

/// Whether something of it was read lately.
fn sends(sum: &Snapshot, one: &Followed) -> bool {
    let of_it = |signal, start_s: f64| signal == one.signal.id && sum.until_s - start_s < SILENT_S;
    let early = sum.early.iter().rev().any(|c| of_it(c.signal, c.start_s));
    early
        || sum
            .sheet
            .iter()
            .rev()
            .take(200)
            .any(|c| of_it(c.signal, c.start_s))
}

/// The tones that are about to be sent.
struct Own {
    lower_hz: f64,
    upper_hz: f64,
}

impl Own {
    fn signal(&self, one: &Followed) -> Option<String> {
        let signal = &one.signal;
        let lower_hz = signal.mark_hz.min(signal.space_hz);
        let upper_hz = signal.mark_hz.max(signal.space_hz);
        let apart = lower_hz > self.upper_hz + BESIDE_HZ || upper_hz < self.lower_hz - BESIDE_HZ;
        let on =
            (lower_hz - self.lower_hz).abs() < ON_HZ && (upper_hz - self.upper_hz).abs() < ON_HZ;
        let place = if on {
            "on your tones"
        } else {
            "beside your tones"
        };
        let (middle_hz, baud) = ((lower_hz + upper_hz) / 2.0, signal.rate_baud);
        (!apart).then(|| format!("a signal of {baud:.0} baud at {middle_hz:.0} Hz, {place},"))
    }

    fn tone(&self, tone: &Tone) -> Option<String> {
        let near = (self.lower_hz - BESIDE_HZ..self.upper_hz + BESIDE_HZ).contains(&tone.hz);
        let what = match tone.keying {
            Keying::Steady => "a carrier",
            Keying::Morse => "somebody in Morse",
            Keying::StartStop => "a keyed tone",
        };
        near.then(|| format!("{what} at {:.0} Hz", tone.hz))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum(tones: &[(f64, Keying)]) -> Snapshot {
        let tone = |&(hz, keying): &(f64, Keying)| Tone {
            hz,
            over_noise_db: 20.0,
            keying,
        };
        Snapshot {
            around: tones.iter().map(tone).collect(),
            ..Snapshot::default()
        }
    }

    #[test]
    fn tones_near_are_named_and_others_are_not() {
        let far = sum(&[(1500.0, Keying::Steady), (2500.0, Keying::Morse)]);
        assert_eq!(heard(&far, 2125.0, 2295.0), None);
        let near = sum(&[(2100.0, Keying::Morse), (2400.0, Keying::Steady)]);
        let told = heard(&near, 2125.0, 2295.0).unwrap();
        assert_eq!(
            told,
            "somebody in Morse at 2100 Hz and a carrier at 2400 Hz"
        );
    }
}
