//! The thread that keys.

use super::draft::{Draft, Typing};
use super::ears::Ears;
use super::went::Went;
use super::{Air, lock};
use markhold_event::SentLine;
use markhold_wire::transmit::{Arming, Ended, Over, Transmitter, TransmitterPlan, Writer};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex};
use std::time::Instant;

/// Where it is told what goes out.
pub(super) type TellSent = Arc<dyn Fn(SentLine) + Send + Sync>;

/// What outlives one arming.
#[derive(Clone)]
pub(super) struct Shared {
    pub air: Arc<dyn Air>,
    pub ears: Arc<dyn Ears>,
    pub tell_sent: TellSent,
    pub draft: Arc<Mutex<Draft>>,
    /// When the last over ended.
    pub over_at: Arc<Mutex<Option<Instant>>>,
    /// Number of the next line that is sent.
    pub next_line: Arc<Mutex<u64>>,
}

/// What the thread holds besides the transmitter.
pub(super) struct Overs<F> {
    pub shared: Shared,
    pub arming: Arming,
    pub on_the_air: Arc<AtomicBool>,
    /// Told why it must be off.
    pub off: F,
}

impl<F: Fn(&str)> Overs<F> {
    /// An over by each plan, until nobody holds it any more or one ends badly.
    pub fn run(self, mut transmitter: Transmitter, go: &Receiver<TransmitterPlan>) {
        for plan in go {
            let tuned = self.shared.air.set_tones(&mut transmitter, &plan);
            let why = match tuned {
                Ok(()) => self.over(&mut transmitter, &plan),
                Err(error) => Some(error.to_string()),
            };
            if let Some(why) = why {
                (self.off)(&why);
                break;
            }
        }
    }

    /// Sends one; why it must be off after it.
    fn over(&self, transmitter: &mut Transmitter, plan: &TransmitterPlan) -> Option<String> {
        let shared = &self.shared;
        let text = Typing {
            draft: Arc::clone(&shared.draft),
            longest_s: plan.longest_over_s,
        };
        let writer = match Writer::new(plan, text) {
            Ok(writer) => writer,
            Err(error) => return Some(error.to_string()),
        };
        let mut next_line = lock(&shared.next_line);
        let tell = |line| (shared.tell_sent)(line);
        let mut went = Went::new(writer, plan.figures, *next_line, &tell);
        shared.ears.sends(true);
        self.on_the_air.store(true, Ordering::SeqCst);
        let over = transmitter.over(&mut went, &self.arming);
        *next_line = went.finish(matches!(over.ended, Ended::Whole));
        drop(next_line);
        shared.ears.sends(false);
        *lock(&shared.over_at) = Some(Instant::now());
        self.on_the_air.store(false, Ordering::SeqCst);
        bad(&over)
    }
}

/// Why it must be off after this over.
fn bad(over: &Over) -> Option<String> {
    if let Err(error) = &over.unkeyed {
        return Some(error.to_string());
    }
    match &over.ended {
        Ended::Whole => None,
        Ended::TurnedOff => Some("it was turned off".into()),
        Ended::Disarmed => Some("the time it was armed for has ended".into()),
        Ended::TooLong => Some("the over was cut off at the longest over".into()),
        Ended::Failed(error) => Some(error.to_string()),
    }
}
