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
