//! Skeds looked after while the station listens: what becomes of each is entered on the shelf.
//!
//! The radio is heard and kept as long as the station runs, so nothing needs to be begun or ended
//! here. What is decided is [`markhold_skeds::watch`]'s business; this thread only carries clock,
//! skeds and what is heard there, and the entries to the shelf.

use crate::report::Room;
use crate::snapshot::Snapshot;
use crate::station::Station;
use jiff::{SignedDuration, Timestamp};
use markhold_event::{Sense, Signal};
use markhold_shelf::{Shelf, ShelfError};
use markhold_skeds::MarkOnAir;
use markhold_skeds::watch::{Heard, Order, Watch, World};
use markhold_sound::Sideband;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often it looks: within the half minute, with some to spare for a slow disk.
const EVERY: Duration = Duration::from_secs(20);
/// Runs due earlier than this before now are not looked at again.
const REMEMBERED: SignedDuration = SignedDuration::from_hours(31 * 24);

/// Looks after the skeds of a shelf until it is dropped.
pub struct Watching {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Watching {
    /// Begins.
    ///
    /// # Errors
    ///
    /// The system gives no thread.
    pub fn start(station: Station, place: PathBuf) -> std::io::Result<Self> {
        let (stop, stopped) = mpsc::channel();
        let watching = move || {
            let mut watch = None;
            let mut wait = Duration::ZERO;
            while let Err(RecvTimeoutError::Timeout) = stopped.recv_timeout(wait) {
                // A shelf that cannot be had is tried again at the next look; the page and the
                // terminal say elsewhere what is wrong with it.
                let _ = look(&station, &place, &mut watch);
                wait = EVERY;
            }
        };
        let thread = std::thread::Builder::new().name("skeds".into());
        Ok(Watching {
            stop: Some(stop),
            thread: Some(thread.spawn(watching)?),
        })
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            // One that died has said so by itself.
            let _ = thread.join();
        }
    }
}

fn look(station: &Station, place: &Path, watch: &mut Option<Watch>) -> Result<(), ShelfError> {
    let now = Timestamp::now();
    let mut shelf = match Shelf::open(place) {
        Err(ShelfError::Nothing { .. }) => return Ok(()),
        other => other?,
    };
    let from = now.saturating_sub(REMEMBERED).unwrap_or(now);
    let watch = match watch {
        Some(watch) => watch,
        none => none.insert(Watch::resume(shelf.runs(from)?, shelf.last_watched()?)),
    };
    let evening = shelf.being_kept()?;
    let heard = station.look_in(Room::Radio, |sum| world(sum, evening));
    let world = heard.unwrap_or_default();
    let skeds = shelf.skeds()?;
    // A sked that cannot be reckoned with is told where skeds are shown.
    let (orders, _) = watch.look(now, &skeds, jiff::tz::db(), &world);
    for order in orders {
        if let Order::Entry(run) = order {
            shelf.keep_run(&run)?;
        }
    }
    shelf.watched(now)
}

/// What is heard, as skeds see it.
fn world(sum: &Snapshot, evening: Option<i64>) -> World {
    let amiss = sum.keeping.as_ref().filter(|state| !state.is_well());
    let trouble = sum.gone.clone().map(|why| format!("no sound: {why}"));
    let followed = sum.followed.iter().map(|followed| &followed.signal);
    let signals = sum.ended.iter().chain(followed);
    World {
        evening,
        signals: signals.filter_map(|signal| heard(sum, signal)).collect(),
        trouble: trouble.or_else(|| amiss.map(|state| state.words())),
    }
}

fn heard(sum: &Snapshot, signal: &Signal) -> Option<Heard> {
    let sideband = sum.in_use.sideband;
    Some(Heard {
        signal: signal.id.0,
        shift_hz: signal.shift_hz,
        rate_baud: signal.rate_baud,
        mark: sideband.map(|sideband| on_air(signal.sense, sideband)),
        first: clock(sum, signal.begin_s)?,
        last: clock(sum, signal.until_s)?,
    })
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
        assert_eq!((second(30.0), second(61.0), second(-1.0)), (1_030, 5_001, 999));
        assert_eq!(clock(&Snapshot::default(), 0.0), None);
    }

    #[test]
    fn mark_on_the_air_is_told_by_the_sideband() {
        use Sense::{HigherTone, LowerTone};
        use Sideband::{Lower, Upper};
        let higher = [(LowerTone, Lower), (HigherTone, Upper)];
        let lower = [(HigherTone, Lower), (LowerTone, Upper)];
        assert!(higher.iter().all(|(s, b)| on_air(*s, *b) == MarkOnAir::Higher));
        assert!(lower.iter().all(|(s, b)| on_air(*s, *b) == MarkOnAir::Lower));
    }

    #[test]
    fn a_vanished_device_is_a_trouble() {
        let sum = Snapshot { gone: Some("the cable was pulled".into()), ..Snapshot::default() };
        let trouble = world(&sum, Some(3)).trouble.unwrap();
        assert_eq!(trouble, "no sound: the cable was pulled");
        assert_eq!(world(&Snapshot::default(), Some(3)).trouble, None);
    }
}
