//! Who listens for skeds.

use super::world::{in_sound, world};
use crate::report::Room;
use crate::settings::Hold;
use crate::snapshot::Snapshot;
use crate::station::Station;
use crate::wish::Wish;
use markhold_skeds::watch::{Held, World};
use markhold_sound::Sideband;

/// Opens a station that listens and keeps. It says why it cannot, in words.
pub type Opener = Box<dyn FnMut() -> Result<Station, String> + Send>;

/// Who listens for skeds.
pub enum Listening {
    /// Somebody does anyway in that room, and sets the receiver: nothing is begun, ended or changed
    /// for skeds.
    Always(Station, Room),
    /// Nobody does: an evening is begun when a sked is due, and ended after it.
    WhenDue {
        /// Begins one.
        open: Opener,
        /// The one that goes on.
        station: Option<Station>,
        /// Why there is none although there should be.
        trouble: Option<String>,
        /// What its receiver is held to.
        held: Held,
    },
}

impl Listening {
    /// Nobody listens yet.
    pub fn when_due(open: Opener) -> Self {
        Listening::WhenDue {
            open,
            station: None,
            trouble: None,
            held: Held::default(),
        }
    }

    /// The station that listens now.
    pub fn station(&self) -> Option<&Station> {
        match self {
            Listening::Always(station, _) => Some(station),
            Listening::WhenDue { station, .. } => station.as_ref(),
        }
    }

    /// The room that is listened in.
    fn room(&self) -> Room {
        match self {
            Listening::Always(_, room) => *room,
            Listening::WhenDue { .. } => Room::Radio,
        }
    }

    /// The sideband that is listened to, where known.
    pub(super) fn sideband(&self) -> Option<Sideband> {
        let look = |sum: &Snapshot| sum.in_use.sideband;
        self.station()?.look_in(self.room(), look)?
    }

    /// What is heard now.
    pub(super) fn world(&self) -> World {
        let heard = self.station().and_then(|s| s.look_in(self.room(), world));
        heard.unwrap_or_else(|| World {
            trouble: self.trouble(),
            ..World::default()
        })
    }

    /// Why nobody listens.
    fn trouble(&self) -> Option<String> {
        match self {
            Listening::Always(_, Room::Radio) => Some("the radio was not listened to".into()),
            Listening::Always(_, Room::Practice) => Some("nobody practised".into()),
            Listening::WhenDue { trouble, .. } => trouble.clone(),
        }
    }

    /// Begins an evening, unless one goes on. Why it cannot is told with what is heard.
    pub(super) fn begin(&mut self, hold: Held) {
        let Listening::WhenDue {
            open,
            station: station @ None,
            trouble,
            held,
        } = self
        else {
            return;
        };
        match open() {
            Ok(begun) => {
                keep_to(&begun, hold);
                (*station, *trouble, *held) = (Some(begun), None, hold);
            }
            Err(why) => *trouble = Some(why),
        }
    }

    /// Lets go of what a run that came later is not held to. What is let go is not held again in
    /// the same evening: what is being copied must not be lost by that.
    pub(super) fn loosen(&mut self, wanted: Held) {
        if let Listening::WhenDue {
            station: Some(station),
            held,
            ..
        } = self
        {
            let looser = held.common(wanted);
            if looser != *held {
                keep_to(station, looser);
                *held = looser;
            }
        }
    }

    /// Ends the evening, if it was begun for skeds.
    pub(super) fn end(&mut self) {
        if let Listening::WhenDue { station, .. } = self
            && let Some(station) = station.take()
        {
            station.stop();
        }
    }
}

/// The receiver looks for nothing else. What it cannot be held to it finds by itself, and what
/// does not fit is sorted out afterwards.
fn keep_to(station: &Station, held: Held) {
    let sideband = station.look(|sum| sum.in_use.sideband);
    let mark = held.mark.zip(sideband);
    let hold = Hold {
        at_hz: None,
        shift_hz: held.shift_hz,
        rate_baud: held.rate_baud,
        sense: mark.map(|(mark, sideband)| in_sound(mark, sideband)),
    };
    let _ = station.wish(&Wish::Hold(hold));
}
