//! Words that a line may hold though it does not print them: a garbled call is found by what
//! else its characters may be.
//!
//! Along the characters of a line a word is laid letter by letter; a character that may print
//! nothing may be passed over. What counts is the likeliest way, as the product of the
//! probabilities of its steps.

use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::Character;

/// A word is told of from this probability on: one or two characters that are rather something
/// else. Words that have nothing to do with it lie orders below.
const LEAST: f32 = 0.01;
/// Letters of a word from which on others than the printed ones are looked at: of two every line
/// has something.
const LEAST_LETTERS: usize = 3;
/// Share of characters whose shift was taken for the other one; of the order of what is seen
/// where copy is doubtful at all.
const OTHER_SHIFT: f32 = 0.05;

/// How likely a line holds all of these words, in capitals, each as the begin of a word of its
/// own; `None` where one of them is less likely than is worth a word.
pub(super) fn probability(characters: &[Character], words: &[Vec<char>]) -> Option<f32> {
    words.iter().try_fold(1.0f32, |all, word| {
        let p = of_word(characters, word);
        let least = if word.len() < LEAST_LETTERS {
            0.5
        } else {
            LEAST
        };
        (p >= least).then_some(all.min(p))
    })
}

fn of_word(characters: &[Character], word: &[char]) -> f32 {
    // Of the likeliest way, after the letters that are laid so far.
    let mut laid = vec![0.0f32; word.len()];
    let mut best = 0.0f32;
    // Whether a word may begin here.
    let mut begins = 1.0f32;
    for character in characters {
        let silent = silent(character);
        for at in (0..word.len()).rev() {
            let before = if at == 0 { begins } else { laid[at - 1] };
            laid[at] = (laid[at] * silent).max(before * chance(character, word[at]));
        }
        best = best.max(*laid.last().unwrap_or(&0.0));
        let apart = 1.0 - (silent + in_a_word(character)).min(1.0);
        begins = apart + silent * begins;
    }
    best
}

/// Probability that a character prints this.
fn chance(character: &Character, glyph: char) -> f32 {
    let decided = match character.symbol.printed() == Some(glyph) {
        true => character.probability,
        false => 0.0,
    };
    sum(character, &|c| c == Some(glyph)).max(decided)
}

/// Probability that it prints nothing; where a line ends a word does not go on.
fn silent(character: &Character) -> f32 {
    let shifts = [Code::LETTERS, Code::FIGURES, Code::BLANK];
    shares(character)
        .filter(|(code, _)| shifts.contains(code))
        .map(|(_, share)| share)
        .sum()
}

/// Probability that it is a letter or digit.
fn in_a_word(character: &Character) -> f32 {
    sum(character, &|c| c.is_some_and(char::is_alphanumeric))
}

fn sum(character: &Character, wanted: &dyn Fn(Option<char>) -> bool) -> f32 {
    let other = match character.shift {
        Shift::Letters => Shift::Figures,
        Shift::Figures => Shift::Letters,
    };
    let prints = |code: Code, shift: Shift| {
        let rows = [FiguresRow::Ita2, FiguresRow::Us];
        let wanted = rows.map(|row| wanted(symbol(code, shift, row).printed()));
        f32::from(u8::from(wanted.contains(&true)))
    };
    shares(character)
        .map(|(code, share)| {
            let shifted = OTHER_SHIFT * prints(code, other);
            share * ((1.0 - OTHER_SHIFT) * prints(code, character.shift) + shifted)
        })
        .sum()
}

/// The shares of all codes by the signal, or of those that were kept.
fn shares(character: &Character) -> impl Iterator<Item = (Code, f32)> {
    let by_signal = character.by_signal();
    let kept = match &character.codes {
        Some(codes) => Code::ALL.into_iter().zip(codes.shares()).collect(),
        None => {
            let others = by_signal.alternatives.map(|a| (a.code, a.probability));
            let mut all = vec![(by_signal.code, by_signal.probability)];
            all.extend(others);
            all
        }
    };
    kept.into_iter()
}

#[cfg(test)]
mod tests {
    use super::super::testing::characters;
    use super::*;

    fn words(asked: &str) -> Vec<Vec<char>> {
        let words = asked.split(' ');
        words.map(|w| w.chars().collect()).collect()
    }

    /// `text` as copied, but so that this character is what it should be with `share` only.
    fn garbled(text: &str, at: usize, sent: char, share: f32) -> Vec<Character> {
        let mut all = characters(1, text);
        let printed = all
            .iter()
            .enumerate()
            .filter(|(_, c)| c.symbol.printed().is_some());
        let place = printed.map(|(place, _)| place).nth(at).unwrap();
        let is = |code: &Code| {
            let read = symbol(*code, all[place].shift, FiguresRow::Ita2);
            read.printed() == Some(sent)
        };
        let code = Code::ALL.into_iter().find(is).unwrap();
        let character = &mut all[place];
        character.probability = 1.0 - share;
        character.alternatives[0].code = code;
        character.alternatives[0].probability = share;
        all
    }

    #[test]
    fn a_garbled_call_is_found_and_another_is_not() {
        let line = garbled("CQ DE QRNTZ K", 8, 'V', 0.2);
        let p = probability(&line, &words("QRVTZ")).unwrap();
        // Nineteen of twenty in the shift that was read.
        assert!((p - 0.19).abs() < 0.02, "{p}");
        assert_eq!(probability(&line, &words("QRVTA")), None);
        assert!(probability(&line, &words("CQ QRVT")).is_some());
        assert_eq!(probability(&line, &words("CX QRVTZ")), None);
        // Not in the middle of a word.
        assert_eq!(probability(&line, &words("RVTZ")), None);
    }

    #[test]
    fn what_may_print_nothing_is_passed_over() {
        let line = garbled("DE QRNTZ K", 5, 'N', 0.0);
        assert_eq!(probability(&line, &words("QRTZ")), None);
        let mut line = line;
        let at = line
            .iter()
            .position(|c| c.symbol.printed() == Some('N'))
            .unwrap();
        line[at].probability = 0.6;
        line[at].alternatives[0].code = Code::LETTERS;
        line[at].alternatives[0].probability = 0.4;
        let p = probability(&line, &words("QRTZ")).unwrap();
        assert!((p - 0.4 * 0.81).abs() < 0.1, "{p}");
    }

    #[test]
    fn what_is_printed_is_certain() {
        let line = characters(1, "NET AT NINE");
        assert!(probability(&line, &words("NET NINE")).unwrap() > 0.9);
        assert_eq!(probability(&[], &words("NET")), None);
    }
}
