//! Copying: one signal from found to ended, readings turned into characters.
//!
//! What a [`Follower`] hears of the pair is held until a sure character vouches for it; then the
//! [`Tally`] counts it, by which the signal goes on or ends, and the [`Teller`] tells it.

pub mod tally;
pub mod teller;

use markhold_code::usual;
use markhold_signal::BandPlan;

use crate::copy::committed::Place;
use crate::copy::doubt::memory::Memory;
use crate::copy::early::Early;
use crate::copy::holding::Holding;
use crate::copy::middles::Middles;
use crate::copy::observer::Observer;
use crate::event::{Event, Sense, Signal, SignalId};
use crate::levelled::Levelled;
use crate::pair::companion::Companion;
use crate::pair::follower::{Follower, Heard, PairStart};
use crate::search::finder::FORCED_SHIFT_HZ;
use crate::search::trial::Verdict;
use crate::search::turned::Taken;
use crate::settings::Settings;
use tally::Tally;
use teller::Teller;

/// A signal that was found must show itself within so much of the look-back, s.
const LOOK_BACK_S: f64 = 16.0;
/// How long before the find a signal is heard to get to know it, s: as long as the search
/// listens for it.
const SCOUT_S: f64 = 7.8;
/// A signal has ended when it was off for this long, s: longer than a deep fade, shorter
/// than the pause before somebody else answers at another pitch.
const END_S: f64 = 4.0;
/// A line at mark on which nothing was sent for so long is no signal any more, s: longer than
/// somebody at the keys thinks, or a moment where nothing was read yet.
const IDLE_S: f64 = 300.0;
const NEVER_SENT_S: f64 = 20.0;
/// Evidence over the best other explanation above which a find is confirmed, and below
/// which it was an error.
const CONFIRMED: f32 = 25.0;
const REFUTED: f32 = -40.0;
/// A measured shift this near to a usual one is called by it, Hz.
const SHIFT_TOLERANCE_HZ: f64 = 4.0;
/// A measured rate this near to a usual one is called by it.
const RATE_TOLERANCE: f64 = 0.0075;
/// Characters after which the tones are tuned and drift is counted from them.
const SETTLED_CHARACTERS: usize = 6;

/// One signal being copied.
pub struct Copying {
    // configured
    id: SignalId,
    plan: BandPlan,
    sense: Sense,
    /// Which tone is not sent at all: 0 the lower, 1 the higher.
    missing: Option<usize>,
    // state
    follower: Follower,
    teller: Teller,
    tally: Tally,
    memory: Memory,
    middles: Middles,
    begin_s: f64,
    holding: Holding,
    /// Tones of mark and space when a character was last given out, Hz: after the end of a
    /// signal the follower may wander.
    heard_hz: Option<[f64; 2]>,
    first_s: Option<f64>,
    early: Option<Early>,
    /// How it was found, until the sound before the find has been heard.
    start: Option<PairStart>,
}

impl Copying {
    /// Begins with a verdict of the search.
    pub fn new(id: SignalId, plan: BandPlan, verdict: &Verdict, settings: &Settings) -> Self {
        Self {
            id,
            plan,
            sense: if verdict.mark == 0 {
                Sense::LowerTone
            } else {
                Sense::HigherTone
            },
            missing: verdict.missing,
            follower: Follower::new(plan, &verdict.start),
            teller: Teller::new(id, settings),
            tally: Tally::default(),
            memory: Memory::default(),
            middles: Middles::default(),
            begin_s: verdict.start.at_s,
            holding: Holding::default(),
            heard_hz: None,
            first_s: None,
            early: settings
                .early
                .then(|| Early::new(plan, verdict.start.rate_baud)),
            start: Some(verdict.start.clone()),
        }
    }

    /// Reads on together with other receivers' sound of the same transmission. It begins as it
    /// was told: what is known of the pair is known from before.
    pub fn beside(mut self, companions: Vec<Companion>) -> Self {
        self.start = None;
        self.early = None;
        *self.follower.companions() = companions;
        self
    }

    /// The other receivers' sound.
    pub fn companions(&mut self) -> &mut Vec<Companion> {
        self.follower.companions()
    }

    /// How its pair could be followed from now on.
    pub fn pair(&self) -> PairStart {
        let [mark_hz, space_hz] = self.follower.tones_hz();
        PairStart {
            at_s: self.follower.committed_s(),
            rate_baud: self.follower.rate_baud(),
            mark_hz,
            space_hz,
            power: self.follower.levels().mean_power(),
            noise: self.follower.levels().noise(),
        }
    }

    /// Shows the conditions of its characters to an observer.
    pub fn show(&mut self, observer: Option<Observer>) {
        self.teller.show(observer);
    }

    /// The signal's name.
    pub fn id(&self) -> SignalId {
        self.id
    }

    /// Whether the signal is one that the settings ask for.
    pub fn fits(&self, settings: &Settings) -> bool {
        let signal = self.signal();
        let near = (signal.shift_hz / 2.0).max(Settings::AT_WITHIN_HZ);
        settings.sense.is_none_or(|s| s == self.sense)
            && settings
                .at_hz
                .is_none_or(|at| (self.middle_hz() - at).abs() < near)
            && settings
                .shift_hz
                .is_none_or(|shift| (signal.shift_hz - shift).abs() < FORCED_SHIFT_HZ)
            && settings
                .rate_baud
                .is_none_or(|rate| (signal.rate_baud / rate - 1.0).abs() < RATE_TOLERANCE)
    }

    /// Reads on by other settings; they ask for this signal.
    pub fn set_settings(&mut self, settings: &Settings) {
        self.teller.set_settings(settings);
        if settings.early != self.early.is_some() {
            let early = || Early::new(self.plan, self.follower.rate_baud());
            self.early = settings.early.then(early);
        }
    }

    /// Copies on up to instant `until_s`; gives the characters to `report`.
    pub fn advance(
        &mut self,
        sound: &Levelled,
        until_s: f64,
        last: bool,
        report: &mut dyn FnMut(Event),
    ) {
        let mut released = Vec::new();
        let heard = self.listen(sound, until_s, last);
        for h in heard {
            self.holding.take(h, &mut released);
        }
        if last {
            self.holding.finish(&mut released);
        }
        self.leave_out();
        if !released.is_empty() {
            self.heard_hz = Some(self.follower.tones_hz());
        }
        for mut h in released {
            self.first_s.get_or_insert(h.start_s);
            self.vouch(&mut h);
            self.teller.take(h, self.element_s());
        }
        match last {
            true => self.finish(report),
            false => self.give(report),
        }
        self.notice_drift();
        if !last {
            self.read_early(sound, until_s, report);
        }
    }

    /// Follows the pair up to `until_s`. The latest seconds before the find, in which the
    /// signal surely was there, are heard first: they tell the tones, the sender and its stops,
    /// and the begin is read by that.
    fn listen(&mut self, sound: &Levelled, until_s: f64, last: bool) -> Vec<Heard> {
        if let Some(start) = self.start.take() {
            let latest = PairStart {
                at_s: (until_s - SCOUT_S).max(start.at_s),
                ..start
            };
            let mut scout = Follower::new(self.plan, &latest);
            scout.found(until_s);
            scout.advance(sound, until_s, false, &mut Vec::new());
            if let Some(again) = scout.again(start.at_s) {
                self.follower = again;
            }
            self.follower.found(until_s);
        }
        let mut heard = Vec::new();
        self.follower.advance(sound, until_s, last, &mut heard);
        heard
    }

    /// That there is a character has been vouched for.
    fn vouch(&mut self, heard: &mut Heard) {
        self.memory.complete(heard.start_s, &mut heard.conditions);
        self.tally.take(heard);
        heard.reading.present = 1.0;
    }

    /// Nothing has vouched for what holding dropped.
    fn leave_out(&mut self) {
        let element_s = self.element_s();
        for heard in self.holding.dropped() {
            self.teller.leave_out(&heard, element_s);
        }
    }

    /// Reports the characters that are old enough to be decided.
    fn give(&mut self, report: &mut dyn FnMut(Event)) {
        let (until_s, element_s) = (self.follower.committed_s(), self.element_s());
        let ahead = self.follower.ahead();
        self.teller.give(until_s, ahead, element_s, report);
    }

    /// The signal has ended: gives what still waits for what comes after it, and what nothing
    /// vouches for any more.
    pub fn finish(&mut self, report: &mut dyn FnMut(Event)) {
        self.holding.give_up();
        self.leave_out();
        self.teller.finish(self.element_s(), report);
    }

    /// Gives first readings of what the follower has not committed yet.
    fn read_early(&mut self, sound: &Levelled, until_s: f64, report: &mut dyn FnMut(Event)) {
        let element_s = self.element_s();
        let Some(early) = &mut self.early else {
            return;
        };
        for heard in early.advance(&self.follower, sound, until_s) {
            self.teller.early(&heard, element_s, report);
        }
    }

    fn notice_drift(&mut self) {
        if self.tally.characters() >= SETTLED_CHARACTERS {
            let now = self.follower.committed_s();
            self.middles.notice(now, self.middle_hz());
        }
    }

    /// Duration of an element, s.
    fn element_s(&self) -> f64 {
        1.0 / self.follower.rate_baud()
    }

    /// Middle of the tones now, Hz.
    pub fn middle_hz(&self) -> f64 {
        let [mark, space] = self.follower.tones_hz();
        (mark + space) / 2.0
    }

    /// Distance of the tones now, Hz.
    pub fn shift_hz(&self) -> f64 {
        let [mark, space] = self.follower.tones_hz();
        (mark - space).abs()
    }

    /// Whether a signal was there yet, and copying it confirmed that it is one.
    pub fn has_begun(&self) -> bool {
        self.first_s.is_some() && self.follower.line().margin > CONFIRMED
    }

    /// Whether the signal has ended, or never was one.
    pub fn has_ended(&self) -> bool {
        let now = self.follower.committed_s();
        let on = self
            .follower
            .line()
            .on_until_s
            .unwrap_or(self.begin_s + LOOK_BACK_S);
        let idle = match self.holding.sure_s() {
            Some(sure_s) => now - sure_s > IDLE_S,
            None => now - self.begin_s > LOOK_BACK_S + NEVER_SENT_S,
        };
        now - on > END_S || idle || self.tally.is_garble() || self.follower.line().margin < REFUTED
    }

    /// Tones of mark and space now, Hz.
    pub fn tones_hz(&self) -> [f64; 2] {
        self.follower.tones_hz()
    }

    /// Where the signal was when a character was last given out.
    pub fn heard_at(&self) -> Place {
        let tones_hz = self.heard_hz.unwrap_or_else(|| self.follower.tones_hz());
        Place::new(tones_hz, self.missing, self.follower.rate_baud())
    }

    /// The pair as the search must know it.
    pub fn taken(&self) -> Taken {
        let [mark, space] = self.follower.tones_hz();
        let tones_hz = [mark.min(space), mark.max(space)];
        let mut power = self.follower.levels().mean_power();
        if mark > space {
            power.reverse();
        }
        Taken {
            tones_hz,
            power,
            line: (self.follower.rate_baud(), usize::from(mark > space)),
            missing: self.missing,
        }
    }

    /// Up to where it has been copied, s.
    pub fn committed_s(&self) -> f64 {
        self.follower.committed_s()
    }

    /// What its characters came to.
    pub fn tally(&self) -> &Tally {
        &self.tally
    }

    /// Whether it is a line of one tone, the other not being sent.
    pub fn is_alone(&self) -> bool {
        self.missing.is_some()
    }

    /// Power of the stronger tone, any unit that is the same for all signals.
    pub fn power(&self) -> f32 {
        let [mark, space] = self.follower.levels().mean_power();
        mark.max(space)
    }

    /// What is known of the signal.
    pub fn signal(&self) -> Signal {
        let tones_hz = self.heard_hz.unwrap_or_else(|| self.follower.tones_hz());
        let [mark_hz, space_hz] = tones_hz;
        let habits = self.teller.habits();
        let shift_hz = (mark_hz - space_hz).abs();
        let rate_baud = self.follower.rate_baud();
        let energy = self.tally.energy();
        let energy = energy.unwrap_or_else(|| f64::from(self.follower.levels().energy()));
        let es_n0_db = 10.0 * energy.max(1e-6).log10();
        let now = self.follower.committed_s();
        Signal {
            id: self.id,
            begin_s: self.first_s.unwrap_or(now),
            until_s: self.holding.sure_s().unwrap_or(now),
            mark_hz,
            space_hz,
            shift_hz,
            usual_shift_hz: usual::nearest(
                &usual::SHIFTS_HZ,
                shift_hz,
                SHIFT_TOLERANCE_HZ / shift_hz,
            ),
            rate_baud,
            usual_rate_baud: usual::nearest(&usual::RATES_BAUD, rate_baud, RATE_TOLERANCE),
            sense: self.sense,
            stop_units: self.follower.stop_units(),
            figures_row: habits.row,
            unshift_on_space: habits.unshift_on_space,
            es_n0_db,
            snr_3khz_db: es_n0_db + 10.0 * (rate_baud / 3000.0).log10(),
            drift_hz: self.middles.moved_hz(self.middle_hz()),
            drift_hz_per_min: self.middles.drift_hz_per_min(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::heard_as;

    fn copying(mark: usize) -> Copying {
        let start = PairStart {
            at_s: 3.0,
            rate_baud: 45.3,
            mark_hz: 1000.0,
            space_hz: 1171.5,
            power: [4.0, 6.0],
            noise: [0.5; 2],
        };
        let verdict = Verdict {
            start,
            mark,
            evidence: 50.0,
            missing: None,
        };
        let plan = BandPlan::new(8000.0);
        Copying::new(SignalId(7), plan, &verdict, &Settings::default())
    }

    #[test]
    fn a_signal_is_called_by_its_usual_numbers() {
        let mut copying = copying(1);
        let signal = copying.signal();
        assert_eq!(signal.id, SignalId(7));
        assert_eq!(signal.sense, Sense::HigherTone);
        // Found 171.5 Hz apart, taken to be the usual 170 until the elements say otherwise.
        assert!((signal.shift_hz - 170.0).abs() < 1e-9);
        assert_eq!(signal.usual_shift_hz, Some(170.0));
        assert!((signal.usual_rate_baud.expect("near 45.45") - 45.45).abs() < 0.01);
        // Before any character: mean power over noise, 10 in all over 1.
        assert!((signal.es_n0_db - 10.0).abs() < 1e-6, "{}", signal.es_n0_db);
        let mut heard = heard_as(4.0, [1.0 / 32.0; 32]);
        heard.conditions.energy = [30.0, 10.0];
        copying.vouch(&mut heard);
        assert_eq!(heard.reading.present, 1.0);
        let signal = copying.signal();
        let es_n0_db = 10.0 * 20f64.log10();
        assert!((signal.es_n0_db - es_n0_db).abs() < 1e-6);
        let snr = es_n0_db - 10.0 * (3000.0f64 / 45.3).log10();
        assert!((signal.snr_3khz_db - snr).abs() < 1e-6);
    }
}
