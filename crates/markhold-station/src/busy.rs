//! Who is heard where this station is about to send.

use crate::answering::Busy;
use crate::report::Followed;
use crate::snapshot::Snapshot;
use crate::tuning::{Keying, Tone};
use markhold_code::Tones;

/// This near to the tones that are sent, others are in each other's way, Hz: half the bandwidth of
/// 45.45 baud and 170 Hz, 249.5 Hz (ITU-R SM.1138), on either side, less half the shift.
const BESIDE_HZ: f64 = 125.0;
/// Tones on top of each other are within this, Hz: what a person who tunes by ear is off.
const ON_HZ: f64 = 40.0;
/// A signal of which nothing was read for so long is not sending just now, s: more than a first
/// reading takes.
const SILENT_S: f64 = 3.0;

/// Whoever is heard on these tones or beside them; `None` = nobody.
pub(crate) fn busy(sum: &Snapshot, tones: Tones) -> Option<Busy> {
    let own = Own(tones);
    let signals = sum.followed.iter().filter(|one| sends(sum, one));
    let signals: Vec<_> = signals.filter_map(|one| own.signal(one)).collect();
    let is_answer = signals.iter().any(|(is_on, _)| *is_on);
    let tones = sum.around.iter().filter_map(|tone| own.tone(tone));
    let all: Vec<String> = signals
        .into_iter()
        .map(|(_, who)| who)
        .chain(tones)
        .collect();
    (!all.is_empty()).then(|| Busy {
        who: all.join(" and "),
        is_answer,
    })
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
struct Own(Tones);

impl Own {
    /// Whether it is on the very tones, and who it is.
    fn signal(&self, one: &Followed) -> Option<(bool, String)> {
        let (own, theirs) = (self.0, one.signal.tones());
        let apart = theirs.lower_hz() > own.higher_hz() + BESIDE_HZ
            || theirs.higher_hz() < own.lower_hz() - BESIDE_HZ;
        let near = |a: f64, b: f64| (a - b).abs() < ON_HZ;
        let is_on =
            near(theirs.lower_hz(), own.lower_hz()) && near(theirs.higher_hz(), own.higher_hz());
        let place = if is_on { "on" } else { "beside" };
        let (middle_hz, baud) = (theirs.middle_hz(), one.signal.rate_baud);
        let who = format!("a signal of {baud:.0} baud at {middle_hz:.0} Hz, {place} your tones,");
        (!apart).then_some((is_on, who))
    }

    fn tone(&self, tone: &Tone) -> Option<String> {
        let near = self.0.lower_hz() - BESIDE_HZ..self.0.higher_hz() + BESIDE_HZ;
        let what = match tone.keying {
            Keying::Steady => "a carrier",
            Keying::Morse => "somebody in Morse",
            Keying::StartStop => "a keyed tone",
        };
        near.contains(&tone.hz)
            .then(|| format!("{what} at {:.0} Hz", tone.hz))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Sense;

    fn own() -> Tones {
        Tones::of_pair(2125.0, 2295.0, Sense::LowerTone)
    }

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
        assert_eq!(busy(&far, own()), None);
        let near = sum(&[(2100.0, Keying::Morse), (2400.0, Keying::Steady)]);
        let told = busy(&near, own()).unwrap();
        assert_eq!(
            (told.who.as_str(), told.is_answer),
            (
                "somebody in Morse at 2100 Hz and a carrier at 2400 Hz",
                false
            )
        );
    }
}
