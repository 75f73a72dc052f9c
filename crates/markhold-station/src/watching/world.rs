//! What is heard, as skeds see it.

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
    let heard = |signal: &Signal| Heard {
        first: about.time(signal.begin_s).timestamp(),
        last: about.time(signal.until_s).timestamp(),
        ..measured(signal, sideband)
    };
    let signals = shelf.signals(reading.id)?;
    Ok(signals
        .iter()
        .filter_map(|s| s.latest().map(heard))
        .collect())
}

fn heard(sum: &Snapshot, signal: &Signal) -> Option<Heard> {
    Some(Heard {
        first: clock(sum, signal.begin_s)?,
        last: clock(sum, signal.until_s)?,
        ..measured(signal, sum.in_use.sideband)
    })
}

/// All of it but its times.
fn measured(signal: &Signal, sideband: Option<Sideband>) -> Heard {
    Heard {
        signal: signal.id.0,
        shift_hz: signal.shift_hz,
        rate_baud: signal.rate_baud,
        mark: sideband.map(|sideband| on_air(signal.sense, sideband)),
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
