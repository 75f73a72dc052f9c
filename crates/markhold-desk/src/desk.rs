//! What all browsers share.

use crate::door::Door;
use crate::say::Say;
use crate::sheet::Sheets;
use crate::sked_book::SkedBook;
use crate::warm::{Drifted, Warm};
use markhold_page::Machine;
use markhold_station::{Delivery, Report, Station, Subscription};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// The drift is worked out anew after this long: a thousand points take a millisecond or two.
const DRIFT_EVERY: Duration = Duration::from_secs(4);

/// The machine that the sheet is laid out for where none is meant: that of international
/// telegraph practice, whose lines are the shortest.
pub fn plain_machine() -> Machine {
    markhold_page::kind("ita2-69-50").map_or_else(Machine::default, |kind| kind.machine.clone())
}

/// What all browsers share: a view of a station.
pub struct Desk {
    /// Who may come in.
    pub door: Door,
    /// The station shown.
    pub station: Station,
    /// The copy, laid out.
    pub sheets: Sheets,
    /// Where skeds are kept; without it the page shows none.
    pub skeds: OnceLock<Box<dyn SkedBook>>,
    drifted: watch::Sender<Arc<Drifted>>,
}

impl Desk {
    /// A desk for this station, with the machine that the sheet is laid out for until another
    /// is printed on, and its name if it has one.
    pub fn new(door: Door, station: Station, sheet: (Machine, Option<String>)) -> Arc<Self> {
        Arc::new(Self {
            door,
            sheets: Sheets::start(station.clone(), sheet, |changed| Say::Sheet(changed).json()),
            station,
            skeds: OnceLock::new(),
            drifted: watch::Sender::default(),
        })
    }

    /// Tells when the drift was worked out anew.
    pub fn drift(&self) -> watch::Receiver<Arc<Drifted>> {
        self.drifted.subscribe()
    }

    /// Works out the drift for as long as there is something to hear. Runs beside the server.
    pub async fn watch_drift(self: Arc<Self>) {
        let (mut warm, mut reports) = self.join_drift();
        let mut told: Option<Instant> = None;
        while let Some(delivery) = reports.next().await {
            match delivery {
                Delivery::Report(report) => match &*report {
                    Report::Followed(followed) => warm.take(followed),
                    Report::Room(_) => (warm, reports) = self.join_drift(),
                    _ => continue,
                },
                Delivery::Missed(_) => (warm, reports) = self.join_drift(),
            }
            if told.is_none_or(|t| t.elapsed() >= DRIFT_EVERY) {
                self.drifted.send_replace(Arc::new(warm.drifted()));
                told = Some(Instant::now());
            }
        }
    }

    fn join_drift(&self) -> (Warm, Subscription) {
        let (snapshot, reports) = self.station.join();
        (Warm::of(&snapshot.drift), reports)
    }
}
