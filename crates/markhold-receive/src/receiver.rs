//! The receiver: samples in, events out.

mod candidate;
mod choice;
#[cfg(test)]
mod tests;

use markhold_signal::BandPlan;

use crate::copy::committed::{Committed, Place};
use crate::copy::observer::Observer;
use crate::copying::Copying;
use crate::event::{Event, Signal, SignalId};
use crate::levelled::Levelled;
use crate::pair::follower::PairStart;
use crate::search::finder::{Find, Finder, LOOK_BACK_S};
use crate::search::turned::Taken;
use crate::settings::{Settings, SettingsError};
use candidate::Candidate;
use choice::{Offer, choose};

/// For how long the band is remembered, s: a signal is found some seconds after it began,
/// and its first characters are copied all the same.
const MEMORY_S: f64 = 40.0;
/// How far before the begin of the trial that found it copying begins, s: a weak signal may
/// well have been there for as long as it took.
const BEFORE_TRIAL_S: f64 = 8.0;
/// Two tones found alone are the same one where they lie no farther apart, Hz: as far as a find is off.
const SAME_HZ: f64 = 15.0;
/// Signals copied at once.
const MOST_SIGNALS: usize = 12;

/// A signal that is there and was not asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Elsewhere {
    /// Tone of mark, Hz.
    pub mark_hz: f64,
    /// Tone of space, Hz.
    pub space_hz: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
}

/// Finds and copies signals.
pub struct Receiver {
    // configured
    settings: Settings,
    // derived
    plan: BandPlan,
    // state
    sound: Levelled,
    finder: Finder,
    candidates: Vec<Candidate>,
    chosen: Option<SignalId>,
    next_id: u32,
    samples: u64,
    /// What was copied is not copied again.
    committed: Committed,
    observer: Option<Observer>,
}

impl Receiver {
    /// A receiver for sound of `sample_rate` samples a second, 6000 to 192 000.
    pub fn new(sample_rate: f64, settings: Settings) -> Result<Self, SettingsError> {
        settings.check(sample_rate)?;
        let plan = BandPlan::new(sample_rate);
        let kept = (MEMORY_S / plan.hop_s()).ceil() as usize;
        Ok(Self {
            plan,
            sound: Levelled::new(plan, kept),
            finder: Finder::new(plan, &settings),
            settings,
            candidates: Vec::new(),
            chosen: None,
            next_id: 1,
            samples: 0,
            committed: Committed::default(),
            observer: None,
        })
    }

    /// Shows the conditions of all characters from here on to an observer: for those who fit
    /// what is made of them.
    #[doc(hidden)]
    pub fn show(&mut self, observer: Observer) {
        self.observer = Some(observer);
    }

    /// Takes samples, full scale 1.0; reports what they gave.
    pub fn process(&mut self, mut samples: &[f32], report: &mut dyn FnMut(Event)) {
        while !samples.is_empty() {
            let (taken, complete) = self.sound.push(samples);
            self.samples += taken as u64;
            samples = &samples[taken..];
            if complete {
                self.frame(report);
            }
        }
    }

    /// All signals that are being followed now and have shown that they are signals, whether
    /// they are reported or not.
    pub fn signals(&self) -> Vec<Signal> {
        let begun = self.candidates.iter().filter(|c| c.copying.has_begun());
        begun.map(|c| c.copying.signal()).collect()
    }

    /// How the pair of each signal that is being followed could be followed from now on.
    pub(crate) fn pairs(&self) -> impl Iterator<Item = (SignalId, PairStart)> {
        let begun = self.candidates.iter().filter(|c| c.copying.has_begun());
        begun.map(|c| (c.id(), c.copying.pair()))
    }

    /// The latest signal that was heard and that the settings do not ask for, if any was.
    pub fn elsewhere(&self) -> Option<Elsewhere> {
        let start = &self.finder.heard_elsewhere()?.start;
        Some(Elsewhere {
            mark_hz: start.mark_hz,
            space_hz: start.space_hz,
            rate_baud: start.rate_baud,
        })
    }

    /// The signal that is reported now, if one is; `None` with [`Settings::all`].
    pub fn chosen(&self) -> Option<SignalId> {
        self.chosen
    }

    /// Changes the settings from the next sample on: holds what is now forced and lets go
    /// what is not any more. Signals that do not fit end; if some then do, they are found
    /// from the sound that is still remembered.
    ///
    /// # Errors
    /// As for [`Receiver::new`]; then nothing was changed.
    pub fn set_settings(
        &mut self,
        settings: Settings,
        report: &mut dyn FnMut(Event),
    ) -> Result<(), SettingsError> {
        settings.check(self.plan.rate_hz)?;
        self.finder.set_settings(&settings);
        self.settings = settings;
        let settings = self.settings.clone();
        self.end_where(|c| !c.copying.fits(&settings), report);
        for candidate in &mut self.candidates {
            candidate.copying.set_settings(&settings);
            candidate.forget_beside();
        }
        Ok(())
    }

    /// The sound has ended: reports all that is left.
    pub fn finish(&mut self, report: &mut dyn FnMut(Event)) {
        self.sound.finish();
        while self.sound.next_frame() {
            self.frame(report);
        }
        let end_s = self.samples as f64 / self.plan.rate_hz;
        self.find(end_s, true, report);
        for candidate in &mut self.candidates {
            candidate.advance(&self.sound, end_s, true);
        }
        self.choose(end_s, true);
        self.report(end_s, true, report);
        for candidate in std::mem::take(&mut self.candidates) {
            if candidate.announced {
                report(Event::Ended(candidate.copying.signal()));
            }
        }
        self.chosen = None;
    }

    /// A new frame of the band is there.
    fn frame(&mut self, report: &mut dyn FnMut(Event)) {
        let heard_s = self.samples as f64 / self.plan.rate_hz;
        let until_s = (self.plan.output_start(self.sound.band().next_frame()) as f64
            / self.plan.rate_hz)
            .min(heard_s);
        self.find(until_s, false, report);
        for candidate in &mut self.candidates {
            candidate.advance(&self.sound, until_s, false);
        }
        self.choose(until_s, false);
        self.report(until_s, false, report);
        self.retire(until_s, report);
    }

    fn find(&mut self, now_s: f64, last: bool, report: &mut dyn FnMut(Event)) {
        let taken = self.taken();
        let ids: Vec<SignalId> = self.candidates.iter().map(|c| c.id()).collect();
        let mut finds = self.finder.look(&self.sound, &taken, now_s, last);
        // Asked only where nothing was found: what was may take the place of the same pair.
        if finds.is_empty() && !last {
            finds = self.misread(&taken, now_s);
        }
        for find in finds {
            let replaced: Vec<SignalId> = find.instead_of.iter().map(|i| ids[*i]).collect();
            let was_chosen = self.chosen.filter(|id| replaced.contains(id)).is_some();
            self.let_go(&replaced, report);
            self.let_go_for(&find, report);
            if self.candidates.len() < MOST_SIGNALS {
                let id = self.begin(&find, now_s);
                // It is the same signal: nobody need choose again.
                if was_chosen {
                    self.chosen = Some(id);
                }
            }
        }
        self.let_go_outdone(now_s, report);
    }

    /// All pairs that are being copied.
    fn taken(&self) -> Vec<Taken> {
        self.candidates.iter().map(|c| c.copying.taken()).collect()
    }

    /// What takes the place of pairs that are copied badly, or of which only rows were copied.
    fn misread(&mut self, taken: &[Taken], now_s: f64) -> Vec<Find> {
        let asked: Vec<bool> = {
            let all = self.candidates.iter_mut();
            all.map(|c| c.is_doubtful(now_s)).collect()
        };
        match asked.contains(&true) {
            true => self.finder.misread(&self.sound, taken, &asked, now_s),
            false => Vec::new(),
        }
    }

    /// Ends what a find leaves no room for. Of a tone alone there is one line: what was found there
    /// before and is not there any more has lost it. Where no room is left, a pair takes that of the
    /// weakest tone alone.
    fn let_go_for(&mut self, find: &Find, report: &mut dyn FnMut(Event)) {
        let alone = self.candidates.iter().filter(|c| c.copying.is_alone());
        let over: Vec<SignalId> = match (find.verdict.tone_alone(), self.candidates.len()) {
            (Some(hz), _) => {
                let is_same =
                    |c: &&Candidate| c.alone_hz.is_some_and(|at| (at - hz).abs() < SAME_HZ);
                alone.filter(is_same).map(|c| c.id()).collect()
            }
            (None, MOST_SIGNALS..) => {
                let power = |c: &&Candidate| c.copying.power();
                let weakest = alone.min_by(|a, b| power(a).total_cmp(&power(b)));
                weakest.map(|c| c.id()).into_iter().collect()
            }
            (None, _) => return,
        };
        self.let_go(&over, report);
    }

    fn let_go_outdone(&mut self, now_s: f64, report: &mut dyn FnMut(Event)) {
        let taken = self.taken();
        let mut outdone = self.finder.outdone(&self.sound, &taken, now_s);
        outdone.extend(self.swept(&taken, now_s));
        let id = |i: &usize| self.candidates[*i].id();
        let outdone: Vec<SignalId> = outdone.iter().map(id).collect();
        self.let_go(&outdone, report);
    }

    /// Which pairs have shown to be swept.
    fn swept(&mut self, taken: &[Taken], now_s: f64) -> Vec<usize> {
        let Some(evidence) = self.finder.swept(&self.sound, taken, now_s) else {
            return Vec::new();
        };
        for (candidate, evidence) in self.candidates.iter_mut().zip(evidence) {
            candidate.take_swept(evidence);
        }
        let is_swept = |i: &usize| self.candidates[*i].is_swept();
        (0..taken.len()).filter(is_swept).collect()
    }

    /// Ends what another pair has taken the place of.
    fn let_go(&mut self, replaced: &[SignalId], report: &mut dyn FnMut(Event)) {
        self.end_where(|c| replaced.contains(&c.id()), report);
    }

    fn begin(&mut self, find: &Find, now_s: f64) -> SignalId {
        let mut verdict = find.verdict.clone();
        let start = &mut verdict.start;
        let tones_hz = [start.mark_hz, start.space_hz];
        let place = Place::new(tones_hz, verdict.missing, start.rate_baud);
        let before = self.committed.until_s(place).unwrap_or(0.0);
        let from_s = (now_s - LOOK_BACK_S).min(start.at_s - BEFORE_TRIAL_S);
        let since_s = find.since_s.unwrap_or(0.0);
        start.at_s = from_s.max(self.sound.oldest_s()).max(before).max(since_s);
        let id = SignalId(self.next_id);
        self.next_id += 1;
        let mut copying = Copying::new(id, self.plan, &verdict, &self.settings);
        copying.show(self.observer.clone());
        let candidate = Candidate::new(copying, &verdict, &self.settings, now_s);
        self.candidates.push(candidate);
        id
    }

    /// Settles which signal is reported.
    fn choose(&mut self, now_s: f64, last: bool) {
        if self.settings.all {
            return;
        }
        self.pass_over();
        let meant = self.candidates.iter().filter(|c| !c.is_passed_over());
        let offers: Vec<Offer> = meant.map(|c| c.offer(self.settings.at_hz)).collect();
        self.chosen = choose(&offers, self.chosen, now_s, last);
        self.forget_others(&offers);
    }

    /// Notes who is copied beside a nearer one where a place is forced: it is not the one that is
    /// meant, as long as it lasts.
    fn pass_over(&mut self) {
        let Some(at_hz) = self.settings.at_hz else {
            return;
        };
        let chosen = |c: &&Candidate| Some(c.id()) == self.chosen && c.announced;
        let sure = |c: &&Candidate| c.is_sure();
        let chosen = self.candidates.iter().find(chosen).filter(sure);
        let Some(nearest_hz) = chosen.map(|c| c.off_hz(at_hz)) else {
            return;
        };
        let hop_s = self.plan.hop_s();
        let others = self.candidates.iter_mut();
        for other in others.filter(|c| c.off_hz(at_hz) > nearest_hz) {
            other.stands_beside(hop_s);
        }
    }

    /// Forgets what others than the chosen one had to say, but for one that is about to take over.
    fn forget_others(&mut self, offers: &[Offer]) {
        let current = offers.iter().find(|o| Some(o.id) == self.chosen);
        let is_coming = |offer: &&Offer| current.is_none_or(|current| offer.outweighs(current));
        let kept: Vec<SignalId> = offers.iter().filter(is_coming).map(|o| o.id).collect();
        for other in &mut self.candidates {
            let id = other.id();
            if Some(id) != self.chosen && !kept.contains(&id) {
                other.forget();
            }
        }
    }

    fn report(&mut self, now_s: f64, last: bool, report: &mut dyn FnMut(Event)) {
        for candidate in &mut self.candidates {
            let chosen = self.settings.all || Some(candidate.id()) == self.chosen;
            let waited = last || candidate.may_be_shown(now_s);
            if chosen && waited && !candidate.announced && candidate.copying.has_begun() {
                report(Event::Found(candidate.copying.signal()));
                candidate.announced = true;
            }
            if chosen && candidate.announced {
                candidate.give(&mut self.committed, report);
            }
        }
    }

    fn retire(&mut self, now_s: f64, report: &mut dyn FnMut(Event)) {
        self.end_where(|c| c.copying.has_ended(), report);
        let forget_s = now_s - 2.0 * MEMORY_S;
        self.committed.forget(forget_s);
    }

    /// Ends the candidates that are over; the others go on.
    fn end_where(&mut self, is_over: impl Fn(&Candidate) -> bool, report: &mut dyn FnMut(Event)) {
        if !self.candidates.iter().any(&is_over) {
            return;
        }
        let all = std::mem::take(&mut self.candidates);
        let (ended, going) = all.into_iter().partition(is_over);
        self.candidates = going;
        self.end(ended, report);
    }

    fn end(&mut self, ended: Vec<Candidate>, report: &mut dyn FnMut(Event)) {
        for mut candidate in ended {
            let chosen = self.settings.all || Some(candidate.id()) == self.chosen;
            if candidate.announced {
                if chosen {
                    candidate.finish();
                    candidate.give(&mut self.committed, report);
                }
                report(Event::Ended(candidate.copying.signal()));
            }
            if Some(candidate.id()) == self.chosen {
                self.chosen = None;
            }
        }
    }
}
