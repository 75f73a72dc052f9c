//! Under which names the desk may be asked for.
//!
//! A page from anywhere can make a browser ask this machine for something, under any name
//! that it makes point here. Such a request carries that name in `Host`; an address cannot
//! be made to point elsewhere. So a `Host` is read strictly: what is not wholly understood is
//! nobody's name.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

/// What stands in a `Host`, less its port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Name<'a> {
    Address(IpAddr),
    Word(&'a str),
}

/// Most characters of a name (RFC 1035, 2.3.4).
const LONGEST: usize = 253;

/// `name`, `name:port` or `[address]:port` (RFC 9110, 7.2), and nothing before or behind it.
fn parse(host: &str) -> Option<Name<'_>> {
    if let Some(inner) = host.strip_prefix('[') {
        let (address, rest) = inner.split_once(']')?;
        let address = address.parse::<Ipv6Addr>().ok()?;
        return is_port(rest).then_some(Name::Address(address.into()));
    }
    let end = host.find(':').unwrap_or(host.len());
    let (name, rest) = host.split_at(end);
    if !is_port(rest) || name.is_empty() || name.len() > LONGEST {
        return None;
    }
    if let Ok(address) = name.parse::<Ipv4Addr>() {
        return Some(Name::Address(address.into()));
    }
    let plain = |b: u8| b.is_ascii_alphanumeric() || b == b'-' || b == b'.';
    name.bytes().all(plain).then_some(Name::Word(name))
}

/// Nothing, or `:` and a port.
fn is_port(rest: &str) -> bool {
    let Some(port) = rest.strip_prefix(':') else {
        return rest.is_empty();
    };
    port.bytes().all(|b| b.is_ascii_digit()) && port.parse::<u16>().is_ok()
}

/// Whether this `Host` is one of loopback.
pub fn is_loopback_name(host: &str) -> bool {
    match parse(host) {
        Some(Name::Address(address)) => address.to_canonical().is_loopback(),
        Some(Name::Word(word)) => word.eq_ignore_ascii_case("localhost"),
        None => false,
    }
}

/// The names of a desk.
#[derive(Clone, Debug, Default)]
pub struct Hosts {
    // Configured.
    shared: bool,
    /// What this machine is called in the local network, less `.local`.
    own: Option<String>,
}

impl Hosts {
    /// Those of loopback only.
    pub fn loopback() -> Self {
        Self::default()
    }

    /// Also any plain address, and `own` with or without `.local`. Of `own` that may be a
    /// longer name only the first label counts.
    pub fn shared(own: Option<&str>) -> Self {
        let label = own.and_then(|name| name.split('.').next());
        let plain =
            |l: &&str| !l.is_empty() && l.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        Self {
            shared: true,
            own: label.filter(plain).map(str::to_ascii_lowercase),
        }
    }

    /// Whether a request for this `Host` is for us.
    pub fn knows(&self, host: &str) -> bool {
        is_loopback_name(host)
            || match parse(host) {
                Some(Name::Address(_)) => self.shared,
                Some(Name::Word(word)) => self.is_own(word),
                None => false,
            }
    }

    fn is_own(&self, word: &str) -> bool {
        let word = word.to_ascii_lowercase();
        let name = word.strip_suffix(".local").unwrap_or(&word);
        self.shared && self.own.as_deref() == Some(name)
    }
}

/// What this machine calls itself.
pub fn own_name() -> Option<String> {
    #[cfg(unix)]
    let name = rustix::system::uname()
        .nodename()
        .to_str()
        .ok()?
        .to_string();
    #[cfg(not(unix))]
    let name = std::env::var("COMPUTERNAME").ok()?;
    Some(name)
}

/// Whether a socket is asked for by the desk's own page.
pub fn origin_is_ours(origin: Option<&str>, host: &str) -> bool {
    origin
        .and_then(|o| o.strip_prefix("http://"))
        .is_some_and(|o| parse(host).is_some() && o.eq_ignore_ascii_case(host))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loopback_has_few_names() {
        let hosts = Hosts::loopback();
        for host in [
            "localhost:8045",
            "LocalHost",
            "127.0.0.1:1",
            "127.9.9.9",
            "[::1]:8045",
            "[::ffff:127.0.0.1]",
        ] {
            assert!(hosts.knows(host) && is_loopback_name(host), "{host}");
        }
        for host in [
            "",
            "example.org",
            "192.168.1.5:8045",
            "localhost.example.org",
            "[fe80::1]",
            "shack.local",
        ] {
            assert!(!hosts.knows(host), "{host}");
        }
    }

    #[test]
    fn what_only_begins_like_a_name_is_none() {
        let hosts = Hosts::shared(Some("shack"));
        for host in [
            "127.0.0.1:1.evil",
            "127.0.0.1:1.evil.example:80",
            "[::1]evil",
            "[::1]evil:80",
            "[::1].evil",
            "[::1",
            "[]",
            "[127.0.0.1]",
            "::1",
            "localhost:",
            "localhost:+80",
            "localhost:80:80",
            "localhost:99999",
            "localhost ",
            " localhost",
            "user@localhost",
            "localhost/",
            "localhost.",
            "127.1",
            "0x7f.0.0.1",
            "[fe80::1%25eth0]",
            "shack.local:8045.evil",
            "l\u{f6}calhost",
        ] {
            assert!(!hosts.knows(host) && !is_loopback_name(host), "{host}");
        }
        let long = format!("{}:80", "a".repeat(300));
        assert!(!hosts.knows(&long));
    }

    #[test]
    fn shared_it_is_found_by_address_and_its_own_name_exactly() {
        let hosts = Hosts::shared(Some("Shack.example.org"));
        for host in [
            "192.168.1.5:8045",
            "[fe80::1]:80",
            "shack.local:8045",
            "SHACK.LOCAL",
            "shack:8045",
            "localhost",
        ] {
            assert!(hosts.knows(host), "{host}");
        }
        for host in [
            "",
            "example.org",
            "192.168.1.5.example.org",
            "local",
            ".local",
            "x.local",
            "shack.local.local",
            "evil.shack.local",
            "shack.example.org",
        ] {
            assert!(!hosts.knows(host), "{host}");
        }
        for nameless in [None, Some(""), Some(".local"), Some("a b")] {
            let hosts = Hosts::shared(nameless);
            assert!(!hosts.knows(".local") && !hosts.knows("x.local"));
        }
    }

    #[test]
    fn only_our_own_page_opens_the_socket() {
        assert!(origin_is_ours(
            Some("http://localhost:8045"),
            "localhost:8045"
        ));
        for origin in [
            None,
            Some("null"),
            Some("http://localhost:9"),
            Some("https://localhost:8045"),
        ] {
            assert!(!origin_is_ours(origin, "localhost:8045"), "{origin:?}");
        }
        assert!(!origin_is_ours(Some("http://"), ""));
    }
}
