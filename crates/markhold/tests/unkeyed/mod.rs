//! Ends `markhold send` while it sends, at any moment and in any way, and looks at how long the
//! transmitter stays keyed.
//!
//! The transmitter is a wire of a pseudo terminal (see `ends/line.c`), a daemon of this test that
//! leaves it keyed when its client is gone, the widely used daemon with its dummy radio, or a
//! file that a command makes and another removes. A person's terminal is a pseudo terminal too.

mod daemon;

use super::ends::{self, Random, now_ns, pty};
use super::late::Late;
use daemon::{Daemon, Switched};
use rustix::process::Signal;
use std::io::{BufRead, BufReader, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// How it ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    Killed,
    Hung,
    Interrupted,
    Terminated,
    HungUp,
}

impl End {
    pub const ALL: [End; 5] = [
        End::Killed,
        End::Hung,
        End::Interrupted,
        End::Terminated,
        End::HungUp,
    ];

    fn signal(self) -> Signal {
        match self {
            End::Killed => Signal::KILL,
            End::Hung => Signal::STOP,
            End::Interrupted => Signal::INT,
            End::Terminated => Signal::TERM,
            End::HungUp => Signal::HUP,
        }
    }

    pub fn name(self) -> &'static str {
        match self {
            End::Killed => "kill -9",
            End::Hung => "hang (SIGSTOP)",
            End::Interrupted => "SIGINT",
            End::Terminated => "SIGTERM",
            End::HungUp => "SIGHUP",
        }
    }

    /// Longest that the transmitter may stay keyed, ms.
    pub fn limit_ms(self) -> f64 {
        match self {
            End::Killed => 150.0,
            End::Hung => 700.0,
            _ => 100.0,
        }
    }

    /// The exit code; one that hung and goes on ends by itself with an error.
    fn code(self) -> Option<i32> {
        match self {
            End::Killed => None,
            End::Hung => Some(2),
            End::Interrupted => Some(130),
            End::Terminated => Some(143),
            End::HungUp => Some(129),
        }
    }
}

/// How the transmitter is keyed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keyed {
    /// A wire of the port that keys the line.
    OwnWire,
    /// A wire of another port.
    OtherPort,
    /// The test's daemon.
    Daemon,
    /// The widely used daemon's dummy radio.
    Dummy,
    Command,
}

impl Keyed {
    pub fn name(self) -> &'static str {
        match self {
            Keyed::OwnWire => "a wire beside the line",
            Keyed::OtherPort => "a wire of another port",
            Keyed::Daemon => "a daemon",
            Keyed::Dummy => "rigctld, dummy radio",
            Keyed::Command => "a command",
        }
    }

    /// How long the radio may be at what it was told before, ms: it does one thing after another,
    /// and the dummy radio takes 50 ms for each (measured; a stop may come while it is asked).
    pub fn busy_ms(self) -> f64 {
        match self {
            Keyed::Dummy => 50.0,
            _ => 0.0,
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub struct Try {
    pub end: End,
    pub keyed: Keyed,
    pub after: Duration,
}

impl Try {
    pub fn random(number: usize, keys: &[Keyed], random: &mut Random) -> Try {
        Try {
            end: End::ALL[number % End::ALL.len()],
            keyed: keys[number / End::ALL.len() % keys.len()],
            after: Duration::from_micros(random.below(1_200_000)),
        }
    }
}

/// What was found.
#[derive(Debug)]
pub struct Found {
    /// From the end until it was unkeyed, ms.
    pub keyed_ms: f64,
    /// By how much the computer was late meanwhile, ms.
    pub late_ms: f64,
}

pub struct Stand {
    late: Late,
    folder: tempfile::TempDir,
    shim: PathBuf,
}

const PATIENCE: Duration = Duration::from_secs(30);

/// How often a try may be made again, and why.
const TRIES: usize = 5;
const GAVE_UP: &str = "it gave up by itself";

impl Stand {
    /// `None` where a port's wires cannot be stood for.
    pub fn new() -> Option<Stand> {
        let folder = tempfile::tempdir().expect("a folder");
        Some(Stand {
            late: Late::new(),
            shim: ends::shim(folder.path())?,
            folder,
        })
    }

    /// All that can be keyed here.
    pub fn keys() -> Vec<Keyed> {
        let mut keys = vec![
            Keyed::OwnWire,
            Keyed::Daemon,
            Keyed::OtherPort,
            Keyed::Command,
        ];
        if Dummy::start().is_some() {
            keys.push(Keyed::Dummy);
        }
        keys
    }

    /// Runs one try.
    ///
    /// # Errors
    ///
    /// What stayed keyed or did not end, in words.
    pub fn run(&self, number: usize, one: &Try) -> Result<Found, String> {
        let mut result = self.once(number, one);
        // A computer too busy to key by the clock has it give up by itself, as it is to; then it is
        // tried again. Nothing may stay keyed then either.
        for _ in 0..TRIES {
            match &result {
                Err(why) if why.starts_with(GAVE_UP) => result = self.once(number, one),
                _ => break,
            }
        }
        result
    }

    fn once(&self, number: usize, one: &Try) -> Result<Found, String> {
        let (_line, port) = pty().map_err(|error| error.to_string())?;
        let (_other, other_port) = pty().map_err(|error| error.to_string())?;
        let log = self.folder.path().join(format!("line-{number}"));
        let key = Key::of(one.keyed, &log, &other_port).ok_or("no such daemon here")?;
        let settings = self.folder.path().join(format!("settings-{number}.toml"));
        std::fs::write(&settings, key.settings(&port)).map_err(|error| error.to_string())?;
        let (person, mut child) = self.armed(&settings, &log)?;
        let begun = Instant::now();
        let result = watch(one, &key, &mut child);
        if result.is_err() {
            ends::send(child.id(), Signal::KILL);
        }
        let code = child.wait().map_err(|error| error.to_string())?.code();
        drop(person);
        let said = ends::said(child);
        let keyed_ms = result.map_err(|why| format!("{why}: {said}"))?;
        if one.end.code().is_some() && code != one.end.code() {
            return Err(format!("ended with {code:?}: {said}"));
        }
        Ok(Found {
            keyed_ms,
            late_ms: self.late.since(begun).as_secs_f64() * 1e3,
        })
    }

    /// Starts it in a terminal, and types the call.
    fn armed(&self, settings: &Path, log: &Path) -> Result<(OwnedFd, Child), String> {
        let told = |error: std::io::Error| error.to_string();
        let (person, terminal) = pty().map_err(told)?;
        let terminal = std::fs::File::options()
            .read(true)
            .write(true)
            .open(terminal);
        let mut command = Command::new("env");
        for name in ["SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY"] {
            command.env_remove(name);
        }
        let child = command
            .arg("--default-signal=HUP,INT,TERM")
            .arg(ends::program())
            .args(["send", &"RY".repeat(200), "--settings"])
            .arg(settings)
            .env("LD_PRELOAD", &self.shim)
            .env("LINE_LOG", log)
            .stdin(terminal.map_err(told)?)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(told)?;
        std::fs::File::from(person.try_clone().map_err(told)?)
            .write_all(b"Q1ABC\n")
            .map_err(told)?;
        Ok((person, child))
    }
}

/// Ends it at its moment; how long it stayed keyed then, ms.
fn watch(one: &Try, key: &Key, child: &mut Child) -> Result<f64, String> {
    wait("keyed", || {
        key.is_keyed() || child.try_wait().is_ok_and(|status| status.is_some())
    })?;
    std::thread::sleep(one.after);
    if child.try_wait().is_ok_and(|status| status.is_some()) {
        return match key.is_keyed() {
            true => Err("it ended by itself, and it is keyed".into()),
            false => Err(GAVE_UP.into()),
        };
    }
    let at_ns = now_ns();
    ends::send(child.id(), one.end.signal());
    let off_ns = key.off(at_ns)?;
    if one.end == End::Hung {
        // It comes to itself, and must neither key again nor stay.
        ends::send(child.id(), Signal::CONT);
    }
    wait("ended", || {
        child.try_wait().is_ok_and(|status| status.is_some())
    })?;
    std::thread::sleep(Duration::from_millis(50));
    match key.is_keyed() {
        true => Err("it was keyed again".into()),
        false => Ok((off_ns - at_ns) as f64 / 1e6),
    }
}

fn wait(what: &str, mut done: impl FnMut() -> bool) -> Result<(), String> {
    let begun = Instant::now();
    while !done() {
        if begun.elapsed() > PATIENCE {
            return Err(format!("not {what} within {PATIENCE:?}"));
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    Ok(())
}

/// The transmitter's key of one try, as it is seen from outside.
enum Key {
    /// A wire: the library's log, its name there, and words for the settings.
    Wire(PathBuf, &'static str, String),
    Daemon(Daemon),
    Dummy(Dummy),
    File(PathBuf),
}

impl Key {
    fn of(keyed: Keyed, log: &Path, other_port: &str) -> Option<Key> {
        Some(match keyed {
            Keyed::OwnWire => Key::Wire(log.into(), "dtr", "dtr".into()),
            Keyed::OtherPort => Key::Wire(log.into(), "rts", format!("rts:{other_port}")),
            Keyed::Daemon => Key::Daemon(Daemon::start()),
            Keyed::Dummy => Key::Dummy(Dummy::start()?),
            Keyed::Command => Key::File(log.with_extension("keyed")),
        })
    }

    fn settings(&self, port: &str) -> String {
        let words = match self {
            Key::Wire(_, _, words) => words.clone(),
            Key::Daemon(daemon) => format!("rigctld:{}", daemon.address),
            Key::Dummy(dummy) => format!("rigctld:{}", dummy.address),
            Key::File(_) => "command".into(),
        };
        let commands = match self {
            Key::File(path) => {
                let path = path.display();
                format!(
                    "key_on = [\"touch\", \"{path}\"]\nkey_off = [\"rm\", \"-f\", \"{path}\"]\n"
                )
            }
            _ => String::new(),
        };
        format!(
            "[transmitter]\ncall = \"Q1ABC\"\nway = \"break:{port}\"\nkey = \"{words}\"\n\
             wait_on_s = 0.05\nmark_on_s = 0.2\n{commands}"
        )
    }

    fn is_keyed(&self) -> bool {
        match self {
            Key::Wire(log, wire, _) => {
                let all = ends::changes(log);
                let last = all.iter().rev().find(|change| change.what == *wire);
                last.is_some_and(|change| change.value != 0)
            }
            Key::Daemon(daemon) => last(&daemon.switched).is_some_and(|last| last.1),
            Key::Dummy(dummy) => dummy.is_keyed(),
            Key::File(path) => path.exists(),
        }
    }

    /// Waits until it is unkeyed; when it was, ns.
    fn off(&self, at_ns: u64) -> Result<u64, String> {
        let mut seen_ns = 0;
        wait("unkeyed", || {
            let off = !self.is_keyed();
            seen_ns = now_ns();
            off
        })?;
        let known_ns = match self {
            Key::Wire(log, wire, _) => {
                let all = ends::changes(log);
                let on = all
                    .iter()
                    .rposition(|c| c.what == *wire && c.value != 0)
                    .unwrap_or(0);
                let first = all[on..].iter().find(|c| c.what == *wire && c.value == 0);
                first.map(|change| change.at_ns)
            }
            Key::Daemon(daemon) => last(&daemon.switched).map(|last| last.0),
            // As soon as it was seen.
            Key::Dummy(_) | Key::File(_) => None,
        };
        Ok(known_ns.unwrap_or(seen_ns).max(at_ns))
    }
}

fn last(switched: &Switched) -> Option<(u64, bool)> {
    switched.lock().expect("no panic").last().copied()
}

/// The widely used daemon with its dummy radio.
struct Dummy {
    address: SocketAddr,
    process: Child,
}

impl Dummy {
    /// `None` where it is not installed.
    fn start() -> Option<Dummy> {
        for _ in 0..TRIES {
            let mut dummy = Self::at_some_port()?;
            // Another one may have got the same port just before: then this one ends, and the other
            // must not be taken for it.
            std::thread::sleep(Duration::from_millis(100));
            if dummy
                .process
                .try_wait()
                .is_ok_and(|status| status.is_none())
            {
                return Some(dummy);
            }
        }
        None
    }

    fn at_some_port() -> Option<Dummy> {
        let free = TcpListener::bind("127.0.0.1:0").ok()?;
        let address = free.local_addr().ok()?;
        drop(free);
        let port = address.port().to_string();
        // Model 1 is the dummy; without -P it refuses to be keyed.
        let process = Command::new("rigctld")
            .args(["-m", "1", "-T", "127.0.0.1", "-t", &port, "-P", "RIG"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        let dummy = Dummy { address, process };
        wait("listening", || TcpStream::connect(address).is_ok()).ok()?;
        Some(dummy)
    }

    fn is_keyed(&self) -> bool {
        let asked = || -> std::io::Result<String> {
            let mut stream = TcpStream::connect(self.address)?;
            stream.set_read_timeout(Some(Duration::from_secs(1)))?;
            stream.write_all(b"t\n")?;
            let mut line = String::new();
            BufReader::new(stream).read_line(&mut line)?;
            Ok(line)
        };
        // Who does not say that it is unkeyed may have it keyed.
        !asked().is_ok_and(|line| line.trim() == "0")
    }
}

impl Drop for Dummy {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
