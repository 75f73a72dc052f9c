//! What comes over the network: names, origins, cookies, codes, wishes.

use super::{refused, seeds, went};
use crate::{Target, Went};
use markhold_desk::door::{Hosts, is_loopback_name, keys_in, origin_is_ours, policy};
use markhold_desk::say::Ask;
use markhold_receive::Receiver;
use markhold_station::settings::InUse;

pub const DOOR: Target = Target {
    name: "door",
    try_bytes: door,
    seeds: || {
        seeds(&[
            "localhost:8045\nhttp://localhost:8045\nmarkhold_key=12; a=b",
            "127.0.0.1\nhttp://127.0.0.1\n",
            "[::1]:80\nnull\nmarkhold_key=",
            "shack.local:8045\nhttp://shack.local:8045\n;;markhold_key=1;markhold_key=2",
            "192.0.2.1:65535\nhttps://192.0.2.1\n=",
        ])
    },
    words: &[
        "localhost",
        "127.0.0.1",
        "[::1]",
        "[",
        "]",
        ":",
        ".",
        ".local",
        "shack",
        "evil",
        "@",
        "/",
        "http://",
        "\n",
        ";",
        "markhold_key=",
        "%",
        "::ffff:",
        "0x7f",
        " ",
    ],
    longest: 600,
};

/// Three lines: what stands in `Host`, `Origin` and `Cookie`.
fn door(bytes: &[u8]) -> Went {
    let text = String::from_utf8_lossy(bytes);
    let mut lines = text.split('\n');
    let mut next = || lines.next().unwrap_or_default();
    let (host, origin, cookies) = (next(), next(), next());
    let (closed, shared) = (Hosts::loopback(), Hosts::shared(Some("shack")));
    let known = (
        is_loopback_name(host),
        closed.knows(host),
        shared.knows(host),
        origin_is_ours(Some(origin), host),
    );
    assert_eq!(known.0, closed.knows(host), "{host:?}");
    assert!(
        known.2 || !known.1,
        "shared, fewer names are known: {host:?}"
    );
    if known.2 {
        assert_eq!(known.1, plainly_loopback(host), "{host:?}");
        assert!(known.1 || plainly_shared(host), "{host:?}");
    }
    // Whatever the name, the policy has its rules, no more, and names no place of elsewhere.
    let rules = |policy: &str| policy.matches("; ").count();
    let usual = policy("localhost");
    let policy = policy(host);
    assert_eq!(rules(&policy), rules(&usual), "{policy}");
    let keys = keys_in(cookies)
        .inspect(|key| assert!(!key.contains(';')))
        .count();
    went((known, keys.min(3), host.len().min(20)))
}

/// The names of loopback, told another way: by taking apart from the end.
fn plainly_loopback(host: &str) -> bool {
    let name = without_port(host);
    let name = name
        .strip_prefix('[')
        .and_then(|n| n.strip_suffix(']'))
        .unwrap_or(name);
    let address = name.parse::<std::net::IpAddr>().map(|ip| ip.to_canonical());
    name.eq_ignore_ascii_case("localhost") || address.is_ok_and(|ip| ip.is_loopback())
}

fn plainly_shared(host: &str) -> bool {
    let name = without_port(host).to_ascii_lowercase();
    let inner = name
        .strip_prefix('[')
        .and_then(|n| n.strip_suffix(']'))
        .unwrap_or(&name);
    ["shack", "shack.local"].contains(&&*name) || inner.parse::<std::net::IpAddr>().is_ok()
}

fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.parse::<u16>().is_ok() && !name.ends_with(':') => name,
        _ => host,
    }
}

pub const WISH: Target = Target {
    name: "wish",
    try_bytes: wish,
    seeds: || {
        seeds(&[
            r#"{"ask":"painted","value":7}"#,
            r#"{"ask":"inputs"}"#,
            r#"{"ask":"forget-keys"}"#,
            r#"{"ask":"sheet","value":{"columns":69,"overprint":true}}"#,
            r#"{"ask":"hold","value":{"at_hz":2210,"shift_hz":170,"rate_baud":50,"sense":"lower"}}"#,
            r#"{"ask":"let-go"}"#,
            r#"{"ask":"sideband","value":"upper"}"#,
            r#"{"ask":"target","value":{"middle":2210}}"#,
            r#"{"ask":"change","value":{"hold":{"at_hz":2210},"all":true,"language":"mark"}}"#,
            r#"{"ask":"listen","value":"alsa:hw:0"}"#,
            r#"{"ask":"practice","value":{"dial_hz":7041000,"sideband":"upper"}}"#,
            r#"{"ask":"print","value":{"machine":"shack","patience_s":2}}"#,
            r#"{"ask":"patience","value":1e400}"#,
        ])
    },
    words: &[
        "ask",
        "value",
        "hold",
        "change",
        "set",
        "print",
        "patience",
        "null",
        "true",
        "-1",
        "1e308",
        "{}",
        "[]",
        "\"",
        ":",
        ",",
        "{\"hold\":",
        "figures_row",
        "early",
        "target",
        "passband",
        "[[[[[[[[[[[[[[[[",
    ],
    longest: 16 * 1024,
};

/// What a browser sends; what is set by it, told to a receiver.
fn wish(bytes: &[u8]) -> Went {
    let asked = match Ask::of(&String::from_utf8_lossy(bytes)) {
        Ok(asked) => asked,
        Err(why) => return refused(why),
    };
    let Ask::Wish(wish) = &asked else {
        return went(std::mem::discriminant(&asked));
    };
    match wish.set(InUse::default()) {
        None => went(std::mem::discriminant(wish)),
        Some(Err(error)) => refused(error),
        Some(Ok(in_use)) => match Receiver::new(8000.0, in_use.settings()) {
            Ok(_) => went((std::mem::discriminant(wish), 1)),
            Err(error) => refused(error),
        },
    }
}
