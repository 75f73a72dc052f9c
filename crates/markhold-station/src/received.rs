//! The pair that is being copied, for who would answer on exactly its tones.

use crate::answering::{NoPair, ReceivedPair};
use crate::snapshot::Snapshot;
use markhold_code::Tones;
use markhold_event::Signal;

/// A pair is no longer the one that is copied when nothing of it was read for so long, s: who
/// answers thinks for less, and a receiver drifts little in it.
const LATE_S: f64 = 60.0;
/// Characters by which a pair is judged: two or three words.
const JUDGED: usize = 20;
/// And how many there must be: what was found a moment ago may still be something else.
const FEWEST: usize = 8;
/// Read well: the mean probability of those is at least this, as for the sentence on tuning. Below
/// it a line of text has several doubtful words.
const GOOD: f32 = 0.8;
/// What is read of an over of its own may seem to begin so much after its end, s.
const OWN_S: f64 = 1.0;
/// Characters of the sheet that are looked through.
const LATEST: usize = 2000;

/// A signal that was read of late.
struct Read<'a> {
    signal: &'a Signal,
    /// When its last character began, s.
    last_s: f64,
    count: usize,
    quality: f32,
}

/// The pair that is copied; `own` are the latest overs of this station, s of the sheet's time:
/// what was read in them may be this station itself.
///
/// # Errors
///
/// There is none, or it is not sure.
pub(crate) fn pair(sum: &Snapshot, own: &[(f64, f64)]) -> Result<ReceivedPair, NoPair> {
    if let Some(why) = &sum.gone {
        return Err(NoPair::NotSure(format!("there is no sound: {why}")));
    }
    let copied = sum.followed.iter().filter(|one| one.copied);
    let now: Vec<_> = copied
        .filter_map(|one| read(sum, own, &one.signal))
        .collect();
    let ended = sum.ended.iter().filter_map(|one| read(sum, own, one));
    let read = match now.len() {
        // One that ended a moment ago may have been read later than one that is silent.
        0 | 1 => ended
            .chain(now)
            .max_by(|a, b| a.last_s.total_cmp(&b.last_s)),
        _ => Some(pointed_at(sum, now)?),
    };
    let read =
        read.ok_or_else(|| NoPair::Nobody(format!("nobody was copied in the last {LATE_S:.0} s")))?;
    if read.count < FEWEST || read.quality < GOOD {
        return Err(NoPair::NotSure(format!(
            "the copy of the pair is not sure yet ({} characters, {:.0} % sure)",
            read.count,
            100.0 * read.quality
        )));
    }
    Ok(ReceivedPair {
        tones: tones(read.signal),
        sideband: sum.in_use.sideband,
        rate_baud: read.signal.rate_baud,
    })
}

/// Its tones about its middle. Their distance is the usual one that the measurement agrees with, if
/// any: of a smoothly keyed signal it is measured a hertz or two too short, and would shrink from over
/// to over between two who follow each other.
fn tones(signal: &Signal) -> Tones {
    let measured = signal.tones();
    let half_hz = signal.usual_shift_hz.unwrap_or(measured.shift_hz()) / 2.0;
    let middle_hz = measured.middle_hz();
    Tones::of_pair(middle_hz - half_hz, middle_hz + half_hz, measured.sense())
}

/// Where several are copied, the one that a person points at.
fn pointed_at<'a>(sum: &Snapshot, read: Vec<Read<'a>>) -> Result<Read<'a>, NoPair> {
    let count = read.len();
    let nearest = sum.in_use.hold.at_hz.and_then(|at_hz| {
        let off = |one: &Read| (one.signal.tones().middle_hz() - at_hz).abs();
        read.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)))
    });
    nearest.ok_or_else(|| {
        let why = format!("{count} signals are copied: touch the one that is meant in the strip");
        NoPair::NotSure(why)
    })
}

/// How a signal was read of late; `None` = it was not.
fn read<'a>(sum: &Snapshot, own: &[(f64, f64)], signal: &'a Signal) -> Option<Read<'a>> {
    let is_own = |at_s: f64| {
        own.iter()
            .any(|(from, to)| (*from..*to + OWN_S).contains(&at_s))
    };
    let of_it = sum.sheet.iter().rev().take(LATEST);
    let of_it = of_it.filter(|c| c.signal == signal.id && !is_own(c.start_s));
    let latest: Vec<_> = of_it.take(JUDGED).collect();
    let last_s = latest.first()?.start_s;
    let sum_of: f32 = latest.iter().map(|c| c.probability).sum();
    (sum.until_s - last_s < LATE_S).then(|| Read {
        signal,
        last_s,
        count: latest.len(),
        quality: sum_of / latest.len() as f32,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::testing::{character, signal};
    use crate::report::Followed;
    use crate::settings::{Hold, InUse};
    use markhold_sound::Sideband;

    /// Signals of these names, tones and characters, the last of each at its time.
    fn sum(signals: &[(u32, f64, usize, f64)]) -> Snapshot {
        let mut sum = Snapshot {
            until_s: 100.0,
            in_use: InUse {
                sideband: Some(Sideband::Upper),
                ..InUse::default()
            },
            ..Snapshot::default()
        };
        for &(id, mark_hz, count, last_s) in signals {
            let mut signal = signal(id);
            (signal.mark_hz, signal.space_hz) = (mark_hz, mark_hz + 171.0);
            signal.usual_shift_hz = None;
            sum.followed.push(Followed {
                signal,
                quality: Some(0.95),
                characters: count as u64,
                copied: true,
            });
            let times = (0..count).rev().map(|k| last_s - 0.2 * k as f64);
            sum.sheet.extend(times.map(|at_s| character(id, at_s, 'R')));
        }
        sum
    }

    fn mark_hz(sum: &Snapshot) -> f64 {
        pair(sum, &[]).unwrap().tones.mark_hz
    }

    #[test]
    fn the_pair_that_is_copied_and_the_one_that_ended_a_moment_ago() {
        let mut sum = sum(&[(1, 1483.0, 30, 98.0)]);
        let found = pair(&sum, &[]).unwrap();
        assert_eq!(
            (found.tones.mark_hz, found.tones.space_hz),
            (1483.0, 1654.0)
        );
        assert_eq!(
            (found.sideband, found.rate_baud),
            (Some(Sideband::Upper), 45.45)
        );
        sum.followed[0].copied = false;
        assert!(
            matches!(pair(&sum, &[]), Err(NoPair::Nobody(_))),
            "somebody else"
        );
        let ended = sum.followed.remove(0).signal;
        sum.ended.push_back(ended);
        assert_eq!(mark_hz(&sum), 1483.0);
        sum.until_s = 98.0 + LATE_S + 1.0;
        assert!(
            matches!(pair(&sum, &[]), Err(NoPair::Nobody(_))),
            "long ago"
        );
    }

    /// Else two who follow each other would come nearer to each other's tones with each over.
    #[test]
    fn a_usual_shift_is_sent_as_it_is() {
        let mut sum = sum(&[(1, 1483.0, 30, 98.0)]);
        sum.followed[0].signal.usual_shift_hz = Some(170.0);
        let found = pair(&sum, &[]).unwrap().tones;
        assert_eq!((found.mark_hz, found.space_hz), (1483.5, 1653.5));
    }

    #[test]
    fn one_that_is_not_sure_is_none() {
        let few = sum(&[(1, 1483.0, FEWEST - 1, 98.0)]);
        assert!(matches!(pair(&few, &[]), Err(NoPair::NotSure(_))));
        let mut doubtful = sum(&[(1, 1483.0, 30, 98.0)]);
        doubtful.sheet.iter_mut().for_each(|c| c.probability = 0.7);
        let why = pair(&doubtful, &[]).unwrap_err();
        assert!(
            matches!(&why, NoPair::NotSure(why) if why.contains("70 % sure")),
            "{why:?}"
        );
        let mut unheard = sum(&[(1, 1483.0, 30, 98.0)]);
        unheard.gone = Some("the plug is out".into());
        assert!(matches!(pair(&unheard, &[]), Err(NoPair::NotSure(_))));
    }

    #[test]
    fn of_several_the_one_that_is_pointed_at() {
        let mut two = sum(&[(1, 1483.0, 30, 98.0), (2, 2125.0, 30, 99.0)]);
        let why = pair(&two, &[]).unwrap_err();
        assert!(
            matches!(&why, NoPair::NotSure(why) if why.contains("2 signals")),
            "{why:?}"
        );
        two.in_use.hold = Hold {
            at_hz: Some(1560.0),
            ..Hold::default()
        };
        assert_eq!(mark_hz(&two), 1483.0);
    }

    #[test]
    fn this_station_itself_is_nobody() {
        let sum = sum(&[(1, 1483.0, 30, 98.0)]);
        assert!(matches!(
            pair(&sum, &[(90.0, 97.5)]),
            Err(NoPair::Nobody(_))
        ));
        assert!(pair(&sum, &[(50.0, 60.0)]).is_ok());
    }
}
