//! How well lines are keyed by the clock, idle and under load. Prints figures and judges
//! nothing; `cargo bench -p markhold-wire --bench keying`, seconds a case after `--`.
//!
//! * `host`: gaps in a thread that does nothing but read the clock with real-time
//!   priority: what a virtual machine's host takes, which no program inside can mend;
//! * `clock`: the line's thread alone, as `measure` reports it to a user;
//! * `trace`: transitions as they were switched, with time stamps of the monotonic clock
//!   taken by the contact, against the ideal line: what an outside meter would see;
//! * `pty`: bytes as they arrive at the other side of a pty, against the line's pace.
//!
//! Load: one endless loop a core and as many again, at normal priority.

use markhold_code::{Code, StartStop};
use markhold_wire::{
    Contact, Keyer, KeyerError, SerialKeyer, SerialPlan, TimedKeyer, Timing, Word,
    ask_for_real_time, measure,
};
use std::io::Read;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

const RATES_BAUD: [f64; 2] = [1.0 / 0.022, 100.0];

/// A turn of `host`: as much as the line's thread may take of the processor, and the rest.
const LOOK: Duration = Duration::from_micros(1500);
const REST: Duration = Duration::from_micros(4500);

fn main() {
    let seconds: f64 = std::env::args()
        .find_map(|argument| argument.parse().ok())
        .unwrap_or(20.0);
    for loaded in [false, true] {
        let load = Load::new(if loaded { 2 * cores() } else { 0 });
        host(if loaded { "busy" } else { "idle" }, seconds);
        for baud in RATES_BAUD {
            let speed = StartStop::new(baud, 1.5);
            let name = format!("{baud:.2} baud, {}", if loaded { "busy" } else { "idle" });
            let characters = (seconds * speed.characters_per_second()) as u32;
            clock(&name, speed, characters);
            trace(&name, speed, characters);
            if baud == RATES_BAUD[0] {
                pty(&name, speed, characters);
            }
        }
        drop(load);
    }
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, |n| n.get())
}

/// Reads the clock for a while, sleeps, and so on, so that others get their turn.
fn host(name: &str, seconds: f64) {
    let watch = move || {
        let real_time = ask_for_real_time();
        let (begin, mut gaps) = (Instant::now(), Timing::default());
        while begin.elapsed().as_secs_f64() < seconds {
            let (turn, mut before, mut most_s) = (Instant::now(), Instant::now(), 0.0f64);
            while turn.elapsed() < LOOK {
                let now = Instant::now();
                most_s = most_s.max((now - before).as_secs_f64());
                before = now;
            }
            gaps.count(most_s);
            std::thread::sleep(REST);
        }
        (real_time, gaps)
    };
    let (real_time, gaps) = std::thread::spawn(watch).join().expect("watches");
    let priority = if real_time { "real-time" } else { "usual" };
    println!(
        "host  {name}, {priority} priority: longest gap in a turn of 1.5 ms {:.3} ms (half), \
         {:.3} ms (99 %), {:.3} ms (all of {})",
        gaps.within_s(0.5) * 1e3,
        gaps.within_s(0.99) * 1e3,
        gaps.most_s() * 1e3,
        gaps.edges(),
    );
}

/// Threads that do nothing but keep the cores busy.
struct Load(Arc<AtomicBool>);

impl Load {
    fn new(threads: usize) -> Self {
        let over = Arc::new(AtomicBool::new(false));
        for _ in 0..threads {
            let over = over.clone();
            std::thread::spawn(move || {
                while !over.load(Ordering::Relaxed) {
                    std::hint::black_box((0..1000).sum::<u64>());
                }
            });
        }
        Load(over)
    }
}

impl Drop for Load {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

fn clock(name: &str, speed: StartStop, characters: u32) {
    match measure(speed, characters) {
        Ok((timing, real_time)) => {
            let priority = if real_time { "real-time" } else { "usual" };
            let element_s = speed.element_s();
            println!(
                "clock {name}, {priority} priority: {}",
                timing.verdict(element_s)
            );
        }
        Err(error) => println!("clock {name}: {error}"),
    }
}

/// Writes down when it was switched, and how.
struct Stamps(Arc<Mutex<Vec<(Instant, bool)>>>);

impl Contact for Stamps {
    fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
        let mut stamps = self.0.lock().expect("nobody panics");
        stamps.push((Instant::now(), mark));
        Ok(())
    }

    fn motor(&mut self, _on: bool) -> Result<(), KeyerError> {
        Ok(())
    }
}

/// The error of every transition from its character's start edge: start-stop distortion;
/// and how much longer than asked for the stop elements were, which does no harm: the
/// next character came late from this program's usual thread.
fn trace(name: &str, speed: StartStop, characters: u32) {
    let stamps = Arc::new(Mutex::new(Vec::with_capacity(8 * characters as usize)));
    let mut keyer = match TimedKeyer::start(speed, Stamps(stamps.clone())) {
        Ok(keyer) => keyer,
        Err(error) => return println!("trace {name}: {error}"),
    };
    let codes: Vec<Code> = (0..characters)
        .map(|n| Code::ALL[(n * 7 % 32) as usize])
        .collect();
    let mut sent = codes.len();
    for (n, code) in codes.iter().enumerate() {
        if let Err(error) = keyer.send(*code) {
            println!("trace {name}: broken off after {n} characters: {error}");
            sent = n;
            break;
        }
    }
    drop(keyer);
    let stamps = stamps.lock().expect("nobody panics");
    let (mut distortion, mut pauses) = (Timing::default(), Timing::default());
    let mut start = (0.0, stamps[1].0);
    let ideal = edges(speed, &codes[..sent]);
    for ((at_s, mark, starts), (stamp, found)) in ideal.iter().zip(&stamps[1..]) {
        assert_eq!(mark, found, "the line is another");
        let late_s = (*stamp - start.1).as_secs_f64() - (at_s - start.0);
        if *starts {
            pauses.count(late_s);
            start = (*at_s, *stamp);
        } else {
            distortion.count(late_s);
        }
    }
    let percent = |s: f64| 100.0 * s / speed.element_s();
    println!(
        "trace {name}: start-stop distortion {:.3} % (99 %), {:.3} % (99.9 %), {:.3} % (all \
         of {}); stop elements longer by {:.3} ms (half), {:.3} ms (99 %)",
        percent(distortion.within_s(0.99)),
        percent(distortion.within_s(0.999)),
        percent(distortion.most_s()),
        distortion.edges(),
        pauses.within_s(0.5) * 1e3,
        pauses.within_s(0.99) * 1e3,
    );
}

/// Transitions of an unbroken run: time, s, condition after it, whether it is a start edge.
fn edges(speed: StartStop, codes: &[Code]) -> Vec<(f64, bool, bool)> {
    let (mut at_s, mut line, mut found) = (0.0, true, Vec::new());
    for code in codes {
        for (n, stretch) in speed.stretches(*code).into_iter().enumerate() {
            if stretch.mark != line {
                line = stretch.mark;
                found.push((at_s, line, n == 0));
            }
            at_s += stretch.length_s;
        }
    }
    found
}

/// A pty does not pace bytes: when they arrive is when they were written.
#[cfg(unix)]
fn pty(name: &str, speed: StartStop, characters: u32) {
    use serialport::{SerialPort, TTYPort};
    let (mut master, slave) = TTYPort::pair().expect("a pty");
    let plan = SerialPlan {
        port: slave.name().expect("its name"),
        speed,
        word: Word::Eight(9600),
        motor: None,
    };
    drop(slave);
    let mut keyer = SerialKeyer::open(&plan).expect("opens");
    let reader = std::thread::spawn(move || {
        let mut stamps = Vec::new();
        let mut byte = [0];
        while stamps.len() < characters as usize {
            if master.read_exact(&mut byte).is_ok() {
                stamps.push(Instant::now());
            }
        }
        // The port goes away with the master: not before the sender has finished.
        (stamps, master)
    });
    for _ in 0..characters {
        keyer.send(Code::LETTERS).expect("sends");
    }
    let (stamps, _master) = reader.join().expect("reads");
    let total = (stamps[stamps.len() - 1] - stamps[1]).as_secs_f64();
    let mean_ms = 1e3 * total / (stamps.len() - 2) as f64;
    let gaps = stamps
        .windows(2)
        .skip(1)
        .map(|w| (w[1] - w[0]).as_secs_f64() * 1e3);
    let (least, most) = gaps.fold((f64::MAX, 0.0f64), |(a, b), g| (a.min(g), b.max(g)));
    println!(
        "pty   {name}: a character every {mean_ms:.3} ms, {least:.3} to {most:.3} ms; \
         the line's own pace is {:.3} ms",
        speed.character_s() * 1e3
    );
}

#[cfg(not(unix))]
fn pty(_name: &str, _speed: StartStop, _characters: u32) {}
