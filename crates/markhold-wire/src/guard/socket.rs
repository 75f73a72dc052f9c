//! What travels between sender and guardian: at first the things, as one line of JSON with
//! the descriptors of their ports, and an answer of one line; then single bytes.

use super::Thing;
use rustix::net::{
    RecvAncillaryBuffer, RecvAncillaryMessage, RecvFlags, SendAncillaryBuffer,
    SendAncillaryMessage, SendFlags, recvmsg, sendmsg,
};
use std::io::{self, IoSlice, IoSliceMut, Read, Write};
use std::mem::MaybeUninit;
use std::os::fd::{BorrowedFd, OwnedFd};
use std::os::unix::net::UnixStream;

/// A beat, and its echo.
pub(super) const BEAT: u8 = b'+';
/// Everything was put to rest and nothing more comes.
pub(super) const END: u8 = b'.';
/// The guardian's word that all is well, with nothing behind it.
const READY: &str = "ready";

/// Most ports of one sender: a line, its transmitter, and some to spare.
const MOST_PORTS: usize = 4;
/// Longest first line, bytes; names of ports are short.
const LONGEST: usize = 16 * 1024;

/// Sends the things and the ports that belong to them, in the order of the things.
pub(super) fn send_things(
    socket: &mut UnixStream,
    things: &[Thing],
    ports: &[BorrowedFd<'_>],
) -> io::Result<()> {
    let mut line = serde_json::to_vec(things).map_err(io::Error::other)?;
    line.push(b'\n');
    let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST_PORTS))];
    let mut control = SendAncillaryBuffer::new(&mut space);
    if !ports.is_empty() && !control.push(SendAncillaryMessage::ScmRights(ports)) {
        return Err(io::Error::other(format!("more than {MOST_PORTS} ports")));
    }
    let sent = sendmsg(
        &*socket,
        &[IoSlice::new(&line)],
        &mut control,
        SendFlags::empty(),
    )?;
    socket.write_all(&line[sent..])
}

/// Receives what [`send_things`] sent.
pub(super) fn receive_things(socket: &UnixStream) -> io::Result<(Vec<Thing>, Vec<OwnedFd>)> {
    let (mut line, mut ports) = (Vec::new(), Vec::new());
    while line.last() != Some(&b'\n') {
        let mut bytes = [0; 1024];
        let mut space = [MaybeUninit::uninit(); rustix::cmsg_space!(ScmRights(MOST_PORTS))];
        let mut control = RecvAncillaryBuffer::new(&mut space);
        let mut slices = [IoSliceMut::new(&mut bytes)];
        let got = recvmsg(socket, &mut slices, &mut control, RecvFlags::CMSG_CLOEXEC)?;
        for message in control.drain() {
            if let RecvAncillaryMessage::ScmRights(some) = message {
                ports.extend(some);
            }
        }
        line.extend_from_slice(&bytes[..got.bytes]);
        if got.bytes == 0 || line.len() > LONGEST {
            return Err(io::ErrorKind::InvalidData.into());
        }
    }
    let things = serde_json::from_slice(&line).map_err(io::Error::other)?;
    Ok((things, ports))
}

/// Says that all is well, or what is not.
pub(super) fn answer(socket: &mut UnixStream, ready: Result<(), &str>) -> io::Result<()> {
    let words = ready.err().unwrap_or(READY).replace('\n', " ");
    socket.write_all(format!("{words}\n").as_bytes())
}

/// The guardian's answer; an error in its own words if it is not ready.
pub(super) fn hear_answer(socket: &mut UnixStream) -> io::Result<()> {
    let (mut line, mut byte) = (Vec::new(), [0]);
    while line.len() < LONGEST {
        if socket.read(&mut byte)? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        if byte[0] == b'\n' {
            break;
        }
        line.push(byte[0]);
    }
    match line == READY.as_bytes() {
        true => Ok(()),
        false => Err(io::Error::other(
            String::from_utf8_lossy(&line).into_owned(),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::super::PortRest;
    use super::*;
    use std::os::fd::AsFd;

    #[test]
    fn things_arrive_with_their_ports() {
        let (mut here, there) = UnixStream::pair().unwrap();
        let things = vec![Thing::Port(PortRest {
            name: "x".repeat(3000),
            rts: Some(false),
            ..PortRest::default()
        })];
        // Any descriptor will do: what one end writes the other reads.
        let (mut one, other) = UnixStream::pair().unwrap();
        send_things(&mut here, &things, &[other.as_fd()]).unwrap();
        drop(other);
        let (received, ports) = receive_things(&there).unwrap();
        assert_eq!(received, things);
        let mut again = UnixStream::from(ports.into_iter().next().unwrap());
        again.write_all(b"mark").unwrap();
        let mut bytes = [0; 4];
        one.read_exact(&mut bytes).unwrap();
        assert_eq!(&bytes, b"mark");
    }

    #[test]
    fn answers_are_heard_and_the_end_of_a_guardian_too() {
        let (mut here, mut there) = UnixStream::pair().unwrap();
        answer(&mut there, Ok(())).unwrap();
        answer(&mut there, Err("the port\nis gone")).unwrap();
        assert!(hear_answer(&mut here).is_ok());
        let error = hear_answer(&mut here).unwrap_err();
        assert_eq!(error.to_string(), "the port is gone");
        drop(there);
        assert!(hear_answer(&mut here).is_err());
    }

    #[test]
    fn what_is_no_list_of_things_is_refused() {
        for bytes in [&b"\n"[..], b"{}\n", b"[{\"port\": 3}]\n", b"[", b""] {
            let (mut here, there) = UnixStream::pair().unwrap();
            here.write_all(bytes).unwrap();
            drop(here);
            assert!(receive_things(&there).is_err(), "{bytes:?}");
        }
    }
}
