//! The door: who may look at the desk.
//!
//! * Loopback: everybody on this machine. The `Host` of each request must be a name of
//!   loopback, so that a page from elsewhere cannot reach the desk under a name of its own.
//! * Shared: the local network too. A browser first tells a code that is shown on the
//!   terminal; it gets a key in a cookie for it, and the code is used up.
//!
//! The socket also wants the `Origin` of the desk's own page.

mod codes;
mod headers;
mod hosts;
mod keys;

pub use codes::{Codes, Knock};
pub use headers::{STRICT, policy};
pub use hosts::{host_is_ours, is_loopback_name, origin_is_ours};
pub use keys::{COOKIE, Keys, key_in};

use std::net::IpAddr;

/// Who may come in, and what was handed out.
pub struct Door {
    // Configured.
    shared: bool,
    // State.
    codes: Codes,
    keys: Keys,
}

/// The system gave no random bytes: nothing can be kept secret.
#[derive(Debug, thiserror::Error)]
#[error(
    "the system gives no random numbers ({0}), so the desk cannot be shared; start it without --share"
)]
pub struct NoSecrets(#[from] getrandom::Error);

impl Door {
    /// A door for this machine only.
    pub fn loopback() -> Self {
        Self {
            shared: false,
            codes: Codes::none(),
            keys: Keys::default(),
        }
    }

    /// A door for the local network. `show` is called with each new code to tell.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn shared(show: impl Fn(&str) + Send + Sync + 'static) -> Result<Self, NoSecrets> {
        Ok(Self {
            shared: true,
            codes: Codes::new(show)?,
            keys: Keys::default(),
        })
    }

    /// Whether a request for this `Host` may be answered at all.
    pub fn knows(&self, host: &str) -> bool {
        host_is_ours(host, self.shared)
    }

    /// Whether somebody may come in: from loopback (`peer`), or with a key among its cookies.
    /// A peer that is not known counts as one from outside.
    pub fn lets_in(&self, peer: Option<IpAddr>, cookies: &str) -> bool {
        if !self.shared {
            return true;
        }
        // An IPv4 peer may come in IPv6's clothes.
        let here = peer.is_some_and(|ip| ip.to_canonical().is_loopback());
        here || key_in(cookies).is_some_and(|key| self.keys.holds(key))
    }

    /// Somebody tells a code; a key for it, if it is right.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn knock(&self, code: &str) -> Result<(Knock, Option<String>), NoSecrets> {
        let knock = self.codes.try_code(code)?;
        let key = match knock {
            Knock::Right => Some(self.keys.hand_out()?),
            _ => None,
        };
        Ok((knock, key))
    }

    /// The code to tell at present; `None` for a door that needs none.
    pub fn code(&self) -> Option<String> {
        self.codes.now()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outside() -> Option<IpAddr> {
        Some(IpAddr::from([192, 0, 2, 7]))
    }

    #[test]
    fn loopback_needs_no_code() {
        let door = Door::loopback();
        assert!(door.lets_in(None, "") && door.code().is_none());
        assert_eq!(door.knock("ANYTHING").expect("random").0, Knock::Wrong);
    }

    #[test]
    fn outside_needs_a_key_and_a_key_needs_the_code() {
        let door = Door::shared(|_| {}).expect("random");
        assert!(door.lets_in(Some(IpAddr::from([127, 0, 0, 1])), ""));
        assert!(door.lets_in("::ffff:127.0.0.1".parse().ok(), ""));
        assert!(!door.lets_in(outside(), "") && !door.lets_in(None, ""));
        let code = door.code().expect("a code");
        let (knock, key) = door.knock(&code).expect("random");
        assert_eq!(knock, Knock::Right);
        let key = key.expect("a key");
        assert!(door.lets_in(outside(), &format!("a=b; {COOKIE}={key}")));
        assert!(!door.lets_in(outside(), &format!("{COOKIE}={key}x")));
        // The code is used up.
        assert_eq!(door.knock(&code).expect("random").0, Knock::Wrong);
    }
}
