//! Morse for identification: keyed by the shift, key down is the space tone.
//!
//! A dash is three dots, parts of a sign are one dot apart, signs three, words seven
//! (ITU-R M.1677, from memory). At N words a minute a dot is 1.2 s / N: PARIS with its space
//! is 50 dots.

/// Signs, from memory of ITU-R M.1677.
const SIGNS: [(char, &str); 37] = [
    ('A', ".-"),
    ('B', "-..."),
    ('C', "-.-."),
    ('D', "-.."),
    ('E', "."),
    ('F', "..-."),
    ('G', "--."),
    ('H', "...."),
    ('I', ".."),
    ('J', ".---"),
    ('K', "-.-"),
    ('L', ".-.."),
    ('M', "--"),
    ('N', "-."),
    ('O', "---"),
    ('P', ".--."),
    ('Q', "--.-"),
    ('R', ".-."),
    ('S', "..."),
    ('T', "-"),
    ('U', "..-"),
    ('V', "...-"),
    ('W', ".--"),
    ('X', "-..-"),
    ('Y', "-.--"),
    ('Z', "--.."),
    ('0', "-----"),
    ('1', ".----"),
    ('2', "..---"),
    ('3', "...--"),
    ('4', "....-"),
    ('5', "....."),
    ('6', "-...."),
    ('7', "--..."),
    ('8', "---.."),
    ('9', "----."),
    ('/', "-..-."),
];

/// Duration of a dot at so many words a minute, s.
pub(super) fn dot_s(wpm: f64) -> f64 {
    1.2 / wpm
}

/// Words as pairs of key down and key up behind it, dots each; what Morse has no sign for here
/// is left out. The last pause is that of a word.
pub fn morse(words: &str) -> Vec<(u8, u8)> {
    let mut pairs: Vec<(u8, u8)> = Vec::new();
    for c in words.chars() {
        if c == ' ' {
            widen(&mut pairs, 7);
        }
        let sign = SIGNS.iter().find(|(known, _)| *known == c);
        for part in sign.into_iter().flat_map(|(_, sign)| sign.chars()) {
            pairs.push((if part == '.' { 1 } else { 3 }, 1));
        }
        if sign.is_some() {
            widen(&mut pairs, 3);
        }
    }
    widen(&mut pairs, 7);
    pairs
}

/// The last pause is at least so many dots.
fn widen(pairs: &mut [(u8, u8)], dots: u8) {
    if let Some(last) = pairs.last_mut() {
        last.1 = last.1.max(dots);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dots(words: &str) -> u32 {
        let both = |(down, up): (u8, u8)| u32::from(down) + u32::from(up);
        morse(words).into_iter().map(both).sum()
    }

    /// PARIS is 50 dots by definition, with a word's pause behind it; `DE Q1ABC` is 85 without
    /// (computed apart), so 8.5, 6.8 and 5.1 s at 12, 15 and 20 words a minute.
    #[test]
    fn known_lengths() {
        assert_eq!(dots("PARIS"), 50);
        assert_eq!(dots("DE Q1ABC"), 85 + 7);
        for (wpm, seconds) in [(12.0, 8.5), (15.0, 6.8), (20.0, 5.1)] {
            assert!((85.0 * dot_s(wpm) - seconds).abs() < 1e-9);
        }
    }

    #[test]
    fn parts_signs_and_words() {
        assert_eq!(morse("A"), [(1, 1), (3, 7)]);
        assert_eq!(morse("EE T"), [(1, 3), (1, 7), (3, 7)]);
        assert_eq!(morse("E!"), [(1, 7)]);
        assert!(morse("").is_empty());
        let mut all: Vec<_> = SIGNS.map(|(_, sign)| sign).into();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), SIGNS.len());
    }
}
