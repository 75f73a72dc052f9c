//! What goes wrong, and how it is made to.

use super::random::Random;
use std::io::{ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::Ordering::SeqCst;
use std::sync::atomic::{AtomicBool, AtomicU64};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// The sound device is away for a while.
    Device,
    /// The sound system drops samples.
    Lost,
    /// Another input is chosen.
    Input,
    /// The disk is full for a while: not a byte more.
    FullDisk,
    /// The computer's clock is set.
    Clock,
    /// Another program holds the archive for a while.
    Locked,
    /// Hundreds of clients at the desk, most of them of bad manners, for a while.
    Flood,
    /// The machine's line is pulled out for a while.
    Machine,
    /// kill -9, and a new start.
    Killed,
    /// Told to end, and a new start.
    Ended,
}

impl Fault {
    pub const ALL: [Fault; 10] = [
        Fault::Device,
        Fault::Lost,
        Fault::Input,
        Fault::FullDisk,
        Fault::Clock,
        Fault::Locked,
        Fault::Flood,
        Fault::Machine,
        Fault::Killed,
        Fault::Ended,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Fault::Device => "device gone and back",
            Fault::Lost => "samples lost",
            Fault::Input => "another input",
            Fault::FullDisk => "disk full and back",
            Fault::Clock => "clock set",
            Fault::Locked => "archive locked",
            Fault::Flood => "clients flood the desk",
            Fault::Machine => "machine unplugged",
            Fault::Killed => "kill -9 and a new start",
            Fault::Ended => "told to end and a new start",
        }
    }

    /// How often it is drawn, of the sum of all.
    pub fn weight(self) -> u64 {
        match self {
            Fault::Killed => 4,
            Fault::Ended => 2,
            Fault::Input => 6,
            _ => 12,
        }
    }

    /// Whether the program is started anew: not while its memory is looked at.
    pub fn ends(self) -> bool {
        matches!(self, Fault::Killed | Fault::Ended)
    }
}

impl Random {
    /// Between the two.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.below(1 << 20) as f64 / f64::from(1 << 20)
    }
}

/// The disk of the shelf: one of memory, that can be made full.
pub struct SmallDisk {
    place: PathBuf,
    kilobytes: u64,
}

impl SmallDisk {
    /// `None` where none can be mounted.
    pub fn new(place: &Path, kilobytes: u64) -> Option<Self> {
        let size = format!("size={kilobytes}k");
        let disk = SmallDisk {
            place: place.into(),
            kilobytes,
        };
        mount(&["-t", "tmpfs", "-o", &size, "tmpfs"], place).then_some(disk)
    }

    /// Takes away all room but 64 kB.
    pub fn fill(&self) -> bool {
        (0..20).any(|_| self.resize(self.used() + 64))
    }

    pub fn empty(&self) {
        assert!(self.resize(self.kilobytes), "the disk is as it was");
    }

    fn resize(&self, kilobytes: u64) -> bool {
        let size = format!("remount,size={kilobytes}k");
        mount(&["-o", &size], &self.place)
    }

    fn used(&self) -> u64 {
        let about = rustix::fs::statvfs(&self.place).expect("a disk");
        (about.f_blocks - about.f_bfree) * about.f_frsize / 1024
    }
}

fn mount(words: &[&str], place: &Path) -> bool {
    let mut command = Command::new("mount");
    let done = command.args(words).arg(place).output();
    done.is_ok_and(|done| done.status.success())
}

/// Another program that holds the archive; `None` where there is none yet.
pub fn lock(shelf: &Path) -> Option<rusqlite::Connection> {
    let file = shelf.join("markhold.sqlite");
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_WRITE;
    let archive = rusqlite::Connection::open_with_flags(file, flags).ok()?;
    archive.busy_timeout(Duration::from_secs(2)).ok()?;
    archive.execute_batch("BEGIN EXCLUSIVE").ok()?;
    Some(archive)
}

/// Clients of bad manners, until they are dropped.
pub fn flood(port: u16, clients: usize) -> Vec<TcpStream> {
    let host = format!("localhost:{port}");
    let socket = format!(
        "GET /socket HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: Upgrade\r\n\
         Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
         Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    );
    let page = format!("GET / HTTP/1.1\r\nHost: {host}\r\n\r\n");
    let says = [
        "GET / HT".as_bytes(),
        page.as_bytes(),
        socket.as_bytes(),
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    ];
    let address = ([127, 0, 0, 1], port).into();
    let one = |k: usize| {
        let mut client = TcpStream::connect_timeout(&address, Duration::from_secs(1)).ok()?;
        client.write_all(says[k % says.len()]).ok()?;
        Some(client)
    };
    // None of them ever reads.
    (0..clients).map_while(one).collect()
}

/// How long the owner waits for the page; `None` if it does not come.
pub fn page(port: u16, patience: Duration) -> Option<Duration> {
    let begun = Instant::now();
    let mut client = TcpStream::connect_timeout(&([127, 0, 0, 1], port).into(), patience).ok()?;
    client.set_read_timeout(Some(patience)).ok()?;
    let ask = format!("GET / HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n\r\n");
    client.write_all(ask.as_bytes()).ok()?;
    let mut first = [0; 12];
    client.read_exact(&mut first).ok()?;
    (first == *b"HTTP/1.1 200").then(|| begun.elapsed())
}

/// The machine at its line: takes what comes for as long as it is plugged in.
pub struct Machine {
    pub port: u16,
    plugged: Arc<AtomicBool>,
    over: Arc<AtomicBool>,
    codes: Arc<AtomicU64>,
    thread: Option<JoinHandle<()>>,
}

impl Machine {
    pub fn new() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("bound").port();
        let plugged = Arc::new(AtomicBool::new(true));
        let (over, codes) = (Arc::new(AtomicBool::new(false)), Arc::default());
        let (p, o, c) = (plugged.clone(), over.clone(), Arc::clone(&codes));
        let thread = std::thread::spawn(move || print(listener, port, &p, &o, &c));
        Machine {
            port,
            plugged,
            over,
            codes,
            thread: Some(thread),
        }
    }

    pub fn plug(&self, plugged: bool) {
        self.plugged.store(plugged, SeqCst);
    }

    /// Codes that came so far.
    pub fn codes(&self) -> u64 {
        self.codes.load(SeqCst)
    }
}

impl Drop for Machine {
    fn drop(&mut self) {
        self.over.store(true, SeqCst);
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

fn print(
    listener: TcpListener,
    port: u16,
    plugged: &AtomicBool,
    over: &AtomicBool,
    codes: &AtomicU64,
) {
    let (mut listener, mut line) = (Some(listener), None::<TcpStream>);
    while !over.load(SeqCst) {
        std::thread::sleep(Duration::from_millis(10));
        if !plugged.load(SeqCst) {
            (listener, line) = (None, None);
            continue;
        }
        let Some(open) = &listener else {
            // The port is free again at once: nobody else was told of it.
            listener = TcpListener::bind(("127.0.0.1", port)).ok();
            continue;
        };
        let _ = open.set_nonblocking(true);
        if let Ok((stream, _)) = open.accept() {
            let _ = stream.set_nonblocking(true);
            line = Some(stream);
        }
        let mut bytes = [0; 4096];
        match line.as_mut().map(|line| line.read(&mut bytes)) {
            Some(Ok(0)) => line = None,
            Some(Ok(count)) => drop(codes.fetch_add(count as u64, SeqCst)),
            Some(Err(error)) if error.kind() != ErrorKind::WouldBlock => line = None,
            _ => {}
        }
    }
}
