//! Teller: what was heard of a signal becomes characters with names, and events.

use markhold_code::symbol;

use crate::copy::calibration::calibrate;
use crate::copy::doubt::doubt;
use crate::copy::observer::Observer;
use crate::event::{Character, CharacterId, Codes, Event, Names, SignalId};
use crate::pair::follower::Heard;
use crate::settings::Settings;
use crate::text::{Decided, Habits, Text};

/// Readings that nothing vouches for and that wait for a character that does: a minute of
/// noise. Of more the latest are kept.
const MOST_UNLIKELY: usize = 500;

/// Tells the characters of one signal, each when it is decided; before that its first reading.
pub struct Teller {
    // configured
    signal: SignalId,
    observer: Option<Observer>,
    // state
    text: Text,
    /// The ids of its characters: one for the early and the decided reading of each.
    names: Names,
    /// Readings that nothing vouched for and that were not reported, where they are wanted.
    unlikely: Option<Vec<Character>>,
}

impl Teller {
    /// For a signal of which nothing was told.
    pub fn new(signal: SignalId, settings: &Settings) -> Self {
        Self {
            signal,
            observer: None,
            text: Text::new(settings),
            names: Names::default(),
            unlikely: settings.unlikely.then(Vec::new),
        }
    }

    /// Shows the conditions of its characters to an observer.
    pub fn show(&mut self, observer: Option<Observer>) {
        self.observer = observer;
    }

    /// Goes on by other settings.
    pub fn set_settings(&mut self, settings: &Settings) {
        self.text.set_settings(settings);
        if settings.unlikely != self.unlikely.is_some() {
            self.unlikely = settings.unlikely.then(Vec::new);
        }
    }

    /// What is known of the sender's machine.
    pub fn habits(&self) -> Habits {
        self.text.habits()
    }

    /// Takes the next character, of elements of `element_s`.
    pub fn take(&mut self, heard: Heard, element_s: f64) {
        self.text.take(heard, element_s);
    }

    /// Takes a reading that nothing vouched for.
    pub fn leave_out(&mut self, heard: &Heard, element_s: f64) {
        if self.unlikely.is_none() {
            return;
        }
        let Some(id) = self.names.early(heard.start_s, element_s) else {
            return;
        };
        let character = self.character(self.text.unlikely(heard, element_s), id);
        let list = self.unlikely.get_or_insert_default();
        list.push(character);
        let over = list.len().saturating_sub(MOST_UNLIKELY);
        list.drain(..over);
    }

    /// Reports a first reading.
    pub fn early(&mut self, heard: &Heard, element_s: f64, report: &mut dyn FnMut(Event)) {
        if let Some(id) = self.names.early(heard.start_s, element_s) {
            let first = self.text.early(heard, element_s);
            report(Event::Early(self.character(first, id)));
        }
    }

    /// Reports the characters that are old enough at `until_s` to be decided; `ahead` is what is
    /// heard beyond that and not committed yet.
    pub fn give(
        &mut self,
        until_s: f64,
        ahead: &[Heard],
        element_s: f64,
        report: &mut dyn FnMut(Event),
    ) {
        let mut decided = Vec::new();
        self.text.give(until_s, ahead, element_s, &mut decided);
        self.report(decided, element_s, report);
    }

    /// Nothing more comes: reports all that waits.
    pub fn finish(&mut self, element_s: f64, report: &mut dyn FnMut(Event)) {
        let mut decided = Vec::new();
        self.text.finish(&mut decided);
        self.report(decided, element_s, report);
        self.report_unlikely(None, report);
    }

    fn report(&mut self, decided: Vec<Decided>, element_s: f64, report: &mut dyn FnMut(Event)) {
        for one in decided {
            let heard = &one.heard;
            let id = self.names.decided(heard.start_s, element_s);
            if let Some(observer) = &self.observer {
                observer.show((self.signal, id, heard.conditions));
            }
            self.report_unlikely(Some(id), report);
            report(Event::Character(self.character(one, id)));
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
            signal: self.signal,
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::copy::calibration::calibrated;
    use crate::pair::testing::heard_as;
    use crate::settings::LanguageUse;
    use markhold_code::{Shift, Symbol};

    // ITU-T S.1 combinations; element 1 is the lowest bit.
    const Q: u8 = 0b10111;
    const FIGURES: u8 = 0b11011;

    /// Two other codes share the rest, two thirds and one.
    fn heard(start_s: f64, code: u8, p: f32) -> Heard {
        let mut codes = [0.0; 32];
        codes[usize::from(code)] = p;
        codes[usize::from(code ^ 0b10000)] = (1.0 - p) * 2.0 / 3.0;
        codes[usize::from(code ^ 0b00010)] = (1.0 - p) / 3.0;
        heard_as(start_s, codes)
    }

    fn told(settings: &Settings, heard: Vec<Heard>) -> Vec<Character> {
        let element_s = 1.0 / 45.3;
        let mut teller = Teller::new(SignalId(7), settings);
        heard
            .into_iter()
            .for_each(|one| teller.take(one, element_s));
        let mut told = Vec::new();
        teller.finish(element_s, &mut |event| match event {
            Event::Character(character) => told.push(character),
            other => panic!("{other:?}"),
        });
        told
    }

    #[test]
    fn what_is_told_comes_true_and_the_next_best_stand_beside_it() {
        let settings = Settings {
            language: LanguageUse::Off,
            ..Settings::default()
        };
        let list = vec![heard(4.0, FIGURES, 1.0), heard(4.2, Q, 0.7)];
        let comes_true = calibrated(0.7, &list[1].conditions);
        let character = told(&settings, list).remove(1);
        assert_eq!(character.signal, SignalId(7));
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
}
