//! A transmitter's key: switched with a permit, and off from any thread.

use super::key_words::KeyWords;
use super::plan::TransmitterPlan;
use crate::control_lines::Opening;
use crate::guard::{Guard, Held, Permit, PortRest};
use crate::port::Port;
use crate::rig::Rig;
use crate::{KeyerError, Wire, command};
use std::net::SocketAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How long unkeying is tried by this process; the guardian goes on for longer.
const TRY: Duration = Duration::from_secs(1);
/// Between two tries.
const RETRY: Duration = Duration::from_millis(10);

/// What switches a transmitter.
trait Switch: Send {
    /// Keys or unkeys it, and reads back where that can be done that it is so.
    fn set(&mut self, on: bool) -> Result<(), KeyerError>;
}

/// Switches for one transmitter: for its key, and for who turns it off meanwhile.
type Pair = (Box<dyn Switch>, Box<dyn Switch>);

/// Turns a transmitter off at once and for good: what has been opened keys it no more. Clones
/// are the same switch.
#[derive(Clone)]
pub struct OffSwitch(Arc<Off>);

struct Off {
    told: AtomicBool,
    /// `None` once it has unkeyed.
    switch: Mutex<Option<Box<dyn Switch>>>,
}

impl OffSwitch {
    /// Unkeys.
    ///
    /// # Errors
    ///
    /// It is not known to be unkeyed.
    pub fn off(&self) -> Result<(), KeyerError> {
        self.0.told.store(true, Ordering::SeqCst);
        let switch = self.0.switch.lock();
        let mut switch = switch.unwrap_or_else(PoisonError::into_inner);
        // Who comes second has waited for the first, and asks no more: a radio takes its time.
        switch
            .as_mut()
            .map_or(Ok(()), |one| until_off(one.as_mut()))?;
        *switch = None;
        Ok(())
    }

    /// Whether it was turned off.
    pub fn is_off(&self) -> bool {
        self.0.told.load(Ordering::SeqCst)
    }
}

impl std::fmt::Debug for OffSwitch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "OffSwitch({})", self.is_off())
    }
}

/// Again and again for a while; the last error.
fn until_off(switch: &mut dyn Switch) -> Result<(), KeyerError> {
    let begun = Instant::now();
    loop {
        match switch.set(false) {
            Err(error) if begun.elapsed() > TRY => return Err(error),
            Err(_) => std::thread::sleep(RETRY),
            Ok(()) => return Ok(()),
        }
    }
}

/// The key of an open transmitter. Dropping it unkeys.
pub(super) struct Key {
    // State.
    switch: Box<dyn Switch>,
    off: OffSwitch,
    keyed: bool,
    /// `None` where nothing here keys it.
    permit: Option<Permit>,
    /// Of a port of its own.
    opening: Option<Opening>,
    /// Dropped last. `None` where the line's own guardian holds the key.
    _guard: Option<Guard>,
}

impl Key {
    /// Opens the key of a plan, unkeyed. `beside` is the port of the line with its permit,
    /// where a wire of it is the key.
    pub fn open(
        plan: &TransmitterPlan,
        beside: Option<(Port, Permit)>,
    ) -> Result<Self, KeyerError> {
        match plan.key() {
            KeyWords::ByHand => Ok(Self::new((Box::new(ByHand), Box::new(ByHand)), None, None)),
            KeyWords::Wire(wire, None) => {
                let (port, permit) = beside.ok_or_else(no_port)?;
                Ok(Self::new(wires(port, wire)?, Some(permit), None))
            }
            KeyWords::Wire(wire, Some(name)) => wire_of(&name, wire),
            KeyWords::Daemon(address) => {
                let pair: Pair = (Box::new(ByRig::of(address)), Box::new(ByRig::of(address)));
                Self::guarded(pair, Held::rig(address))
            }
            KeyWords::Command => {
                let by = || Box::new(ByCommand(plan.key_on.clone(), plan.key_off.clone()));
                Self::guarded((by(), by()), Held::command(plan.key_off.clone()))
            }
        }
    }

    /// A key that nobody opened, for a line that goes into a file.
    pub fn none() -> Self {
        Self::new((Box::new(ByHand), Box::new(ByHand)), None, None)
    }

    fn guarded(mut pair: Pair, held: Held) -> Result<Self, KeyerError> {
        until_off(pair.0.as_mut())?;
        let guard = Guard::arm(vec![held], Duration::MAX)?;
        Ok(Self::new(pair, Some(guard.permit()), Some(guard)))
    }

    fn new((switch, off): Pair, permit: Option<Permit>, guard: Option<Guard>) -> Self {
        let off = OffSwitch(Arc::new(Off {
            told: AtomicBool::new(false),
            switch: Mutex::new(Some(off)),
        }));
        Key {
            switch,
            off,
            keyed: false,
            permit,
            opening: None,
            _guard: guard,
        }
    }

    /// What a port of its own told when it was opened.
    pub fn opening(&self) -> Option<&Opening> {
        self.opening.as_ref()
    }

    pub fn off_switch(&self) -> OffSwitch {
        self.off.clone()
    }

    /// Keys. Asked before and after, so that what was turned off in between does not stay keyed.
    pub fn on(&mut self) -> Result<(), KeyerError> {
        self.check()?;
        self.keyed = true;
        self.moves();
        let done = self.switch.set(true).and_then(|()| self.check());
        done.inspect_err(|_| {
            let _ = self.unkey();
        })
    }

    /// Unkeys.
    ///
    /// # Errors
    ///
    /// It is not known to be unkeyed.
    pub fn off(&mut self) -> Result<(), KeyerError> {
        if !self.off.is_off() {
            return self.unkey();
        }
        self.off.off()?;
        self.rests();
        Ok(())
    }

    fn unkey(&mut self) -> Result<(), KeyerError> {
        until_off(self.switch.as_mut())?;
        self.rests();
        Ok(())
    }

    fn rests(&mut self) {
        self.keyed = false;
        if let Some(permit) = &self.permit {
            permit.rests();
        }
    }

    /// What is sent goes on, and may.
    pub fn go_on(&self) -> Result<(), KeyerError> {
        self.moves();
        self.check()
    }

    fn moves(&self) {
        if let Some(permit) = self.permit.as_ref().filter(|_| self.keyed) {
            permit.moves();
        }
    }

    fn check(&self) -> Result<(), KeyerError> {
        if self.off.is_off() {
            return Err(KeyerError::TurnedOff);
        }
        self.permit.as_ref().map_or(Ok(()), Permit::check)
    }
}

impl Drop for Key {
    /// However its thread ends.
    fn drop(&mut self) {
        if self.keyed {
            let _ = self.off();
        }
    }
}

fn no_port() -> KeyerError {
    KeyerError::Setting {
        what: "the key of the transmitter",
        found: "a wire of the port that keys the line, which has none".into(),
        expected: "rts:PORT or dtr:PORT, or a line keyed through a port".into(),
    }
}

/// A wire of a port of its own. Both wires are dropped at once, for opening a port makes them
/// rise.
fn wire_of(name: &str, wire: Wire) -> Result<Key, KeyerError> {
    let mut port = Port::open(name)?;
    // The key first: its fellow may be missing.
    port.set(wire, false)?;
    let other = match wire {
        Wire::Rts => Wire::Dtr,
        Wire::Dtr => Wire::Rts,
    };
    let _ = port.set(other, false);
    let opening = port.opening();
    let rest = PortRest {
        name: name.into(),
        rts: (wire == Wire::Rts).then_some(false),
        dtr: (wire == Wire::Dtr).then_some(false),
        ..PortRest::default()
    };
    let held = Held::port(rest, &port)?;
    let mut key = Key::guarded(wires(port, wire)?, held)?;
    key.opening = opening;
    Ok(key)
}

fn wires(port: Port, wire: Wire) -> Result<Pair, KeyerError> {
    let other = port.another()?;
    let of = |port| Box::new(ByWire { port, wire }) as Box<dyn Switch>;
    Ok((of(port), of(other)))
}

/// Nothing here keys it.
struct ByHand;

impl Switch for ByHand {
    fn set(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }
}

struct ByWire {
    port: Port,
    wire: Wire,
}

impl Switch for ByWire {
    /// A port that is gone keys nothing any more: its wires fall.
    fn set(&mut self, on: bool) -> Result<(), KeyerError> {
        match self.port.set(self.wire, on) {
            Err(KeyerError::PulledOut { .. }) if !on => Ok(()),
            done => done,
        }
    }
}

struct ByCommand(Vec<String>, Vec<String>);

impl Switch for ByCommand {
    fn set(&mut self, on: bool) -> Result<(), KeyerError> {
        let words = if on { &self.0 } else { &self.1 };
        command::run(words).map_err(|source| failed("the key of the transmitter", source, on))
    }
}

/// By the radio control daemon, over a connection of its own.
struct ByRig {
    address: SocketAddr,
    rig: Option<Rig>,
}

impl ByRig {
    fn of(address: SocketAddr) -> Self {
        ByRig { address, rig: None }
    }

    fn ask(&mut self, on: bool) -> std::io::Result<()> {
        let rig = match self.rig.take() {
            Some(rig) => self.rig.insert(rig),
            None => self.rig.insert(Rig::connect(self.address)?),
        };
        if !on {
            return rig.unkey();
        }
        rig.key(true)?;
        match rig.is_keyed()? {
            true => Ok(()),
            false => Err(std::io::Error::other("it says that it is not keyed")),
        }
    }
}

impl Switch for ByRig {
    fn set(&mut self, on: bool) -> Result<(), KeyerError> {
        self.ask(on).map_err(|source| {
            // Whatever was on its way there is not waited for.
            self.rig = None;
            failed(&format!("the radio daemon at {}", self.address), source, on)
        })
    }
}

fn failed(what: &str, source: std::io::Error, on: bool) -> KeyerError {
    let what = what.to_string();
    match on {
        true => KeyerError::Io { what, source },
        false => KeyerError::StillKeyed {
            what,
            why: source.to_string(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::testing::Fake;

    fn by_daemon(fake: &Fake) -> Key {
        let pair = || -> Box<dyn Switch> { Box::new(ByRig::of(fake.address)) };
        Key::new((pair(), pair()), None, None)
    }

    #[test]
    fn keyed_unkeyed_and_unkeyed_when_dropped() {
        let fake = Fake::start();
        let keyed = || fake.keyed.load(Ordering::SeqCst);
        let mut key = by_daemon(&fake);
        key.on().unwrap();
        assert!(keyed());
        key.off().unwrap();
        assert!(!keyed());
        key.on().unwrap();
        fake.deaf.store(3, Ordering::SeqCst);
        drop(key);
        assert!(!keyed());
    }

    #[test]
    fn turned_off_it_is_keyed_no_more() {
        let fake = Fake::start();
        let mut key = by_daemon(&fake);
        let off = key.off_switch();
        key.on().unwrap();
        off.off().unwrap();
        assert!(!fake.keyed.load(Ordering::SeqCst) && off.is_off());
        assert!(matches!(key.go_on(), Err(KeyerError::TurnedOff)));
        assert!(matches!(key.on(), Err(KeyerError::TurnedOff)));
        assert!(!fake.keyed.load(Ordering::SeqCst));
    }

    #[test]
    fn a_transmitter_that_is_not_known_to_be_unkeyed_is_told() {
        let fake = Fake::start();
        let mut key = by_daemon(&fake);
        key.on().unwrap();
        fake.deaf.store(u32::MAX, Ordering::SeqCst);
        let error = key.off().unwrap_err().to_string();
        assert!(error.contains("not known to be unkeyed"), "{error}");
        fake.deaf.store(0, Ordering::SeqCst);
    }
}
