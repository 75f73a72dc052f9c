//! Text: what the reader gets, glyph by glyph; the one holder of shift, habits and language.
//!
//! # What a sender sends
//!
//! ```text
//!   habits            figures row, what a space in figures does      change hardly ever
//!     |
//!   shift             letters | figures     changes by what is sent, or unheard where a
//!     |                                     character may have been lost
//!   code              of text, or a shift
//!     |
//!   letters           of English | of some language | any            by word and by text
//!     |
//!   likelihoods of all 32 codes, as the signal has them
//! ```
//!
//! * [`shifts`]: which shift and habit, and whether a code is text or a shift, by what letters
//!   and figures look like. No language is asked.
//! * [`words`]: given that a code of text was sent in letters, which. Only here has language a
//!   say; where it is off, the signal alone chooses.
//! * [`signs`]: which figures row.
//!
//! So what is figures and what is letters is the same with language and without it, and so is
//! every figure. All of it looks back from the latest that was heard, which the follower may
//! not have committed yet, and decides once: when a character is [`WAIT_S`] old.

pub mod sending;
pub mod sent;
pub mod shifts;
pub mod signs;
pub mod slot;
pub mod words;

use std::collections::VecDeque;
use std::sync::Arc;

use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_language::{Language, Learned, Writer};

use crate::copy::calibration::calibrate;
use crate::copy::doubt::SEAM;
use crate::event::{Alternative, Witnesses};
use crate::pair::follower::Heard;
use crate::settings::{LanguageUse, Settings};
use sending::Habit;
use shifts::{Shares, Shifts};
use signs::{Printed, Signs};
use slot::{CODES, Gap, Slot, counted};
use words::{Letters, Words};

/// How long a character waits for those after it, s, beyond what the follower looks ahead.
pub const WAIT_S: f64 = 0.5;
/// With language a character is sure only above this probability: a word of six such letters is
/// wrong once in 200 or less. Without it, [`crate::copy::doubt::SURE`].
const SURE: f32 = 0.998;
/// An early and a decided reading that begin within this are the same character, s: half an
/// element at 100 baud.
const SAME_S: f64 = 0.005;
/// A line idled if it is at least this probable that it did.
const IDLED: f32 = 0.9;
/// A habit that is at least this probable is told.
const KNOWN: f32 = 0.95;

/// One character, decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Decided {
    /// What was heard.
    pub heard: Heard,
    /// The code.
    pub code: Code,
    /// The shift in force when it was sent.
    pub shift: Shift,
    /// The figures row of its sender.
    pub row: FiguresRow,
    /// Probability that this was sent: this code, and in this shift if it matters.
    pub probability: f32,
    /// Probability of the shift; 1 where it does not matter.
    pub in_shift: f32,
    /// The next best two codes in the same shift.
    pub alternatives: [Alternative; 2],
    /// Least probability at which it is not doubtful.
    pub sure: f32,
    /// What the signal alone and both say; `None` where language was not asked.
    pub witnesses: Option<Witnesses>,
}

/// What is known of the sender's machine; `None` while it is not.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Habits {
    /// Figures row, if its signs told.
    pub row: Option<FiguresRow>,
    /// Whether a space in figures returns to letters.
    pub unshift_on_space: Option<bool>,
}

/// The text of one signal.
pub struct Text {
    // configured
    language: LanguageUse,
    learned: Option<Arc<Learned>>,
    row: Option<FiguresRow>,
    unshift_on_space: Option<bool>,
    // state: as of the last character that was decided
    shifts: Shifts,
    words: Option<Words>,
    signs: Signs,
    // state: not decided yet
    waiting: VecDeque<(Heard, Slot)>,
    last_s: Option<f64>,
    /// Early characters that no decided reading has reached.
    early: Vec<Slot>,
}

impl Text {
    /// The text of a signal of which nothing is known.
    pub fn new(settings: &Settings) -> Self {
        Self {
            language: settings.language,
            learned: settings.learned.clone(),
            row: settings.figures_row,
            unshift_on_space: settings.unshift_on_space,
            shifts: Shifts::new(settings.unshift_on_space),
            words: words(settings),
            signs: Signs::new(settings.figures_row),
            waiting: VecDeque::new(),
            last_s: None,
            early: Vec::new(),
        }
    }

    /// Goes on by other settings.
    pub fn set_settings(&mut self, settings: &Settings) {
        if settings.unshift_on_space != self.unshift_on_space {
            self.shifts = self.shifts.forced(settings.unshift_on_space);
        }
        if settings.figures_row != self.row {
            self.signs = Signs::new(settings.figures_row);
        }
        let is_off = settings.language == LanguageUse::Off;
        if is_off != self.words.is_none() || settings.learned != self.learned {
            self.words = words(settings);
        }
        self.language = settings.language;
        self.learned = settings.learned.clone();
        self.row = settings.figures_row;
        self.unshift_on_space = settings.unshift_on_space;
    }

    /// Takes the next character, of elements of `element_s`.
    pub fn take(&mut self, heard: Heard, element_s: f64) {
        let slot = slot_of(&heard, self.last_s, element_s);
        self.last_s = Some(heard.start_s);
        self.waiting.push_back((heard, slot));
    }

    /// Decides what began [`WAIT_S`] before `until_s`, up to where all was taken; `ahead` is what
    /// is heard beyond that and not committed yet.
    pub fn give(&mut self, until_s: f64, ahead: &[Heard], element_s: f64, out: &mut Vec<Decided>) {
        let old = |w: &&(Heard, Slot)| w.0.start_s <= until_s - WAIT_S;
        let given = self.waiting.iter().take_while(old).count();
        self.decide(given, ahead, element_s, out);
    }

    /// Decides all that was taken: nothing more comes.
    pub fn finish(&mut self, out: &mut Vec<Decided>) {
        self.decide(self.waiting.len(), &[], 1.0, out);
    }

    /// Reads an early character by what came before it; it is given again when it is decided.
    pub fn early(&mut self, heard: &Heard, element_s: f64) -> Decided {
        let last_s = self.last_s.unwrap_or(f64::NEG_INFINITY);
        self.early.retain(|slot| slot.start_s > last_s + SAME_S);
        let mut shifts = self.shifts.clone();
        let before = self.waiting.iter().map(|w| &w.1).chain(&self.early);
        for slot in before {
            shifts.take(slot);
        }
        let last_s = self.early.last().map(|s| s.start_s).or(self.last_s);
        let slot = slot_of(heard, last_s, element_s);
        let glyphs = Glyphs::new(&slot, &shifts.take(&slot), &slot.text());
        self.early.push(slot);
        let best = glyphs.best();
        decided(heard.clone(), &glyphs, best, self.signs.row())
    }

    /// Reads what nothing vouched for by what was decided before it; it changes nothing.
    pub fn unlikely(&self, heard: &Heard, element_s: f64) -> Decided {
        let slot = slot_of(heard, self.last_s, element_s);
        let glyphs = Glyphs::new(&slot, &self.shifts.clone().take(&slot), &slot.text());
        let best = glyphs.best();
        decided(heard.clone(), &glyphs, best, self.signs.row())
    }

    /// What is known of the sender's machine.
    pub fn habits(&self) -> Habits {
        let of = |wanted: fn(Habit) -> bool| {
            let habits = self.shifts.habits();
            let those = habits.into_iter().filter(|h| wanted(h.0));
            those.map(|h| h.1).sum::<f32>()
        };
        let unshifts = of(|h| h == Habit::Unshifts);
        let found = (unshifts.max(1.0 - unshifts) > KNOWN).then_some(unshifts > 0.5);
        Habits {
            row: self.row.or(self.signs.known()),
            unshift_on_space: self.unshift_on_space.or(found),
        }
    }

    /// The characters in view of which the follower has not decided yet.
    fn slots_ahead(&self, ahead: &[Heard], element_s: f64) -> Vec<Slot> {
        let mut last_s = self.last_s;
        let new = |h: &&Heard| self.last_s.is_none_or(|s| h.start_s > s + SAME_S);
        let slots = ahead.iter().filter(new).map(|heard| {
            let slot = slot_of(heard, last_s, element_s);
            last_s = Some(heard.start_s);
            slot
        });
        slots.collect()
    }

    fn decide(&mut self, given: usize, ahead: &[Heard], element_s: f64, out: &mut Vec<Decided>) {
        if given == 0 {
            return;
        }
        let ahead = self.slots_ahead(ahead, element_s);
        let slots: Vec<&Slot> = self.waiting.iter().map(|w| &w.1).chain(&ahead).collect();
        let shares = self.shifts.look(&slots);
        let letters = self.words.as_mut().map(|words| {
            let both: Vec<(&Slot, Shares)> = slots.iter().copied().zip(shares.clone()).collect();
            words.read(&both, given)
        });
        let alone: Vec<Glyphs> = slots
            .iter()
            .zip(&shares)
            .map(|(slot, shares)| Glyphs::new(slot, shares, &slot.text()))
            .collect();
        for slot in &slots[..given] {
            self.shifts.take(slot);
        }
        let printed: Vec<Printed> = alone.iter().map(Glyphs::printed).collect();
        let row = self.signs.take(&printed, given);
        for (at, (heard, slot)) in self.waiting.drain(..given).enumerate() {
            let slot = &slot;
            let by_signal = &alone[at];
            let best = by_signal.best();
            out.push(match &letters {
                None => decided(heard, by_signal, best, row),
                Some(letters) => {
                    let both = Glyphs::new(slot, &shares[at], &letters[at].codes);
                    let changes = self.language == LanguageUse::On;
                    witnessed(heard, [by_signal, &both], &letters[at], row, changes)
                }
            });
        }
    }
}

fn words(settings: &Settings) -> Option<Words> {
    if settings.language == LanguageUse::Off {
        return None;
    }
    let language = match &settings.learned {
        Some(learned) => Language::english().with(learned.clone()),
        None => Language::english(),
    };
    Some(Words::new(Writer::new(language)))
}

/// A character as text hears it: language and shift reason from what comes true, not from what
/// the evidence claims.
fn slot_of(heard: &Heard, last_s: Option<f64>, element_s: f64) -> Slot {
    let mut reading = heard.reading.clone();
    reading.codes = counted(&reading.codes);
    calibrate(&mut reading, &heard.conditions);
    let gap = Gap {
        last_s,
        seam: heard.conditions.misplaced[0] > SEAM,
        idled: heard.conditions.idled > IDLED,
    };
    Slot::new(
        heard.start_s,
        gap,
        element_s,
        &reading.codes,
        reading.present,
    )
}

/// Probability of everything that a character may be.
#[derive(Clone, Debug)]
struct Glyphs {
    /// Of each code, in letters and in figures.
    codes: [[f32; CODES]; 2],
    /// That a character was sent.
    present: f32,
    in_figures: f32,
}

impl Glyphs {
    /// With these shares of the codes of text among letters.
    fn new(slot: &Slot, shares: &Shares, letters: &[f32; CODES]) -> Self {
        let mut codes = [
            letters.map(|p| shares.letters * p),
            slot.text().map(|p| shares.figures * p),
        ];
        let others = [
            (Code::LETTERS, shares.to_letters),
            (Code::FIGURES, shares.to_figures),
            (Code::BLANK, shares.blank),
        ];
        for (code, p) in others {
            codes[0][index(code)] = p * (1.0 - shares.in_figures);
            codes[1][index(code)] = p * shares.in_figures;
        }
        Self {
            codes,
            present: slot.present,
            in_figures: shares.in_figures,
        }
    }

    fn shift(&self) -> Shift {
        if self.in_figures > 0.5 {
            Shift::Figures
        } else {
            Shift::Letters
        }
    }

    /// Probability of a code, in this shift if that matters.
    fn of(&self, code: Code, shift: Shift) -> f32 {
        let c = index(code);
        match depends_on_shift(code) {
            true => self.codes[shift as usize][c],
            false => self.codes[0][c] + self.codes[1][c],
        }
    }

    /// The likeliest code and its shift.
    fn best(&self) -> (Code, Shift) {
        let shifts = [self.shift(), other(self.shift())];
        let all = shifts.into_iter().flat_map(|s| Code::ALL.map(|c| (c, s)));
        all.reduce(|a, b| {
            if self.of(b.0, b.1) > self.of(a.0, a.1) {
                b
            } else {
                a
            }
        })
        .expect("there are codes")
    }

    /// The next best two codes in the same shift.
    fn next(&self, (best, shift): (Code, Shift)) -> [Code; 2] {
        let mut others: Vec<Code> = Code::ALL.into_iter().filter(|c| *c != best).collect();
        others.sort_by(|a, b| self.of(*b, shift).total_cmp(&self.of(*a, shift)));
        [others[0], others[1]]
    }

    fn alternative(&self, (code, shift): (Code, Shift), row: FiguresRow) -> Alternative {
        Alternative {
            code,
            symbol: symbol(code, shift, row),
            // Sums of shares may come out a last bit above 1.
            probability: (self.present * self.of(code, shift)).min(1.0),
        }
    }

    fn printed(&self) -> Printed {
        let (code, shift) = self.best();
        Printed {
            code,
            shift,
            probability: self.of(code, shift),
        }
    }

    fn in_shift(&self, (code, shift): (Code, Shift)) -> f32 {
        match (depends_on_shift(code), shift) {
            (false, _) => 1.0,
            (true, Shift::Figures) => self.in_figures,
            (true, Shift::Letters) => 1.0 - self.in_figures,
        }
    }
}

/// A character of which so much is probable.
fn decided(heard: Heard, glyphs: &Glyphs, best: (Code, Shift), row: FiguresRow) -> Decided {
    Decided {
        heard,
        code: best.0,
        shift: best.1,
        row,
        probability: glyphs.alternative(best, row).probability,
        in_shift: glyphs.in_shift(best),
        alternatives: glyphs
            .next(best)
            .map(|code| glyphs.alternative((code, best.1), row)),
        sure: crate::copy::doubt::SURE,
        witnesses: None,
    }
}

/// A character of which the signal alone says one thing and both say another, or the same.
fn witnessed(
    heard: Heard,
    [alone, both]: [&Glyphs; 2],
    letters: &Letters,
    row: FiguresRow,
    changes: bool,
) -> Decided {
    let [by_signal, by_both] = [alone.best(), both.best()];
    let witnesses = Witnesses {
        signal: alone.alternative(by_signal, row),
        both: both.alternative(by_both, row),
        from_signal: alone.alternative(by_both, row).probability,
        prose: letters.prose,
    };
    let decided = match changes {
        true => Decided {
            sure: SURE,
            ..decided(heard, both, by_both, row)
        },
        false => decided(heard, alone, by_signal, row),
    };
    Decided {
        witnesses: Some(witnesses),
        ..decided
    }
}

fn other(shift: Shift) -> Shift {
    match shift {
        Shift::Letters => Shift::Figures,
        Shift::Figures => Shift::Letters,
    }
}

/// Whether a code means something else in the other shift.
pub fn depends_on_shift(code: Code) -> bool {
    let controls = [
        Code::LETTERS,
        Code::FIGURES,
        Code::SPACE,
        Code::CARRIAGE_RETURN,
        Code::LINE_FEED,
        Code::BLANK,
    ];
    !controls.contains(&code)
}

fn index(code: Code) -> usize {
    usize::from(code.value())
}

#[cfg(test)]
mod tests;
