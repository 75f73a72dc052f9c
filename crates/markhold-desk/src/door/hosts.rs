//! Under which names the desk may be asked for.
//!
//! A page from anywhere can make a browser ask this machine for something, under any name
//! that it makes point here. Such a request carries that name in `Host`; an address cannot
//! be made to point elsewhere.

use std::net::{IpAddr, Ipv6Addr};

/// Host and port taken apart: `[::1]:8045` is `::1`.
fn name_of(host: &str) -> &str {
    if let Some(inner) = host.strip_prefix('[') {
        return inner.split(']').next().unwrap_or("");
    }
    host.split(':').next().unwrap_or("")
}

/// Whether this `Host` is one of loopback.
pub fn is_loopback_name(host: &str) -> bool {
    let name = name_of(host);
    name.eq_ignore_ascii_case("localhost")
        || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

/// Whether a request for this `Host` is for us: loopback, or where the desk is shared any
/// plain address, or this machine's name in the local network (`name.local`).
pub fn host_is_ours(host: &str, shared: bool) -> bool {
    let name = name_of(host);
    let address = name.parse::<IpAddr>().is_ok() || name.parse::<Ipv6Addr>().is_ok();
    let local = name.to_ascii_lowercase().ends_with(".local");
    is_loopback_name(host) || (shared && (address || local))
}

/// Whether a socket is asked for by the desk's own page.
pub fn origin_is_ours(origin: Option<&str>, host: &str) -> bool {
    origin
        .and_then(|o| o.strip_prefix("http://"))
        .is_some_and(|o| o.eq_ignore_ascii_case(host))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn loopback_has_few_names() {
        for host in [
            "localhost:8045",
            "LocalHost",
            "127.0.0.1:1",
            "127.9.9.9",
            "[::1]:8045",
        ] {
            assert!(host_is_ours(host, false), "{host}");
        }
        for host in [
            "",
            "example.org",
            "192.168.1.5:8045",
            "localhost.example.org",
            "[fe80::1]",
        ] {
            assert!(!host_is_ours(host, false), "{host}");
        }
    }

    #[test]
    fn shared_it_is_found_by_address_and_local_name_only() {
        for host in [
            "192.168.1.5:8045",
            "[fe80::1]:80",
            "shack.local:8045",
            "localhost",
        ] {
            assert!(host_is_ours(host, true), "{host}");
        }
        for host in ["", "example.org", "192.168.1.5.example.org", "local"] {
            assert!(!host_is_ours(host, true), "{host}");
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
    }
}
