//! A contact that goes to space only while somebody watches.

use super::Permit;
use crate::{Contact, KeyerError};

/// Another contact, keyed with a permit.
pub struct Permitted<K: Contact> {
    contact: K,
    permit: Permit,
}

impl<K: Contact> Permitted<K> {
    /// Keys this contact with this permit.
    pub fn new(contact: K, permit: Permit) -> Self {
        Permitted { contact, permit }
    }

    fn mark(&mut self) -> Result<(), KeyerError> {
        self.contact.key(true)?;
        self.permit.keyed(true);
        Ok(())
    }

    /// Asked before and after, so that what was put to rest in between does not stay keyed.
    fn space(&mut self) -> Result<(), KeyerError> {
        self.permit.check()?;
        self.permit.keyed(false);
        self.contact.key(false)?;
        self.permit.check()
    }
}

impl<K: Contact> Contact for Permitted<K> {
    fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
        if mark {
            return self.mark();
        }
        self.space().inspect_err(|_| {
            let _ = self.mark();
        })
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        if on {
            self.permit.check()?;
        }
        self.contact.motor(on)?;
        if let (true, Err(error)) = (on, self.permit.check()) {
            self.contact.motor(false)?;
            return Err(error);
        }
        Ok(())
    }
}

impl<K: Contact> Drop for Permitted<K> {
    /// However its thread ends.
    fn drop(&mut self) {
        let _ = self.mark();
        let _ = self.contact.motor(false);
    }
}

#[cfg(test)]
mod tests {
    use super::super::permit::Revoked;
    use super::*;
    use std::sync::{Arc, Mutex};

    type Line = Arc<Mutex<Vec<bool>>>;

    /// Keeps what it was told; may lose its permit while it is keyed.
    struct Trace(Line, Option<Permit>);

    impl Contact for Trace {
        fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
            self.0.lock().unwrap().push(mark);
            if let Some(permit) = self.1.take() {
                permit.revoke(Revoked::GuardianGone);
            }
            Ok(())
        }

        fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
            self.key(!on)
        }
    }

    fn keyed(loses: bool, revoked: bool) -> (Permitted<Trace>, Line) {
        let (permit, line) = (Permit::new(), Line::default());
        if revoked {
            permit.revoke(Revoked::GuardianGone);
        }
        let trace = Trace(line.clone(), loses.then(|| permit.clone()));
        (Permitted::new(trace, permit), line)
    }

    #[test]
    fn without_a_permit_the_line_stays_in_mark() {
        let (mut contact, line) = keyed(false, true);
        assert!(contact.key(false).is_err() && contact.motor(true).is_err());
        assert!(contact.key(true).is_ok() && contact.motor(false).is_ok());
        assert!(line.lock().unwrap().iter().all(|mark| *mark));
    }

    #[test]
    fn a_permit_lost_while_keying_ends_in_mark() {
        let (mut contact, line) = keyed(true, false);
        assert!(contact.key(false).is_err());
        assert_eq!(*line.lock().unwrap(), [false, true]);
        let (mut contact, line) = keyed(true, false);
        assert!(contact.motor(true).is_err());
        assert_eq!(*line.lock().unwrap(), [false, true]);
    }

    #[test]
    fn dropped_in_space_it_goes_to_mark() {
        let (mut contact, line) = keyed(false, false);
        contact.key(false).unwrap();
        drop(contact);
        // Mark, and the motor off.
        assert_eq!(*line.lock().unwrap(), [false, true, true]);
    }
}
