//! A line keyed by the clock: break, RTS or DTR of a serial port, switched by a thread
//! with real-time priority. For ports that cannot send five-bit words at the line's speed.
//!
//! **Caution:** the control line drives an opto-coupler or relay that is rated for the
//! loop, never the loop itself (see [`machine`](super)). An unplugged or closed port
//! leaves its wires unasserted and its sending wire at rest, which is mark here, so a
//! fault leaves the machine at rest, and so does the end of this program, in whatever way
//! it ends: a [guardian](crate::guard) watches over the line. Opening a port asserts RTS and
//! DTR for a moment (Linux always does): switch the loop on after the program, or use a
//! cable that rests when both are raised (docs/paper.md).

use super::control_lines::Opening;
use super::guard::{Guard, Held, Permit, Permitted, PortRest};
use super::line_clock::{Contact, LineClock, SystemClock};
use super::port::{Port, Wire};
use super::real_time::{ask_for_real_time, keep_in_memory};
use super::timing::Timing;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop, Stretch};
use serialport::SerialPort;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

/// What a timed line switches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KeyWire {
    /// The sending wire itself: break is space.
    Break,
    /// A control line: asserted is space.
    Control(Wire),
}

/// A port whose wire is keyed by the clock.
#[derive(Clone, Debug, PartialEq)]
pub struct TimedPlan {
    /// The port's name, `/dev/ttyUSB0` or `COM3`.
    pub port: String,
    /// The line's speed.
    pub speed: StartStop,
    /// The wire that keys the line.
    pub wire: KeyWire,
    /// The wire that switches the motor, or keys the transmitter (asserted = on), not the one
    /// that keys the line.
    pub motor: Option<Wire>,
    /// Polarity: `true` = a control line asserted is mark.
    pub inverted: bool,
    /// Longest space that is meant, s, where it is not part of a character: a dash of Morse.
    pub longest_s: f64,
}

impl TimedPlan {
    /// How the port stands when nothing is keyed.
    fn at_rest(&self) -> PortRest {
        let off = |wire| self.wires().contains(&wire).then_some(false);
        PortRest {
            name: self.port.clone(),
            rts: off(Wire::Rts),
            dtr: off(Wire::Dtr),
            break_off: self.wire == KeyWire::Break,
            ..PortRest::default()
        }
    }

    /// The control lines that are dropped at rest, first the one that keys. Its fellow goes
    /// with it even if it has nothing to do: a cable between the two rests however both are
    /// raised at the opening, and keys when the other one is down.
    fn wires(&self) -> Vec<Wire> {
        match self.wire {
            KeyWire::Control(Wire::Rts) => vec![Wire::Rts, Wire::Dtr],
            KeyWire::Control(Wire::Dtr) => vec![Wire::Dtr, Wire::Rts],
            KeyWire::Break => self.motor.into_iter().collect(),
        }
    }

    /// More than any character has in one piece, distorted ones included: start and five
    /// code elements, and two to spare. At least two beats of the guardian.
    fn longest_space(&self) -> Duration {
        const ELEMENTS: f64 = 8.0;
        let longest_s = self.longest_s.max(ELEMENTS * self.speed.element_s());
        let longest = Duration::try_from_secs_f64(longest_s);
        longest
            .unwrap_or(Duration::MAX)
            .max(Duration::from_millis(100))
    }
}

/// A wire of a port as a contact.
struct PortContact {
    wire: KeyWire,
    inverted: bool,
    motor: Option<Wire>,
    port: Port,
}

impl Contact for PortContact {
    fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
        match self.wire {
            KeyWire::Control(wire) => self.port.set(wire, mark == self.inverted),
            KeyWire::Break if mark => self.port.checked(self.port.port.clear_break()),
            KeyWire::Break => self.port.checked(self.port.port.set_break()),
        }
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.motor.map_or(Ok(()), |wire| self.port.set(wire, on))
    }
}

/// What the line's thread is asked to do.
enum Order {
    Send(Code),
    Hold(f64),
    Line(Vec<Stretch>),
    Motor(bool),
    Finish,
    Cancel,
}

/// A line on a thread of its own.
pub struct TimedKeyer {
    // Derived.
    orders: Option<SyncSender<Order>>,
    answers: Receiver<Result<(), KeyerError>>,
    thread: Option<JoinHandle<()>>,
    real_time: bool,
    timing: Arc<Mutex<Timing>>,
    /// The same port for what is switched beside the line.
    beside: Option<Port>,
    opening: Option<Opening>,
    /// Dropped last.
    guard: Option<Guard>,
}

impl TimedKeyer {
    /// Opens a port, puts its line to mark and lets a [guardian](crate::guard) watch over
    /// it: no guardian, no keying.
    ///
    /// Errors: the port is missing, busy or forbidden, or has no such wire; nobody can
    /// watch over it.
    pub fn open(plan: &TimedPlan) -> Result<Self, KeyerError> {
        if plan.motor.map(KeyWire::Control) == Some(plan.wire) {
            return Err(KeyerError::Setting {
                what: "the wire of the motor",
                found: format!("{:?}, which keys the line", plan.motor),
                expected: "another wire or none".into(),
            });
        }
        let mut contact = PortContact {
            wire: plan.wire,
            inverted: plan.inverted,
            motor: plan.motor,
            port: Port::open(&plan.port)?,
        };
        // At once, for opening a port makes RTS and DTR rise. A wire whose polarity is turned
        // goes to mark with the line's own thread, when the transmitter's wire is down.
        for wire in plan.wires() {
            contact.port.set(wire, false)?;
        }
        if !plan.inverted {
            contact.key(true)?;
        }
        let opening = contact.port.opening();
        let beside = contact.port.another()?;
        let held = Held::port(plan.at_rest(), &contact.port)?;
        let guard = Guard::arm(vec![held], plan.longest_space())?;
        let contact = Permitted::new(contact, guard.permit());
        let mut keyer = Self::start(plan.speed, contact)?;
        keyer.guard = Some(guard);
        keyer.beside = Some(beside);
        keyer.opening = opening;
        Ok(keyer)
    }

    /// Keys any contact, which nobody watches over.
    ///
    /// Errors: what the contact says when it is put to mark; the system starts no thread.
    pub fn start(speed: StartStop, contact: impl Contact + 'static) -> Result<Self, KeyerError> {
        let line = LineClock::new(speed, contact, SystemClock::new(speed.element_s()))?;
        let timing = Arc::new(Mutex::new(Timing::default()));
        let shared = timing.clone();
        let (orders, received) = sync_channel(1);
        let (answer, answers) = sync_channel(1);
        let (tell, told) = sync_channel(1);
        let thread = std::thread::Builder::new()
            .name("line".into())
            .spawn(move || {
                let real_time = ask_for_real_time();
                keep_in_memory();
                let _ = tell.send(real_time);
                work(line, &received, &answer, &shared);
            })
            .map_err(|source| KeyerError::Io {
                what: "the line's thread".into(),
                source,
            })?;
        Ok(TimedKeyer {
            orders: Some(orders),
            answers,
            thread: Some(thread),
            real_time: told.recv().unwrap_or(false),
            timing,
            beside: None,
            opening: None,
            guard: None,
        })
    }

    /// What the port told when it was opened, where anything is known.
    pub fn opening(&self) -> Option<&Opening> {
        self.opening.as_ref()
    }

    /// The port for a wire beside the line, and the permission to key it; `None` where nobody
    /// watches.
    pub(crate) fn beside(&self) -> Result<Option<(Port, Permit)>, KeyerError> {
        let (Some(port), Some(guard)) = (&self.beside, &self.guard) else {
            return Ok(None);
        };
        Ok(Some((port.another()?, guard.permit())))
    }

    /// Whether the system gave the line's thread real-time priority. Without it edges are
    /// late whenever the computer is busy.
    pub fn is_real_time(&self) -> bool {
        self.real_time
    }

    /// How late edges were since the beginning.
    pub fn timing(&self) -> Timing {
        self.timing
            .lock()
            .expect("only counting is done under it")
            .clone()
    }

    /// A watch that has ended is told at once, not with the next space.
    fn order(&mut self, order: Order) -> Result<(), KeyerError> {
        let keys = !matches!(order, Order::Finish | Order::Cancel | Order::Motor(false));
        let permit = self.guard.as_ref().filter(|_| keys).map(Guard::permit);
        permit.as_ref().map_or(Ok(()), Permit::check)?;
        let gone = || KeyerError::PulledOut {
            what: "the line's thread".into(),
        };
        let orders = self.orders.as_ref().ok_or_else(gone)?;
        orders.send(order).map_err(|_| gone())?;
        self.answers.recv().map_err(|_| gone())?
    }
}

/// Follows orders until the other end is dropped, then leaves the line in mark.
fn work(
    mut line: LineClock<impl Contact, SystemClock>,
    orders: &Receiver<Order>,
    answers: &SyncSender<Result<(), KeyerError>>,
    timing: &Mutex<Timing>,
) {
    for order in orders {
        let done = match order {
            Order::Send(code) => line.send(code),
            Order::Hold(seconds) => line.hold(seconds),
            Order::Line(stretches) => line.line(&stretches),
            Order::Motor(on) => line.motor(on),
            Order::Finish => line.finish(),
            Order::Cancel => line.cancel(),
        };
        // In the stop element, when there is time; a reader never holds the line up.
        if let Ok(mut shared) = timing.try_lock() {
            line.move_timing(&mut shared);
        }
        if answers.send(done).is_err() {
            break;
        }
    }
    let _ = line.cancel();
}

impl Keyer for TimedKeyer {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.order(Order::Send(code))
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.order(Order::Hold(seconds))
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        self.order(Order::Line(stretches.to_vec()))
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.order(Order::Motor(on))
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.order(Order::Finish)
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.order(Order::Cancel)
    }
}

impl Drop for TimedKeyer {
    /// The line is in mark when this returns.
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        self.guard = None;
    }
}

/// A contact that switches nothing: for measuring a computer without a machine.
pub struct NoContact;

impl Contact for NoContact {
    fn key(&mut self, _mark: bool) -> Result<(), KeyerError> {
        Ok(())
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }
}

/// Keys nothing for `characters` characters at this speed and says how late the edges
/// were; also whether real-time priority was given.
///
/// Run it while the computer is as busy as it will be, and ask [`Timing::verdict`].
pub fn measure(speed: StartStop, characters: u32) -> Result<(Timing, bool), KeyerError> {
    let measured = measure_on(speed, characters, |_| false)?;
    match measured.late {
        Some(error) => Err(error),
        None => Ok((measured.timing, measured.real_time)),
    }
}

/// What a trial found.
#[derive(Debug)]
pub struct Measured {
    /// How late edges were.
    pub timing: Timing,
    /// Whether real-time priority was given.
    pub real_time: bool,
    /// Characters that were broken off because an edge came far too late.
    pub broken_off: u32,
    /// What ended it.
    pub late: Option<KeyerError>,
}

/// As [`measure`], and goes on after a character that was broken off, as printing does, for as
/// long as `goes_on` says of their number.
///
/// # Errors
///
/// As [`measure`], but for edges that are late.
pub fn measure_on(
    speed: StartStop,
    characters: u32,
    goes_on: impl Fn(u32) -> bool,
) -> Result<Measured, KeyerError> {
    let mut keyer = TimedKeyer::start(speed, NoContact)?;
    let (mut broken_off, mut late) = (0, None);
    for n in 0..characters {
        // R and Y in turn have an edge at nearly every element.
        let r = Code::from_elements([false, true, false, true, false]);
        let y = Code::from_elements([true, false, true, false, true]);
        match keyer.send(if n % 2 == 0 { r } else { y }) {
            Err(error @ KeyerError::TooLate { .. }) => {
                broken_off += 1;
                if !goes_on(broken_off) {
                    late = Some(error);
                    break;
                }
            }
            sent => sent?,
        }
    }
    keyer.finish()?;
    Ok(Measured {
        timing: keyer.timing(),
        real_time: keyer.is_real_time(),
        broken_off,
        late,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Content only; a hundred times faster than any machine, too fast to be late for.
    struct Trace(Arc<Mutex<Vec<bool>>>);

    impl Contact for Trace {
        fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
            self.0.lock().unwrap().push(mark);
            Ok(())
        }

        fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
            match on {
                true => Ok(()),
                false => Err(KeyerError::Busy { what: "m".into() }),
            }
        }
    }

    #[test]
    fn orders_reach_the_line_and_errors_come_back() {
        let trace = Arc::new(Mutex::new(Vec::new()));
        let mut keyer = TimedKeyer::start(StartStop::new(1.0, 1.5), Trace(trace.clone())).unwrap();
        keyer.hold(0.0).unwrap();
        keyer.motor(true).unwrap();
        assert!(keyer.motor(false).is_err());
        assert!(keyer.hold(f64::NAN).is_err());
        keyer.cancel().unwrap();
        drop(keyer);
        // Opened, held, cancelled, dropped: mark each time.
        assert_eq!(*trace.lock().unwrap(), [true; 4]);
    }

    #[test]
    fn one_wire_cannot_do_both() {
        let plan = TimedPlan {
            port: "/dev/no-such-port".into(),
            speed: StartStop::new(50.0, 1.5),
            wire: KeyWire::Control(Wire::Rts),
            motor: Some(Wire::Rts),
            inverted: false,
            longest_s: 0.0,
        };
        let error = TimedKeyer::open(&plan).err().unwrap();
        assert!(matches!(error, KeyerError::Setting { .. }), "{error}");
    }

    /// A pty has no RTS: the error comes when the line is first put to mark.
    #[cfg(unix)]
    #[test]
    fn a_port_without_the_wire_says_so() {
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let plan = TimedPlan {
            port: slave.name().unwrap(),
            speed: StartStop::new(50.0, 1.5),
            wire: KeyWire::Control(Wire::Rts),
            motor: None,
            inverted: false,
            longest_s: 0.0,
        };
        drop(slave);
        assert!(TimedKeyer::open(&plan).is_err());
    }
}
