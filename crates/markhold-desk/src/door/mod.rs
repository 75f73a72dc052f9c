//! The door: who may look at the desk.
//!
//! * Loopback: everybody on this machine. The `Host` of each request must be a name of
//!   loopback, so that a page from elsewhere cannot reach the desk under a name of its own.
//! * Shared: the local network too. A browser first tells a code that is shown on the
//!   terminal; it gets a key in a cookie for it, and the code is used up. Without a key comes
//!   in who asks from this machine for a name of loopback, nobody else.
//!
//! The socket also wants the `Origin` of the desk's own page. Codes and keys end by
//! themselves; all keys can be forgotten at once, and then those who came with one are out.
//!
//! How many may stand in the door at a time, and how long, says [`Gate`].

mod codes;
mod gate;
mod headers;
mod hosts;
mod keys;

pub use codes::{Codes, Knock};
pub use gate::{Gate, MOST_HERE, MOST_OF_ONE, MOST_OUTSIDE, MOST_PAGES, Place};
pub use headers::{STRICT, policy};
pub use hosts::{Hosts, is_loopback_name, origin_is_ours, own_name};
pub use keys::{COOKIE, Keys, keys_in};

use std::net::IpAddr;
use std::time::Instant;
use tokio::sync::watch;

/// Who may come in, and what was handed out.
pub struct Door {
    // Configured.
    shared: bool,
    hosts: Hosts,
    // State.
    codes: Codes,
    keys: Keys,
    forgot: watch::Sender<()>,
}

/// By what right somebody came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Pass {
    /// From this machine.
    Here,
    /// With this key.
    Key(String),
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
            hosts: Hosts::loopback(),
            codes: Codes::none(),
            keys: Keys::default(),
            forgot: watch::Sender::default(),
        }
    }

    /// A door for the local network, in which this machine is called `own`. `show` is called
    /// with each new code to tell.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn shared(
        own: Option<&str>,
        show: impl Fn(&str) + Send + Sync + 'static,
    ) -> Result<Self, NoSecrets> {
        Ok(Self {
            shared: true,
            hosts: Hosts::shared(own),
            codes: Codes::new(show)?,
            keys: Keys::default(),
            forgot: watch::Sender::default(),
        })
    }

    /// Whether the local network is let in too.
    pub fn is_shared(&self) -> bool {
        self.shared
    }

    /// Whether a request for this `Host` may be answered at all.
    pub fn knows(&self, host: &str) -> bool {
        self.hosts.knows(host)
    }

    /// By what right somebody may come in, if at all: from this machine (`peer`) for a name
    /// of loopback, or with a key among its cookies. A peer that is not known counts as one
    /// from outside.
    pub fn pass(&self, peer: Option<IpAddr>, host: &str, cookies: &str) -> Option<Pass> {
        // An IPv4 peer may come in IPv6's clothes.
        let here = peer.is_some_and(|ip| ip.to_canonical().is_loopback());
        if !self.shared || (here && is_loopback_name(host)) {
            return Some(Pass::Here);
        }
        let now = Instant::now();
        let key = keys_in(cookies).find(|key| self.keys.holds(key, now))?;
        Some(Pass::Key(key.to_string()))
    }

    /// Whether somebody who came in may stay.
    pub fn still(&self, pass: &Pass) -> bool {
        match pass {
            Pass::Here => true,
            Pass::Key(key) => self.keys.holds(key, Instant::now()),
        }
    }

    /// Somebody from there stands at the entrance: there must be a code to tell.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn stand(&self) -> Result<(), NoSecrets> {
        self.codes.renew(Instant::now())
    }

    /// Somebody tells a code; a key for it, if it is right.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn knock(
        &self,
        code: &str,
        peer: Option<IpAddr>,
    ) -> Result<(Knock, Option<String>), NoSecrets> {
        let now = Instant::now();
        let knock = self.codes.try_code(code, peer, now)?;
        let key = match knock {
            Knock::Right => Some(self.keys.hand_out(now)?),
            _ => None,
        };
        Ok((knock, key))
    }

    /// Forgets all keys: who came with one is out. How many there were.
    pub fn forget_keys(&self) -> usize {
        let count = self.keys.forget();
        self.forgot.send_replace(());
        count
    }

    /// Tells when keys were forgotten.
    pub fn forgotten(&self) -> watch::Receiver<()> {
        self.forgot.subscribe()
    }

    /// The code to tell at present; `None` for a door that needs none, or when it is too old.
    pub fn code(&self) -> Option<String> {
        self.codes.now(Instant::now())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outside() -> Option<IpAddr> {
        Some(IpAddr::from([192, 0, 2, 7]))
    }

    const PLACE: &str = "192.0.2.1:8045";

    #[test]
    fn loopback_needs_no_code() {
        let door = Door::loopback();
        assert_eq!(door.pass(None, "localhost", ""), Some(Pass::Here));
        assert!(door.code().is_none());
        let knock = door.knock("ANYTHING", None).expect("random").0;
        assert_eq!(knock, Knock::Wrong);
    }

    #[test]
    fn outside_needs_a_key_and_a_key_needs_the_code() {
        let door = Door::shared(None, |_| {}).expect("random");
        assert!(door.pass(outside(), PLACE, "").is_none() && door.pass(None, PLACE, "").is_none());
        let code = door.code().expect("a code");
        let (knock, key) = door.knock(&code, outside()).expect("random");
        assert_eq!(knock, Knock::Right);
        let key = key.expect("a key");
        let cookie = |key: &str| format!("a=b; {COOKIE}=x; {COOKIE}={key}");
        let pass = door.pass(outside(), PLACE, &cookie(&key));
        assert_eq!(pass, Some(Pass::Key(key.clone())));
        assert!(
            door.pass(outside(), PLACE, &cookie(&format!("{key}x")))
                .is_none()
        );
        // The code is used up.
        let again = door.knock(&code, outside()).expect("random").0;
        assert_eq!(again, Knock::Wrong);
        assert!(door.still(&Pass::Key(key.clone())));
        assert_eq!(door.forget_keys(), 1);
        assert!(!door.still(&Pass::Key(key)));
    }

    /// A page from elsewhere whose name was made to point here comes from loopback, too.
    #[test]
    fn without_a_key_only_this_machine_by_a_name_of_loopback() {
        let door = Door::shared(Some("shack"), |_| {}).expect("random");
        let peers = ["127.0.0.1", "127.0.1.1", "::1", "::ffff:127.0.0.1"];
        for peer in peers.map(|ip| ip.parse().ok()) {
            assert_eq!(door.pass(peer, "localhost:8045", ""), Some(Pass::Here));
            for host in ["x.local", "shack.local", "shack", PLACE, "127.0.0.1:1.evil"] {
                assert!(door.pass(peer, host, "").is_none(), "{peer:?} {host}");
            }
        }
        assert!(door.pass(outside(), "localhost", "").is_none());
    }
}
