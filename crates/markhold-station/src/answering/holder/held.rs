//! The transmitter while it is armed: the thread that keys it, and what is known of it.

use super::super::ears::ReceivedPair;
use super::super::overs::{Overs, Shared};
use super::super::tape::Tape;
use super::Hand;
use markhold_wire::transmit::{Arming, OffSwitch, TonesFrom, Transmitter, TransmitterPlan};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{SyncSender, sync_channel};
use std::time::{Duration, Instant};

/// The transmitter while it is armed.
pub struct Held {
    // Configured.
    pub hand: Hand,
    pub plan: TransmitterPlan,
    /// What opening it told of its cable.
    pub cable: Vec<String>,
    off: OffSwitch,
    /// Begins an over; the thread ends when it is dropped, and the transmitter with it.
    pub go: SyncSender<TransmitterPlan>,
    // State.
    pub arming: Arming,
    on_the_air: Arc<AtomicBool>,
    /// Whose tones go out.
    pub tones: TonesFrom,
    /// Those of the over that is sent, or was sent last, in words.
    pub tones_told: Option<String>,
    /// The pair that those were taken from.
    pub pair: Option<ReceivedPair>,
    /// When its hand said last that it is there.
    pub heard: Instant,
    /// What is sent again and again.
    pub tape: Option<Tape>,
}

impl Held {
    /// Arms it for so long, in a thread of its own. Where an over ends badly `off` is called with
    /// what tells whether it is held still, and why it must be off.
    ///
    /// # Errors
    ///
    /// The system gives no thread; in words.
    pub fn begin(
        hand: Hand,
        plan: TransmitterPlan,
        transmitter: Transmitter,
        lasts: Duration,
        shared: Shared,
        off: impl Fn(&dyn Fn(&Held) -> bool, &str) + Send + 'static,
    ) -> Result<Self, String> {
        let (go, gone) = sync_channel(1);
        let (arming, switch) = (Arming::new(), transmitter.off_switch());
        let on_the_air = Arc::new(AtomicBool::new(false));
        let cable = transmitter.cable().notes.clone();
        let own = Arc::clone(&on_the_air);
        let overs = Overs {
            shared,
            arming: arming.clone(),
            on_the_air: Arc::clone(&on_the_air),
            off: move |why: &str| off(&|held| Arc::ptr_eq(&held.on_the_air, &own), why),
        };
        let thread = std::thread::Builder::new().name("over".into());
        let thread = thread.spawn(move || overs.run(transmitter, &gone));
        thread.map_err(|error| error.to_string())?;
        arming.arm(lasts);
        Ok(Held {
            hand,
            tones: plan.tones,
            plan,
            arming,
            off: switch,
            on_the_air,
            go,
            tones_told: None,
            pair: None,
            cable,
            heard: Instant::now(),
            tape: None,
        })
    }

    /// Whether an over is being sent.
    pub fn is_keyed(&self) -> bool {
        self.on_the_air.load(Ordering::SeqCst)
    }

    /// Unkeys at once; what became of it, in words.
    pub fn off(self, why: &str) -> String {
        self.arming.disarm();
        match self.off.off() {
            Ok(()) => format!("{why}; the transmitter is unkeyed"),
            Err(error) => error.to_string(),
        }
    }
}
