//! Latin: which letter follows which in languages that are written in Latin letters.
//!
//! It knows no language, only what they have in common: vowels among consonants, frequent
//! and rare letters. It is the other text against which English must prove itself.

use std::sync::LazyLock;

use crate::tokens::{A, BREAK, Context, SIGN, TOKENS, Token};

/// 27 rows of 26 costs, eighths of a bit: at the begin of a word, after A, after B ... Made
/// by `tools/latin`; its sources: `docs/language.md`.
static COSTS: &[u8; 27 * LETTERS] = include_bytes!("../model/latin.bin");
const LETTERS: usize = 26;
/// Share of breaks after a letter: words of these languages have five to six letters.
const BREAKS: f32 = 0.16;
/// Share of breaks where one was just sent.
const BREAK_AGAIN: f32 = 0.02;

static ROWS: LazyLock<Vec<[f32; TOKENS]>> = LazyLock::new(|| (0..27).map(unpacked).collect());

/// Probability of each token after a context; of signs and digits it says nothing. Adds up
/// to 1.
pub fn row(context: Context) -> &'static [f32; TOKENS] {
    let begins = |t: &Token| !(A..SIGN).contains(t);
    let latest = context.iter().last().filter(|t| !begins(t));
    &ROWS[latest.map_or(0, usize::from)]
}

/// How often a letter stands anywhere in a text, of all letters; adds up to 1 from A to Z.
pub fn frequency(letter: Token) -> f32 {
    let all: f32 = ROWS[0][usize::from(A)..usize::from(SIGN)].iter().sum();
    ROWS[0][usize::from(letter)] / all
}

fn unpacked(at: usize) -> [f32; TOKENS] {
    let costs = &COSTS[at * LETTERS..(at + 1) * LETTERS];
    let shares: Vec<f32> = costs
        .iter()
        .map(|&c| (-f32::from(c) / 8.0).exp2())
        .collect();
    let all: f32 = shares.iter().sum();
    let breaks = if at == 0 { BREAK_AGAIN } else { BREAKS };
    let mut row = [0.0; TOKENS];
    row[usize::from(BREAK)] = breaks;
    for (letter, share) in shares.iter().enumerate() {
        row[usize::from(A) + letter] = (1.0 - breaks) * share / all;
    }
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tokens::tokens;

    fn bits(text: &str) -> f32 {
        let tokens = tokens(text);
        let costs = (1..tokens.len()).map(|n| {
            let row = row(Context::of(&tokens[..n]));
            -row[usize::from(tokens[n])].log2()
        });
        costs.sum::<f32>() / (tokens.len() - 1) as f32
    }

    #[test]
    fn words_of_several_languages_cost_less_than_random_letters() {
        let table = [
            "DIE ALTE MUEHLE AM FLUSS WURDE IM FRUEHJAHR NEU GEDECKT",
            "EL VIEJO MOLINO JUNTO AL RIO FUE REPARADO EN PRIMAVERA",
            "STARY MLYN NAD RZEKA ZOSTAL NAPRAWIONY NA WIOSNE",
            "THE OLD MILL BY THE RIVER WAS REPAIRED IN SPRING",
        ];
        let flat = 27f32.log2();
        for text in table {
            assert!(bits(text) < flat - 0.4, "{text}: {}", bits(text));
        }
        assert!(bits("XQJVZ KWPFY QZXJW VKQPB ZZQWX") > flat + 1.0);
    }

    #[test]
    fn rows_are_distributions_and_e_is_frequent() {
        for row in ROWS.iter() {
            assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-4);
        }
        let all: f32 = (A..SIGN).map(frequency).sum();
        assert!((all - 1.0).abs() < 1e-4);
        // E leads in most of them (common tables of letter frequencies).
        assert!((A..SIGN).all(|t| frequency(t) <= frequency(A + 4)));
    }
}
