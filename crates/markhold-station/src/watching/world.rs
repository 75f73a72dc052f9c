//! What is heard, as skeds see it.

use crate::report::Room;
use crate::snapshot::Snapshot;
use jiff::{SignedDuration, Timestamp};
use markhold_event::{Sense, Signal, SignalId};
use markhold_shelf::{Shelf, ShelfError};
use markhold_skeds::MarkOnAir;
use markhold_skeds::watch::{Heard, World};
use markhold_sound::Sideband;
use std::collections::BTreeSet;

/// What is heard in a room. A signal counts once some of its copy is there: one that is followed
/// and not copied is not kept.
pub(super) fn world(sum: &Snapshot) -> World {
    let amiss = sum.keeping.as_ref().filter(|state| !state.is_well());
    let trouble = sum.gone.clone().map(|why| format!("no sound: {why}"));
    let copied: BTreeSet<SignalId> = sum.sheet.iter().map(|c| c.signal).collect();
    let followed = sum.followed.iter().map(|followed| &followed.signal);
    let signals = sum.ended.iter().chain(followed);
    let signals = signals.filter(|signal| copied.contains(&signal.id));
    World {
        evening: sum.evening,
        signals: signals.filter_map(|signal| heard(sum, signal)).collect(),
        trouble: trouble.or_else(|| amiss.map(|state| state.words())),
        earlier: Vec::new(),
    }
}

/// What is on the shelf of an evening.
pub(super) fn kept(
    shelf: &Shelf,
    evening: i64,
    sideband: Option<Sideband>,
) -> Result<Vec<Heard>, ShelfError> {
    let about = shelf.evening(evening)?;
    let Some(reading) = about.best_reading() else {
        return Ok(Vec::new());
    };
    let heard = |number: u32, signal: &Signal| Heard {
        signal: Some(number),
        first: about.time(signal.begin_s).timestamp(),
        last: about.time(signal.until_s).timestamp(),
        ..measured(signal, sideband)
    };
    let signals = shelf.signals(reading.id)?;
    Ok(signals
        .iter()
        .filter_map(|s| s.latest().map(|signal| heard(s.number, signal)))
        .collect())
}

/// How far apart the begins of one signal may be told here, by the clock at the latest change of
/// input, and on the shelf, by the clock at the evening's begin.
const SAME: SignedDuration = SignedDuration::from_secs(1);

/// How far apart the shifts of one signal may be told, Hz: it is measured on and on.
const SAME_SHIFT_HZ: f64 = 20.0;

/// Gives what is heard the numbers that the shelf has given it: names of signals begin anew with
/// each receiver, numbers do not.
pub(super) fn numbered(heard: &mut [Heard], kept: &[Heard]) {
    for one in heard {
        let apart = |k: &&Heard| {
            let shift_hz = (k.shift_hz - one.shift_hz).abs();
            (
                shift_hz > SAME_SHIFT_HZ,
                k.first.duration_since(one.first).abs(),
            )
        };
        let nearest = kept.iter().filter(|k| apart(k).1 <= SAME).min_by_key(apart);
        one.signal = nearest.and_then(|k| k.signal);
    }
}

fn heard(sum: &Snapshot, signal: &Signal) -> Option<Heard> {
    let measured = measured(signal, sum.in_use.sideband);
    Some(Heard {
        first: clock(sum, signal.begin_s)?,
        last: clock(sum, signal.until_s)?,
        middle_khz: on_the_practice_band(sum, measured.middle_hz),
        ..measured
    })
}

/// What is heard at this pitch on the air, kHz: the practice receiver's dial is right, but for what it
/// moves while it warms up.
fn on_the_practice_band(sum: &Snapshot, heard_hz: f64) -> Option<f64> {
    let dial_hz = sum
        .practice
        .dial_hz
        .filter(|_| sum.room == Room::Practice)?;
    let hz = match sum.practice.sideband? {
        Sideband::Lower => dial_hz - heard_hz,
        Sideband::Upper => dial_hz + heard_hz,
    };
    Some(hz / 1e3)
}

/// All of it but its times and its number.
fn measured(signal: &Signal, sideband: Option<Sideband>) -> Heard {
    Heard {
        signal: None,
        shift_hz: signal.shift_hz,
        rate_baud: signal.rate_baud,
        mark: sideband.map(|sideband| on_air(signal.sense, sideband)),
        middle_hz: (signal.mark_hz + signal.space_hz) / 2.0,
        middle_khz: None,
        first: Timestamp::UNIX_EPOCH,
        last: Timestamp::UNIX_EPOCH,
    }
}

/// On the lower sideband what is lower in the sound is higher on the air.
fn on_air(sense: Sense, sideband: Sideband) -> MarkOnAir {
    match (sense, sideband) {
        (Sense::LowerTone, Sideband::Lower) | (Sense::HigherTone, Sideband::Upper) => {
            MarkOnAir::Higher
        }
        _ => MarkOnAir::Lower,
    }
}

/// Which tone of the sound is mark, where it is known which is on the air.
pub(super) fn in_sound(mark: MarkOnAir, sideband: Sideband) -> Sense {
    match (mark, sideband) {
        (MarkOnAir::Higher, Sideband::Lower) | (MarkOnAir::Lower, Sideband::Upper) => {
            Sense::LowerTone
        }
        _ => Sense::HigherTone,
    }
}

/// What the clock showed at that live time.
fn clock(sum: &Snapshot, at_s: f64) -> Option<Timestamp> {
    let before = sum.anchors.iter().rev().find(|anchor| anchor.at_s <= at_s);
    let anchor = before.or_else(|| sum.anchors.front())?;
    let since = SignedDuration::try_from_secs_f64(at_s - anchor.at_s).ok()?;
    anchor.utc.checked_add(since).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Anchor;

    #[test]
    fn live_time_is_told_by_the_anchor_before_it() {
        let anchor = |at_s: f64, second| Anchor {
            at_s,
            utc: Timestamp::from_second(second).unwrap(),
        };
        let sum = Snapshot {
            anchors: [anchor(0.0, 1_000), anchor(60.0, 5_000)].into(),
            ..Snapshot::default()
        };
        let second = |at_s| clock(&sum, at_s).unwrap().as_second();
        assert_eq!(
            (second(30.0), second(61.0), second(-1.0)),
            (1_030, 5_001, 999)
        );
        assert_eq!(clock(&Snapshot::default(), 0.0), None);
    }

    #[test]
    fn a_signal_has_the_number_of_the_shelf() {
        let heard = |signal, millisecond, shift_hz| Heard {
            signal,
            shift_hz,
            rate_baud: 45.45,
            mark: None,
            middle_hz: 2210.0,
            middle_khz: None,
            first: Timestamp::from_millisecond(millisecond).unwrap(),
            last: Timestamp::from_millisecond(90_000).unwrap(),
        };
        let kept = [
            heard(Some(1), 2_000, 170.0),
            heard(Some(2), 30_000, 170.0),
            heard(Some(3), 30_001, 850.0),
        ];
        let mut now = [
            heard(None, 30_000, 848.0),
            heard(None, 2_001, 171.0),
            heard(None, 60_000, 170.0),
        ];
        numbered(&mut now, &kept);
        assert_eq!(now.map(|one| one.signal), [Some(3), Some(1), None]);
    }

    #[test]
    fn mark_on_the_air_is_told_by_the_sideband() {
        use Sense::{HigherTone, LowerTone};
        use Sideband::{Lower, Upper};
        let higher = [(LowerTone, Lower), (HigherTone, Upper)];
        let lower = [(HigherTone, Lower), (LowerTone, Upper)];
        assert!(
            higher
                .iter()
                .all(|(s, b)| on_air(*s, *b) == MarkOnAir::Higher)
        );
        assert!(
            lower
                .iter()
                .all(|(s, b)| on_air(*s, *b) == MarkOnAir::Lower)
        );
    }

    #[test]
    fn a_full_disk_is_the_cause() {
        let keeping = |copy| Snapshot {
            keeping: Some(markhold_shelf::KeepState {
                place: "/shelf".into(),
                sound: markhold_shelf::Kept::Yes,
                copy,
            }),
            ..Snapshot::default()
        };
        let full = markhold_shelf::Kept::No {
            why: "the disk is full".into(),
            since: Timestamp::UNIX_EPOCH,
        };
        let trouble = world(&keeping(full)).trouble.unwrap();
        assert!(trouble.contains("the disk is full"), "{trouble}");
        assert_eq!(world(&keeping(markhold_shelf::Kept::Yes)).trouble, None);
    }

    #[test]
    fn a_vanished_device_is_a_trouble() {
        let sum = Snapshot {
            gone: Some("the cable was pulled".into()),
            ..Snapshot::default()
        };
        let trouble = world(&sum).trouble.unwrap();
        assert_eq!(trouble, "no sound: the cable was pulled");
        assert_eq!(world(&Snapshot::default()).trouble, None);
    }
}
