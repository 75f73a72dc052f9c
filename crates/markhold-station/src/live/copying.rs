//! The copying thread: sound through the receiver, events to the board.

use crate::board::Board;
use crate::report::{Followed, InputReport, Report};
use crate::settings::InUse;
use markhold_event::{Event, SignalId};
use markhold_language::Learned;
use markhold_receive::{Receiver as Copier, Settings};
use std::collections::{HashMap, VecDeque};
use std::sync::Arc;
use std::sync::atomic::Ordering::{Acquire, Release};
use std::sync::atomic::{AtomicBool, AtomicU64};
use std::sync::mpsc::{
    Receiver, RecvTimeoutError, Sender, SyncSender, TrySendError, channel, sync_channel,
};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Blocks that may wait: twenty seconds of sound, for the moments in which a find is copied
/// from its beginning.
const WAITING: usize = 1000;
/// How long the end of a copy is waited for when another source begins.
const FLUSH: Duration = Duration::from_secs(3);
/// Sound lost for longer than this ends the signals, s: none is followed across it.
const LONG_GAP_S: f64 = 5.0;
/// Silence that stands for lost sound is given in pieces of this many samples.
const SILENCE: [f32; 1024] = [0.0; 1024];
/// Characters that quality is the mean of.
const QUALITY_OF: usize = 40;

/// What the copying thread is to do, in order.
pub(super) enum Job {
    /// Sound of this rate begins at this live time.
    Begin {
        rate: u32,
        at_s: f64,
    },
    Sound(Vec<f32>),
    Lost {
        samples: u64,
    },
    Set(InUse),
    /// The sound so far is all there is: copied to its end, then answered.
    Finish(Sender<()>),
    /// The source has ended.
    End {
        at_s: f64,
        why: Option<String>,
    },
}

/// What both ends of the queue see.
#[derive(Default)]
struct Progress {
    /// Until where the sound was copied, live time in s, as the bits of a float.
    copied_s: AtomicU64,
    /// What waits is left uncopied.
    stop: AtomicBool,
}

/// The sound thread's end of the queue.
pub(super) struct CopyQueue {
    jobs: Option<SyncSender<Job>>,
    events: Receiver<Event>,
    progress: Arc<Progress>,
    /// Samples left out since the queue was full.
    left_out: u64,
}

/// Starts the copying thread.
pub(super) fn start(
    board: Board,
    in_use: InUse,
    learned: Option<Arc<Learned>>,
) -> (CopyQueue, JoinHandle<()>) {
    let (jobs, taken) = sync_channel(WAITING);
    let (tell, events) = channel();
    let progress = Arc::new(Progress::default());
    let told = progress.clone();
    let thread = std::thread::Builder::new()
        .name("copying".into())
        .spawn(move || Copyist::new(board, tell, in_use, learned).run(&taken, &told))
        .expect("the system gives a thread");
    let copying = CopyQueue {
        jobs: Some(jobs),
        events,
        progress,
        left_out: 0,
    };
    (copying, thread)
}

impl CopyQueue {
    /// A queue with so many places that nobody works through.
    #[cfg(test)]
    pub(super) fn stuck(places: usize) -> (Self, Receiver<Job>) {
        let (jobs, taken) = sync_channel(places);
        let (_, events) = channel();
        let queue = CopyQueue {
            jobs: Some(jobs),
            events,
            progress: Arc::default(),
            left_out: 0,
        };
        (queue, taken)
    }

    /// Hands a job over, waiting for a place if `wait`; whether it was taken.
    pub(super) fn send(&mut self, job: Job, wait: bool) -> bool {
        let Some(jobs) = &self.jobs else {
            return false;
        };
        if wait {
            return jobs.send(job).is_ok();
        }
        !matches!(jobs.try_send(job), Err(TrySendError::Full(_)))
    }

    /// Hands sound over. Live sound does not wait: where there is no place it is left out
    /// of the copy. Returns how many samples were left out, once there is a place again.
    pub(super) fn sound(&mut self, block: &[f32], wait: bool) -> Option<u64> {
        let before = self.left_out;
        if before > 0 && self.send(Job::Lost { samples: before }, wait) {
            self.left_out = 0;
        }
        if self.left_out > 0 || !self.send(Job::Sound(block.to_vec()), wait) {
            self.left_out += block.len() as u64;
        }
        (before > 0 && self.left_out < before).then_some(before)
    }

    /// The next event that the keeper has not seen.
    pub(super) fn event(&mut self) -> Option<Event> {
        self.events.try_recv().ok()
    }

    /// Waits until what was handed over is copied to its end, but not for longer than a
    /// ring of a device lasts.
    pub(super) fn flush(&mut self) {
        let (answer, answered) = channel();
        if self.send(Job::Finish(answer), true) {
            // Without an answer the rest of the copy comes late.
            let _ = answered.recv_timeout(FLUSH);
        }
    }

    /// Whether sound is being left out of the copy.
    pub(super) fn is_behind(&self) -> bool {
        self.left_out > 0
    }

    /// Until where the sound was copied, live time, s. Events of it that [`Copying::event`] did
    /// not give yet are there when this is asked before.
    pub(super) fn copied_s(&self) -> f64 {
        f64::from_bits(self.progress.copied_s.load(Acquire))
    }

    /// Everything is handed over; waits until it is copied, but no longer than `patience`. What
    /// is not copied by then is left. Whether all was copied.
    pub(super) fn finish(&mut self, patience: Duration) -> bool {
        self.jobs = None;
        let until = Instant::now() + patience;
        let mut rest = Vec::new();
        let whole = loop {
            match self.events.recv_timeout(until - Instant::now().min(until)) {
                Ok(event) => rest.push(event),
                // The thread drops its sender when it is done.
                Err(error) => break error == RecvTimeoutError::Disconnected,
            }
        };
        self.progress.stop.store(true, Release);
        let (tell, events) = channel();
        // What came between the last look and the stop.
        for event in rest.into_iter().chain(self.events.try_iter()) {
            // The receiver is right here.
            let _ = tell.send(event);
        }
        self.events = events;
        whole
    }
}

/// The characters of one signal so far.
#[derive(Default)]
struct Tally {
    /// Probabilities of the latest.
    latest: VecDeque<f32>,
    characters: u64,
}

/// The state of the copying thread.
struct Copyist {
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
}

impl Copyist {
    fn new(
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
        }
    }

    fn run(mut self, jobs: &Receiver<Job>, progress: &Progress) {
        for job in jobs {
            if progress.stop.load(Acquire) {
                return;
            }
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
            }
            // After its events.
            progress.copied_s.store(self.now_s().to_bits(), Release);
        }
        self.finish();
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
        if samples as f64 > LONG_GAP_S * f64::from(self.rate) {
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
            self.note(&event);
            // Without a keeper's thread there is nobody to tell.
            let _ = self.tell.send(event.clone());
            self.board.tell(Report::Event(event));
        }
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
