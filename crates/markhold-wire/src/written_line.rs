//! A line that only writes down what it is told.

use crate::{Keyer, KeyerError};
use markhold_code::Code;
use markhold_signal::TonePlan;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// A line that writes down what it is told, some fifty times as fast as it would go. For trials
/// of what stands above a line. Clones are the same one.
#[derive(Clone, Debug, Default)]
pub struct WrittenLine {
    codes: Arc<Mutex<Vec<Code>>>,
    tones: Arc<Mutex<Vec<TonePlan>>>,
    is_out: Arc<AtomicBool>,
}

/// How much faster it is than 45.45 baud.
const FASTER: f64 = 50.0;
/// How long a character takes.
const CHARACTER: Duration = Duration::from_millis(3);

impl WrittenLine {
    /// What it was told so far.
    pub fn codes(&self) -> Vec<Code> {
        let codes = self.codes.lock();
        codes.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The tones that it was told to make, in order.
    pub fn tones(&self) -> Vec<TonePlan> {
        let tones = self.tones.lock();
        tones.unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// From here on it is as if its plug were out.
    pub fn pull_out(&self) {
        self.is_out.store(true, Ordering::SeqCst);
    }
}

impl Keyer for WrittenLine {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        if self.is_out.load(Ordering::SeqCst) {
            return Err(KeyerError::PulledOut {
                what: "port".into(),
            });
        }
        let codes = self.codes.lock();
        codes.unwrap_or_else(PoisonError::into_inner).push(code);
        std::thread::sleep(CHARACTER);
        Ok(())
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        std::thread::sleep(Duration::from_secs_f64(seconds / FASTER));
        Ok(())
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }

    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        let tones = self.tones.lock();
        tones.unwrap_or_else(PoisonError::into_inner).push(plan);
        Ok(())
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        Ok(())
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        Ok(())
    }
}
