//! The copying thread's own: sound through receivers, events to the board.

use super::job::{Job, Progress};
use crate::board::Board;
use crate::report::{Followed, InputReport, Report};
use crate::settings::InUse;
use markhold_event::{Event, Signal, SignalId};
use markhold_language::Learned;
use markhold_receive::{Receiver as Copier, Settings};
use markhold_shelf::LONGEST_SILENCE_S;
use std::collections::{HashMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::Ordering::Acquire;
use std::sync::mpsc::{Receiver, Sender};

/// Silence that stands for lost sound is given in pieces of this many samples.
const SILENCE: [f32; 1024] = [0.0; 1024];
/// Characters that quality is the mean of.
const QUALITY_OF: usize = 40;
/// Told when a fault of the program ended a receiver.
const FAULT: &str = "The receiver stumbled over a fault of this program and began anew. What it lost \
                     is copied again from the sound at the next start.";
/// A receiver that stumbles again and again is told of this often, s of sound.
const FAULT_EVERY_S: f64 = 60.0;

/// The characters of one signal so far.
#[derive(Default)]
struct Tally {
    /// Probabilities of the latest.
    latest: VecDeque<f32>,
    characters: u64,
}

/// The state of the copying thread.
pub(super) struct Copyist {
    // configured
    board: Board,
    tell: Sender<Event>,
    learned: Option<Arc<Learned>>,
    // state
    in_use: InUse,
    copier: Option<Copier>,
    rate: u32,
    /// Live time of the copier's first sample, s.
    begin_s: f64,
    /// Samples given to the copier.
    samples: u64,
    /// Names given out by copiers before this one.
    names: u32,
    /// The highest name so far.
    last_name: u32,
    tallies: HashMap<SignalId, Tally>,
    followed_s: f64,
    /// When a fault of the program was told last, live time, s.
    fault_s: Option<f64>,
}

impl Copyist {
    pub(super) fn new(
        board: Board,
        tell: Sender<Event>,
        in_use: InUse,
        learned: Option<Arc<Learned>>,
    ) -> Self {
        Copyist {
            board,
            tell,
            learned,
            in_use,
            copier: None,
            rate: 0,
            begin_s: 0.0,
            samples: 0,
            names: 0,
            last_name: 0,
            tallies: HashMap::new(),
            followed_s: 0.0,
            fault_s: None,
        }
    }

    pub(super) fn run(mut self, jobs: &Receiver<Job>, progress: &Progress) {
        for job in jobs {
            if progress.stop.load(Acquire) {
                return;
            }
            // A fault in a receiver is to cost some copy, not the evening: another one goes on.
            let done = catch_unwind(AssertUnwindSafe(|| self.work(job)));
            if done.is_err() {
                self.stumbled(progress);
            }
            // After its events.
            progress.copied(self.now_s());
        }
        self.finish();
    }

    fn work(&mut self, job: Job) {
        match job {
            Job::Begin { rate, at_s } => self.begin(rate, at_s),
            Job::Sound(block) => self.sound(&block),
            Job::Lost { samples } => self.lost(samples),
            Job::Set(in_use) => self.set(in_use),
            Job::Finish(answer) => {
                self.finish();
                // Who asked may not have waited.
                let _ = answer.send(());
            }
            Job::End { at_s, why } => {
                self.finish();
                let ended = InputReport::Ended { at_s, why };
                self.board.tell(Report::Input(ended));
            }
            #[cfg(test)]
            Job::Fault => panic!("a fault of the program, made by a test"),
        }
    }

    /// The receiver ended by a fault of the program. Another one begins here; the signals of the
    /// one before are over.
    fn stumbled(&mut self, progress: &Progress) {
        let at_s = self.now_s();
        progress.stumbled(at_s, self.begin_s);
        self.copier = None;
        let over: Vec<Signal> = self.board.look(|sum| {
            let followed = sum.followed.iter().filter(|f| f.copied);
            followed.map(|f| f.signal.clone()).collect()
        });
        for signal in over {
            self.give(Event::Ended(signal));
        }
        self.begin(self.rate, at_s);
        if self
            .fault_s
            .is_none_or(|told_s| at_s - told_s >= FAULT_EVERY_S)
        {
            self.fault_s = Some(at_s);
            let words = FAULT.into();
            self.board
                .tell(Report::Input(InputReport::Kept { at_s, words }));
        }
    }

    /// What the copier is told.
    fn settings(&self, in_use: &InUse) -> Settings {
        Settings {
            learned: self.learned.clone(),
            // The shelf keeps them for whoever weighs this copy against another.
            unlikely: true,
            ..in_use.settings()
        }
    }

    fn now_s(&self) -> f64 {
        self.begin_s + self.samples as f64 / f64::from(self.rate.max(1))
    }

    fn begin(&mut self, rate: u32, at_s: f64) {
        self.finish();
        self.names = self.last_name;
        self.begin_s = at_s;
        self.rate = rate;
        self.samples = 0;
        // Whoever set this has checked it for the rate; a source that comes back at a rate
        // that is too low for a held place is copied without the hold.
        let copier = Copier::new(f64::from(rate), self.settings(&self.in_use))
            .or_else(|_| Copier::new(f64::from(rate), self.settings(&InUse::default())));
        self.copier = copier.ok();
    }

    fn sound(&mut self, block: &[f32]) {
        self.samples += block.len() as u64;
        let mut events = Vec::new();
        if let Some(copier) = &mut self.copier {
            copier.process(block, &mut |event| events.push(event));
        }
        self.report(events);
        if self.now_s() - self.followed_s >= 1.0 {
            self.tell_followed();
        }
    }

    /// Lost sound is silence, so that time goes on; after a long gap all begins anew.
    fn lost(&mut self, samples: u64) {
        if samples as f64 > LONGEST_SILENCE_S * f64::from(self.rate) {
            let resume_s = self.now_s() + samples as f64 / f64::from(self.rate);
            return self.begin(self.rate, resume_s);
        }
        let mut left = samples as usize;
        while left > 0 {
            let count = left.min(SILENCE.len());
            self.sound(&SILENCE[..count]);
            left -= count;
        }
    }

    /// The handle has checked the settings.
    fn set(&mut self, in_use: InUse) {
        self.in_use = in_use;
        let mut events = Vec::new();
        let settings = self.settings(&in_use);
        if let Some(copier) = &mut self.copier {
            let keep = &mut |event| events.push(event);
            // Settings that do not fit a rate that changed since are left as they were.
            let _ = copier.set_settings(settings, keep);
        }
        self.report(events);
        self.tell_followed();
    }

    fn finish(&mut self) {
        let mut events = Vec::new();
        if let Some(mut copier) = self.copier.take() {
            copier.finish(&mut |event| events.push(event));
        }
        self.report(events);
        self.tell_followed();
    }

    fn report(&mut self, events: Vec<Event>) {
        for event in events {
            // Times and names of the receiver as those of the whole evening.
            let event = event.placed(self.begin_s, self.names);
            self.last_name = self.last_name.max(event.signal().0);
            self.give(event);
        }
    }

    /// Tells keeper and board an event of the evening.
    fn give(&mut self, event: Event) {
        self.note(&event);
        // Without a keeper's thread there is nobody to tell.
        let _ = self.tell.send(event.clone());
        self.board.tell(Report::Event(event));
    }

    fn note(&mut self, event: &Event) {
        match event {
            Event::Character(character) => {
                let tally = self.tallies.entry(character.signal).or_default();
                tally.characters += 1;
                tally.latest.push_back(character.probability);
                let over = tally.latest.len().saturating_sub(QUALITY_OF);
                tally.latest.drain(..over);
            }
            Event::Ended(signal) => {
                self.tallies.remove(&signal.id);
            }
            Event::Found(_) | Event::Early(_) | Event::Unlikely(_) => {}
        }
    }

    fn tell_followed(&mut self) {
        self.followed_s = self.now_s();
        let (signals, chosen) = match &self.copier {
            Some(copier) => (copier.signals(), copier.chosen()),
            None => (Vec::new(), None),
        };
        let nothing = Tally::default();
        let mut followed = Vec::new();
        for signal in signals {
            let copied = self.in_use.all || chosen == Some(signal.id);
            let signal = signal.placed(self.begin_s, self.names);
            // A name that was shown is not given again, whether it was reported or not.
            self.last_name = self.last_name.max(signal.id.0);
            let tally = self.tallies.get(&signal.id).unwrap_or(&nothing);
            followed.push(Followed {
                quality: mean(&tally.latest),
                characters: tally.characters,
                copied,
                signal,
            });
        }
        self.board.tell(Report::Followed(followed));
    }
}

fn mean(values: &VecDeque<f32>) -> Option<f32> {
    (!values.is_empty()).then(|| values.iter().sum::<f32>() / values.len() as f32)
}
