//! The transmitter of this station.

use markhold_wire::KeyerError;
use markhold_wire::transmit::{Transmitter, TransmitterPlan};

/// Where the transmitter comes from.
pub trait Air: Send + Sync {
    /// How it is fed and keyed, as it is set now.
    ///
    /// # Errors
    ///
    /// What is wrong with the settings, in words.
    fn plan(&self) -> Result<TransmitterPlan, String>;

    /// Way and key in words, if both are set.
    fn words(&self, plan: &TransmitterPlan) -> Option<String> {
        let (way, key) = (plan.way.as_ref()?, plan.key.as_ref()?);
        Some(format!("{way}, keyed by {key}"))
    }

    /// How it stands where an over begins: somebody may have turned it meanwhile.
    fn stands(&self, plan: &TransmitterPlan) -> TransmitterPlan {
        plan.clone()
    }

    /// The next over has the tones of this plan.
    ///
    /// # Errors
    ///
    /// As [`Transmitter::set_tones`].
    fn set_tones(
        &self,
        transmitter: &mut Transmitter,
        plan: &TransmitterPlan,
    ) -> Result<(), KeyerError> {
        transmitter.set_tones(plan)
    }

    /// Opens it, unkeyed. May take a moment.
    ///
    /// # Errors
    ///
    /// As [`Transmitter::open`].
    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        Transmitter::open(plan)
    }
}

/// A station without a transmitter.
pub struct NoAir;

impl Air for NoAir {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        Ok(TransmitterPlan::default())
    }
}
