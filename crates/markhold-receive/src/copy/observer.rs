//! The conditions of characters, for those who fit what is made of them. They are of no use
//! outside the receiver and do not travel with a character.

use std::sync::{Arc, Mutex, PoisonError};

use crate::event::{CharacterId, SignalId};
use crate::pair::conditions::Conditions;

/// A character and its conditions.
pub type Observed = (SignalId, CharacterId, Conditions);

/// Is shown the conditions of every decided character. Copies of one share what was shown.
#[derive(Clone, Debug, Default)]
pub struct Observer(Arc<Mutex<Vec<Observed>>>);

impl Observer {
    /// Shows a character.
    pub fn show(&self, observed: Observed) {
        let mut list = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        list.push(observed);
    }

    /// All that was shown since this was asked last.
    pub fn take(&self) -> Vec<Observed> {
        std::mem::take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}
