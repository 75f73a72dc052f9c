//! A transmitter's key by way of the radio control daemon `rigctld`, over TCP.
//!
//! The extended form of its protocol is spoken: `+T 1` is answered by lines that end with
//! `RPRT 0`, or with a negative number if it was refused. What was found with its dummy radio
//! (version 4.5): the transmitter stays keyed when the client that keyed it has gone; an
//! unkeying may be taken and not done, so it is asked for until the daemon says `PTT: 0`;
//! some commands are never answered, so everything has a time-out.
//!
//! **Caution:** a keyed transmitter is on the air. Your licence and its rules decide what may
//! be sent, when and by whom. Nothing here keys one by itself: [`transmit`](crate::transmit)
//! does where a person armed it, and a [guardian](crate::guard) unkeys it.

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// How long the daemon may take for an answer: it asks the radio first. Unkeying its dummy
/// radio takes it 50 ms.
const ANSWER: Duration = Duration::from_millis(300);

/// Longest answer, lines: the daemon ends each with `RPRT`.
const MOST_LINES: usize = 100;

/// Longest line of an answer, bytes.
const LONGEST_LINE: u64 = 4096;

/// A connection to the daemon.
#[derive(Debug)]
pub struct Rig {
    lines: BufReader<TcpStream>,
}

impl Rig {
    /// Connects to a daemon.
    ///
    /// # Errors
    ///
    /// Nobody listens there, or too slowly.
    pub fn connect(address: SocketAddr) -> io::Result<Rig> {
        let stream = TcpStream::connect_timeout(&address, ANSWER)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(ANSWER))?;
        stream.set_write_timeout(Some(ANSWER))?;
        Ok(Rig {
            lines: BufReader::new(stream),
        })
    }

    /// Keys or unkeys the transmitter. That the daemon took it does not mean that it was
    /// done: ask [`Rig::is_keyed`].
    ///
    /// # Errors
    ///
    /// The daemon refuses (it must be told how the transmitter is keyed, `-P`), or is gone.
    pub fn key(&mut self, on: bool) -> io::Result<()> {
        self.ask(if on { "+T 1" } else { "+T 0" }).map(drop)
    }

    /// Whether the daemon has the transmitter for keyed.
    ///
    /// # Errors
    ///
    /// It does not say, or is gone.
    pub fn is_keyed(&mut self) -> io::Result<bool> {
        let answer = self.ask("+t")?;
        match valued(&answer, "PTT: ").and_then(|value| value.parse::<u32>().ok()) {
            Some(value) => Ok(value != 0),
            None => Err(wrong(&format!("{answer:?}"), "PTT: 0 or PTT: 1")),
        }
    }

    /// Unkeys, and reads back that it was done.
    ///
    /// # Errors
    ///
    /// It is not known to be unkeyed: to be tried again.
    pub fn unkey(&mut self) -> io::Result<()> {
        self.key(false)?;
        match self.is_keyed()? {
            false => Ok(()),
            true => Err(io::Error::other("the transmitter is still keyed")),
        }
    }

    /// What the radio is set to: the frequency on its dial, Hz, and its mode in the daemon's word,
    /// such as `LSB`.
    ///
    /// # Errors
    ///
    /// The radio does not answer the daemon, as when it is switched off, or the daemon is gone.
    pub fn set_to(&mut self) -> io::Result<(f64, String)> {
        let answer = self.ask("+f")?;
        let hz = valued(&answer, "Frequency: ").and_then(|hz| hz.parse::<f64>().ok());
        let hz = hz.filter(|hz| hz.is_finite() && *hz > 0.0);
        let hz = hz.ok_or_else(|| wrong(&format!("{answer:?}"), "Frequency: HZ"))?;
        let answer = self.ask("+m")?;
        let mode = valued(&answer, "Mode: ").map(str::to_string);
        let mode = mode.ok_or_else(|| wrong(&format!("{answer:?}"), "Mode: WORD"))?;
        Ok((hz, mode))
    }

    /// The lines of an answer.
    fn ask(&mut self, command: &str) -> io::Result<Vec<String>> {
        let stream = self.lines.get_mut();
        stream.write_all(format!("{command}\n").as_bytes())?;
        let mut answer = Vec::new();
        while answer.len() < MOST_LINES {
            let mut line = String::new();
            if self
                .lines
                .by_ref()
                .take(LONGEST_LINE)
                .read_line(&mut line)?
                == 0
            {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
            match line.trim_end().strip_prefix("RPRT ") {
                Some("0") => return Ok(answer),
                Some(code) => return Err(wrong(&format!("{command}: {code}"), "0")),
                None => answer.push(line.trim_end().to_string()),
            }
        }
        Err(wrong("an answer without end", "RPRT"))
    }
}

/// The value that stands behind a name in an answer.
fn valued<'a>(answer: &'a [String], name: &str) -> Option<&'a str> {
    let found = answer.iter().find_map(|line| line.strip_prefix(name));
    found.map(str::trim)
}

fn wrong(found: &str, expected: &str) -> io::Error {
    io::Error::other(format!(
        "the radio daemon says {found}, expected {expected}"
    ))
}

#[cfg(test)]
pub(crate) mod testing {
    use super::Rig;
    use std::io::{BufRead, BufReader, Write};
    use std::net::{SocketAddr, TcpListener};
    use std::process::{Child, Command, Stdio};
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
    use std::time::{Duration, Instant};

    /// The daemon itself with its dummy radio, on loopback only. It ends when dropped.
    pub(crate) struct Dummy {
        pub(crate) address: SocketAddr,
        daemon: Child,
    }

    impl Dummy {
        /// `None`, with a word, where it is not installed.
        pub(crate) fn start() -> Option<Dummy> {
            // Another test may be given the same port; then one of the two daemons ends at once.
            loop {
                let mut dummy = Self::begin()?;
                let begun = Instant::now();
                while Rig::connect(dummy.address).is_err() && begun.elapsed().as_secs() < 10 {
                    std::thread::sleep(Duration::from_millis(10));
                }
                std::thread::sleep(Duration::from_millis(50));
                if matches!(dummy.daemon.try_wait(), Ok(None)) {
                    return Some(dummy);
                }
            }
        }

        fn begin() -> Option<Dummy> {
            let free = TcpListener::bind("127.0.0.1:0").unwrap();
            let address = free.local_addr().unwrap();
            drop(free);
            let port = address.port().to_string();
            // Model 1 is the dummy; without -P it refuses to be keyed.
            let words = ["-m", "1", "-T", "127.0.0.1", "-t", &port, "-P", "RIG"];
            let daemon = Command::new("rigctld")
                .args(words)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn();
            let Ok(daemon) = daemon else {
                println!("skipped: needs rigctld (libhamlib-utils)");
                return None;
            };
            Some(Dummy { address, daemon })
        }
    }

    impl Drop for Dummy {
        fn drop(&mut self) {
            let _ = self.daemon.kill();
            let _ = self.daemon.wait();
        }
    }

    /// A daemon with its habits: who keyed and went leaves it keyed.
    pub(crate) struct Fake {
        pub(crate) address: SocketAddr,
        pub(crate) keyed: Arc<AtomicBool>,
        /// So many unkeyings are taken and not done.
        pub(crate) deaf: Arc<AtomicU32>,
    }

    impl Fake {
        pub(crate) fn start() -> Fake {
            let listener = TcpListener::bind("127.0.0.1:0").unwrap();
            let fake = Fake {
                address: listener.local_addr().unwrap(),
                keyed: Arc::default(),
                deaf: Arc::default(),
            };
            let (keyed, deaf) = (Arc::clone(&fake.keyed), Arc::clone(&fake.deaf));
            std::thread::spawn(move || {
                for stream in listener.incoming().flatten() {
                    let (keyed, deaf) = (Arc::clone(&keyed), Arc::clone(&deaf));
                    std::thread::spawn(move || {
                        let mut out = stream.try_clone().unwrap();
                        for line in BufReader::new(stream).lines().map_while(Result::ok) {
                            let answer = answer(&line, &keyed, &deaf);
                            if out.write_all(answer.as_bytes()).is_err() {
                                return;
                            }
                        }
                    });
                }
            });
            fake
        }
    }

    fn answer(command: &str, keyed: &AtomicBool, deaf: &AtomicU32) -> String {
        match command {
            "+T 1" => keyed.store(true, Ordering::SeqCst),
            "+T 0" if deaf.load(Ordering::SeqCst) > 0 => {
                deaf.fetch_sub(1, Ordering::SeqCst);
            }
            "+T 0" => keyed.store(false, Ordering::SeqCst),
            "+t" => {
                let value = u8::from(keyed.load(Ordering::SeqCst));
                return format!("get_ptt:\nPTT: {value}\nRPRT 0\n");
            }
            "+f" => return "get_freq:\nFrequency: 3597400\nRPRT 0\n".into(),
            "+m" => return "get_mode:\nMode: LSB\nPassband: 2400\nRPRT 0\n".into(),
            _ => return "RPRT -1\n".into(),
        }
        "set_ptt:\nRPRT 0\n".into()
    }
}

#[cfg(test)]
mod tests {
    use super::testing::Fake;
    use super::*;
    use std::sync::atomic::Ordering;

    #[test]
    fn keyed_and_unkeyed_and_read_back() {
        let fake = Fake::start();
        let mut rig = Rig::connect(fake.address).unwrap();
        rig.key(true).unwrap();
        assert!(rig.is_keyed().unwrap());
        fake.deaf.store(1, Ordering::SeqCst);
        let error = rig.unkey().unwrap_err();
        assert!(error.to_string().contains("still keyed"), "{error}");
        rig.unkey().unwrap();
        assert!(!rig.is_keyed().unwrap());
    }

    #[test]
    fn what_the_radio_is_set_to_is_read() {
        let fake = Fake::start();
        let mut rig = Rig::connect(fake.address).unwrap();
        assert_eq!(rig.set_to().unwrap(), (3_597_400.0, "LSB".to_string()));
        let nothing = ["get_freq:".to_string()];
        assert_eq!(valued(&nothing, "Frequency: "), None);
    }

    #[test]
    fn the_daemons_dummy_radio_says_what_it_is_set_to() {
        let Some(dummy) = testing::Dummy::start() else {
            return;
        };
        let mut rig = Rig::connect(dummy.address).unwrap();
        rig.ask("+F 7040250").unwrap();
        rig.ask("+M USB 0").unwrap();
        assert_eq!(rig.set_to().unwrap(), (7_040_250.0, "USB".to_string()));
    }

    #[test]
    fn refusals_and_silence_are_errors() {
        let fake = Fake::start();
        let mut rig = Rig::connect(fake.address).unwrap();
        let error = rig.ask("+M NOSUCH 0").unwrap_err().to_string();
        assert!(error.contains("+M NOSUCH 0: -1, expected 0"), "{error}");
        // Somebody who listens and never answers.
        let silent = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let mut rig = Rig::connect(silent.local_addr().unwrap()).unwrap();
        assert!(rig.unkey().is_err());
    }
}
