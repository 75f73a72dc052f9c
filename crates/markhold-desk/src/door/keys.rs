//! Keys that were handed out for a code: a browser keeps one in a cookie.

use super::NoSecrets;
use std::fmt::Write;
use std::sync::{Mutex, PoisonError};
use subtle::ConstantTimeEq;

/// Name of the cookie.
pub const COOKIE: &str = "markhold_key";
/// Bytes of a key.
const LENGTH: usize = 32;
/// Most keys held; the oldest is forgotten for the next. Nobody has so many screens.
const MOST: usize = 32;

/// The keys handed out since the start.
#[derive(Default)]
pub struct Keys {
    held: Mutex<Vec<String>>,
}

impl Keys {
    /// A new key, as 64 hexadecimal signs.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn hand_out(&self) -> Result<String, NoSecrets> {
        let mut bytes = [0_u8; LENGTH];
        getrandom::fill(&mut bytes)?;
        let mut key = String::new();
        for byte in bytes {
            // Writing to a string never fails.
            let _ = write!(key, "{byte:02x}");
        }
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.len() == MOST {
            held.remove(0);
        }
        held.push(key.clone());
        Ok(key)
    }

    /// Whether this key was handed out.
    pub fn holds(&self, key: &str) -> bool {
        let held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        // Every key is compared, and each in constant time.
        held.iter().fold(false, |found, k| {
            found | bool::from(k.as_bytes().ct_eq(key.as_bytes()))
        })
    }
}

/// The key in a `Cookie` header.
pub fn key_in(cookies: &str) -> Option<&str> {
    cookies
        .split(';')
        .find_map(|c| c.trim().strip_prefix(COOKIE)?.strip_prefix('='))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cookies_are_read() {
        assert_eq!(key_in("a=b; markhold_key=12; c=d"), Some("12"));
        assert_eq!(key_in("markhold_keyring=12"), None);
        assert_eq!(key_in(""), None);
    }

    #[test]
    fn the_oldest_key_is_forgotten() {
        let keys = Keys::default();
        let first = keys.hand_out().expect("random");
        assert_eq!(first.len(), 2 * LENGTH);
        for _ in 1..MOST {
            keys.hand_out().expect("random");
        }
        assert!(keys.holds(&first) && !keys.holds(""));
        keys.hand_out().expect("random");
        assert!(!keys.holds(&first));
    }
}
