//! One start of the program after the other, and what each told.

use super::evening::RATE;
use super::listener::{LIFE, Life, handed};
use std::fs::File;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// What the test's own program is called with to lead a life.
const WORDS: [&str; 3] = ["--exact", "leads_a_life_if_it_is_told", "--nocapture"];

/// How long a start or an end may take on a busy computer.
const PATIENCE: Duration = Duration::from_secs(600);

/// A program that listens.
pub struct Running {
    pub life: Life,
    pub port: u16,
    child: Child,
    told: Arc<Mutex<Vec<(Instant, String)>>>,
    begun: Instant,
}

/// What is known of one that ended.
pub struct Ended {
    pub life: Life,
    /// Samples handed to it, lost ones included.
    pub handed: u64,
    pub killed: bool,
    /// What it told, and when.
    pub told: Vec<(Instant, String)>,
}

impl Running {
    /// Starts it; `log` takes what it says on standard error.
    pub fn start(life: Life, log: &Path) -> Running {
        let _ = std::fs::remove_file(&life.handed);
        let log = File::options().create(true).append(true).open(log);
        let mut child = Command::new(std::env::current_exe().expect("this program"))
            .args(WORDS)
            .env(LIFE, serde_json::to_string(&life).expect("JSON"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(log.expect("a log"))
            .spawn()
            .expect("it starts");
        let told = Arc::new(Mutex::new(Vec::new()));
        let (out, tells) = (child.stdout.take().expect("piped"), Arc::clone(&told));
        std::thread::spawn(move || {
            let lines = BufReader::new(out).lines().map_while(Result::ok);
            lines
                .filter(|line| !line.is_empty())
                .for_each(|line| tells.lock().unwrap().push((Instant::now(), line)));
        });
        let mut running = Running {
            life,
            port: 0,
            child,
            told,
            begun: Instant::now(),
        };
        running.port = running.opened();
        running
    }

    fn opened(&self) -> u16 {
        let port = |line: &str| line.strip_prefix("open ")?.parse().ok();
        loop {
            let told = self.told.lock().unwrap();
            if let Some(port) = told.iter().find_map(|(_, line)| port(line)) {
                return port;
            }
            drop(told);
            assert!(self.begun.elapsed() < PATIENCE, "the desk did not open");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    pub fn order(&mut self, order: &str) {
        let to = self.child.stdin.as_mut().expect("piped");
        // One that died is noticed elsewhere.
        let _ = writeln!(to, "{order}");
    }

    /// Samples handed to it so far.
    pub fn handed(&self) -> u64 {
        handed(&self.life.handed)
    }

    /// Sound since it started, s.
    pub fn heard_s(&self) -> f64 {
        self.handed() as f64 / f64::from(RATE)
    }

    /// Ended although nobody told it to.
    pub fn died(&mut self) -> bool {
        self.child.try_wait().is_ok_and(|status| status.is_some())
    }

    /// Resident memory, kB, and open descriptors.
    pub fn size(&self) -> Option<(f64, f64)> {
        let pid = self.child.id();
        let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
        let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"))?;
        let kilobytes = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
        let open = std::fs::read_dir(format!("/proc/{pid}/fd")).ok()?.count();
        Some((kilobytes, open as f64))
    }

    pub fn kill(mut self) -> Ended {
        self.child.kill().expect("killed");
        self.child.wait().expect("waited");
        self.ended(true)
    }

    /// Tells it to end; how long that took, or `None` if it did not end in good order.
    pub fn end(mut self) -> (Ended, Option<Duration>) {
        let begun = Instant::now();
        self.order("stop");
        let code = loop {
            if let Ok(Some(status)) = self.child.try_wait() {
                break status.code();
            }
            if begun.elapsed() > PATIENCE {
                break None;
            }
            std::thread::sleep(Duration::from_millis(5));
        };
        let took = (code == Some(0)).then(|| begun.elapsed());
        let _ = self.child.kill();
        let _ = self.child.wait();
        (self.ended(took.is_none()), took)
    }

    fn ended(self, killed: bool) -> Ended {
        // The last lines are on their way.
        std::thread::sleep(Duration::from_millis(100));
        Ended {
            handed: self.handed(),
            killed,
            told: std::mem::take(&mut self.told.lock().unwrap()),
            life: self.life,
        }
    }

    /// What it told so far.
    pub fn told(&self) -> Vec<(Instant, String)> {
        self.told.lock().unwrap().clone()
    }
}

impl Ended {
    /// What the cable lost, samples of this life.
    pub fn missing(&self) -> Vec<(u64, u64)> {
        let spans = self.words("missing ").map(|words| {
            let mut numbers = words.split(' ').map_while(|word| word.parse().ok());
            (numbers.next().unwrap_or(0), numbers.next().unwrap_or(0))
        });
        spans.collect()
    }

    /// Where it began to listen to another input, samples.
    pub fn inputs(&self) -> Vec<u64> {
        self.words("from ")
            .filter_map(|place| place.parse().ok())
            .collect()
    }

    /// By how much its clock was set in all, s, and how often.
    pub fn clock_s(&self) -> (f64, usize) {
        let steps = self.words("clock ");
        let by_s = steps.filter_map(|words| words.split(' ').nth(1)?.parse::<f64>().ok());
        by_s.fold((0.0, 0), |(sum, count), by_s| (sum + by_s, count + 1))
    }

    fn words(&self, first: &'static str) -> impl Iterator<Item = &str> {
        let lines = self.told.iter();
        lines.filter_map(move |(_, line)| line.strip_prefix(first))
    }
}
