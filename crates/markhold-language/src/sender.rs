//! Sender: what somebody at a keyboard sends next, code by code.
//!
//! A word is prose or it is not. A word of prose goes as the language says, somewhat
//! flattened; of any other (a call, a serial, a code group) nothing is foretold. Which of
//! the two it is, nobody says: both are followed, and the signal decides. From its first
//! digit on, no word is prose.
//!
//! ```text
//!                 +----------------- break -----------------+
//!                 v                                         |
//!   break --> prose word: letters by the language,          |
//!     |         FIGURES, signs flat, LETTERS ---------------+
//!     |             | digit                                 |
//!     |             v                                       |
//!     +-----> other word: all 32 codes alike ---------------+
//! ```

use std::collections::HashMap;

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

use crate::language::Language;
use crate::tokens::{BREAK, Context, DIGIT, SIGN, TOKENS, Token, token};

/// Number of codes.
pub const CODES: usize = 32;

/// How much the language is flattened: its probabilities are taken to this power. Senders
/// do not write what the model was counted from.
const POWER: f32 = 0.8;
/// Probability that a word is no prose, after a word of prose and after another.
const OTHER_AFTER: [f32; 2] = [0.06, 0.6];
/// How a word ends: space, carriage return, line feed (about 60 characters to a line).
const BREAKS: [f32; 3] = [0.86, 0.12, 0.02];
/// After a carriage return, and after a line feed: carriage return, line feed, letters
/// shift; the rest is text (common practice: CR, CR, LF, sometimes letters shift).
const AFTER_RETURN: [f32; 3] = [0.17, 0.78, 0.02];
const AFTER_FEED: [f32; 3] = [0.04, 0.05, 0.12];
/// In figures shift: space, carriage return, line feed, letters shift, figures shift, blank;
/// the 26 printing codes share the rest alike.
/// All of it stays near 1/32: figures must not seem likelier than they are because words end
/// in them.
const IN_FIGURES: [f32; 6] = [0.07, 0.015, 0.01, 0.12, 0.01, 0.002];
/// Share of what no habit foretells: needless shifts, blanks, errors of typing.
const ODD: f32 = 0.01;
/// Share of spaces in figures after which letters follow though no shift was sent: the sender
/// takes it that printers return to letters by themselves.
const UNSHIFTED: f32 = 0.02;
/// Contexts whose rows are remembered.
const MOST_ROWS: usize = 1 << 15;

/// Probability that a sender is in the shift in which the printer would be.
const IN_SHIFT: f32 = 0.95;

/// Where a line of text stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Place {
    Text,
    Returned,
    Fed,
}

/// Where a sender stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct State {
    context: Context,
    shift: Shift,
    prose: bool,
    place: Place,
}

impl State {
    /// The states in which a sender may be found, each with its probability, where a printer
    /// would be in `shift`.
    pub fn beginning(shift: Shift) -> Vec<(State, f32)> {
        let other = match shift {
            Shift::Letters => Shift::Figures,
            Shift::Figures => Shift::Letters,
        };
        let mut list = Vec::new();
        for (shift, a) in [(shift, IN_SHIFT), (other, 1.0 - IN_SHIFT)] {
            for (prose, b) in [(true, 0.7), (false, 0.3)] {
                let state = State {
                    context: Context::EMPTY,
                    shift,
                    prose,
                    place: Place::Text,
                };
                list.push((state, a * b));
            }
        }
        list
    }

    /// The shift in force.
    pub fn shift(self) -> Shift {
        self.shift
    }

    /// Whether the word is prose.
    pub fn is_prose(self) -> bool {
        self.prose
    }

    fn is_between_words(self) -> bool {
        self.place != Place::Text || self.context.latest(1) == Context::WORD
    }
}

/// What is known of the sender's machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Habits {
    /// Figures row.
    pub row: FiguresRow,
    /// Whether a space returns to letters.
    pub unshift_on_space: bool,
}

/// A sender of one language.
#[derive(Clone, Debug)]
pub struct Sender {
    // configured
    language: Language,
    habits: Habits,
    // derived
    /// Token of each code in each shift, if it prints.
    tokens: [[Option<Token>; CODES]; 2],
    /// Code of each letter's token.
    letters: [usize; TOKENS],
    figures: [f32; CODES],
    // state
    /// Flattened rows of contexts that came up.
    rows: HashMap<Context, [f32; TOKENS]>,
}

impl Sender {
    /// A sender of a language.
    pub fn new(language: Language, habits: Habits) -> Self {
        let of = |shift| Code::ALL.map(|code| printed(symbol(code, shift, habits.row)));
        let tokens = [of(Shift::Letters), of(Shift::Figures)];
        let mut letters = [0; TOKENS];
        for (code, token) in tokens[0].iter().enumerate() {
            if let Some(token) = token {
                letters[usize::from(*token)] = code;
            }
        }
        Self {
            language,
            habits,
            tokens,
            letters,
            figures: in_figures(),
            rows: HashMap::new(),
        }
    }

    /// Probability of each code next; adds up to 1.
    pub fn codes(&mut self, state: State) -> [f32; CODES] {
        let mut codes = match (state.prose, state.shift) {
            (false, _) => return [1.0 / CODES as f32; CODES],
            (true, Shift::Letters) => self.in_letters(state),
            (true, Shift::Figures) => self.figures,
        };
        let habit = match state.place {
            Place::Text => [0.0; 3],
            Place::Returned => AFTER_RETURN,
            Place::Fed => AFTER_FEED,
        };
        let text = (1.0 - habit.iter().sum::<f32>()) * (1.0 - ODD);
        for code in &mut codes {
            *code = *code * text + ODD / CODES as f32;
        }
        for (code, p) in [Code::CARRIAGE_RETURN, Code::LINE_FEED, Code::LETTERS]
            .into_iter()
            .zip(habit)
        {
            codes[index(code)] += p * (1.0 - ODD);
        }
        codes
    }

    fn in_letters(&mut self, state: State) -> [f32; CODES] {
        let row = *self.row(state.context);
        let mut codes = [0.0; CODES];
        for t in 1..SIGN {
            codes[self.letters[usize::from(t)]] = row[usize::from(t)];
        }
        let breaks = [Code::SPACE, Code::CARRIAGE_RETURN, Code::LINE_FEED];
        for (code, share) in breaks.into_iter().zip(BREAKS) {
            codes[index(code)] = row[usize::from(BREAK)] * share;
        }
        codes[index(Code::FIGURES)] = row[usize::from(SIGN)] + row[usize::from(DIGIT)];
        codes
    }

    fn row(&mut self, context: Context) -> &[f32; TOKENS] {
        if self.rows.len() >= MOST_ROWS {
            self.rows.clear();
        }
        let language = &self.language;
        self.rows.entry(context).or_insert_with(|| {
            let row = language.row(context).map(|p| p.powf(POWER));
            let total: f32 = row.iter().sum();
            row.map(|p| p / total)
        })
    }

    /// Where a code leads from a state, each way with its probability given the code.
    pub fn after(&self, state: State, code: Code, to: &mut Vec<(State, f32)>) {
        to.clear();
        match code {
            Code::SPACE => self.space(state, to),
            Code::CARRIAGE_RETURN => self.end_word(
                State {
                    place: Place::Returned,
                    ..state
                },
                state,
                1.0,
                to,
            ),
            Code::LINE_FEED => self.end_word(
                State {
                    place: Place::Fed,
                    ..state
                },
                state,
                1.0,
                to,
            ),
            Code::LETTERS => to.push((
                State {
                    shift: Shift::Letters,
                    ..state
                },
                1.0,
            )),
            Code::FIGURES => to.push((
                State {
                    shift: Shift::Figures,
                    ..state
                },
                1.0,
            )),
            _ => to.push((self.printed(state, code), 1.0)),
        }
    }

    fn printed(&self, state: State, code: Code) -> State {
        let Some(token) = self.tokens[state.shift as usize][index(code)] else {
            return state;
        };
        let prose = state.prose && token != DIGIT;
        let context = match prose {
            true => self.language.known(state.context.then(token)),
            false => Context::EMPTY,
        };
        State {
            context,
            prose,
            place: Place::Text,
            ..state
        }
    }

    fn space(&self, state: State, to: &mut Vec<(State, f32)>) {
        let text = State {
            place: Place::Text,
            ..state
        };
        let unshifted = match state.shift {
            Shift::Letters => 0.0,
            Shift::Figures if self.habits.unshift_on_space => 1.0,
            Shift::Figures => UNSHIFTED,
        };
        if unshifted > 0.0 {
            let letters = State {
                shift: Shift::Letters,
                ..text
            };
            self.end_word(letters, state, unshifted, to);
        }
        if unshifted < 1.0 {
            self.end_word(text, state, 1.0 - unshifted, to);
        }
    }

    /// A word ended; the next is of either kind, unless none has begun since the last break.
    fn end_word(&self, next: State, before: State, weight: f32, to: &mut Vec<(State, f32)>) {
        if before.is_between_words() {
            to.push((next, weight));
            return;
        }
        let other = OTHER_AFTER[usize::from(!before.prose)];
        let context = self.language.known(before.context.then(BREAK));
        to.push((
            State {
                context,
                prose: true,
                ..next
            },
            weight * (1.0 - other),
        ));
        let context = Context::WORD;
        to.push((
            State {
                context,
                prose: false,
                ..next
            },
            weight * other,
        ));
    }

    /// After some time in which characters may have been lost, nothing is known of the word.
    pub fn lost(state: State) -> State {
        State {
            context: Context::EMPTY,
            place: Place::Text,
            ..state
        }
    }
}

fn index(code: Code) -> usize {
    usize::from(code.value())
}

fn printed(symbol: Symbol) -> Option<Token> {
    match symbol {
        Symbol::Print(c) => Some(token(c).unwrap_or(SIGN)),
        _ => None,
    }
}

fn in_figures() -> [f32; CODES] {
    let known = [
        Code::SPACE,
        Code::CARRIAGE_RETURN,
        Code::LINE_FEED,
        Code::LETTERS,
        Code::FIGURES,
        Code::BLANK,
    ];
    let rest = 1.0 - IN_FIGURES.iter().sum::<f32>();
    let mut codes = [rest / (CODES - known.len()) as f32; CODES];
    for (code, p) in known.into_iter().zip(IN_FIGURES) {
        codes[index(code)] = p;
    }
    codes
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::{EncodeOptions, encode};
    use proptest::prelude::*;

    fn sender(unshift_on_space: bool) -> Sender {
        let habits = Habits {
            row: FiguresRow::Ita2,
            unshift_on_space,
        };
        Sender::new(Language::english(), habits)
    }

    /// All states after codes, from all in which a sender may be.
    fn follow(sender: &Sender, codes: &[Code]) -> Vec<(State, f32)> {
        let (mut now, mut to) = (State::beginning(Shift::Letters), Vec::new());
        for &code in codes {
            let before = std::mem::take(&mut now);
            for (state, p) in before {
                sender.after(state, code, &mut to);
                for &(next, way) in &to {
                    match now.iter_mut().find(|n: &&mut (State, f32)| n.0 == next) {
                        Some(known) => known.1 += p * way,
                        None => now.push((next, p * way)),
                    }
                }
            }
        }
        now
    }

    proptest! {
        #[test]
        fn everything_adds_up_to_1(codes in prop::collection::vec(0u8..32, 0..12), unshift: bool) {
            let mut sender = sender(unshift);
            let codes: Vec<Code> = codes.into_iter().filter_map(Code::new).collect();
            let states = follow(&sender, &codes);
            let all: f32 = states.iter().map(|s| s.1).sum();
            prop_assert!((all - 1.0).abs() < 1e-4, "{all}");
            for (state, _) in states {
                let next = sender.codes(state);
                let all: f32 = next.iter().sum();
                prop_assert!((all - 1.0).abs() < 1e-4, "{all} after {state:?}");
                prop_assert!(next.iter().all(|p| *p > 0.0));
            }
        }

        /// The shift followed is the one of the printer's machine, where letters shifts are
        /// always sent.
        #[test]
        fn shifts_are_those_of_the_machine(text in "[A-Z0-9 ]{1,20}", unshift: bool) {
            let sender = sender(unshift);
            let options = EncodeOptions::default();
            let codes = encode(&format!("A{text}"), FiguresRow::Ita2, options).unwrap();
            let mut machine = markhold_code::ShiftMachine::new(FiguresRow::Ita2, unshift);
            machine.receive(Code::LETTERS);
            for n in 1..=codes.len() {
                machine.receive(codes[n - 1]);
                let with_shift = [&[Code::LETTERS], &codes[..n]].concat();
                let states = follow(&sender, &with_shift);
                let p: f32 = states.iter().filter(|s| s.0.shift() == machine.shift()).map(|s| s.1).sum();
                prop_assert!(p > 0.75, "{p} after {n} codes");
            }
        }
    }

    #[test]
    fn prose_is_foretold_and_figures_are_not() {
        let mut sender = sender(false);
        let text = encode("THE STATIO", FiguresRow::Ita2, EncodeOptions::default()).unwrap();
        let states = follow(&sender, &[&[Code::LETTERS], &text[..]].concat());
        let (n, _) = markhold_code::lookup(Symbol::Print('N'), FiguresRow::Ita2).unwrap();
        for (state, p) in states.into_iter().filter(|s| s.1 > 1e-3) {
            let next = sender.codes(state)[index(n)];
            match state.is_prose() {
                true => assert!(next > 0.5, "{next} ({p})"),
                false => assert_eq!(next, 1.0 / 32.0),
            }
        }
        let figures = State {
            context: Context::EMPTY,
            shift: Shift::Figures,
            prose: true,
            place: Place::Text,
        };
        let next = sender.codes(figures);
        let digits: Vec<f32> = ('0'..='9')
            .filter_map(|c| markhold_code::lookup(Symbol::Print(c), FiguresRow::Ita2))
            .map(|(code, _)| next[index(code)])
            .collect();
        assert!(digits.windows(2).all(|d| d[0] == d[1]), "{digits:?}");
    }
}
