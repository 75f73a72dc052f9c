//! A serial port as the keyer: five-bit words, element 1 first, and the port's own
//! hardware keeps the elements' time.
//!
//! Mark is the negative level of the port's sending wire, as at rest. **That wire must
//! never touch a loop:** the loop is switched by an opto-coupler or relay rated for it
//! (see the caution in [`machine`](super)).

use super::control_lines::Opening;
use super::divisor;
use super::guard::{Guard, Held, Permit, PortRest};
use super::pace::Pace;
use super::port::{Port, Wire};
use super::port_speed::PortSpeed;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop};
use serialport::{ClearBuffer, DataBits, SerialPort, StopBits};
use std::io::Write;
use std::time::{Duration, Instant};

/// How much slower characters are given than the port could send them, as a part.
///
/// A port whose clock is slow would otherwise gather characters that `cancel` no longer
/// reaches; cheap adapters run within 0.25 % (common practice). At 45.45 baud the stop
/// element grows by half a millisecond, which a machine does not notice.
const SLACK: f64 = 0.003;

/// What a serial port sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Word {
    /// Five-bit words at the line's own speed.
    Five,
    /// The value of a code, 0 to 31, in a word of eight bits at this many baud, for an
    /// interface that makes the line itself. Characters still come at the line's pace.
    Eight(u32),
}

/// A serial port and how it is used.
#[derive(Clone, Debug, PartialEq)]
pub struct SerialPlan {
    /// The port's name, `/dev/ttyS0` or `COM1`.
    pub port: String,
    /// The line's speed.
    pub speed: StartStop,
    /// Five-bit words, or bytes for an interface.
    pub word: Word,
    /// The wire that switches the motor (asserted = on), through a relay made for it.
    pub motor: Option<Wire>,
}

/// Sends over a serial port.
pub struct SerialKeyer {
    // Configured.
    motor: Option<Wire>,
    port: Port,
    // Derived.
    speed: Option<PortSpeed>,
    opening: Option<Opening>,
    // State.
    pace: Pace,
    /// Watches over what would outlive the program: the motor's wire and the divisor. Words
    /// end in mark by themselves. Dropped last.
    guard: Option<Guard>,
}

impl SerialKeyer {
    /// Opens a port and checks that it does what the plan asks for by reading back what
    /// its driver set.
    ///
    /// Errors: the port is missing, busy or forbidden; it has no five-bit words or cannot
    /// come near enough to the speed; nobody can watch over the motor's wire or the divisor.
    pub fn open(plan: &SerialPlan) -> Result<Self, KeyerError> {
        let mut port = Port::open(&plan.port)?;
        if let Some(wire) = plan.motor {
            port.set(wire, false)?;
        }
        let opening = port.opening();
        let guard = guard(plan, &port)?;
        let speed = match plan.word {
            Word::Five => Some(set_five(&mut port, plan.speed)?),
            Word::Eight(baud) => {
                port.set_baud(baud)?;
                None
            }
        };
        let rate = speed.map_or(plan.speed.rate_baud, |speed| speed.set_baud);
        let line = StartStop::new(rate / (1.0 + SLACK), plan.speed.stop_units);
        Ok(SerialKeyer {
            motor: plan.motor,
            port,
            speed,
            opening,
            pace: Pace::new(line)?,
            guard,
        })
    }

    /// The port for a wire beside the line, and the permission to key it; `None` where nobody
    /// watches.
    pub(crate) fn beside(&self) -> Result<Option<(Port, Permit)>, KeyerError> {
        let Some(guard) = &self.guard else {
            return Ok(None);
        };
        Ok(Some((self.port.another()?, guard.permit())))
    }

    /// What the port told when it was opened, where anything is known. Wires that nothing is
    /// wanted of are left as the opening raised them.
    pub fn opening(&self) -> Option<&Opening> {
        self.opening.as_ref()
    }

    /// The speed as the driver reports it; `None` where an interface makes the line.
    pub fn speed(&self) -> Option<PortSpeed> {
        self.speed
    }

    /// Measures the speed by the time that `count` letters shifts take to leave, baud.
    ///
    /// Some drivers report a speed that the hardware does not run at. The machine turns
    /// over `count` times and prints nothing. Good to about a character in `count`.
    pub fn measure_baud(&mut self, count: u16) -> Result<f64, KeyerError> {
        self.finish()?;
        let begin = Instant::now();
        self.port
            .write(&vec![Code::LETTERS.value(); usize::from(count)])?;
        let left = self.port.port.flush().map_err(Into::into);
        self.port.checked(left)?;
        self.pace.restart();
        let units = StartStop::UNITS_BEFORE_STOP + 1.5;
        Ok(f64::from(count) * units / begin.elapsed().as_secs_f64())
    }
}

/// A guardian, where anything would outlive the program.
pub(crate) fn guard(plan: &SerialPlan, port: &Port) -> Result<Option<Guard>, KeyerError> {
    let divisor = match plan.word {
        Word::Five => divisor::found(&port.port, plan.speed.rate_baud),
        Word::Eight(_) => None,
    };
    if divisor.is_none() && plan.motor.is_none() {
        return Ok(None);
    }
    let off = |wire| (plan.motor == Some(wire)).then_some(false);
    let rest = PortRest {
        name: plan.port.clone(),
        rts: off(Wire::Rts),
        dtr: off(Wire::Dtr),
        break_off: false,
        divisor,
    };
    // Nothing is ever in space here but by the port's own clock.
    Guard::arm(vec![Held::port(rest, port)?], Duration::MAX).map(Some)
}

/// Five data bits and the speed, both read back.
pub(crate) fn set_five(port: &mut Port, speed: StartStop) -> Result<PortSpeed, KeyerError> {
    // With five-bit words the longer stop element is 1.5 units; what more is asked for
    // comes from the pace. 1.42 units get 1.5, which no machine minds.
    let stop = if speed.stop_units > 1.0 {
        StopBits::Two
    } else {
        StopBits::One
    };
    let _ = port.port.set_data_bits(DataBits::Five);
    let _ = port.port.set_stop_bits(stop);
    let found = port.checked(port.port.data_bits())?;
    if found != DataBits::Five {
        return Err(KeyerError::CannotSpeed {
            what: port.name.clone(),
            asked_baud: speed.rate_baud,
            found: format!(
                "its driver keeps words of {} bits, expected 5",
                u8::from(found)
            ),
        });
    }
    PortSpeed::set(port, speed.rate_baud)
}

impl SerialKeyer {
    /// Errors if nobody watches any more who should.
    fn watched(&self) -> Result<(), KeyerError> {
        let guard = self.guard.as_ref();
        guard.map_or(Ok(()), |guard| guard.permit().check())
    }
}

impl Drop for SerialKeyer {
    /// The motor is off, and the port as it was found, when this returns.
    fn drop(&mut self) {
        let _ = self.motor(false);
    }
}

impl Keyer for SerialKeyer {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.watched()?;
        // Given during the last stop element, so that the port never runs dry.
        self.port.write(&[code.value()])?;
        self.pace.character();
        self.port.check_there()
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.pace.hold(seconds)?;
        self.port.check_there()
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        let Some(wire) = self.motor else {
            return Ok(());
        };
        if on {
            self.watched()?;
        }
        self.port.set(wire, on)?;
        // What was put to rest meanwhile stays at rest.
        match self.watched() {
            Err(error) if on => self.port.set(wire, false).and(Err(error)),
            _ => Ok(()),
        }
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.pace.rest();
        self.port.check_there()
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.port
            .checked(self.port.port.clear(ClearBuffer::Output))?;
        self.finish()
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use serialport::TTYPort;
    use std::io::Read;

    /// A hundred times faster than any machine: content is tested here, not time.
    fn pair(word: Word) -> (TTYPort, SerialPlan) {
        let (master, slave) = TTYPort::pair().unwrap();
        let plan = SerialPlan {
            port: slave.name().unwrap(),
            speed: StartStop::new(5000.0, 1.5),
            word,
            motor: None,
        };
        // The slave's own handle closes here; the name stays while the master is open.
        (master, plan)
    }

    #[test]
    fn every_code_arrives_as_its_value() {
        let (mut master, plan) = pair(Word::Eight(9600));
        let mut keyer = SerialKeyer::open(&plan).unwrap();
        assert_eq!(keyer.speed(), None);
        for code in Code::ALL {
            keyer.send(code).unwrap();
        }
        keyer.hold(0.001).unwrap();
        keyer.motor(true).unwrap();
        keyer.finish().unwrap();
        let mut bytes = [0; 32];
        master.read_exact(&mut bytes).unwrap();
        assert_eq!(bytes.to_vec(), (0..32).collect::<Vec<u8>>());
    }

    /// A pty keeps eight bits whatever it is told: only reading back shows it.
    #[test]
    fn a_port_without_five_bit_words_is_found_out() {
        let (_master, plan) = pair(Word::Five);
        let error = SerialKeyer::open(&plan).err().unwrap();
        let text = error.to_string();
        assert!(matches!(error, KeyerError::CannotSpeed { .. }), "{text}");
        assert!(text.contains("words of 8 bits, expected 5"), "{text}");
    }

    #[test]
    fn pulled_out_and_opened_again() {
        let (master, plan) = pair(Word::Eight(9600));
        let mut keyer = SerialKeyer::open(&plan).unwrap();
        keyer.send(Code::LETTERS).unwrap();
        drop(master);
        let error = keyer.send(Code::SPACE).unwrap_err();
        assert!(matches!(error, KeyerError::PulledOut { .. }), "{error}");
        assert!(error.may_reopen() && error.to_string().contains(&plan.port));
        // Still gone: a player that tries too early learns what is missing.
        drop(keyer);
        let error = SerialKeyer::open(&plan).err().unwrap();
        assert!(error.may_reopen(), "{error}");
    }

    #[test]
    fn cancel_leaves_a_keyer_that_sends() {
        let (mut master, plan) = pair(Word::Eight(9600));
        let mut keyer = SerialKeyer::open(&plan).unwrap();
        keyer.send(Code::SPACE).unwrap();
        let mut byte = [0];
        master.read_exact(&mut byte).unwrap();
        keyer.cancel().unwrap();
        keyer.send(Code::LETTERS).unwrap();
        master.read_exact(&mut byte).unwrap();
        assert_eq!(byte, [31]);
    }
}
