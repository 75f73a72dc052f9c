//! The transmitter of the practice band: nothing of it is on the air.

use super::PracticeReceiver;
use super::over_there::Sent;
use crate::answering::Air;
use markhold_sound::Sideband;
use markhold_wire::KeyerError;
use markhold_wire::transmit::{Transmitter, TransmitterPlan};
use std::sync::Arc;

/// Whose call is sent where none is set: an invented one.
const CALL: &str = "Q1ABC";

/// As the station's own transmitter is set, but for the way and the key, and in one set with the
/// practice receiver: on its sideband.
pub struct PracticeAir {
    own: Arc<dyn Air>,
    receiver: PracticeReceiver,
}

impl PracticeAir {
    /// Beside the station's own.
    pub fn new(own: Arc<dyn Air>, receiver: PracticeReceiver) -> Self {
        PracticeAir { own, receiver }
    }
}

fn sent(plan: &TransmitterPlan) -> Sent {
    Sent {
        speed: plan.speed(),
        lower_hz: plan.lower_hz,
        shift_hz: plan.shift_hz,
        reversed: plan.reversed,
    }
}

impl Air for PracticeAir {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        // Settings that are wrong keep nobody from practising.
        let own = self.own.plan().unwrap_or_default();
        Ok(TransmitterPlan {
            call: own.call.clone().or(Some(CALL.into())),
            way: None,
            key: None,
            wait_on_s: 0.0,
            wait_off_s: 0.0,
            ..own
        })
    }

    fn words(&self, _plan: &TransmitterPlan) -> Option<String> {
        Some("the practice transmitter, of which nothing is on the air".into())
    }

    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        let line = self.receiver.line();
        Ok(Transmitter::on_line(plan, line.keyer(sent(plan))))
    }

    fn stands(&self, plan: &TransmitterPlan) -> TransmitterPlan {
        TransmitterPlan {
            sideband: self.receiver.stands().sideband.unwrap_or(Sideband::Lower),
            ..plan.clone()
        }
    }

    /// Its line has codes, and no tones that could sound.
    fn set_tones(
        &self,
        _transmitter: &mut Transmitter,
        plan: &TransmitterPlan,
    ) -> Result<(), KeyerError> {
        self.receiver.line().stand(sent(plan));
        Ok(())
    }
}
