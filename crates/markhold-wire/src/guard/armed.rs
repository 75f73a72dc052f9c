//! The sender's side.

use super::guardian::{is_passing, rest_all};
use super::permit::Revoked;
use super::socket::{BEAT, END, hear_answer, send_things};
use super::{LONGEST_STILL, OWN_LIMIT, PATIENCE, PROGRAM, Permit, PortRest, Rest, Thing};
use crate::KeyerError;
use crate::port::{OsPort, Port, descriptor};
use crate::real_time::ask_for_low_real_time;
use std::io::{self, Read, Write};
use std::net::{Shutdown, SocketAddr};
use std::os::fd::OwnedFd;
use std::os::unix::net::UnixStream;
use std::process::{Child, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// A thing that is watched over, as the sender has it: it can put it to rest, too.
pub struct Held {
    thing: Thing,
    port: Option<OsPort>,
}

impl Held {
    /// An open port.
    ///
    /// # Errors
    ///
    /// The system has no descriptor left, or the port went away.
    pub(crate) fn port(rest: PortRest, port: &Port) -> Result<Self, KeyerError> {
        let port = port.checked(port.port.try_clone_native())?;
        Ok(Held {
            thing: Thing::Port(rest),
            port: Some(port),
        })
    }

    /// The transmitter of a radio control daemon.
    pub fn rig(address: SocketAddr) -> Self {
        Held {
            thing: Thing::Rig(address),
            port: None,
        }
    }

    /// What a command, its program first, unkeys.
    pub fn command(words: Vec<String>) -> Self {
        Held {
            thing: Thing::Command(words),
            port: None,
        }
    }
}

/// A guardian that has said that it is ready. Dropping it lets the guardian put everything
/// to rest, give back what was changed, and end; the port is free afterwards.
#[derive(Debug)]
pub struct Guard {
    permit: Permit,
    ending: Arc<AtomicBool>,
    socket: UnixStream,
    guardian: Option<Child>,
    /// Ends with whether the guardian hangs.
    pulse: Option<JoinHandle<bool>>,
}

impl Guard {
    /// Starts a guardian over these things. A line that stays in space for longer than
    /// `longest_space` has fallen behind.
    ///
    /// # Errors
    ///
    /// It cannot be started, or not put the things to rest.
    pub fn arm(held: Vec<Held>, longest_space: Duration) -> Result<Guard, KeyerError> {
        let program = PROGRAM
            .get()
            .ok_or_else(|| not_there(io::Error::other("no program for it is known here")))?;
        let (here, there) = UnixStream::pair().map_err(not_there)?;
        let guardian = program()
            .current_dir("/")
            .stdin(OwnedFd::from(there))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .map_err(not_there)?;
        Self::over(here, Some(guardian), held, longest_space)
    }

    fn over(
        mut socket: UnixStream,
        mut guardian: Option<Child>,
        held: Vec<Held>,
        longest_space: Duration,
    ) -> Result<Guard, KeyerError> {
        let armed = hand_over(&mut socket, &held).and_then(|()| socket.try_clone());
        let own = match armed {
            Ok(own) => own,
            Err(error) => {
                end(guardian.as_mut(), true);
                return Err(not_there(error));
            }
        };
        let (permit, ending) = (Permit::new(), Arc::new(AtomicBool::new(false)));
        let pulse = Pulse {
            permit: permit.clone(),
            ending: Arc::clone(&ending),
            socket: own,
            held: own_things(held),
            longest_space,
            told_to_end: false,
        };
        let thread = std::thread::Builder::new().name("pulse".into());
        // Without the thread its socket closes, and the guardian ends.
        let thread = thread.spawn(move || pulse.run()).map_err(not_there)?;
        Ok(Guard {
            permit,
            ending,
            socket,
            guardian,
            pulse: Some(thread),
        })
    }

    /// The permission to key.
    pub fn permit(&self) -> Permit {
        self.permit.clone()
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        self.ending.store(true, Ordering::Release);
        let _ = self.socket.write_all(&[END]);
        let pulse = self.pulse.take().map(JoinHandle::join);
        let hangs = matches!(pulse, Some(Ok(true)));
        end(
            self.guardian.as_mut(),
            hangs || self.permit.guardian_hangs(),
        );
    }
}

fn hand_over(socket: &mut UnixStream, held: &[Held]) -> io::Result<()> {
    socket.set_read_timeout(Some(PATIENCE))?;
    let things: Vec<_> = held.iter().map(|held| held.thing.clone()).collect();
    let ports = held.iter().filter_map(|held| held.port.as_ref());
    let ports: Vec<_> = ports.map(descriptor).collect();
    send_things(socket, &things, &ports)?;
    hear_answer(socket)
}

/// The same things for the sender's own use.
fn own_things(held: Vec<Held>) -> Vec<Box<dyn Rest>> {
    let own = |held: Held| held.thing.held(held.port).ok();
    held.into_iter().filter_map(own).collect()
}

/// Waits for a guardian that has no sender any more. One that hangs is ended; one that works
/// on, because something will not go to rest, is left to it.
fn end(guardian: Option<&mut Child>, hangs: bool) {
    let Some(guardian) = guardian else { return };
    if hangs {
        let _ = guardian.kill();
    }
    let asked = Instant::now();
    while matches!(guardian.try_wait(), Ok(None)) && asked.elapsed() < PATIENCE {
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn not_there(error: io::Error) -> KeyerError {
    KeyerError::Unguarded {
        what: format!("the process that watches over the line cannot begin: {error}"),
        remedy: "close programs, then try again".into(),
    }
}

/// Beats, and listens for the echo.
struct Pulse {
    permit: Permit,
    ending: Arc<AtomicBool>,
    socket: UnixStream,
    held: Vec<Box<dyn Rest>>,
    longest_space: Duration,
    /// Whether the guardian said that it was told to end.
    told_to_end: bool,
}

impl Pulse {
    /// Whether the guardian hangs at the end: it neither echoes nor was it heard to be told to end.
    fn run(mut self) -> bool {
        let _ = ask_for_low_real_time();
        let why = self.beat();
        let hangs = matches!(why, Revoked::GuardianSilent(_)) && !self.told_to_end;
        // A permit may have been found too old by who keys, who then ended it all: nobody
        // else is left to put back what was changed. Nor is anybody where the guardian hangs.
        if !self.ending.load(Ordering::Acquire) || self.permit.is_revoked() || hangs {
            // First the permit, then the rest: who keys just now asks once more afterwards.
            self.permit.revoke(why);
            rest_all(&mut self.held);
            let _ = self.socket.shutdown(Shutdown::Both);
        }
        self.held.iter_mut().for_each(|thing| thing.give_back());
        hangs
    }

    /// Beats until something is wrong, or the guardian was told to end.
    fn beat(&mut self) -> Revoked {
        let mut next = Instant::now();
        loop {
            let now = Instant::now();
            let late = now.saturating_duration_since(next);
            if late > OWN_LIMIT {
                return Revoked::HeldUp(late.as_millis() as u64);
            }
            if self.permit.in_space() > self.longest_space {
                return Revoked::Stuck(self.permit.in_space().as_millis() as u64);
            }
            if self.permit.still() > LONGEST_STILL {
                return Revoked::Still(self.permit.still().as_millis() as u64);
            }
            if self.permit.is_revoked() {
                return Revoked::GuardianGone;
            }
            self.permit.beats();
            if now >= next {
                if self.socket.write_all(&[BEAT]).is_err() {
                    return Revoked::GuardianGone;
                }
                next = now + super::BEAT;
            }
            match self.listen(next) {
                Ok(true) => self.permit.heard(),
                Ok(false) => {}
                Err(why) => return why,
            }
        }
    }

    /// Whether the guardian was heard until then.
    fn listen(&mut self, until: Instant) -> Result<bool, Revoked> {
        let left = until.saturating_duration_since(Instant::now());
        let left = left.max(Duration::from_millis(1));
        let read = self.socket.set_read_timeout(Some(left));
        let mut bytes = [0; 64];
        match read.and_then(|()| self.socket.read(&mut bytes)) {
            Ok(0) => Err(Revoked::GuardianGone),
            Ok(count) => {
                self.told_to_end |= bytes[..count].contains(&END);
                Ok(true)
            }
            Err(error) if is_passing(&error) => {
                let silent_ms = self.permit.silent_ms();
                match silent_ms > OWN_LIMIT.as_millis() as u64 {
                    true => Err(Revoked::GuardianSilent(silent_ms)),
                    false => Ok(false),
                }
            }
            Err(_) => Err(Revoked::GuardianGone),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Ending, watch_over};
    use super::*;

    type Watch = JoinHandle<io::Result<Ending>>;

    fn armed(longest_space: Duration) -> (Guard, Watch) {
        let (here, there) = UnixStream::pair().unwrap();
        let watch = std::thread::spawn(move || watch_over(there));
        let guard = Guard::over(here, None, Vec::new(), longest_space).unwrap();
        (guard, watch)
    }

    fn revoked(permit: &Permit) -> String {
        while permit.check().is_ok() {
            std::thread::sleep(Duration::from_millis(5));
        }
        permit.check().unwrap_err().to_string()
    }

    #[test]
    fn a_guard_lasts_until_it_is_dropped() {
        let (guard, watch) = armed(PATIENCE);
        std::thread::sleep(super::super::LIMIT * 2);
        assert!(guard.permit().check().is_ok() && !watch.is_finished());
        drop(guard);
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Ended);
    }

    #[test]
    fn a_line_that_stays_in_space_ends_the_watch() {
        let (guard, watch) = armed(Duration::from_millis(60));
        guard.permit().keyed(false);
        let words = revoked(&guard.permit());
        assert!(words.contains("stayed in space"), "{words}");
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Died);
    }

    #[test]
    fn a_keyed_transmitter_that_sends_nothing_ends_the_watch() {
        let (guard, watch) = armed(PATIENCE);
        guard.permit().moves();
        let words = revoked(&guard.permit());
        assert!(words.contains("nothing was sent"), "{words}");
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Died);
    }

    #[test]
    fn a_guardian_that_dies_or_hangs_is_noticed() {
        for hangs in [false, true] {
            let (here, mut there) = UnixStream::pair().unwrap();
            let answers = std::thread::spawn(move || {
                super::super::socket::answer(&mut there, Ok(())).unwrap();
                there
            });
            let guard = Guard::over(here, None, Vec::new(), PATIENCE).unwrap();
            let there = answers.join().unwrap();
            let kept = hangs.then(|| there.try_clone().unwrap());
            drop(there);
            let words = revoked(&guard.permit());
            let expected = if hangs { "silent for" } else { "has died" };
            assert!(words.contains(expected), "{words}");
            drop(kept);
        }
    }

    /// One that hangs when it is told to end holds the port: nobody could open it again.
    #[test]
    fn a_guardian_that_hangs_at_the_end_is_ended_and_one_at_work_is_not() {
        for works in [false, true] {
            let (here, mut there) = UnixStream::pair().unwrap();
            let stands_in = std::process::Command::new("sleep").arg("20").spawn();
            let stands_in = stands_in.expect("a process");
            let process = format!("/proc/{}", stands_in.id());
            super::super::socket::answer(&mut there, Ok(())).unwrap();
            let guard = Guard::over(here, Some(stands_in), Vec::new(), PATIENCE).unwrap();
            if works {
                there.write_all(&[END]).unwrap();
            }
            drop(guard);
            let is_left = std::path::Path::new(&process).exists();
            assert_eq!(is_left, works, "at work: {works}");
        }
    }

    #[test]
    fn a_guardian_that_refuses_says_why() {
        let (here, mut there) = UnixStream::pair().unwrap();
        super::super::socket::answer(&mut there, Err("no such wire")).unwrap();
        let error = Guard::over(here, None, Vec::new(), PATIENCE).unwrap_err();
        assert!(error.to_string().contains("no such wire"), "{error}");
    }
}
