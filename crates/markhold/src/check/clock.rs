//! The computer's clock: evenings and skeds go by it.

use super::finding::{Finding, Part, Verdict};
use jiff::{Timestamp, ZonedDateTime};
use std::process::{Command, Stdio};

/// No clock that is right shows an earlier time, s: 1 January 2026.
const EARLIEST_S: i64 = 1_767_225_600;

/// What the clock shows and whether something sets it.
pub fn look() -> Finding {
    told(&ZonedDateTime::now(), is_set_by_network())
}

/// Whether the kernel's clock is kept right by something, as the system's time service tells;
/// `None` where there is none to ask. (The kernel itself answers by a call that needs `unsafe`.)
fn is_set_by_network() -> Option<bool> {
    let mut ask = Command::new("timedatectl");
    ask.args(["show", "--property=NTPSynchronized", "--value"]);
    let answer = ask
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .output()
        .ok()?;
    match answer.stdout.trim_ascii() {
        b"yes" => Some(true),
        b"no" => Some(false),
        _ => None,
    }
}

fn told(now: &ZonedDateTime, set: Option<bool>) -> Finding {
    let zone = now
        .time_zone()
        .iana_name()
        .unwrap_or("a zone without a name");
    let shown = now.strftime("%Y-%m-%d %H:%M:%S");
    let utc = now.timestamp().strftime("%H:%M:%S");
    let finding = |rest: &str| {
        Finding::good(Part::Clock, format!("{shown} in {zone}, {utc} UTC{rest}"))
            .with("set_by_network", set)
    };
    if now.timestamp() < Timestamp::from_second(EARLIEST_S).expect("a time") {
        let cure = "set it (as root: timedatectl set-ntp true); evenings and skeds go by it";
        return finding("; that is long past").but(Verdict::Wrong, cure);
    }
    match set {
        Some(true) => finding("; kept right by the network"),
        Some(false) => finding("; nothing keeps it right").but(
            Verdict::Remark,
            "let the network set it (as root: timedatectl set-ntp true), or set it by a radio \
             clock before an evening: skeds go by it",
        ),
        None => finding("; not known whether something keeps it right").but(
            Verdict::Remark,
            "compare it with a radio clock: skeds go by it",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_is_right_set_or_long_past() {
        let at = |text: &str| text.parse::<ZonedDateTime>().expect("a time");
        let now = at("2026-11-29T20:00:00+01:00[Europe/Berlin]");
        let good = told(&now, Some(true));
        assert_eq!(good.verdict, Verdict::Good);
        assert!(good.found.contains("Europe/Berlin, 19:00:00 UTC"), "{good}");
        assert_eq!(told(&now, Some(false)).verdict, Verdict::Remark);
        assert_eq!(told(&now, None).verdict, Verdict::Remark);
        let past = told(&at("1970-01-01T01:00:00+00:00[UTC]"), Some(true));
        assert_eq!(past.verdict, Verdict::Wrong);
    }
}
