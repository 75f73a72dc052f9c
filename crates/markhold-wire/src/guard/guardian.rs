//! The guardian's side.

use super::socket::{BEAT, END, answer, receive_things};
use super::{LIMIT, NotAtRest, PATIENCE, Rest, Thing};
use crate::port::OsPort;
use crate::real_time::{ask_for_low_real_time, keep_in_memory};
use std::io::{self, Read, Write};
use std::os::fd::{AsFd, FromRawFd, IntoRawFd, OwnedFd};
use std::os::unix::net::UnixStream;
use std::time::{Duration, Instant};

/// How the watch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// The sender said that it has done.
    Ended,
    /// The sender died.
    Died,
    /// The sender was silent for too long.
    Hung,
    /// The sender asked for what cannot be watched over; it was told.
    Refused,
}

/// Between two attempts to put to rest what would not go.
const RETRY: Duration = Duration::from_millis(10);
/// How long that is tried. A transmitter that cannot be unkeyed is worth a long time.
const TRY: Duration = Duration::from_secs(60);

/// All that a guardian's process does: its socket is standard input. Signals that end
/// programs are to be taken beforehand: this one ends with its sender.
///
/// # Errors
///
/// Standard input is no socket of a sender.
pub fn serve() -> io::Result<Ending> {
    // In a session of its own no terminal reaches it. Who leads a group already, because
    // somebody started this by hand, stays there.
    let _ = rustix::process::setsid();
    let _ = ask_for_low_real_time();
    keep_in_memory();
    let socket = UnixStream::from(io::stdin().as_fd().try_clone_to_owned()?);
    watch_over(socket)
}

/// Watches over a sender at the other end of a socket until it ends in whatever way.
///
/// # Errors
///
/// The other end is no sender, or went before it had said what is to be watched over.
pub fn watch_over(mut socket: UnixStream) -> io::Result<Ending> {
    socket.set_read_timeout(Some(PATIENCE))?;
    let (things, ports) = receive_things(&socket)?;
    let mut held = match take(things, ports) {
        Ok(held) => held,
        Err(why) => {
            answer(&mut socket, Err(&why))?;
            return Ok(Ending::Refused);
        }
    };
    answer(&mut socket, Ok(()))?;
    let ending = wait_for_the_end(&mut socket);
    rest_all(&mut held);
    held.iter_mut().for_each(|thing| thing.give_back());
    Ok(ending)
}

/// Takes charge, and proves that everything can be put to rest by doing it.
fn take(things: Vec<Thing>, ports: Vec<OwnedFd>) -> Result<Vec<Box<dyn Rest>>, String> {
    let mut ports = ports.into_iter().map(of_descriptor);
    let mut held = Vec::new();
    for thing in things {
        let port = thing.has_port().then(|| ports.next()).flatten();
        let mut thing = thing.held(port)?;
        thing.rest().map_err(|why| match why {
            NotAtRest::Gone => "it has gone already".to_string(),
            NotAtRest::Again(words) => words,
        })?;
        held.push(thing);
    }
    Ok(held)
}

#[allow(
    unsafe_code,
    reason = "the library takes an open port over by its raw descriptor only"
)]
fn of_descriptor(port: OwnedFd) -> OsPort {
    // SAFETY: the descriptor is open and owned, and nobody else in this process has it.
    unsafe { OsPort::from_raw_fd(port.into_raw_fd()) }
}

/// Echoes beats until there are no more.
fn wait_for_the_end(socket: &mut UnixStream) -> Ending {
    let mut heard = Instant::now();
    let mut bytes = [0; 64];
    loop {
        let Some(left) = LIMIT.checked_sub(heard.elapsed()).filter(|t| !t.is_zero()) else {
            return Ending::Hung;
        };
        if socket.set_read_timeout(Some(left)).is_err() {
            return Ending::Died;
        }
        match socket.read(&mut bytes) {
            Ok(0) => return Ending::Died,
            Ok(count) if bytes[..count].contains(&END) => {
                // The sender must know this one, at work, from one that hangs.
                let _ = socket.write(&[END]);
                return Ending::Ended;
            }
            Ok(_) => {
                heard = Instant::now();
                // Whoever does not listen is found out by his silence.
                let _ = socket.write(&[BEAT]);
            }
            Err(error) if is_passing(&error) => {}
            Err(_) => return Ending::Died,
        }
    }
}

/// Nothing came yet, or the wait was broken off.
pub(super) fn is_passing(error: &io::Error) -> bool {
    use io::ErrorKind::{Interrupted, TimedOut, WouldBlock};
    matches!(error.kind(), Interrupted | TimedOut | WouldBlock)
}

/// Puts everything to rest, again and again where it will not go; nothing waits for another.
pub(super) fn rest_all(held: &mut [Box<dyn Rest>]) {
    match held {
        [one] => put_to_rest(one.as_mut()),
        all => std::thread::scope(|scope| {
            for thing in all {
                scope.spawn(|| put_to_rest(thing.as_mut()));
            }
        }),
    }
}

fn put_to_rest(thing: &mut dyn Rest) {
    let begun = Instant::now();
    while let Err(NotAtRest::Again(_)) = thing.rest() {
        if begun.elapsed() > TRY {
            return;
        }
        std::thread::sleep(RETRY);
    }
}

#[cfg(test)]
mod tests {
    use super::super::PortRest;
    use super::super::socket::{hear_answer, send_things};
    use super::*;
    use crate::rig::Rig;
    use crate::rig::testing::{Dummy, Fake};
    use std::os::fd::AsFd;
    use std::thread::{JoinHandle, spawn};

    fn guardian() -> (UnixStream, JoinHandle<io::Result<Ending>>) {
        let (here, there) = UnixStream::pair().unwrap();
        (here, spawn(move || watch_over(there)))
    }

    fn begin(socket: &mut UnixStream) {
        send_things(socket, &[], &[]).unwrap();
        hear_answer(socket).unwrap();
    }

    #[test]
    fn beats_keep_it_and_their_end_is_told_apart() {
        let (mut socket, watch) = guardian();
        begin(&mut socket);
        let mut echo = [0];
        for _ in 0..3 {
            socket.write_all(&[BEAT]).unwrap();
            socket.read_exact(&mut echo).unwrap();
            assert_eq!(echo, [BEAT]);
        }
        socket.write_all(&[END]).unwrap();
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Ended);

        let (mut socket, watch) = guardian();
        begin(&mut socket);
        drop(socket);
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Died);

        let (mut socket, watch) = guardian();
        begin(&mut socket);
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Hung);
    }

    #[test]
    fn what_cannot_be_put_to_rest_is_refused() {
        let (mut socket, watch) = guardian();
        // A pty has no RTS.
        let (_master, slave) = serialport::TTYPort::pair().unwrap();
        let rest = PortRest {
            name: "pty".into(),
            rts: Some(false),
            ..PortRest::default()
        };
        let slave = crate::port::descriptor(&slave)
            .try_clone_to_owned()
            .unwrap();
        send_things(&mut socket, &[Thing::Port(rest)], &[slave.as_fd()]).unwrap();
        let error = hear_answer(&mut socket).unwrap_err();
        assert!(error.to_string().starts_with("pty: "), "{error}");
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Refused);

        let (mut socket, watch) = guardian();
        send_things(&mut socket, &[Thing::Port(PortRest::default())], &[]).unwrap();
        assert!(hear_answer(&mut socket).is_err());
        assert_eq!(watch.join().unwrap().unwrap(), Ending::Refused);
    }

    /// Keys a transmitter while a guardian holds it, and lets the sender die, or hang, as a
    /// daemon leaves it: keyed.
    fn keyed_and_left(address: std::net::SocketAddr, hangs: bool) -> Ending {
        let (mut socket, watch) = guardian();
        send_things(&mut socket, &[Thing::Rig(address)], &[]).unwrap();
        hear_answer(&mut socket).unwrap();
        let mut rig = Rig::connect(address).unwrap();
        rig.key(true).unwrap();
        assert!(rig.is_keyed().unwrap());
        drop(rig);
        socket.write_all(&[BEAT]).unwrap();
        let kept = hangs.then_some(socket);
        let ending = watch.join().unwrap().unwrap();
        drop(kept);
        assert!(!Rig::connect(address).unwrap().is_keyed().unwrap());
        ending
    }

    #[test]
    fn a_transmitter_does_not_stay_keyed() {
        let fake = Fake::start();
        assert_eq!(keyed_and_left(fake.address, false), Ending::Died);
        assert_eq!(keyed_and_left(fake.address, true), Ending::Hung);
    }

    #[test]
    fn the_daemons_dummy_radio_does_not_stay_keyed() {
        let Some(dummy) = Dummy::start() else {
            return;
        };
        let endings = [false, true].map(|hangs| keyed_and_left(dummy.address, hangs));
        assert_eq!(endings, [Ending::Died, Ending::Hung]);
    }
}
