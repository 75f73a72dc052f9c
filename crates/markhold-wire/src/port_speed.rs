//! The speed of a serial port: set, then read back.
//!
//! Drivers take whole baud only, and 45 baud is 1 % slower than 45.45. A port of the
//! 8250 family divides its clock by any number, so there the divisor is set instead.
//! Other drivers round, refuse or keep a speed of their own: what they report is
//! compared with what was asked for, and the difference is shown.

use super::KeyerError;
use super::divisor::{self, Divisor};
use super::port::Port;
use serialport::SerialPort;
use std::fmt;

/// Largest error of speed that a port is used with, as a part of the speed asked for:
/// senders keep within 0.75 % (ITU-T S.3, from memory).
pub const MOST_SPEED_ERROR: f64 = 0.0075;

/// A speed as the port's driver reports it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortSpeed {
    /// Modulation rate asked for, baud.
    pub asked_baud: f64,
    /// Modulation rate that the driver set, baud.
    pub set_baud: f64,
    /// The clock, baud, and its divisor where that was set.
    pub divisor: Option<(u32, u32)>,
}

impl PortSpeed {
    /// Error of the speed, as a part of the speed asked for; above 0 = too fast.
    pub fn error(&self) -> f64 {
        self.set_baud / self.asked_baud - 1.0
    }

    /// Sets a port to a speed and reads back what came of it.
    ///
    /// Errors: the port cannot come within [`MOST_SPEED_ERROR`], or went away.
    pub(super) fn set(port: &mut Port, asked_baud: f64) -> Result<Self, KeyerError> {
        let by_divisor = divisor::set(&port.port, asked_baud);
        let by_divisor = by_divisor.map(|d| Self::of_divisor(asked_baud, d));
        if let Some(speed) = by_divisor {
            port.set_baud(divisor::MARKER_BAUD)?;
            return speed.within(&port.name);
        }
        // A driver may refuse outright; that is no port gone missing.
        let _ = port.port.set_baud_rate(asked_baud.round() as u32);
        let set = port.checked(port.port.baud_rate())?;
        let speed = PortSpeed {
            asked_baud,
            set_baud: f64::from(set),
            divisor: None,
        };
        speed.within(&port.name)
    }

    fn of_divisor(asked_baud: f64, Divisor { clock_baud, by }: Divisor) -> Self {
        PortSpeed {
            asked_baud,
            set_baud: f64::from(clock_baud) / f64::from(by),
            divisor: Some((clock_baud, by)),
        }
    }

    fn within(self, name: &str) -> Result<Self, KeyerError> {
        if self.error().abs() <= MOST_SPEED_ERROR {
            return Ok(self);
        }
        Err(KeyerError::CannotSpeed {
            what: name.to_string(),
            asked_baud: self.asked_baud,
            found: format!(
                "its driver set {self}, expected within {:.2} %",
                MOST_SPEED_ERROR * 100.0
            ),
        })
    }
}

impl fmt::Display for PortSpeed {
    /// `45.462 baud (+0.016 %, 115200 / 2534)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = self.error() * 100.0;
        write!(f, "{:.3} baud ({percent:+.3} %", self.set_baud)?;
        if let Some((clock, by)) = self.divisor {
            write!(f, ", {clock} / {by}")?;
        }
        write!(f, ")")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bench electrics: 115 200 / 2534 is 45.462 baud, +0.016 %.
    #[test]
    fn the_error_of_speed_is_shown() {
        let by = Divisor::nearest(115_200, 1.0 / 0.022).unwrap();
        let speed = PortSpeed::of_divisor(1.0 / 0.022, by);
        assert_eq!(speed.to_string(), "45.462 baud (+0.016 %, 115200 / 2534)");
        assert!(speed.within("port").is_ok());
    }

    /// Whole baud miss 45.45 by more than a sender may.
    #[test]
    fn whole_baud_will_not_do_for_22_ms() {
        let of = |asked_baud: f64| PortSpeed {
            asked_baud,
            set_baud: asked_baud.round(),
            divisor: None,
        };
        let text = of(1.0 / 0.022).within("port").unwrap_err().to_string();
        assert!(text.contains("45.000 baud (-1.000 %"), "{text}");
        assert!(text.contains("cannot send at 45.45 baud"), "{text}");
        for baud in [50.0, 56.92, 74.2, 75.0, 100.0] {
            assert!(of(baud).within("port").is_ok(), "{baud}");
        }
    }

    #[test]
    fn a_driver_that_keeps_its_own_speed_is_found_out() {
        let speed = PortSpeed {
            asked_baud: 50.0,
            set_baud: 9600.0,
            divisor: None,
        };
        assert!(matches!(
            speed.within("port"),
            Err(KeyerError::CannotSpeed { .. })
        ));
    }
}
