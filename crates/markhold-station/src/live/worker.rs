//! The sound thread: keeps what comes, shows it, hands it on to the copying.

use super::clock::StationClock;
use super::copying::CopyQueue;
use super::job::{HELD_S, Job};
use super::keep::{KeepSound, KeepTold};
use super::options::LiveOptions;
use crate::board::Board;
use crate::instruments::spectra::Spectrum;
use crate::instruments::{Counts, Pair, Panel};
use crate::report::{Anchor, Followed, InputReport, Report};
use crate::settings::InUse;
use crate::tuning::{Fault, FollowedNow, Tuner, Tuning};
use markhold_event::{SentLine, Signal};
use markhold_shelf::GapCause;
use markhold_sound::source::PATIENCE;
use markhold_sound::{Source, Taken};
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::{Duration, Instant};

/// How long the copying may take when listening ends. What is not copied by then is copied again
/// from the sound at the next start.
const LAST: Duration = Duration::from_secs(5);

/// For how long it is told that the copying is behind after it was, s: long enough to be read.
const BEHIND_S: f64 = 10.0;

/// An input that gives nothing for so long gives no sound: devices hand over some every few
/// hundredths of a second.
const STILL: Duration = Duration::from_secs(2);

/// What the handle asks of the sound thread.
pub(super) enum Order {
    Set(InUse),
    Source(Box<dyn Source>),
    Sent(SentLine),
    Stop,
}

/// The state of the sound thread.
pub(super) struct Worker {
    // configured
    board: Board,
    copying: CopyQueue,
    keeper: Box<dyn KeepSound>,
    // state
    clock: StationClock,
    in_use: InUse,
    /// Rate of the source, Hz.
    rate: u32,
    /// Live time at the begin of the source or of its latest change of rate, s.
    since_s: f64,
    /// Samples since then, lost ones included.
    samples: u64,
    panel: Panel,
    tuner: Tuner,
    counts: Counts,
    /// What was told of tuning last.
    told: Tuning,
    /// Until when the copying counts as behind, s.
    behind_until_s: f64,
    /// From where on copy is missing, live time, s: sound was left out of it.
    whole_until_s: f64,
    /// Since when nothing came of a source that is there.
    still_since: Option<Instant>,
    /// The source has ended; orders are waited for.
    ended: bool,
    /// The device is gone and waited for.
    gone: bool,
}

impl Worker {
    pub(super) fn new(copying: CopyQueue, options: LiveOptions) -> Self {
        let board = options.board;
        Worker {
            copying,
            keeper: options.keeper,
            clock: StationClock::new(options.clocks),
            in_use: board.look(|sum| sum.in_use),
            board,
            rate: 0,
            since_s: 0.0,
            samples: 0,
            panel: Panel::new(8000, 0.0),
            tuner: Tuner::default(),
            counts: Counts::default(),
            told: Tuning::default(),
            behind_until_s: f64::NEG_INFINITY,
            whole_until_s: f64::INFINITY,
            still_since: None,
            ended: false,
            gone: false,
        }
    }

    /// Runs until told to stop or until nobody is left who could tell.
    pub(super) fn run(mut self, mut source: Box<dyn Source>, orders: &Receiver<Order>) {
        self.listen(source.as_ref());
        let mut block = Vec::new();
        while self.obey(&mut source, orders) {
            self.keep_events();
            self.watch_clock();
            self.tell_kept();
            if self.ended {
                std::thread::sleep(PATIENCE);
                continue;
            }
            let taken = source.take(&mut block);
            self.taken(taken, &block, source.as_ref());
        }
        // What is heard is safe before anything that may take longer.
        self.keeper.end_of_sound();
        if !self.copying.finish(LAST) {
            let told_s = self.copying.copied_s() - HELD_S;
            self.whole_until_s = self.whole_until_s.min(told_s);
        }
        self.keep_events();
        let finished = self.keeper.finish();
        self.tell_kept();
        if let Err(why) = finished {
            let at_s = self.now_s();
            self.tell(InputReport::Kept { at_s, words: why });
        }
    }

    /// Live time, s.
    fn now_s(&self) -> f64 {
        self.since_s + self.samples as f64 / f64::from(self.rate.max(1))
    }

    fn anchor(&self) -> Anchor {
        Anchor {
            at_s: self.now_s(),
            utc: self.clock.now(),
        }
    }

    /// Does what was asked; whether to go on.
    fn obey(&mut self, source: &mut Box<dyn Source>, orders: &Receiver<Order>) -> bool {
        loop {
            match orders.try_recv() {
                Ok(Order::Set(in_use)) => self.set(in_use),
                Ok(Order::Source(other)) => {
                    *source = other;
                    self.listen(source.as_ref());
                }
                Ok(Order::Sent(line)) => self.keeper.sent(&line),
                Ok(Order::Stop) | Err(TryRecvError::Disconnected) => return false,
                Err(TryRecvError::Empty) => return true,
            }
        }
    }

    fn set(&mut self, in_use: InUse) {
        self.in_use = in_use;
        self.keeper.settings(&in_use.settings());
        self.copying.send(Job::Set(in_use), true);
        self.board.tell(Report::Settings(in_use));
    }

    /// Sound from a source begins.
    fn listen(&mut self, source: &dyn Source) {
        // Between two inputs nobody listens, unless there was nothing to listen to.
        let before = match self.gone {
            true => GapCause::Device,
            false => GapCause::Stopped,
        };
        self.begin(source, before);
        self.board.tell(Report::Input(InputReport::Listening {
            name: source.name(),
            rate: self.rate,
            anchor: self.anchor(),
        }));
    }

    /// Everything begins anew here: rate and place in time. Time that went by since the
    /// last sound is missing because of `before`.
    fn begin(&mut self, source: &dyn Source, before: GapCause) {
        if self.rate > 0 {
            // The keeper gets the last of the copy before it gets what comes next.
            self.copying.flush();
            self.keep_events();
        }
        self.since_s = self.now_s();
        self.samples = 0;
        self.rate = source.rate();
        (self.ended, self.gone, self.still_since) = (false, false, None);
        self.panel = Panel::new(self.rate, self.since_s);
        self.tuner = Tuner::default();
        let anchor = self.anchor();
        self.keeper
            .begin(&source.name(), self.rate, &anchor, before);
        let job = Job::Begin {
            rate: self.rate,
            at_s: self.since_s,
        };
        self.copying.send(job, true);
    }

    fn taken(&mut self, taken: Taken, block: &[f32], source: &dyn Source) {
        match taken {
            Taken::Sound => self.sound(block, source.is_live()),
            Taken::Nothing => self.nothing(source.is_live()),
            Taken::Gap { lost } => {
                let at_s = self.now_s();
                let lost_s = self.lost(lost, GapCause::Lost);
                self.tell(InputReport::Gap { at_s, lost_s });
            }
            Taken::Lost => {
                self.keeper.gap(None, GapCause::Lost);
                let at_s = self.now_s();
                self.tell(InputReport::Lost { at_s });
            }
            Taken::Gone { why } => {
                self.gone = true;
                let at_s = self.now_s();
                self.tell(InputReport::Gone { at_s, why });
                self.tell_without_sound(match self.samples {
                    0 => Fault::NoInput,
                    _ => Fault::Gone,
                });
            }
            Taken::Back { lost } => self.back(lost, source),
            Taken::Ended { why } => {
                self.ended = true;
                self.tell_without_sound(Fault::Ended);
                let at_s = self.now_s();
                self.copying.send(Job::End { at_s, why }, true);
            }
        }
    }

    fn tell(&self, input: InputReport) {
        self.board.tell(Report::Input(input));
    }

    /// An input that is there and gives nothing for a while is a fault, too.
    fn nothing(&mut self, is_live: bool) {
        if !is_live || self.gone {
            return;
        }
        let since = *self.still_since.get_or_insert_with(Instant::now);
        if since.elapsed() > STILL {
            self.tell_without_sound(Fault::Still);
        }
    }

    /// Kept first; everything clever comes after.
    fn sound(&mut self, block: &[f32], is_live: bool) {
        self.still_since = None;
        self.keeper.sound(block);
        let at_s = self.now_s();
        self.samples += block.len() as u64;
        if let Some(left_out) = self.copying.sound(block, !is_live) {
            let lost_s = left_out as f64 / f64::from(self.rate);
            self.tell(InputReport::Behind { at_s, lost_s });
        }
        if self.copying.is_behind() {
            self.whole_until_s = self.whole_until_s.min(at_s);
            self.behind_until_s = at_s + BEHIND_S;
        }
        self.board.give(self.rate, block);
        self.show(block);
    }

    /// Instruments and tuning.
    fn show(&mut self, block: &[f32]) {
        let followed = self.board.look(|sum| sum.followed.clone());
        let copied = followed.iter().find(|f| f.copied).or(followed.first());
        let pair = copied.map(|f| pair(&f.signal));
        self.panel.look_at(pair);
        let mut shown = Vec::new();
        self.panel.process(block, &mut |spectrum, instruments| {
            shown.push((spectrum.clone(), instruments));
        });
        for (spectrum, instruments) in shown {
            let level = instruments.level.state;
            self.board.tell(Report::Instruments(Box::new(instruments)));
            self.tune(&spectrum, Fault::of(level), &followed);
            let counts = self.panel.counts(spectrum.until_s);
            if counts != self.counts {
                self.counts = counts;
                self.board.tell(Report::Counts(counts));
            }
        }
    }

    fn tune(&mut self, spectrum: &Spectrum, fault: Option<Fault>, followed: &[Followed]) {
        let (copied, others): (Vec<&Followed>, _) = followed.iter().partition(|f| f.copied);
        let all = copied.into_iter().chain(others);
        let all: Vec<FollowedNow> = all.map(followed_now).collect();
        let is_behind = spectrum.until_s < self.behind_until_s;
        let fault = fault.or(is_behind.then_some(Fault::Behind));
        let tuning = self.tuner.process(spectrum, fault, &all, &self.in_use);
        self.tell_tuning(tuning);
        if let Some(tones) = self.tuner.around(spectrum, &all) {
            self.board.tell(Report::Around(tones));
        }
    }

    /// Without sound nothing that was said of tones is true any more.
    fn tell_without_sound(&mut self, fault: Fault) {
        let at_s = self.now_s();
        let tuning = self.tuner.without_sound(fault, at_s, &self.in_use);
        self.tell_tuning(tuning);
        if !self.board.look(|sum| sum.around.is_empty()) {
            self.board.tell(Report::Around(Vec::new()));
        }
    }

    /// Tells what a person can see to be different.
    fn tell_tuning(&mut self, tuning: Tuning) {
        if tuning.differs_from(&self.told) {
            self.told.clone_from(&tuning);
            self.board.tell(Report::Tuning(tuning));
        }
    }

    /// Samples were lost; for how long, s.
    fn lost(&mut self, lost: u64, cause: GapCause) -> f64 {
        self.keeper.gap(Some(lost), cause);
        self.samples += lost;
        self.copying.send(Job::Lost { samples: lost }, true);
        lost as f64 / f64::from(self.rate)
    }

    fn back(&mut self, lost: u64, source: &dyn Source) {
        let lost_s = self.lost(lost, GapCause::Device);
        (self.gone, self.still_since) = (false, None);
        if source.rate() != self.rate {
            self.begin(source, GapCause::Device);
        }
        self.tell(InputReport::Back {
            at_s: self.now_s(),
            lost_s,
            rate: self.rate,
            anchor: self.anchor(),
        });
    }

    /// The copy goes to the keeper from this thread, so that it needs no lock.
    fn keep_events(&mut self) {
        let copied_s = self.copying.copied_s();
        while let Some(event) = self.copying.event() {
            self.keeper.event(&event);
        }
        self.keeper.copied(copied_s.min(self.whole_until_s));
    }

    /// A computer's clock that was set is noted; times go on as before.
    fn watch_clock(&mut self) {
        if let Some(by_s) = self.clock.step() {
            self.keeper.clock_step(by_s);
            let at_s = self.now_s();
            self.tell(InputReport::ClockSet { at_s, by_s });
        }
    }

    /// Tells how the evening is kept, when that changes.
    fn tell_kept(&mut self) {
        for told in self.keeper.told() {
            match told {
                KeepTold::State(state) => self.board.tell(Report::Keeping(state)),
                KeepTold::Evening(number) => self.board.tell(Report::Evening(number)),
                KeepTold::Notice(words) => {
                    let at_s = self.now_s();
                    self.tell(InputReport::Kept { at_s, words });
                }
            }
        }
    }
}

fn pair(signal: &Signal) -> Pair {
    Pair {
        mark_hz: signal.mark_hz,
        space_hz: signal.space_hz,
        rate_baud: signal.rate_baud,
    }
}

fn followed_now(followed: &Followed) -> FollowedNow {
    let signal = &followed.signal;
    let (mark, space) = (signal.mark_hz, signal.space_hz);
    FollowedNow {
        tones_hz: [mark.min(space), mark.max(space)],
        sense: signal.sense,
        drift_hz_per_min: signal.drift_hz_per_min,
        quality: followed.quality,
        characters: followed.characters,
    }
}

#[cfg(test)]
#[path = "worker_tests.rs"]
mod tests;
