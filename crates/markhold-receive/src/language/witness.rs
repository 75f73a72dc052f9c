//! Witness: what becomes of a signal's characters when language is asked too.
//!
//! Characters wait until enough was heard after them, some two seconds; at a pause they wait
//! no longer. What the signal alone says travels along, so that whatever language changed can
//! be seen and undone.

use std::collections::VecDeque;
use std::sync::Arc;

use markhold_code::{Code, FiguresRow, Shift, ShiftMachine, symbol};
use markhold_language::{Habits, Language, Learned, Sender};

use super::reader::{Reader, Slot, Witnessed};
use crate::characters::reading::best_three;
use crate::copy::doubt::{doubt, shift::depends_on_shift};
use crate::event::{Alternative, Character, Doubt, Witnesses};
use crate::pair::follower::Heard;
use crate::settings::{LanguageUse, Settings};

/// With language, a character is sure only above this probability: language errs in whole
/// words, and fluently.
const SURE: f32 = 0.99;
/// What is less than that counts as doubtful whatever the signal's own bound is.
const DOUBTFUL: f32 = 0.9;
/// Characters stand at least this far apart if another may have been lost between them,
/// elements.
const ROOM_FOR_ANOTHER: f64 = 13.5;
/// Probability that one was, there.
const LOST: f32 = 0.3;
/// After a pause this long, s, nobody knows what was sent meanwhile; and no character waits
/// longer for those after it.
const PAUSE_S: f64 = 2.5;
/// Probability that the text goes on after a pause where it stood.
const GOES_ON: f32 = 0.5;

/// Asks language about one signal's characters.
pub struct Witness {
    // configured
    habits: Habits,
    learned: Option<Arc<Learned>>,
    changes: bool,
    // state
    reader: Reader,
    /// A printer of what signal and language read.
    machine: ShiftMachine,
    /// Heard, and described by the signal alone.
    waiting: VecDeque<(Heard, Character)>,
    last_s: Option<f64>,
    witnessed: Vec<Witnessed>,
}

impl Witness {
    /// A witness, if the settings want one.
    /// A printer that heard the signal so far would be in `shift`.
    pub fn new(settings: &Settings, shift: Shift) -> Option<Self> {
        if settings.language == LanguageUse::Off {
            return None;
        }
        let language = match &settings.learned {
            Some(learned) => Language::english().with(learned.clone()),
            None => Language::english(),
        };
        let habits = habits(settings);
        let mut machine = ShiftMachine::new(habits.row, habits.unshift_on_space);
        machine.set_shift(shift);
        Some(Self {
            machine,
            habits,
            learned: settings.learned.clone(),
            changes: settings.language == LanguageUse::On,
            reader: Reader::new(Sender::new(language, habits), shift),
            waiting: VecDeque::new(),
            last_s: None,
            witnessed: Vec::new(),
        })
    }

    /// Goes on by other settings, if those that matter to it are the same.
    pub fn goes_on(&mut self, settings: &Settings) -> bool {
        self.changes = settings.language == LanguageUse::On;
        settings.language != LanguageUse::Off
            && habits(settings) == self.habits
            && settings.learned == self.learned
    }

    /// Takes a character that was heard, with elements of `element_s`, and described by the
    /// signal alone; gives those that waited long enough.
    pub fn take(
        &mut self,
        heard: Heard,
        alone: Character,
        element_s: f64,
        out: &mut Vec<Character>,
    ) {
        let slot = Slot {
            codes: heard.reading.codes,
            lost: self.lost(heard.start_s, element_s),
        };
        self.last_s = Some(heard.start_s);
        self.waiting.push_back((heard, alone));
        self.reader.take(&slot, &mut self.witnessed);
        self.give(out);
    }

    /// Gives all that wait if nothing came for a while, at instant `now_s`.
    pub fn pause(&mut self, now_s: f64, out: &mut Vec<Character>) {
        if self.last_s.is_some_and(|s| now_s - s > PAUSE_S) {
            self.finish(out);
        }
    }

    /// Gives all that wait.
    pub fn finish(&mut self, out: &mut Vec<Character>) {
        self.reader.finish(&mut self.witnessed);
        self.give(out);
    }

    /// Probability that characters were lost before one that begins at `start_s`.
    fn lost(&self, start_s: f64, element_s: f64) -> f32 {
        match self.last_s {
            Some(last_s) if start_s - last_s > PAUSE_S => 1.0 - GOES_ON,
            Some(last_s) if start_s - last_s > ROOM_FOR_ANOTHER * element_s => LOST,
            _ => 0.0,
        }
    }

    fn give(&mut self, out: &mut Vec<Character>) {
        let count = self.witnessed.len();
        let given = self.waiting.drain(..count).zip(self.witnessed.drain(..));
        for ((heard, alone), witnessed) in given {
            repair_shift(&mut self.machine, &witnessed);
            let both = described(&heard, &alone, &witnessed, &self.machine, self.habits.row);
            self.machine.receive(both.code);
            out.push(match self.changes {
                true => both,
                false => Character {
                    witnesses: both.witnesses,
                    ..alone
                },
            });
        }
    }
}

fn habits(settings: &Settings) -> Habits {
    Habits {
        row: settings.figures_row,
        unshift_on_space: settings.unshift_on_space,
    }
}

/// Language may say that letters are sent where a shift was lost. In figures it has no say:
/// they need a figures shift that was read.
fn repair_shift(machine: &mut ShiftMachine, witnessed: &Witnessed) {
    if witnessed.figures <= 0.5 {
        machine.set_shift(Shift::Letters);
    }
}

/// A character as signal and language have it.
fn described(
    heard: &Heard,
    alone: &Character,
    witnessed: &Witnessed,
    machine: &ShiftMachine,
    row: FiguresRow,
) -> Character {
    let shift = machine.shift();
    let present = present(heard.reading.present, witnessed.favour);
    let alternative = |c: usize| {
        let code = Code::new(c as u8).expect("below 32");
        Alternative {
            code,
            symbol: symbol(code, shift, row),
            // Sums of shares may come out a last bit above 1.
            probability: (present * witnessed.codes[c]).min(1.0),
        }
    };
    let [best, second, third] = best_three(&witnessed.codes).map(alternative);
    let of_signal = heard.reading.codes[usize::from(best.code.value())];
    Character {
        code: best.code,
        shift,
        symbol: best.symbol,
        probability: best.probability,
        alternatives: [second, third],
        doubt: doubt_of(heard, witnessed, &best),
        witnesses: Some(Witnesses {
            signal: Alternative {
                code: alone.code,
                symbol: alone.symbol,
                probability: alone.probability,
            },
            both: best,
            from_signal: heard.reading.present * of_signal,
            prose: witnessed.prose,
        }),
        ..alone.clone()
    }
}

/// Probability that a character was sent, with language in favour of it or against it.
fn present(by_signal: f32, favour: f32) -> f32 {
    let sent = by_signal * favour;
    sent / (sent + 1.0 - by_signal).max(f32::MIN_POSITIVE)
}

fn doubt_of(heard: &Heard, witnessed: &Witnessed, best: &Alternative) -> Option<Doubt> {
    if best.probability > SURE {
        return None;
    }
    let shift_known = match depends_on_shift(best.code) {
        true => witnessed.figures.max(1.0 - witnessed.figures),
        false => 1.0,
    };
    let probability = best.probability.min(DOUBTFUL);
    doubt(probability, shift_known, &heard.conditions)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::event::{CharacterId, SignalId};
    use crate::pair::testing::heard_as;
    use markhold_code::{EncodeOptions, encode};

    const PITCH_S: f64 = 0.165;
    const ELEMENT_S: f64 = 0.022;

    /// Characters of a text every 165 ms, some of them read as another code with so much
    /// probability.
    fn heard(text: &str, wrong: &[(usize, u8, f32)]) -> Vec<Heard> {
        let codes = encode(text, FiguresRow::Ita2, EncodeOptions::default()).expect("can be sent");
        let all = codes.iter().enumerate().map(|(i, code)| {
            let mut codes = [0.0; 32];
            codes[usize::from(code.value())] = 1.0;
            for &(at, other, p) in wrong.iter().filter(|w| w.0 == i) {
                codes[usize::from(code.value())] = 1.0 - p;
                codes[usize::from(other)] = p;
                assert_eq!(at, i);
            }
            let mut heard = heard_as(PITCH_S * i as f64, codes);
            heard.conditions.energy = [5.0; 2];
            heard
        });
        all.collect()
    }

    fn asked(settings: &Settings, heard: &[Heard]) -> Vec<Character> {
        let mut witness = Witness::new(settings, Shift::Letters).expect("language is asked");
        let mut machine = ShiftMachine::new(FiguresRow::Ita2, false);
        let mut out = Vec::new();
        for h in heard {
            let [best, second, third] = best_three(&h.reading.codes).map(|c| {
                let code = Code::new(c as u8).expect("below 32");
                let symbol = symbol(code, machine.shift(), FiguresRow::Ita2);
                Alternative {
                    code,
                    symbol,
                    probability: h.reading.codes[c],
                }
            });
            let alone = Character {
                signal: SignalId(1),
                id: CharacterId::of_start(h.start_s),
                start_s: h.start_s,
                code: best.code,
                shift: machine.shift(),
                symbol: best.symbol,
                probability: best.probability,
                present: 1.0,
                codes: None,
                alternatives: [second, third],
                doubt: doubt(best.probability, 1.0, &h.conditions),
                witnesses: None,
            };
            machine.receive(best.code);
            witness.take(h.clone(), alone, ELEMENT_S, &mut out);
        }
        witness.finish(&mut out);
        out
    }

    fn text(characters: &[Character]) -> String {
        characters.iter().filter_map(|c| c.symbol.text()).collect()
    }

    fn settings(language: LanguageUse) -> Settings {
        Settings {
            language,
            ..Settings::default()
        }
    }

    /// Combination 24 (X) instead of combination 20 (T), ITU-T S.1.
    const WRONG: [(usize, u8, f32); 1] = [(5, 0b11101, 0.8)];
    const TEXT: &str = "THE OTHER STATION";

    /// Reversals are no prose, and would be as likely in figures; nobody sent a shift.
    #[test]
    fn language_makes_no_figures() {
        let text_sent = "RYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRY\r\nCQ CQ CQ DE QLMT QLMT CQ CQ";
        for doubtful in 0..text_sent.len() {
            let out = asked(
                &settings(LanguageUse::On),
                &heard(text_sent, &[(doubtful, 0, 0.05)]),
            );
            assert!(out.iter().all(|c| c.shift == Shift::Letters), "{doubtful}");
        }
    }

    #[test]
    fn on_changes_and_says_so() {
        let out = asked(&settings(LanguageUse::On), &heard(TEXT, &WRONG));
        assert_eq!(text(&out), TEXT);
        for (i, c) in out.iter().enumerate() {
            let w = c.witnesses.expect("language was asked");
            assert_eq!(w.differ(), i == 5, "{c:?}");
            assert_eq!((w.both.code, w.both.probability), (c.code, c.probability));
        }
        let w = out[5].witnesses.expect("language was asked");
        assert_eq!(w.signal.symbol.text(), Some('X'));
        assert!((w.from_signal - 0.2).abs() < 1e-6);
        assert!(out[5].probability > 0.9, "{:?}", out[5]);
    }

    #[test]
    fn mark_changes_nothing_and_says_what_it_would() {
        let heard = heard(TEXT, &WRONG);
        let out = asked(&settings(LanguageUse::Mark), &heard);
        assert_eq!(text(&out), "THE OXHER STATION");
        assert_eq!(out[5].probability, 0.8);
        let w = out[5].witnesses.expect("language was asked");
        assert!(w.differ());
        assert_eq!(w.both.symbol.text(), Some('T'));
        assert!(Witness::new(&settings(LanguageUse::Off), Shift::Letters).is_none());
    }

    #[test]
    fn only_what_is_above_99_percent_is_sure() {
        let out = asked(
            &settings(LanguageUse::On),
            &heard("QZX VKJ", &[(1, 0b11101, 0.03), (5, 0b00110, 0.003)]),
        );
        assert!(
            out[1].probability < SURE && out[1].doubt.is_some(),
            "{:?}",
            out[1]
        );
        assert!(
            out[5].probability > SURE && out[5].doubt.is_none(),
            "{:?}",
            out[5]
        );
    }

    #[test]
    fn characters_wait_for_those_after_them_but_not_through_a_pause() {
        let heard = heard("NOW IS THE TIME FOR THE NET", &[]);
        let mut witness =
            Witness::new(&settings(LanguageUse::On), Shift::Letters).expect("language is asked");
        let alone = asked(&settings(LanguageUse::Mark), &heard);
        let mut out = Vec::new();
        for (h, c) in heard.iter().zip(&alone) {
            witness.take(h.clone(), c.clone(), ELEMENT_S, &mut out);
        }
        assert!(!out.is_empty() && out.len() < heard.len());
        let last_s = heard.last().expect("some were heard").start_s;
        witness.pause(last_s + PAUSE_S - 0.1, &mut out);
        assert!(out.len() < heard.len());
        witness.pause(last_s + PAUSE_S + 0.1, &mut out);
        assert_eq!(out.len(), heard.len());
    }

    #[test]
    fn an_archive_teaches_its_names() {
        // Combination 10 (J) instead of combination 11 (K), as likely as not.
        let wrong = [(4, 0b01011, 0.5), (7, 0b00111, 0.5)];
        let text_sent = "DE QKESTREL";
        let heard = heard(text_sent, &wrong);
        let mut learned = Learned::default();
        learned.learn("DE QKESTREL DE QKESTREL DE QKESTREL");
        let own = Settings {
            learned: Some(Arc::new(learned)),
            ..settings(LanguageUse::On)
        };
        let out = asked(&own, &heard);
        assert_eq!(text(&out), text_sent);
        let general = asked(&settings(LanguageUse::On), &heard);
        assert!(out[4].probability > general[4].probability);
    }
}
