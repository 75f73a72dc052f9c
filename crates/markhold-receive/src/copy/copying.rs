//! Copying: one signal from found to ended, readings turned into characters.

use std::collections::VecDeque;

use markhold_code::{symbol, usual};
use markhold_signal::BandPlan;

use super::calibration::calibrate;
use super::committed::Place;
use super::doubt::{doubt, memory::Memory};
use super::early::Early;
use super::holding::Holding;
use super::middles::Middles;
use super::observer::Observer;
use crate::event::{Character, CharacterId, Codes, Event, Names, Sense, Signal, SignalId};
use crate::levelled::Levelled;
use crate::pair::companion::Companion;
use crate::pair::follower::{Follower, Heard, PairStart};
use crate::search::finder::FORCED_SHIFT_HZ;
use crate::search::trial::Verdict;
use crate::search::turned::Taken;
use crate::settings::Settings;
use crate::text::{Decided, Text};

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
/// Time constant, in characters, of the mean probability.
const MEAN_CHARACTERS: f32 = 40.0;
/// So many characters of one code, or of two by turns, are a row: text has none of that length.
const ROW: usize = 8;
/// Mean probability of characters below which they are garble, and after how many
/// characters it counts.
const GARBLE: (f32, usize) = (0.30, 40);

/// Readings that nothing vouches for and that wait for a character that does: a minute of
/// noise. Of more the latest are kept.
const MOST_UNLIKELY: usize = 500;

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
    text: Text,
    memory: Memory,
    middles: Middles,
    mean_probability: f32,
    /// The latest codes, at most [`ROW`].
    latest: VecDeque<usize>,
    characters: usize,
    /// Sum over characters of the energy of an element over noise density, linear.
    energy_sum: f64,
    begin_s: f64,
    holding: Holding,
    /// Tones of mark and space when a character was last given out, Hz: after the end of a
    /// signal the follower may wander.
    heard_hz: Option<[f64; 2]>,
    first_s: Option<f64>,
    /// The ids of its characters: one for the early and the decided reading of each.
    names: Names,
    early: Option<Early>,
    /// Readings that nothing vouched for and that were not reported, where they are wanted.
    unlikely: Option<Vec<Character>>,
    /// How it was found, until the sound before the find has been heard.
    start: Option<PairStart>,
    observer: Option<Observer>,
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
            text: Text::new(settings),
            memory: Memory::default(),
            middles: Middles::default(),
            mean_probability: 1.0,
            latest: VecDeque::new(),
            characters: 0,
            energy_sum: 0.0,
            begin_s: verdict.start.at_s,
            holding: Holding::default(),
            heard_hz: None,
            first_s: None,
            names: Names::default(),
            early: settings
                .early
                .then(|| Early::new(plan, verdict.start.rate_baud)),
            unlikely: settings.unlikely.then(Vec::new),
            start: Some(verdict.start.clone()),
            observer: None,
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
        self.observer = observer;
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
        self.text.set_settings(settings);
        if settings.unlikely != self.unlikely.is_some() {
            self.unlikely = settings.unlikely.then(Vec::new);
        }
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
        for h in self.holding.dropped() {
            self.leave_out(&h);
        }
        if !released.is_empty() {
            self.heard_hz = Some(self.follower.tones_hz());
        }
        for mut h in released {
            self.first_s.get_or_insert(h.start_s);
            self.vouch(&mut h);
            self.text.take(h, self.element_s());
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

    /// Holding let a character through: that there is one has been vouched for.
    fn vouch(&mut self, heard: &mut Heard) {
        let claimed = heard.reading.probability();
        self.mean_probability += (claimed - self.mean_probability) / MEAN_CHARACTERS;
        if self.latest.len() == ROW {
            self.latest.pop_front();
        }
        self.latest.push_back(heard.reading.best());
        heard.reading.present = 1.0;
        self.memory.complete(heard.start_s, &mut heard.conditions);
        let [mark, space] = heard.conditions.energy;
        self.energy_sum += f64::from(mark + space) / 2.0;
        self.characters += 1;
    }

    /// Nothing vouched for a reading.
    fn leave_out(&mut self, heard: &Heard) {
        if self.unlikely.is_none() {
            return;
        }
        let Some(id) = self.names.early(heard.start_s, self.element_s()) else {
            return;
        };
        let character = self.character(self.text.unlikely(heard, self.element_s()), id);
        let list = self.unlikely.get_or_insert_default();
        list.push(character);
        let over = list.len().saturating_sub(MOST_UNLIKELY);
        list.drain(..over);
    }

    /// Reports the characters that are old enough to be decided.
    fn give(&mut self, report: &mut dyn FnMut(Event)) {
        let (until_s, element_s) = (self.follower.committed_s(), self.element_s());
        let mut decided = Vec::new();
        self.text
            .give(until_s, self.follower.ahead(), element_s, &mut decided);
        self.report(decided, report);
    }

    /// The signal has ended: gives what still waits for what comes after it, and what nothing
    /// vouches for any more.
    pub fn finish(&mut self, report: &mut dyn FnMut(Event)) {
        self.holding.give_up();
        for h in self.holding.dropped() {
            self.leave_out(&h);
        }
        let mut decided = Vec::new();
        self.text.finish(&mut decided);
        self.report(decided, report);
        self.report_unlikely(None, report);
    }

    fn report(&mut self, decided: Vec<Decided>, report: &mut dyn FnMut(Event)) {
        for one in decided {
            let character = self.decided(one);
            self.report_unlikely(Some(character.id), report);
            report(Event::Character(character));
        }
    }

    /// Reports what nothing vouched for and stands before a character, or all of it.
    fn report_unlikely(&mut self, before: Option<CharacterId>, report: &mut dyn FnMut(Event)) {
        let stands_before = |u: &Character| before.is_none_or(|id| u.id < id);
        if let Some(list) = &mut self.unlikely {
            let count = list.partition_point(stands_before);
            list.drain(..count).map(Event::Unlikely).for_each(report);
        }
    }

    /// Gives first readings of what the follower has not committed yet.
    fn read_early(&mut self, sound: &Levelled, until_s: f64, report: &mut dyn FnMut(Event)) {
        let Some(early) = &mut self.early else {
            return;
        };
        let heard = early.advance(&self.follower, sound, until_s);
        for h in heard {
            if let Some(id) = self.names.early(h.start_s, self.element_s()) {
                let first = self.text.early(&h, self.element_s());
                report(Event::Early(self.character(first, id)));
            }
        }
    }

    fn decided(&mut self, decided: Decided) -> Character {
        let heard = &decided.heard;
        let id = self.names.decided(heard.start_s, self.element_s());
        if let Some(observer) = &self.observer {
            observer.show((self.id, id, heard.conditions));
        }
        self.character(decided, id)
    }

    /// What was read, as a character of this signal.
    fn character(&self, decided: Decided, id: CharacterId) -> Character {
        let in_code = decided.probability / decided.in_shift.max(f32::MIN_POSITIVE);
        let Heard {
            start_s,
            mut reading,
            conditions,
        } = decided.heard;
        calibrate(&mut reading, &conditions);
        Character {
            signal: self.id,
            id,
            start_s,
            code: decided.code,
            shift: decided.shift,
            symbol: symbol(decided.code, decided.shift, decided.row),
            probability: decided.probability,
            present: reading.present,
            codes: Some(Codes::new(&reading.codes)),
            alternatives: decided.alternatives,
            doubt: doubt(
                in_code.min(1.0),
                decided.in_shift,
                decided.sure,
                &conditions,
            ),
            witnesses: decided.witnesses,
        }
    }

    fn notice_drift(&mut self) {
        if self.characters >= SETTLED_CHARACTERS {
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
        let garble = self.characters > GARBLE.1 && self.mean_probability < GARBLE.0;
        let idle = match self.holding.sure_s() {
            Some(sure_s) => now - sure_s > IDLE_S,
            None => now - self.begin_s > LOOK_BACK_S + NEVER_SENT_S,
        };
        now - on > END_S || idle || garble || self.follower.line().margin < REFUTED
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

    /// Mean probability of the latest characters, before language.
    pub fn mean_probability(&self) -> f32 {
        self.mean_probability
    }

    /// Whether the latest characters are a row of one code or of two by turns, in whatever sense.
    pub fn is_row(&self) -> bool {
        let by_turns = |i: usize| self.latest[i] == self.latest[i - 2];
        self.latest.len() == ROW && (2..ROW).all(by_turns)
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
        let habits = self.text.habits();
        let shift_hz = (mark_hz - space_hz).abs();
        let rate_baud = self.follower.rate_baud();
        let energy = match self.characters {
            0 => f64::from(self.follower.levels().energy()),
            n => self.energy_sum / n as f64,
        };
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
    use crate::characters::reading::Reading;
    use crate::copy::calibration::calibrated;
    use crate::pair::{conditions::Conditions, follower::PairStart};
    use crate::settings::LanguageUse;
    use markhold_code::{Shift, Symbol};

    // ITU-T S.1 combinations; element 1 is the lowest bit.
    const Q: u8 = 0b10111;
    const FIGURES: u8 = 0b11011;

    fn copying(settings: &Settings, mark: usize) -> Copying {
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
        Copying::new(SignalId(7), BandPlan::new(8000.0), &verdict, settings)
    }

    fn heard(start_s: f64, code: u8, p: f32) -> Heard {
        let mut codes = [0.0; 32];
        codes[usize::from(code)] = p;
        codes[usize::from(code ^ 0b10000)] = (1.0 - p) * 2.0 / 3.0;
        codes[usize::from(code ^ 0b00010)] = (1.0 - p) / 3.0;
        Heard {
            start_s,
            reading: Reading {
                start: 0.0,
                spread: 0.0,
                present: 0.5,
                codes,
            },
            conditions: Conditions {
                energy: [30.0, 10.0],
                clear: 1.0,
                ..Conditions::default()
            },
        }
    }

    #[test]
    fn a_row_is_one_code_or_two_by_turns() {
        let is_row = |codes: &[u8]| {
            let mut copying = copying(&Settings::default(), 0);
            for (at, code) in codes.iter().enumerate() {
                copying.vouch(&mut heard(0.165 * at as f64, *code, 0.99));
            }
            copying.is_row()
        };
        let by_turns = |k: usize| [0b01010, 0b10101][k % 2];
        let row: Vec<u8> = (0..ROW).map(by_turns).collect();
        assert!(is_row(&row) && is_row(&[Q; ROW]));
        assert!(!is_row(&row[1..]), "too short to tell");
        assert!(is_row(&[&[Q], &row[..]].concat()), "of late");
        assert!(!is_row(&[&row[1..], &[Q]].concat()));
    }

    fn told(copying: &mut Copying, heard: Vec<Heard>) -> Vec<Character> {
        for mut one in heard {
            copying.vouch(&mut one);
            copying.text.take(one, 1.0 / 45.3);
        }
        let mut events = Vec::new();
        copying.finish(&mut |event| events.push(event));
        let characters = events.into_iter().map(|event| match event {
            Event::Character(character) => character,
            other => panic!("{other:?}"),
        });
        characters.collect()
    }

    #[test]
    fn what_is_told_comes_true_and_the_next_best_stand_beside_it() {
        let settings = Settings {
            language: LanguageUse::Off,
            ..Settings::default()
        };
        let list = vec![heard(4.0, FIGURES, 1.0), heard(4.2, Q, 0.7)];
        let comes_true = calibrated(0.7, &list[1].conditions);
        let character = told(&mut copying(&settings, 0), list).remove(1);
        assert_eq!(character.shift, Shift::Figures);
        assert_eq!(character.symbol, Symbol::Print('1'));
        assert!((character.probability - comes_true).abs() < 0.01);
        let [second, third] = character.alternatives;
        // Combinations 21 (U and 7) and 5 elements 1, 3 and 5: combination 25 (Y and 6).
        assert_eq!(
            (second.code.value(), second.symbol),
            (0b00111, Symbol::Print('7'))
        );
        assert_eq!(
            (third.code.value(), third.symbol),
            (0b10101, Symbol::Print('6'))
        );
        let rest = 1.0 - character.probability;
        assert!((second.probability - rest * 2.0 / 3.0).abs() < 0.01);
        assert!((third.probability - rest / 3.0).abs() < 0.01);
        assert!(character.doubt.is_some());
    }

    #[test]
    fn a_signal_is_called_by_its_usual_numbers() {
        let mut copying = copying(&Settings::default(), 1);
        let signal = copying.signal();
        assert_eq!(signal.id, SignalId(7));
        assert_eq!(signal.sense, Sense::HigherTone);
        // Found 171.5 Hz apart, taken to be the usual 170 until the elements say otherwise.
        assert!((signal.shift_hz - 170.0).abs() < 1e-9);
        assert_eq!(signal.usual_shift_hz, Some(170.0));
        assert!((signal.usual_rate_baud.expect("near 45.45") - 45.45).abs() < 0.01);
        // Before any character: mean power over noise, 10 in all over 1.
        assert!((signal.es_n0_db - 10.0).abs() < 1e-6, "{}", signal.es_n0_db);
        told(&mut copying, vec![heard(4.0, Q, 0.9)]);
        let signal = copying.signal();
        let es_n0_db = 10.0 * 20f64.log10();
        assert!((signal.es_n0_db - es_n0_db).abs() < 1e-6);
        let snr = es_n0_db - 10.0 * (3000.0f64 / 45.3).log10();
        assert!((signal.snr_3khz_db - snr).abs() < 1e-6);
    }
}
