//! The control lines of a port as the system reports them, and what they tell of a cable when a
//! port is opened.
//!
//! Linux raises RTS and DTR at every opening, and drops them here at once. What hangs on one of
//! them was keyed for so long; an input that came up with them and went with them is wired to
//! them, or tells that something was keyed. That is all that can be seen from here: a cable that
//! gives no answer cannot be told from one that keys nothing.

use super::port_share::OsPort;
use std::time::Duration;

/// How the control lines of a port stand, `true` = asserted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Lines {
    /// Request to send, given here.
    pub rts: bool,
    /// Data terminal ready, given here.
    pub dtr: bool,
    /// Clear to send.
    pub cts: bool,
    /// Data set ready.
    pub dsr: bool,
    /// Data carrier detect.
    pub dcd: bool,
    /// Ring indicator.
    pub ri: bool,
}

impl Lines {
    /// Asks the system; `None` where it does not tell.
    pub(super) fn of(port: &OsPort) -> Option<Lines> {
        #[cfg(target_os = "linux")]
        return linux::lines(port);
        #[cfg(not(target_os = "linux"))]
        return Some(port).and(None);
    }

    fn outputs(&self) -> [(&'static str, bool); 2] {
        [("RTS", self.rts), ("DTR", self.dtr)]
    }

    fn inputs(&self) -> [(&'static str, bool); 4] {
        [
            ("CTS", self.cts),
            ("DSR", self.dsr),
            ("DCD", self.dcd),
            ("RI", self.ri),
        ]
    }

    /// The outputs that are up.
    pub(super) fn up(&self) -> Vec<&'static str> {
        let up = self.outputs().into_iter().filter(|(_, up)| *up);
        up.map(|(name, _)| name).collect()
    }
}

/// What a port told when it was opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Its name.
    pub port: String,
    /// Just after it was opened.
    pub raised: Lines,
    /// Once its wires were dropped.
    pub rested: Lines,
    /// From the one to the other, at most.
    pub lasted: Duration,
}

impl Opening {
    /// Which wires the opening raised, and for how long; `None` = none.
    pub fn told(&self) -> Option<String> {
        let up = self.raised.up();
        let ms = self.lasted.as_secs_f64() * 1e3;
        let words = || {
            format!(
                "opening {} raised {} for {ms:.2} ms",
                self.port,
                up.join(" and ")
            )
        };
        (!up.is_empty()).then(words)
    }

    /// What on the inputs answered to that; `None` = nothing did.
    pub fn answered(&self) -> Option<String> {
        let pairs = self.raised.inputs().into_iter().zip(self.rested.inputs());
        let moved: Vec<_> = pairs
            .filter(|((_, raised), (_, rested))| raised != rested)
            .map(|((name, _), _)| name)
            .collect();
        let words = || {
            format!(
                "{} of {} moved when its wires were dropped: either the plug is wired back to \
                 itself, or something was keyed by opening it",
                moved.join(" and "),
                self.port
            )
        };
        (!moved.is_empty()).then(words)
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use super::{Lines, OsPort};
    use std::os::fd::AsRawFd;

    /// `None` for what has no such lines, as a pseudo terminal.
    #[allow(unsafe_code, reason = "no library gives all lines of one moment")]
    pub(super) fn lines(port: &OsPort) -> Option<Lines> {
        let mut bits: libc::c_int = 0;
        // SAFETY: the port is open, and the call writes one int.
        let done = unsafe {
            libc::ioctl(
                port.as_raw_fd(),
                libc::TIOCMGET,
                std::ptr::from_mut(&mut bits),
            )
        };
        let is = |bit| bits & bit != 0;
        (done == 0).then(|| Lines {
            rts: is(libc::TIOCM_RTS),
            dtr: is(libc::TIOCM_DTR),
            cts: is(libc::TIOCM_CTS),
            dsr: is(libc::TIOCM_DSR),
            dcd: is(libc::TIOCM_CAR),
            ri: is(libc::TIOCM_RNG),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn opening(raised: Lines, rested: Lines) -> Opening {
        Opening {
            port: "/dev/ttyUSB0".into(),
            raised,
            rested,
            lasted: Duration::from_micros(1230),
        }
    }

    #[test]
    fn what_rose_and_what_answered_is_told() {
        let up = Lines {
            rts: true,
            dtr: true,
            dcd: true,
            ..Lines::default()
        };
        let steady = Lines {
            dcd: true,
            ..Lines::default()
        };
        let quiet = opening(up, steady);
        assert_eq!(
            quiet.told().as_deref(),
            Some("opening /dev/ttyUSB0 raised RTS and DTR for 1.23 ms")
        );
        assert_eq!(quiet.answered(), None, "an input that stands tells nothing");
        let looped = opening(Lines { cts: true, ..up }, steady);
        assert!(
            looped
                .answered()
                .unwrap()
                .starts_with("CTS of /dev/ttyUSB0 moved")
        );
        // What comes up when they go down answers as well.
        let other = opening(
            up,
            Lines {
                dsr: true,
                ..steady
            },
        );
        assert!(other.answered().unwrap().starts_with("DSR"));
        assert_eq!(opening(steady, steady).told(), None);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_pseudo_terminal_tells_nothing() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        assert_eq!(Lines::of(&slave), None);
    }
}
