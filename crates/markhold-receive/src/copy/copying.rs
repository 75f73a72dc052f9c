//! Copying: one signal from found to ended, readings turned into characters.

use markhold_code::{Code, FiguresRow, Shift, ShiftMachine, usual};
use markhold_signal::BandPlan;

use super::calibration::calibrate;
use super::doubt::{doubt, memory::Memory, shift::ShiftBelief, shift::depends_on_shift};
use super::early::Early;
use super::holding::Holding;
use super::middles::Middles;
use super::observer::Observer;
use crate::characters::reading::best_three;
use crate::event::{
    Alternative, Character, CharacterId, Codes, Event, Names, Sense, Signal, SignalId,
};
use crate::language::witness::Witness;
use crate::levelled::Levelled;
use crate::pair::follower::{Follower, Heard, PairStart};
use crate::search::finder::{AT_HZ, FORCED_SHIFT_HZ};
use crate::search::trial::Verdict;
use crate::search::turned::Taken;
use crate::settings::Settings;

/// A signal that was found must show itself within so much of the look-back, s.
const LOOK_BACK_S: f64 = 16.0;
/// How long before the find a signal is heard to get to know it, s: as long as the search
/// listens for it.
const SCOUT_S: f64 = 7.8;
/// A signal has ended when it was off for this long, s: longer than a deep fade, shorter
/// than the pause before somebody else answers at another pitch.
const END_S: f64 = 4.0;
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
/// Mean probability of characters below which they are garble, and after how many
/// characters it counts.
const GARBLE: (f32, usize) = (0.30, 40);

/// One signal being copied.
pub struct Copying {
    // configured
    id: SignalId,
    plan: BandPlan,
    sense: Sense,
    row: FiguresRow,
    // state
    follower: Follower,
    machine: ShiftMachine,
    shift: ShiftBelief,
    memory: Memory,
    middles: Middles,
    mean_probability: f32,
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
    /// Language, where it is asked, and characters that it gave and that were not reported.
    witness: Option<Witness>,
    ready: Vec<Character>,
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
            row: settings.figures_row,
            follower: Follower::new(plan, &verdict.start),
            machine: ShiftMachine::new(settings.figures_row, settings.unshift_on_space),
            shift: ShiftBelief::new(settings.figures_row, settings.unshift_on_space),
            memory: Memory::default(),
            middles: Middles::default(),
            mean_probability: 1.0,
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
            witness: Witness::new(settings, Shift::Letters),
            ready: Vec::new(),
            start: Some(verdict.start.clone()),
            observer: None,
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
        let near = (signal.shift_hz / 2.0).max(AT_HZ);
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
        let shift = self.machine.shift();
        self.row = settings.figures_row;
        self.machine = ShiftMachine::new(self.row, settings.unshift_on_space);
        self.machine.set_shift(shift);
        if !self.witness.as_mut().is_some_and(|w| w.goes_on(settings)) {
            self.finish_witness();
            self.witness = Witness::new(settings, shift);
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
        if !released.is_empty() {
            self.heard_hz = Some(self.follower.tones_hz());
        }
        for mut h in released {
            self.first_s.get_or_insert(h.start_s);
            self.vouch(&mut h);
            let character = self.character(&h);
            self.ask(h, character);
        }
        if last {
            self.finish_witness();
        }
        self.give(report);
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
            scout.advance(sound, until_s, false, &mut Vec::new());
            if let Some(again) = scout.again(start.at_s) {
                self.follower = again;
            }
        }
        let mut heard = Vec::new();
        self.follower.advance(sound, until_s, last, &mut heard);
        heard
    }

    /// Holding let a character through: that there is one has been vouched for.
    fn vouch(&mut self, heard: &mut Heard) {
        let claimed = heard.reading.probability();
        self.mean_probability += (claimed - self.mean_probability) / MEAN_CHARACTERS;
        heard.reading.present = 1.0;
        self.memory.complete(heard.start_s, &mut heard.conditions);
    }

    /// Asks language about a character, if it is to be asked.
    fn ask(&mut self, heard: Heard, character: Character) {
        let element_s = self.element_s();
        match &mut self.witness {
            Some(witness) => witness.take(heard, character, element_s, &mut self.ready),
            None => self.ready.push(character),
        }
    }

    fn finish_witness(&mut self) {
        if let Some(witness) = &mut self.witness {
            witness.finish(&mut self.ready);
        }
    }

    /// Reports the characters that are ready.
    fn give(&mut self, report: &mut dyn FnMut(Event)) {
        if let Some(witness) = &mut self.witness {
            witness.pause(self.follower.committed_s(), &mut self.ready);
        }
        self.ready.drain(..).map(Event::Character).for_each(report);
    }

    /// The signal has ended: gives what still waits for language.
    pub fn finish(&mut self, report: &mut dyn FnMut(Event)) {
        self.finish_witness();
        self.give(report);
    }

    /// Gives first readings of what the follower has not committed yet.
    fn read_early(&mut self, sound: &Levelled, until_s: f64, report: &mut dyn FnMut(Event)) {
        let Some(early) = &mut self.early else {
            return;
        };
        let heard = early.advance(&self.follower, sound, until_s);
        for h in heard {
            let id = self.names.early(h.start_s, self.element_s());
            if let Some(id) = id {
                let character = self.early_character(&h, id);
                report(Event::Early(character));
            }
        }
    }

    fn early_character(&mut self, heard: &Heard, id: CharacterId) -> Character {
        let machine = match &self.early {
            Some(early) => early.machine(&self.machine),
            None => self.machine.clone(),
        };
        let character = self.describe(heard, id, &machine, 1.0);
        if let Some(early) = &mut self.early {
            early.note(id, character.code);
        }
        character
    }

    fn character(&mut self, heard: &Heard) -> Character {
        let shift = self.machine.shift();
        let id = self.names.decided(heard.start_s, self.element_s());
        let character = self.describe(heard, id, &self.machine, self.shift.of(shift));
        self.shift.take(&heard.reading.codes, shift);
        self.machine.receive(character.code);
        if let Some(early) = &mut self.early {
            early.decided(id);
        }
        if let Some(observer) = &self.observer {
            observer.show((self.id, id, heard.conditions));
        }
        let [mark, space] = heard.conditions.energy;
        self.energy_sum += f64::from(mark + space) / 2.0;
        self.characters += 1;
        character
    }

    /// A reading as a character, for a printer whose shift machine stands so; that this is
    /// the sender's shift is believed with probability `in_shift`.
    fn describe(
        &self,
        heard: &Heard,
        id: CharacterId,
        machine: &ShiftMachine,
        in_shift: f32,
    ) -> Character {
        // Language hears what the evidence claims; who reads is told what comes true.
        let mut reading = heard.reading.clone();
        calibrate(&mut reading, &heard.conditions);
        let order = best_three(&reading.codes);
        let shift = machine.shift();
        let symbol = |code| markhold_code::symbol(code, shift, self.row);
        let probability = |c: usize| reading.present * reading.codes[c];
        let alternatives = [order[1], order[2]].map(|c| Alternative {
            code: code_of(c),
            symbol: symbol(code_of(c)),
            probability: probability(c),
        });
        let code = code_of(order[0]);
        let shift_known = match depends_on_shift(code) {
            true => in_shift,
            false => 1.0,
        };
        Character {
            signal: self.id,
            id,
            start_s: heard.start_s,
            code,
            shift,
            symbol: symbol(code),
            probability: probability(order[0]),
            present: reading.present,
            codes: Some(Codes::new(&reading.codes)),
            alternatives,
            doubt: doubt(probability(order[0]), shift_known, &heard.conditions),
            witnesses: None,
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
        now - on > END_S || garble || self.follower.line().margin < REFUTED
    }

    /// Tones of mark and space now, Hz.
    pub fn tones_hz(&self) -> [f64; 2] {
        self.follower.tones_hz()
    }

    /// The pair as the search must know it.
    pub fn taken(&self) -> Taken {
        let [mark, space] = self.follower.tones_hz();
        let tones_hz = [mark.min(space), mark.max(space)];
        Taken {
            tones_hz,
            line: (self.follower.rate_baud(), usize::from(mark > space)),
        }
    }

    /// Up to where it has been copied, s.
    pub fn committed_s(&self) -> f64 {
        self.follower.committed_s()
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
            es_n0_db,
            snr_3khz_db: es_n0_db + 10.0 * (rate_baud / 3000.0).log10(),
            drift_hz: self.middles.moved_hz(self.middle_hz()),
            drift_hz_per_min: self.middles.drift_hz_per_min(),
        }
    }
}

fn code_of(value: usize) -> Code {
    Code::new(value as u8).expect("below 32")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::reading::Reading;
    use crate::copy::calibration::calibrated;
    use crate::pair::{conditions::Conditions, follower::PairStart};
    use markhold_code::Symbol;

    // ITU-T S.1 combinations; element 1 is the lowest bit.
    const Q: u8 = 0b10111;
    const E: u8 = 0b00001;
    const FIGURES: u8 = 0b11011;
    const LETTERS: u8 = 0b11111;
    const SPACE: u8 = 0b00100;

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
        };
        Copying::new(SignalId(7), BandPlan::new(8000.0), &verdict, settings)
    }

    fn heard(code: u8) -> Heard {
        let mut codes = [0.0; 32];
        codes[usize::from(code)] = 0.7;
        codes[usize::from(code ^ 0b10000)] = 0.2;
        codes[usize::from(code ^ 0b00010)] = 0.1;
        Heard {
            start_s: 4.0,
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

    fn symbols(settings: &Settings, codes: &[u8]) -> Vec<Symbol> {
        let mut copying = copying(settings, 0);
        let character = |code: &u8| copying.character(&heard(*code)).symbol;
        codes.iter().map(character).collect()
    }

    /// ITU-T S.1: combination 17 is Q and 1, combination 5 is E and 3.
    #[test]
    fn shifts_hold_until_the_next() {
        let codes = [Q, FIGURES, Q, SPACE, E, LETTERS, E];
        use Symbol::{Figures, Letters, Print, Space};
        let plain = symbols(&Settings::default(), &codes);
        let held = [
            Print('Q'),
            Figures,
            Print('1'),
            Space,
            Print('3'),
            Letters,
            Print('E'),
        ];
        assert_eq!(plain, held);
        let unshift = Settings {
            unshift_on_space: true,
            ..Settings::default()
        };
        let back = [
            Print('Q'),
            Figures,
            Print('1'),
            Space,
            Print('E'),
            Letters,
            Print('E'),
        ];
        assert_eq!(symbols(&unshift, &codes), back);
    }

    #[test]
    fn alternatives_are_the_next_best_in_the_same_shift() {
        let mut copying = copying(&Settings::default(), 0);
        copying.character(&heard(FIGURES));
        let mut let_through = heard(Q);
        copying.vouch(&mut let_through);
        let character = copying.character(&let_through);
        assert_eq!(character.shift, Shift::Figures);
        assert_eq!(character.code.value(), Q);
        let comes_true = calibrated(0.7, &let_through.conditions);
        assert!((character.probability - comes_true).abs() < 1e-5);
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
        assert!((second.probability - rest * 2.0 / 3.0).abs() < 1e-5);
        assert!((third.probability - rest / 3.0).abs() < 1e-5);
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
        copying.character(&heard(E));
        let signal = copying.signal();
        let es_n0_db = 10.0 * 20f64.log10();
        assert!((signal.es_n0_db - es_n0_db).abs() < 1e-6);
        let snr = es_n0_db - 10.0 * (3000.0f64 / 45.3).log10();
        assert!((signal.snr_3khz_db - snr).abs() < 1e-6);
    }
}
