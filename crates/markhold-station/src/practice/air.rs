//! The transmitter of the practice band: nothing of it is on the air.

use super::key::PracticeLine;
use super::over_there::Sent;
use crate::answering::Air;
use markhold_wire::KeyerError;
use markhold_wire::transmit::{Transmitter, TransmitterPlan};
use std::sync::Arc;

/// Whose call is sent where none is set: an invented one.
const CALL: &str = "Q1ABC";

/// As the station's own transmitter is set, but for the way and the key.
pub struct PracticeAir {
    own: Arc<dyn Air>,
    line: PracticeLine,
}

impl PracticeAir {
    /// Beside the station's own.
    pub fn new(own: Arc<dyn Air>, line: PracticeLine) -> Self {
        PracticeAir { own, line }
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
        let sent = Sent {
            speed: plan.speed(),
            lower_hz: plan.lower_hz,
            shift_hz: plan.shift_hz,
            reversed: plan.reversed,
        };
        Ok(Transmitter::on_line(plan, self.line.keyer(sent)))
    }
}
