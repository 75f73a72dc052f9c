//! One room of the station as browsers see it: its sheet, its drift, its sound.

use crate::say::Say;
use crate::sheet::Sheets;
use crate::warm::{Drifted, Warm};
use markhold_page::Machine;
use markhold_station::{Delivery, Report, Station, Subscription};
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};
use tokio::sync::watch;

/// The drift is worked out anew after this long: a thousand points take a millisecond or two.
const DRIFT_EVERY: Duration = Duration::from_secs(4);

/// What all browsers in one room share.
pub struct View {
    /// The station, in this room.
    pub station: Station,
    /// The copy, laid out.
    pub sheets: Sheets,
    drifted: watch::Sender<Arc<Drifted>>,
}

impl View {
    /// Of the station in this room, with the machine that the sheet is laid out for until another
    /// is printed on, and its name if it has one.
    pub fn new(station: Station, sheet: (Machine, Option<String>)) -> Arc<Self> {
        Arc::new(Self {
            sheets: Sheets::start(station.clone(), sheet, |changed| Say::Sheet(changed).json()),
            station,
            drifted: watch::Sender::default(),
        })
    }

    /// Tells when the drift was worked out anew.
    pub fn drift(&self) -> watch::Receiver<Arc<Drifted>> {
        self.drifted.subscribe()
    }
}

/// Works out the drift for as long as there is something to hear and somebody who wants it. Runs
/// beside the server.
pub async fn watch_drift(view: Weak<View>) {
    let join = || view.upgrade().map(|view| join_drift(&view.station));
    let Some((mut warm, mut reports)) = join() else {
        return;
    };
    let mut told: Option<Instant> = None;
    while let Some(delivery) = reports.next().await {
        match delivery {
            Delivery::Report(report) => match &*report {
                Report::Followed(followed) => warm.take(followed),
                Report::Room(_) => match join() {
                    Some(again) => (warm, reports) = again,
                    None => return,
                },
                _ => continue,
            },
            Delivery::Missed(_) => match join() {
                Some(again) => (warm, reports) = again,
                None => return,
            },
        }
        let Some(view) = view.upgrade() else { return };
        if told.is_none_or(|t| t.elapsed() >= DRIFT_EVERY) {
            view.drifted.send_replace(Arc::new(warm.drifted()));
            told = Some(Instant::now());
        }
    }
}

fn join_drift(station: &Station) -> (Warm, Subscription) {
    let (snapshot, reports) = station.join();
    (Warm::of(&snapshot.drift), reports)
}
