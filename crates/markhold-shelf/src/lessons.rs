//! Lessons: what of a copy may be learned from.
//!
//! A learned model says what to expect, and what is expected is read more easily. Learned
//! from its own guesses it would prove itself right, so only what the signal alone said
//! surely counts: no character that language changed, would change or made sure, none that
//! is doubtful, none whose witnesses were not kept. Only whole words of letters: figures,
//! and with them calls, serials, times and frequencies, are never foretold.

use markhold_code::Symbol;
use markhold_event::Character;
use std::collections::HashMap;

/// The signal alone must be as sure as this.
const SURE: f32 = 0.99;

/// Where language was asked, the text must be prose with this probability.
const PROSE: f32 = 0.9;

/// Longer words are no words: test rows of one pattern, copy without breaks.
const LONGEST: usize = 20;

/// After a pause this long, s, a word may have lost letters.
const PAUSE_S: f64 = 1.0;

/// A word must come this often: an error seldom comes twice the same.
const OFTEN: u32 = 2;

/// Takes the characters of one signal in order and gives the words that may be learned.
#[derive(Debug, Default)]
pub(super) struct Lessons {
    /// Words so far; `None` where something lies between that is not learned.
    words: Vec<Option<String>>,
    word: String,
    /// Whether everything since the last break could be learned, that break among it.
    good: bool,
    last_s: f64,
}

impl Lessons {
    /// The next character.
    pub(super) fn take(&mut self, character: &Character) {
        let paused = character.start_s - self.last_s > PAUSE_S;
        self.last_s = character.start_s;
        self.good &= !paused;
        match character.symbol {
            Symbol::Space | Symbol::CarriageReturn | Symbol::LineFeed => self.end(character),
            Symbol::Print(letter @ 'A'..='Z') => {
                self.word.push(letter);
                self.good &= is_sure(character) && is_prose(character);
            }
            Symbol::Print(sign) => {
                // What ends a sentence ends its last word too; nothing may follow it.
                if !matches!(sign, '.' | ',' | ';' | ':' | '?' | '!') || !is_sure(character) {
                    self.good = false;
                }
                self.leave();
                self.good = false;
            }
            // A shift or a bell that is not sure may stand for a lost letter.
            _ => self.good &= is_sure(character),
        }
    }

    /// A break: the word before it is whole.
    fn end(&mut self, character: &Character) {
        let sure = is_sure(character);
        self.good &= sure;
        self.leave();
        self.good = sure;
    }

    fn leave(&mut self) {
        let word = std::mem::take(&mut self.word);
        if self.good && word.is_empty() {
            return;
        }
        let good = self.good && word.len() <= LONGEST;
        self.words.push(good.then_some(word));
    }

    /// The words, and `None` between those that do not follow each other. A last word that
    /// no break ended is left out.
    pub(super) fn finish(self) -> Vec<Option<String>> {
        self.words
    }
}

/// Whether the signal alone is sure of it, and language agrees.
fn is_sure(character: &Character) -> bool {
    let alone = match &character.witnesses {
        None => character.probability,
        Some(both) if both.differ() => return false,
        Some(both) => both.signal.probability.min(both.from_signal),
    };
    character.doubt.is_none() && character.probability >= SURE && alone >= SURE
}

/// Whether it stands in prose, as far as language was asked: of code groups
/// nothing is to be expected.
fn is_prose(character: &Character) -> bool {
    character.witnesses.is_none_or(|both| both.prose >= PROSE)
}

/// Texts to learn from: words that came often enough, joined where they follow each other.
pub(super) fn texts(words: &[Option<String>]) -> Vec<String> {
    let mut times: HashMap<&str, u32> = HashMap::new();
    for word in words.iter().flatten() {
        *times.entry(word).or_default() += 1;
    }
    let often = |word: &&String| times[word.as_str()] >= OFTEN;
    let kept: Vec<Option<&String>> = words.iter().map(|w| w.as_ref().filter(often)).collect();
    let runs = kept.split(|word| word.is_none());
    let text = |run: &[Option<&String>]| {
        let words: Vec<&str> = run.iter().flatten().map(|word| word.as_str()).collect();
        // Breaks at both ends: how a word begins and ends is part of it.
        format!(" {} ", words.join(" "))
    };
    runs.filter(|run| !run.is_empty()).map(text).collect()
}

#[cfg(test)]
mod tests {
    use super::super::testing::characters;
    use super::*;
    use markhold_code::Code;
    use markhold_event::{Alternative, Doubt, Witnesses};
    use proptest::prelude::*;

    fn words(characters: &[Character]) -> Vec<Option<String>> {
        let mut lessons = Lessons::default();
        characters.iter().for_each(|c| lessons.take(c));
        lessons.finish()
    }

    fn words_of(text: &str) -> Vec<String> {
        words(&characters(1, text)).into_iter().flatten().collect()
    }

    #[test]
    fn only_whole_sure_words_of_letters() {
        for (text, expected) in [
            // What stands first may be the rest of a word, what stands last its begin.
            ("NET AT NINE ON", &["AT", "NINE"][..]),
            ("DE Q1ABC Q1ABC AT 1930 UTC ", &["AT", "UTC"]),
            ("QSL NR 12A AND B34 ", &["NR", "AND"]),
            ("THE RO?PEWALK DOOR ", &["DOOR"]),
            ("THE ROPEWALK ?DOOR IS RED ", &["RED", "IS"]),
            (
                "ASK THERE. THE DOOR, OR 5 ",
                &["THERE", "THE", "DOOR", "OR"],
            ),
            ("THE SO-CALLED DON'T HIT/RUN NET ", &["NET"]),
            ("THE RYRYRYRYRYRYRYRYRYRYRY ROW ", &["ROW"]),
            ("END\r\nOF LINE\r\n", &["OF", "LINE"]),
        ] {
            let (mut found, mut expected) = (words_of(text), expected.to_vec());
            found.sort();
            expected.sort();
            assert_eq!(found, expected, "{text}");
        }
    }

    #[test]
    fn what_came_once_is_not_learned_and_breaks_the_run() {
        let all = words(&characters(1, "X NET AT NINE NET AT NOON NET AT NINE X"));
        assert_eq!(texts(&all), [" NET AT NINE NET AT ", " NET AT NINE "]);
    }

    #[test]
    fn a_pause_in_a_word_spoils_it() {
        let mut late = characters(1, "X NET NET ");
        for character in &mut late[3..] {
            character.start_s += 2.0;
        }
        assert_eq!(words(&late), [None, None, Some("NET".to_string())]);
    }

    /// What may be wrong with a character, and the word it spoils.
    #[derive(Clone, Copy, Debug)]
    enum Flaw {
        None,
        Changed,
        WouldChange,
        SureByLanguage,
        Doubtful,
        Unsure,
        NoProse,
    }

    fn flawed(mut character: Character, flaw: Flaw) -> Character {
        let own = Alternative {
            code: character.code,
            symbol: character.symbol,
            probability: 0.999,
        };
        // Combination 24: no line of the test has an X.
        let other = Alternative {
            code: Code::new(0b11101).unwrap(),
            symbol: Symbol::Print('X'),
            probability: 0.9,
        };
        let mut witnesses = Witnesses {
            signal: own,
            both: own,
            from_signal: 0.999,
            prose: 1.0,
        };
        character.probability = 0.999;
        match flaw {
            Flaw::None => {}
            Flaw::Changed => witnesses.signal = other,
            Flaw::WouldChange => witnesses.both = other,
            Flaw::SureByLanguage => {
                witnesses.from_signal = 0.4;
                witnesses.signal.probability = 0.5;
            }
            Flaw::Doubtful => character.doubt = Some(Doubt::Fade),
            Flaw::Unsure => character.probability = 0.98,
            Flaw::NoProse => witnesses.prose = 0.4,
        }
        character.witnesses = Some(witnesses);
        character
    }

    fn flaw() -> impl Strategy<Value = Flaw> {
        use Flaw::*;
        prop_oneof![
            20 => Just(None),
            1 => Just(Changed),
            1 => Just(WouldChange),
            1 => Just(SureByLanguage),
            1 => Just(Doubtful),
            1 => Just(Unsure),
            1 => Just(NoProse),
        ]
    }

    proptest! {
        /// Every letter that is learned was said by the signal alone, in a word with nothing
        /// else in it.
        #[test]
        fn nothing_that_language_said_is_learned(
            line in "[A-D]{1,3}( ([A-D]{1,4}|[A-D]?[1-3][A-D]{0,2}[.]?)){0,12} ",
            flaws in proptest::collection::vec(flaw(), 120),
        ) {
            let all = characters(1, &line);
            let all: Vec<Character> =
                all.into_iter().zip(&flaws).map(|(c, f)| flawed(c, *f)).collect();
            // The slow way: cut at the spaces, look at each part and the spaces around it.
            let good = |k: usize| match flaws[k] {
                Flaw::None => true,
                // A break is a break in code groups too.
                Flaw::NoProse => &line[k..=k] == " ",
                _ => false,
            };
            let spaces: Vec<usize> = line.match_indices(' ').map(|(k, _)| k).collect();
            let expected: Vec<String> = spaces
                .windows(2)
                .filter(|w| (w[0]..=w[1]).all(good))
                .map(|w| line[w[0] + 1..w[1]].to_string())
                .filter(|word| word.bytes().all(|b| b.is_ascii_uppercase()))
                .collect();
            let found: Vec<String> = words(&all).into_iter().flatten().collect();
            prop_assert_eq!(found, expected);
        }
    }
}
