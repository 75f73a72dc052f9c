//! The thread that keys.

use super::draft::{Draft, Typing};
use super::holder::{Held, Inner, lock};
use super::went::Went;
use markhold_wire::transmit::{Arming, Ended, Over, Transmitter, TransmitterPlan, Writer};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, Weak};
use std::time::Instant;

/// What the thread holds besides the transmitter.
pub(super) struct Overs {
    pub inner: Weak<Inner>,
    pub draft: Arc<Mutex<Draft>>,
    pub arming: Arming,
    pub on_the_air: Arc<AtomicBool>,
}

impl Overs {
    /// An over by each plan, until nobody holds it any more or one ends badly.
    pub fn run(self, mut transmitter: Transmitter, go: &Receiver<TransmitterPlan>) {
        for plan in go {
            let Some(inner) = self.inner.upgrade() else {
                break;
            };
            let tuned = inner.air.set_tones(&mut transmitter, &plan);
            let why = match tuned {
                Ok(()) => self.over(&inner, &mut transmitter, &plan),
                Err(error) => Some(error.to_string()),
            };
            if let Some(why) = why {
                // It may be off already, and armed again by somebody else.
                let own = |held: &mut Held| Arc::ptr_eq(&held.on_the_air, &self.on_the_air);
                inner.off_where(own, &why);
                break;
            }
        }
    }

    /// Sends one; why it must be off after it.
    fn over(
        &self,
        inner: &Inner,
        transmitter: &mut Transmitter,
        plan: &TransmitterPlan,
    ) -> Option<String> {
        let text = Typing {
            draft: Arc::clone(&self.draft),
            longest_s: plan.longest_over_s,
        };
        let writer = match Writer::new(plan, text) {
            Ok(writer) => writer,
            Err(error) => return Some(error.to_string()),
        };
        let mut next_line = lock(&inner.next_line);
        let tell = |line| (inner.tell_sent)(line);
        let mut went = Went::new(writer, plan.figures, *next_line, &tell);
        inner.ears.sends(true);
        self.on_the_air.store(true, Ordering::SeqCst);
        let over = transmitter.over(&mut went, &self.arming);
        *next_line = went.finish(matches!(over.ended, Ended::Whole));
        drop(next_line);
        inner.ears.sends(false);
        *lock(&inner.over_at) = Some(Instant::now());
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
