//! `markhold --forget-keys`: tells the desk that runs on this machine.

use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use std::io::{Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::time::Duration;

/// How long the desk may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// Most bytes of an answer that are looked at.
const LONGEST: u64 = 8192;

/// Asks the desk at this port to forget all keys.
pub fn forget_keys(port: u16) -> anyhow::Result<Outcome> {
    let answer = ask(port).with_context(|| {
        format!("no desk answers at port {port} of this machine; if it has another, add --port")
    })?;
    let mut lines = answer.lines();
    let status = lines.next().unwrap_or_default();
    match lines.next_back() {
        Some(count) if status.starts_with("HTTP/1.1 200") => {
            say(&format!(
                "Keys forgotten: {count}. Who came in with one is out."
            ));
            Ok(Outcome::Done)
        }
        _ => bail!("what answers at port {port} is no desk of this version: {status}"),
    }
}

fn ask(port: u16) -> std::io::Result<String> {
    let place = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
    let mut desk = TcpStream::connect_timeout(&place, PATIENCE)?;
    desk.set_read_timeout(Some(PATIENCE))?;
    desk.set_write_timeout(Some(PATIENCE))?;
    let host = format!("localhost:{port}");
    let asked = format!(
        "POST /forget HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
         Content-Length: 0\r\nConnection: close\r\n\r\n"
    );
    desk.write_all(asked.as_bytes())?;
    let mut answer = Vec::new();
    desk.take(LONGEST).read_to_end(&mut answer)?;
    Ok(String::from_utf8_lossy(&answer).into_owned())
}
