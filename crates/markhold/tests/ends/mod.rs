//! Ends a program that keys a line, at any moment and in any way, and looks at what is left
//! of the line: a pseudo terminal behind `line.c`, which writes down every transition.
#![allow(
    missing_docs,
    dead_code,
    unused_imports,
    reason = "a test and a bench, each uses its own part"
)]

mod line;
#[path = "../program/mod.rs"]
mod program;
#[path = "../random/mod.rs"]
mod random;
mod tries;
pub use line::{Change, changes, now_ns, pty, shim};
pub use program::{program, told};
pub use random::Random;
pub use tries::{End, Sender, Try, Way};

use super::late::Late;
use rustix::process::{Pid, Signal, kill_process};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What was found.
#[derive(Debug)]
pub struct Found {
    /// Whether anything was in space, or a motor on, at the end.
    pub was_keyed: bool,
    /// From the end to the last change that put everything to rest, ms; 0 = it was so.
    pub rest_ms: f64,
    /// By how much the computer was late meanwhile, ms.
    pub late_ms: f64,
    /// How often before the program gave up by itself, at rest, since the computer was too busy.
    pub gave_up: usize,
    /// The exit code, if it ended by itself.
    pub code: Option<i32>,
    pub said: String,
}

/// What all tries share.
pub struct Bench {
    late: Late,
    folder: tempfile::TempDir,
    shim: PathBuf,
    sound: PathBuf,
}

/// Longest that anything is waited for: on a very busy computer a recording takes its time
/// to be copied before the first character is keyed.
const PATIENCE: Duration = Duration::from_secs(120);

impl Bench {
    /// `None` where there is no C compiler, or no program can be given such a line.
    pub fn new() -> Option<Bench> {
        let folder = tempfile::tempdir().expect("a folder");
        let shim = shim(folder.path())?;
        std::fs::write(folder.path().join("none.toml"), "").expect("written");
        let sound = folder.path().join("evening.wav");
        let made = Command::new(program())
            .args([
                "air",
                "RYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRY",
            ])
            .args(["--es-n0", "20", "--out"])
            .arg(&sound)
            .stderr(Stdio::null())
            .status();
        assert!(made.expect("the program").success());
        Some(Bench {
            late: Late::new(),
            folder,
            shim,
            sound,
        })
    }

    /// Runs one try to its end. On a busy computer the program may give up by itself, as it
    /// is to; where it left all at rest, it is tried again.
    ///
    /// # Errors
    ///
    /// What did not come to rest, or did not end, with everything that is known.
    pub fn run(&self, number: usize, one: &Try) -> Result<Found, String> {
        let mut said = String::new();
        for again in 0..TRIES {
            let (master, port) = pty().map_err(|error| error.to_string())?;
            let log = self.log(number);
            for behind in ["", ".divisor"] {
                let _ = std::fs::remove_file(format!("{}{behind}", log.display()));
            }
            let child = self.start(one, &port, &log)?;
            let begun = Instant::now();
            match watch(one, master, child, &log) {
                Ok(Watched::Ended(found)) => {
                    return Ok(Found {
                        late_ms: self.late.since(begun).as_secs_f64() * 1e3,
                        gave_up: again,
                        ..found
                    });
                }
                Ok(Watched::GaveUp(why)) => said = why,
                Err(why) => {
                    let all = changes(&log);
                    let last = &all[all.len().saturating_sub(20)..];
                    return Err(format!("{one:?}: {why}\n{last:#?}"));
                }
            }
        }
        Err(format!("{one:?}: gave up {TRIES} times, at rest: {said}"))
    }

    fn log(&self, number: usize) -> PathBuf {
        self.folder.path().join(format!("line-{number}"))
    }

    fn start(&self, one: &Try, port: &str, log: &Path) -> Result<Child, String> {
        let way = format!("{}:{port}", one.way.word());
        let motor = format!("motor_wire={}", one.way.motor());
        let none = self.folder.path().join("none.toml").display().to_string();
        let sound = self.sound.display().to_string();
        let mut words = match one.sender {
            Sender::Machine => vec!["machine", "us-72-45", "--test", "ry"],
            Sender::Copy => vec!["copy", &sound, "--to", "us-72-45", "--set", "patience_s=0"],
            Sender::Pattern => vec!["bench", "pattern", "alternating", "--to", "us-72-45"],
        };
        words.extend(["--way", &way, "--settings", &none, "--set", &motor]);
        words.extend(["--set", "motor=true", "--set", "run_up_s=0.05"]);
        // A signal that the tests themselves were started without, as `nohup` and a shell's
        // `&` do it, would be ignored by the program as well.
        Command::new("env")
            .arg("--default-signal=HUP,INT,TERM")
            .arg(program())
            .args(words)
            .env("LD_PRELOAD", &self.shim)
            .env("LINE_LOG", log)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|error| error.to_string())
    }
}

/// What came of a try.
enum Watched {
    Ended(Found),
    /// The program ended before it was ended, and says why; all was at rest.
    GaveUp(String),
}

/// How often a program may give up on a busy computer.
const TRIES: usize = 5;

/// Waits for the moment, ends the program, and waits for what comes of it.
fn watch(one: &Try, master: OwnedFd, mut child: Child, log: &Path) -> Result<Watched, String> {
    let pid = child.id();
    let mut gone = false;
    let begun = wait(|| {
        gone = child.try_wait().is_ok_and(|status| status.is_some());
        (gone || keyed(one, pid, log, &master)).then_some(())
    });
    if gone {
        return gave_up(one, child, log);
    }
    let ready = begun.and_then(|()| guardian(pid, log).ok_or("no guardian".into()));
    let guardian = match ready {
        Ok(guardian) => guardian,
        Err(why) => {
            let _ = child.kill();
            let said = said(child);
            return Err(format!("it never keyed: {why}: {said}"));
        }
    };
    std::thread::sleep(one.later);
    if child.try_wait().is_ok_and(|status| status.is_some()) {
        return gave_up(one, child, log);
    }
    let before_ns = now_ns();
    match one.end {
        End::Killed => send(pid, Signal::KILL),
        End::Hung => send(pid, Signal::STOP),
        End::Terminated => send(pid, Signal::TERM),
        End::HungUp => send(pid, Signal::HUP),
        End::Interrupted => send(pid, Signal::INT),
        End::Unplugged => drop(master),
        End::GuardianKilled => send(guardian, Signal::KILL),
        End::GuardianHung => send(guardian, Signal::STOP),
    }
    // A closed end counts from when it is closed; a signal from when it is on its way.
    let at_ns = match one.end {
        End::Unplugged => now_ns(),
        _ => before_ns,
    };
    // It may have opened the way again in just that moment.
    let found = self::guardian(pid, log).unwrap_or(guardian);
    if found != guardian && matches!(one.end, End::GuardianKilled | End::GuardianHung) {
        send(pid, Signal::KILL);
        wait(|| (!lives(found)).then_some(()))?;
        let _ = child.wait();
        judge(one, &changes(log), now_ns())?;
        return Ok(Watched::GaveUp("the way was opened again".into()));
    }
    let guardian = found;
    let ended = wait(|| ended(one.end, &mut child, guardian).then_some(()));
    if one.end == End::Unplugged {
        // It waits for the adapter to come back, with no guardian and no line.
        send(pid, Signal::KILL);
    }
    if ended.is_err() || one.end == End::Hung {
        send(pid, Signal::KILL);
        send(guardian, Signal::KILL);
    }
    let code = child.wait().map_err(|error| error.to_string())?.code();
    let said = said(child);
    ended.map_err(|why| format!("it did not end: {why}: {said}"))?;
    let found = judge(one, &changes(log), at_ns)?;
    // It may have given up in the moment in which it was ended.
    if one
        .end
        .code()
        .is_some_and(|usual| code == Some(2) && usual != 2)
    {
        return Ok(Watched::GaveUp(said));
    }
    Ok(Watched::Ended(Found {
        code,
        said,
        ..found
    }))
}

/// It ended before it was ended: with an error, and all at rest.
fn gave_up(one: &Try, mut child: Child, log: &Path) -> Result<Watched, String> {
    let code = child.wait().map_err(|error| error.to_string())?.code();
    let guardian = guardian(child.id(), log);
    wait(|| (!guardian.is_some_and(lives)).then_some(()))?;
    judge(one, &changes(log), now_ns())?;
    let said = said(child);
    match code {
        Some(2) => Ok(Watched::GaveUp(said)),
        other => Err(format!("it ended before its time, with {other:?}: {said}")),
    }
}

/// Whether so much has happened to the line. A serial port's words are read at the other end.
fn keyed(one: &Try, pid: u32, log: &Path, master: &OwnedFd) -> bool {
    if one.way == Way::Serial {
        let waiting = rustix::io::ioctl_fionread(master);
        return waiting.is_ok_and(|count| count as usize >= one.after / 3);
    }
    let keyed = changes(log);
    let wire = one.way.word();
    let count = keyed
        .iter()
        .filter(|c| c.pid == pid && c.what == wire)
        .count();
    count >= one.after + 3
}

/// Whether everything has ended that should.
fn ended(end: End, child: &mut Child, guardian: u32) -> bool {
    match end {
        End::Hung | End::Unplugged => !lives(guardian),
        // A guardian that hangs is ended by its sender.
        _ => child.try_wait().is_ok_and(|status| status.is_some()) && !lives(guardian),
    }
}

/// A process that is there and more than a name.
pub fn lives(pid: u32) -> bool {
    let state = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap_or_default();
    let state = state.rsplit(") ").next().unwrap_or_default().chars().next();
    state.is_some_and(|state| !"ZX".contains(state))
}

/// The last process but the sender that touched the line: a way that was opened again, because
/// a busy computer was too late, has another guardian than before.
fn guardian(sender: u32, log: &Path) -> Option<u32> {
    let all = changes(log);
    let mut others = all.iter().rev().map(|change| change.pid);
    others.find(|pid| *pid != sender)
}

/// Whether this was started with Ctrl-C ignored, as a shell starts what runs in its background:
/// then what it starts is not ended by that either.
pub fn ignores_interrupts() -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    let mask = line.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    mask.is_some_and(|mask| mask & 0b10 != 0)
}

pub fn said(mut child: Child) -> String {
    let mut words = String::new();
    if let Some(mut err) = child.stderr.take() {
        let _ = std::io::Read::read_to_string(&mut err, &mut words);
    }
    words
}

pub fn send(pid: u32, signal: Signal) {
    // Processes of this test only: its child, and the child that its child started.
    if let Some(pid) = Pid::from_raw(pid as i32) {
        let _ = kill_process(pid, signal);
    }
}

fn wait(mut done: impl FnMut() -> Option<()>) -> Result<(), String> {
    let begun = Instant::now();
    while done().is_none() {
        if begun.elapsed() > PATIENCE {
            return Err(format!("nothing for {PATIENCE:?}"));
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    Ok(())
}

/// When everything had come to rest. An adapter that was pulled out rests by itself: there
/// nothing may be keyed any more.
fn judge(one: &Try, changes: &[Change], at_ns: u64) -> Result<Found, String> {
    let (mut was_keyed, mut rest_ns) = (false, at_ns);
    for what in ["rts", "dtr", "break", "divisor"] {
        let of = || changes.iter().filter(|change| change.what == what);
        let before = of().take_while(|change| change.at_ns < at_ns).last();
        let was = before.is_some_and(|change| change.value != 0);
        was_keyed |= was && what != "divisor";
        let last = of().next_back();
        if one.end == End::Unplugged {
            let after = of().find(|c| c.at_ns > at_ns + 50_000_000 && c.value != 0);
            after.map_or(Ok(()), |c| Err(format!("{c:?} after it was unplugged")))?;
            continue;
        }
        if last.is_some_and(|change| change.value != 0) {
            return Err(format!("{what} was left keyed: {last:?}"));
        }
        // The change to rest that followed the last keyed one.
        let keyed = of().rev().find(|change| change.value != 0);
        let to_rest = keyed.and_then(|k| of().find(|c| c.value == 0 && c.at_ns >= k.at_ns));
        rest_ns = rest_ns.max(to_rest.map_or(0, |change| change.at_ns));
    }
    Ok(Found {
        was_keyed,
        rest_ms: (rest_ns - at_ns) as f64 / 1e6,
        late_ms: 0.0,
        gave_up: 0,
        code: None,
        said: String::new(),
    })
}

impl Bench {
    /// Whether the port of that try had this divisor at some time.
    pub fn had_divisor(&self, number: usize, divisor: u32) -> bool {
        let log = self.log(number);
        let is = |c: &Change| c.what == "divisor" && c.value == divisor;
        changes(&log).iter().any(is)
    }
}
