//! Serial ports and the radio control daemon, looked at without opening a port: opening raises RTS
//! and DTR, which may key a line or a transmitter.

use super::finding::{Finding, Part, Verdict};
use super::needed::Needed;
use markhold_wire::rig::Rig;
use markhold_wire::{may_open, ports};

/// Every port there is and every port that is needed.
pub fn look(needed: &Needed) -> Vec<Finding> {
    let mut names = ports();
    names.extend(needed.ports.iter().map(|(port, _)| port.clone()));
    names.sort();
    names.dedup();
    let mut findings: Vec<Finding> = names.iter().map(|name| port(name, needed)).collect();
    if findings.is_empty() {
        findings.push(Finding::good(
            Part::Port,
            "there is no serial port, and nothing that is set needs one",
        ));
    }
    findings.extend(needed.daemon.map(daemon));
    findings
}

fn port(name: &str, needed: &Needed) -> Finding {
    let who = needed.who_needs(name);
    let (used, worst) = match who.is_empty() {
        true => (String::new(), Verdict::Remark),
        false => (format!("; used by {}", who.join(" and ")), Verdict::Wrong),
    };
    match may_open(name) {
        Ok(()) => Finding::good(Part::Port, format!("this user may open it{used}")).of(name),
        Err(error) => {
            let (found, cure) = told(&error.to_string(), name);
            Finding::good(Part::Port, format!("{found}{used}"))
                .of(name)
                .but(worst, cure)
        }
    }
}

/// An error of a port without its name, and its remedy.
fn told(error: &str, name: &str) -> (String, String) {
    let rest = error.strip_prefix(name).unwrap_or(error);
    let rest = rest.trim_start_matches([':', ' ']);
    match rest.split_once("; ") {
        Some((found, cure)) => (found.into(), cure.into()),
        None => (rest.into(), "see docs/paper.md".into()),
    }
}

fn daemon(address: std::net::SocketAddr) -> Finding {
    let is_keyed = Rig::connect(address).and_then(|mut rig| rig.is_keyed());
    let finding = |found: String| Finding::good(Part::Daemon, found).of(address.to_string());
    match is_keyed {
        Ok(false) => {
            finding("the radio control daemon answers; the transmitter is not keyed".into())
        }
        Ok(true) => finding("the radio control daemon says that the transmitter is keyed".into())
            .but(Verdict::Wrong, "unkey it at the transmitter, now"),
        Err(error) => finding(format!("the radio control daemon does not answer: {error}")).but(
            Verdict::Wrong,
            "start it, on this computer only (-T 127.0.0.1), with the way it keys (-P RIG)",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_is_needed_and_not_there_is_wrong() {
        let needed = Needed {
            ports: vec![("/dev/no-such-port".into(), "[machine.shack]".into())],
            ..Needed::default()
        };
        let finding = port("/dev/no-such-port", &needed);
        assert_eq!(finding.verdict, Verdict::Wrong);
        assert!(finding.found.contains("[machine.shack]"), "{finding}");
        let cure = finding.cure.expect("a cure");
        assert!(cure.contains("plug the adapter in"), "{cure}");
        let nobody = port("/dev/no-such-port", &Needed::default());
        assert_eq!(nobody.verdict, Verdict::Remark);
    }

    #[test]
    fn a_daemon_that_does_not_answer_is_wrong() {
        // Nobody listens on a port that was just given back.
        let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = listener.local_addr().expect("its address");
        drop(listener);
        assert_eq!(daemon(address).verdict, Verdict::Wrong);
    }
}
