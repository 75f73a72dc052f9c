//! The sounds of one transmission walked through together.

use markhold_signal::BandPlan;

use super::transmission::{BEFORE_S, Transmission};
use crate::copying::Copying;
use crate::event::{Event, SignalId};
use crate::levelled::Levelled;
use crate::pair::companion::Companion;
use crate::pair::follower::PairStart;
use crate::search::trial::Verdict;
use crate::settings::Settings;

/// For how long sound is remembered, s: windows reach back a second, and what is told of a
/// character's surroundings some more.
const MEMORY_S: f64 = 12.0;
/// What is new is read in steps of so much, s.
const STEP_S: f64 = 0.25;
/// After its end as it was heard by each alone the transmission is followed for so long, s.
const AFTER_S: f64 = 12.0;

/// Copies one transmission out of several receivers' sound.
pub struct Together {
    // configured
    end_s: f64,
    rate_hz: f64,
    // state
    sound: Levelled,
    samples: u64,
    copying: Copying,
    /// Which members' sound has ended.
    ended: Vec<bool>,
    read_s: f64,
    /// Events until the signal is told.
    waiting: Vec<Event>,
    begun: bool,
    over: bool,
}

impl Together {
    /// Begins; its characters are those of signal `id`, in the time of the first member. `None`
    /// for one that has no members.
    pub fn new(of: &Transmission, id: SignalId, settings: &Settings) -> Option<Self> {
        let first = of.members.first()?;
        let plan = BandPlan::new(first.rate_hz);
        let start = PairStart {
            at_s: (of.heard_s.0 - BEFORE_S).max(0.0),
            ..first.pair.clone()
        };
        let verdict = Verdict {
            start,
            mark: of.mark(),
            evidence: of.information(),
            missing: None,
        };
        let companion = |member: &super::Member| {
            let plan = BandPlan::new(member.rate_hz);
            Companion::new(plan, kept(plan), &member.pair, member.time)
        };
        let companions = of.members[1..].iter().map(companion).collect();
        Some(Self {
            end_s: of.heard_s.1 + AFTER_S,
            rate_hz: first.rate_hz,
            sound: Levelled::new(plan, kept(plan)),
            samples: 0,
            read_s: verdict.start.at_s,
            copying: Copying::new(id, plan, &verdict, settings).beside(companions),
            ended: vec![false; of.members.len()],
            waiting: Vec::new(),
            begun: false,
            over: false,
        })
    }

    /// The member whose sound is wanted next, by its place; `None` when all was copied.
    pub fn wants(&mut self) -> Option<usize> {
        let until = self.until();
        let open = (0..until.len()).filter(|k| !self.ended[*k] && !self.over);
        open.min_by(|a, b| until[*a].total_cmp(&until[*b]))
    }

    /// Takes samples of a member's sound, none at its end, some seconds at most at once; reports what
    /// they gave.
    pub fn push(&mut self, member: usize, samples: &[f32], report: &mut dyn FnMut(Event)) {
        match (member, samples.is_empty()) {
            (0, false) => {
                self.samples += samples.len() as u64;
                self.sound.push_all(samples);
            }
            (0, true) => self.sound.finish_all(),
            (k, false) => self.copying.companions()[k - 1].push(samples),
            (k, true) => self.copying.companions()[k - 1].finish(),
        }
        self.ended[member] |= samples.is_empty();
        self.advance(report);
    }

    /// Up to when each member's sound is there, s of the first one's time.
    fn until(&mut self) -> Vec<f64> {
        let band = self.sound.band();
        let plan = band.plan();
        let heard_s = self.samples as f64 / self.rate_hz;
        let first = (plan.output_start(band.next_frame()) as f64 / plan.rate_hz).min(heard_s);
        let others = self.copying.companions().iter().map(Companion::heard_s);
        std::iter::once(first)
            .chain(others.collect::<Vec<f64>>())
            .collect()
    }

    /// Reads on, step by step, as far as all sound is there; with the sound of the first member it
    /// ends. What is read of a step does not depend on what is there beyond it.
    fn advance(&mut self, report: &mut dyn FnMut(Event)) {
        let until = self.until();
        let open = (0..until.len()).filter(|k| !self.ended[*k]);
        let until_s = open.map(|k| until[k]).fold(f64::INFINITY, f64::min);
        let last_s = match self.ended[0] {
            true => self.samples as f64 / self.rate_hz,
            false => f64::INFINITY,
        };
        while !self.over {
            let now_s = (self.read_s + STEP_S).min(last_s);
            if now_s > until_s {
                return;
            }
            self.read_s = now_s;
            self.over = now_s >= last_s || now_s > self.end_s;
            let (waiting, over) = (&mut self.waiting, self.over);
            self.copying
                .advance(&self.sound, now_s, over, &mut |e| waiting.push(e));
            self.tell(report);
        }
    }

    /// Tells what waits, once it is sure that there is a signal; it was heard before, so in the
    /// end all of it is told.
    fn tell(&mut self, report: &mut dyn FnMut(Event)) {
        let is_sure = self.copying.has_begun() || self.over && !self.waiting.is_empty();
        if !self.begun && is_sure {
            report(Event::Found(self.copying.signal()));
            self.begun = true;
        }
        if self.begun {
            self.waiting.drain(..).for_each(&mut *report);
        }
        if self.begun && self.over {
            report(Event::Ended(self.copying.signal()));
        }
    }
}

fn kept(plan: BandPlan) -> usize {
    (MEMORY_S / plan.hop_s()).ceil() as usize
}
