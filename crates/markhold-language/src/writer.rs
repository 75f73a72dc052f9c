//! Writer: what somebody writes next in letters, whoever and of whatever kind it is.
//!
//! The text of a signal is of one kind for long: English, some other language of Latin
//! letters, or letters of which nothing is known (groups, rows, calls). A word is mostly of
//! the text's own kind and now and then of another: a name, a call, an English word abroad.
//! Nobody says which; all are followed, and those that foretell badly lose their weight.
//!
//! ```text
//!   text:  English | Latin | any        changes seldom, where a word ends
//!            |
//!   word:  English | Latin | any        drawn anew for every word, by the kind of text
//!            |
//!   code:  26 letters, space, carriage return, line feed
//! ```
//!
//! From its first digit on a word is of any kind. Of shifts and of what stands in figures a
//! writer says nothing at all.

use std::collections::HashMap;

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

use crate::language::Language;
use crate::latin;
use crate::tokens::{A, BREAK, Context, DIGIT, SIGN, TOKENS, Token, token};

/// Number of codes.
pub const CODES: usize = 32;
/// Codes of text in letters shift: 26 letters, space, carriage return, line feed.
pub const TEXT_CODES: usize = 29;

/// How much English is flattened: its probabilities are taken to this power. Senders do not
/// write what the model was counted from.
const POWER: f32 = 0.8;
/// How a word ends: space, carriage return, line feed (about 60 characters to a line).
const BREAKS: [f32; 3] = [0.86, 0.12, 0.02];
/// After a carriage return, and after a line feed: carriage return, line feed; the rest is
/// text (common practice: CR, CR, LF).
const AFTER_RETURN: [f32; 2] = [0.17, 0.78];
const AFTER_FEED: [f32; 2] = [0.04, 0.05];
/// Share of what no habit foretells: errors of typing, of all codes alike.
const ODD: f32 = 0.01;
/// Kinds of text to begin with: English, Latin, any.
const TEXTS: [f32; KINDS] = [0.5, 0.25, 0.25];
/// Probability that the kind of text changes at the end of a word.
const CHANGES: f32 = 0.01;
/// Kinds of word in each kind of text.
const WORDS: [[f32; KINDS]; KINDS] = [[0.93, 0.02, 0.05], [0.02, 0.93, 0.05], [0.01, 0.01, 0.98]];
/// Contexts whose rows are remembered.
const MOST_ROWS: usize = 1 << 15;

const KINDS: usize = 3;

/// A kind of text or of word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// As the language model foretells.
    English,
    /// Letters as in languages that are written in Latin letters.
    Latin,
    /// All codes alike.
    Any,
}

const ALL: [Kind; KINDS] = [Kind::English, Kind::Latin, Kind::Any];

/// Where a line of text stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Place {
    Text,
    Returned,
    Fed,
}

/// Where a writer stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct State {
    text: Kind,
    word: Kind,
    context: Context,
    place: Place,
}

impl State {
    /// Where a writer of whom nothing is known may stand, each with its probability.
    pub fn beginning() -> Vec<(State, f32)> {
        let mut list = Vec::new();
        for (text, a) in ALL.into_iter().zip(TEXTS) {
            for (word, b) in ALL.into_iter().zip(WORDS[text as usize]) {
                let state = State {
                    text,
                    word,
                    context: Context::EMPTY,
                    place: Place::Text,
                };
                list.push((state, a * b));
            }
        }
        list
    }

    /// The kind of the word.
    pub fn word(self) -> Kind {
        self.word
    }

    /// The kind of the text.
    pub fn text(self) -> Kind {
        self.text
    }

    /// After some time in which characters may have been lost, nothing is known of the word.
    pub fn lost(self) -> Self {
        Self {
            context: Context::EMPTY,
            place: Place::Text,
            ..self
        }
    }

    /// After something was printed in figures shift: a digit, or another sign.
    pub fn figure(self, language: &Language, is_digit: bool) -> Self {
        let word = if is_digit { Kind::Any } else { self.word };
        let sign = || language.known(self.context.then(SIGN));
        Self {
            word,
            context: match word {
                Kind::English => sign(),
                _ => Context::EMPTY,
            },
            place: Place::Text,
            ..self
        }
    }

    fn is_between_words(self) -> bool {
        self.place != Place::Text || self.context.latest(1) == Context::WORD
    }
}

/// A writer, whose English is a language model's.
#[derive(Clone, Debug)]
pub struct Writer {
    // configured
    language: Language,
    // derived
    /// Letter of each code, and code of each letter.
    letters: [Option<Token>; CODES],
    codes: [usize; TOKENS],
    // state
    /// Rows of English contexts that came up, flattened.
    rows: HashMap<Context, [f32; TOKENS]>,
}

impl Writer {
    /// A writer.
    pub fn new(language: Language) -> Self {
        let letter = |code| match symbol(code, Shift::Letters, FiguresRow::Ita2) {
            Symbol::Print(c) => token(c).filter(|t| (A..SIGN).contains(t)),
            _ => None,
        };
        let letters = Code::ALL.map(letter);
        let mut codes = [0; TOKENS];
        for (code, token) in letters.iter().enumerate() {
            if let Some(token) = token {
                codes[usize::from(*token)] = code;
            }
        }
        Self {
            language,
            letters,
            codes,
            rows: HashMap::new(),
        }
    }

    /// The language model.
    pub fn language(&self) -> &Language {
        &self.language
    }

    /// Probability of each code of text next, given that one comes; others have none. Adds up
    /// to 1.
    pub fn codes(&mut self, state: State) -> [f32; CODES] {
        let row = match state.word {
            Kind::English => *self.english(state.context),
            Kind::Latin => *latin::row(state.context),
            Kind::Any => return Code::ALL.map(|c| f32::from(is_text(c)) / TEXT_CODES as f32),
        };
        let habit = match state.place {
            Place::Text => [0.0; 2],
            Place::Returned => AFTER_RETURN,
            Place::Fed => AFTER_FEED,
        };
        let mut codes = [0.0; CODES];
        for t in A..SIGN {
            codes[self.codes[usize::from(t)]] = row[usize::from(t)];
        }
        for (code, share) in BREAK_CODES.into_iter().zip(BREAKS) {
            codes[index(code)] = row[usize::from(BREAK)] * share;
        }
        let text = (1.0 - habit.iter().sum::<f32>()) * (1.0 - ODD);
        for code in Code::ALL.into_iter().filter(|c| is_text(*c)) {
            let p = &mut codes[index(code)];
            *p = *p * text + ODD / TEXT_CODES as f32;
        }
        for (code, p) in BREAK_CODES[1..].iter().zip(habit) {
            codes[index(*code)] += p * (1.0 - ODD);
        }
        codes
    }

    /// The row of an English context, without signs and digits: those are for the signal.
    fn english(&mut self, context: Context) -> &[f32; TOKENS] {
        if self.rows.len() >= MOST_ROWS {
            self.rows.clear();
        }
        let language = &self.language;
        self.rows.entry(context).or_insert_with(|| {
            let mut row = language.row(context).map(|p| p.powf(POWER));
            row[usize::from(SIGN)] = 0.0;
            row[usize::from(DIGIT)] = 0.0;
            let total: f32 = row.iter().sum();
            row.map(|p| p / total)
        })
    }

    /// Where a code of text leads from a state, each way with its probability given the code.
    pub fn after(&self, state: State, code: Code, to: &mut Vec<(State, f32)>) {
        to.clear();
        let place = match code {
            Code::SPACE => Place::Text,
            Code::CARRIAGE_RETURN => Place::Returned,
            Code::LINE_FEED => Place::Fed,
            _ => return to.push((self.letter(state, code), 1.0)),
        };
        if state.is_between_words() {
            return to.push((State { place, ..state }, 1.0));
        }
        self.end_word(state, place, to);
    }

    fn letter(&self, state: State, code: Code) -> State {
        let Some(token) = self.letters[index(code)] else {
            return state;
        };
        let then = state.context.then(token);
        State {
            context: match state.word {
                Kind::English => self.language.known(then),
                Kind::Latin => then.latest(1),
                Kind::Any => Context::EMPTY,
            },
            place: Place::Text,
            ..state
        }
    }

    fn end_word(&self, before: State, place: Place, to: &mut Vec<(State, f32)>) {
        for (text, again) in ALL.into_iter().zip(TEXTS) {
            let stays = f32::from(u8::from(text == before.text));
            let a = stays * (1.0 - CHANGES) + again * CHANGES;
            for (word, b) in ALL.into_iter().zip(WORDS[text as usize]) {
                let context = match (before.word, word) {
                    (Kind::English, Kind::English) => {
                        self.language.known(before.context.then(BREAK))
                    }
                    _ => Context::WORD,
                };
                let next = State {
                    text,
                    word,
                    context,
                    place,
                };
                to.push((next, a * b));
            }
        }
    }
}

const BREAK_CODES: [Code; 3] = [Code::SPACE, Code::CARRIAGE_RETURN, Code::LINE_FEED];

/// Whether a code is one of text: neither a shift nor blank.
pub fn is_text(code: Code) -> bool {
    ![Code::LETTERS, Code::FIGURES, Code::BLANK].contains(&code)
}

fn index(code: Code) -> usize {
    usize::from(code.value())
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::{EncodeOptions, encode};
    use proptest::prelude::*;

    fn writer() -> Writer {
        Writer::new(Language::english())
    }

    /// All states after codes, from all in which a writer may be, weighed by how well each
    /// foretold them.
    fn follow(writer: &mut Writer, codes: &[Code]) -> Vec<(State, f32)> {
        let (mut now, mut to) = (State::beginning(), Vec::new());
        for &code in codes {
            let mut next: HashMap<State, f32> = HashMap::new();
            for (state, p) in now {
                let p = p * writer.codes(state)[index(code)];
                writer.after(state, code, &mut to);
                for &(state, way) in &to {
                    *next.entry(state).or_default() += p * way;
                }
            }
            let total: f32 = next.values().sum();
            now = next.into_iter().map(|(s, p)| (s, p / total)).collect();
        }
        now
    }

    fn is_english(writer: &mut Writer, text: &str) -> f32 {
        let options = EncodeOptions::default();
        let codes = encode(text, FiguresRow::Ita2, options).expect("letters can be sent");
        let states = follow(writer, &codes);
        let english = states.iter().filter(|s| s.0.text() == Kind::English);
        english.map(|s| s.1).sum()
    }

    #[test]
    fn a_text_shows_of_what_kind_it_is() {
        let table = [
            ("THE OLD MILL BY THE RIVER WAS MENDED ", 0.99, 1.0),
            ("DER WIND KOMMT AM MORGEN AUS DEM WESTEN ", 0.0, 0.1),
            ("EL VIENTO DE LA MANANA VIENE DEL OESTE ", 0.0, 0.1),
            ("RANO WIATR WIEJE OD ZACHODU NAD MORZEM ", 0.0, 0.1),
            ("QXJVZ KWPFY QZXJW VKQPB ZZQWX ", 0.0, 0.01),
        ];
        let mut writer = writer();
        for (text, low, high) in table {
            let p = is_english(&mut writer, text);
            assert!((low..=high).contains(&p), "{text}: {p}");
        }
    }

    #[test]
    fn a_word_is_no_english_from_its_first_digit_on() {
        let writer = writer();
        for (state, _) in State::beginning() {
            assert_eq!(state.figure(writer.language(), true).word(), Kind::Any);
            assert_eq!(state.figure(writer.language(), false).word(), state.word());
        }
    }

    proptest! {
        #[test]
        fn everything_adds_up_to_1(values in prop::collection::vec(0u8..32, 0..10)) {
            let mut writer = writer();
            let codes = values.into_iter().filter_map(Code::new).filter(|c| is_text(*c));
            let codes: Vec<Code> = codes.collect();
            let mut to = Vec::new();
            for (state, _) in follow(&mut writer, &codes) {
                let next = writer.codes(state);
                prop_assert!((next.iter().sum::<f32>() - 1.0).abs() < 1e-4, "{state:?}");
                for code in Code::ALL {
                    prop_assert_eq!(next[index(code)] > 0.0, is_text(code));
                    if is_text(code) {
                        writer.after(state, code, &mut to);
                        let all: f32 = to.iter().map(|w| w.1).sum();
                        prop_assert!((all - 1.0).abs() < 1e-5);
                    }
                }
            }
        }
    }
}
