//! Whether a fault was told as a state while it lasted, and how soon that ended.
//!
//! ```text
//!   faults   ----[ locked ]-[ locked  ]-----------
//!   told     well    ill ----------------- well
//! ```
//!
//! A state that stands when a fault begins is told no second time: two locks close to each other
//! are one to who is told. One of another cause that stands is no answer, nor a question.

use super::fault::Fault;
use std::time::{Duration, Instant};

/// Sound that surely needs more room than a full disk has left, s: 64 kB are 4 s.
const ROOM_S: f64 = 8.0;

/// How late a computer may be on which times say something of the program.
const BUSY: Duration = Duration::from_millis(100);

/// How long the state may take to be right again after a fault: the archive is tried at least
/// every 10 s, the disk every half a second.
pub const RIGHT_AGAIN: Duration = Duration::from_secs(15);

/// A state may be told so long after its cause was over.
const ON_ITS_WAY: Duration = Duration::from_secs(1);

/// What a program said, and when, in order.
pub type Told<'a> = &'a [&'a (Instant, String)];

/// A fault that was over, and whose state is to be told.
pub struct Asked {
    pub fault: Fault,
    pub begun: Instant,
    pub ended: Instant,
    /// How much sound came meanwhile, s: where none comes there is nothing to keep.
    pub sound_s: f64,
    /// By how much the computer was late meanwhile.
    pub late: Duration,
}

/// What was found of all faults of one kind.
#[derive(Default)]
pub struct Found {
    /// How many were long enough, with nothing else in between, on a computer not late.
    count: usize,
    /// Of those, how many began while that very state stood.
    stood: usize,
    /// How many fell while hardly any sound came.
    silent: usize,
    told: Duration,
    over: Duration,
    pub wrong: Vec<String>,
}

/// Looks at all faults of a kind that lasted longer than that, s, and whose state has this word.
pub fn look(asked: &[Asked], told: Told, fault: Fault, (word, patience_s): (&str, f64)) -> Found {
    let mut found = Found::default();
    for one in asked.iter().filter(|one| one.fault == fault) {
        let long = one.ended.duration_since(one.begun).as_secs_f64() > patience_s;
        if long && one.late <= BUSY && !is_mixed(one, asked) && !starts(one, told) {
            found.add(one, told, word);
        }
    }
    found
}

/// Another fault whose state stands in the same place was there at the same time.
fn is_mixed(one: &Asked, asked: &[Asked]) -> bool {
    asked.iter().any(|other| {
        let is_of_kind = matches!(other.fault, Fault::FullDisk | Fault::Locked);
        let is_another = other.begun != one.begun;
        is_of_kind && is_another && other.begun < one.ended && other.ended > one.begun
    })
}

/// A program was started meanwhile, or soon after.
fn starts(one: &Asked, told: Told) -> bool {
    let within = |at: Instant| at > one.begun && at < one.ended + RIGHT_AGAIN;
    told.iter()
        .any(|(at, line)| line.starts_with("open") && within(*at))
}

/// Lines that tell a state.
fn is_state(line: &str) -> bool {
    line.starts_with("ill") || line.starts_with("well")
}

impl Found {
    fn add(&mut self, one: &Asked, told: Told, word: &str) {
        // A device that is out meanwhile: what finds the disk full is looked for less often.
        if one.sound_s < ROOM_S {
            self.silent += 1;
            return;
        }
        let says = |line: &str| line.starts_with("ill") && line.contains(word);
        let first_after = told.partition_point(|(at, _)| *at < one.begun);
        let stood = told[..first_after]
            .iter()
            .rev()
            .map(|(_, line)| line)
            .find(|line| is_state(line));
        match stood {
            Some(line) if says(line) => self.stood += 1,
            // What went wrong before is not over.
            Some(line) if line.starts_with("ill") => return,
            _ => {}
        }
        self.count += 1;
        let after = &told[first_after..];
        let ill = after.iter().find(|(_, line)| says(line));
        match ill {
            _ if stood.is_some_and(|line| says(line)) => {}
            Some((at, _)) if *at <= one.ended + ON_ITS_WAY => {
                self.told = self.told.max(at.duration_since(one.begun));
            }
            _ => self.wrong.push(not_told(one, stood, after)),
        }
        let well = after
            .iter()
            .find(|(at, line)| *at >= one.ended && line.starts_with("well"));
        if let Some((at, _)) = well {
            self.over = self.over.max(at.duration_since(one.ended));
        }
    }

    /// In words, of faults longer than that, s.
    pub fn words(&self, fault: Fault, patience_s: f64) -> String {
        format!(
            "state: {}: {} longer than {patience_s} s with nothing else in between on a computer not \
             late, {} of them while that state still stood, told within {:.1?}, over within {:.1?}; {} \
             while hardly any sound came",
            fault.name(),
            self.count,
            self.stood,
            self.told,
            self.over,
            self.silent
        )
    }
}

/// What was told instead, with times from its begin.
fn not_told(one: &Asked, stood: Option<&String>, after: Told) -> String {
    let soon = after
        .iter()
        .take_while(|(at, _)| *at <= one.ended + RIGHT_AGAIN);
    let states = soon.filter(|(_, line)| is_state(line));
    let states = states.map(|(at, line)| format!("{:.1?} {line}", at.duration_since(one.begun)));
    format!(
        "{} for {:.1?} was not told; before it {stood:?}, then {:?}",
        one.fault.name(),
        one.ended.duration_since(one.begun),
        states.collect::<Vec<_>>()
    )
}
