//! Every character of a line, packed: some five bytes for a sure one.
//!
//! ```text
//! 1 (layout) | character | character | ...
//! character = time | head | odds | if head says so: doubt, 2 x (code, odds)
//! time  signed, 0.1 ms, from the character before (the first: from the evening's begin);
//!       7 bits a byte, lowest first, the top bit says that more follow; the sign is the
//!       lowest bit (zigzag)
//! head  bits 0-4 code, 5 figures shift, 6 row (0 ITA2, 1 US), 7 doubt and others follow
//! odds  ln(p / (1 - p)) in 1/1024, 16 bits signed, low byte first; the ends mean 0 and 1
//! doubt 0 none, 1.. see `DOUBTS`
//! ```
//!
//! Other readings of a character that are together less likely than [`NEGLIGIBLE`] are
//! left out; they come back with a probability of 0.

use super::ShelfError;
use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_receive::event::{Alternative, Character, Doubt, SignalId};

const LAYOUT: u8 = 1;

/// Ticks of the time in a second.
const TICKS: f64 = 10_000.0;

/// Steps of the odds.
const ODDS: f64 = 1024.0;

/// Alternatives less likely than this are not kept.
const NEGLIGIBLE: f32 = 1e-3;

/// Causes of doubt in the order of their numbers, from 1. New ones are added at the end.
const DOUBTS: [Doubt; 8] = [
    Doubt::FadeOfOneTone,
    Doubt::Fade,
    Doubt::Crash,
    Doubt::Neighbour,
    Doubt::Gain,
    Doubt::Drift,
    Doubt::Timing,
    Doubt::ShiftLost,
];

/// Packs the characters of one line. Times are kept to 0.1 ms, probabilities to 0.1 % of
/// their odds.
pub(super) fn pack(characters: &[Character]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(1 + 6 * characters.len());
    bytes.push(LAYOUT);
    let mut before = 0;
    for character in characters {
        let now = (character.start_s * TICKS).round() as i64;
        // A sound longer than the clock has bits does not happen; wrong times may.
        put_time(&mut bytes, now.wrapping_sub(before));
        before = now;
        put_character(&mut bytes, character);
    }
    bytes
}

/// Unpacks what [`pack`] packed; the characters get `signal` as their name.
///
/// Any bytes whatever give characters or [`ShelfError::Details`].
pub fn unpack(bytes: &[u8], signal: SignalId) -> Result<Vec<Character>, ShelfError> {
    let mut from = Bytes { bytes, at: 0 };
    let mut characters = Vec::with_capacity(bytes.len() / 5);
    let damaged = |at| ShelfError::Details {
        at,
        length: bytes.len(),
    };
    if from.byte() != Some(LAYOUT) {
        return Err(damaged(0));
    }
    let mut before = 0i64;
    while from.at < bytes.len() {
        let begin = from.at;
        let step = from.time().ok_or_else(|| damaged(begin))?;
        before = before.wrapping_add(step);
        let character = from.character(before, signal);
        characters.push(character.ok_or_else(|| damaged(begin))?);
    }
    Ok(characters)
}

fn put_time(bytes: &mut Vec<u8>, step: i64) {
    let mut left = ((step << 1) ^ (step >> 63)) as u64;
    while left >= 0x80 {
        bytes.push(left as u8 | 0x80);
        left >>= 7;
    }
    bytes.push(left as u8);
}

fn put_character(bytes: &mut Vec<u8>, character: &Character) {
    let Character { code, shift, .. } = *character;
    let others: f32 = character.alternatives.iter().map(|a| a.probability).sum();
    let more = character.doubt.is_some() || others >= NEGLIGIBLE;
    let others_too = character.alternatives.iter().map(|a| (a.code, a.symbol));
    let mut meanings = others_too.chain([(code, character.symbol)]);
    let us = meanings.any(|(code, meant)| symbol(code, shift, FiguresRow::Ita2) != meant);
    let flag = |set: bool, bit: u8| u8::from(set) << bit;
    bytes.push(code.value() | flag(shift == Shift::Figures, 5) | flag(us, 6) | flag(more, 7));
    put_odds(bytes, character.probability);
    if more {
        let number = |doubt| {
            DOUBTS
                .iter()
                .position(|d| *d == doubt)
                .map_or(0, |at| at + 1)
        };
        bytes.push(character.doubt.map_or(0, number) as u8);
        for other in &character.alternatives {
            bytes.push(other.code.value());
            put_odds(bytes, other.probability);
        }
    }
}

fn put_odds(bytes: &mut Vec<u8>, probability: f32) {
    let p = f64::from(probability).clamp(0.0, 1.0);
    // A cast of what is too large gives the ends; of what is no number, 0: even odds.
    let odds = ((p / (1.0 - p)).ln() * ODDS).round() as i16;
    bytes.extend(odds.to_le_bytes());
}

struct Bytes<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Bytes<'_> {
    fn byte(&mut self) -> Option<u8> {
        let byte = *self.bytes.get(self.at)?;
        self.at += 1;
        Some(byte)
    }

    fn time(&mut self) -> Option<i64> {
        let mut zigzag = 0u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            zigzag |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                return Some((zigzag >> 1) as i64 ^ -((zigzag & 1) as i64));
            }
        }
        None
    }

    fn odds(&mut self) -> Option<f32> {
        match i16::from_le_bytes([self.byte()?, self.byte()?]) {
            i16::MIN => Some(0.0),
            i16::MAX => Some(1.0),
            odds => Some((1.0 / (1.0 + (-f64::from(odds) / ODDS).exp())) as f32),
        }
    }

    fn character(&mut self, ticks: i64, signal: SignalId) -> Option<Character> {
        let head = self.byte()?;
        let code = Code::new(head & 0x1F)?;
        let shift = [Shift::Letters, Shift::Figures][usize::from(head >> 5 & 1)];
        let row = [FiguresRow::Ita2, FiguresRow::Us][usize::from(head >> 6 & 1)];
        let none = Alternative {
            code,
            symbol: symbol(code, shift, row),
            probability: 0.0,
        };
        let mut character = Character {
            signal,
            start_s: ticks as f64 / TICKS,
            code,
            shift,
            symbol: none.symbol,
            probability: self.odds()?,
            alternatives: [none; 2],
            doubt: None,
            witnesses: None,
            conditions: Default::default(),
        };
        if head & 0x80 != 0 {
            character.doubt = match usize::from(self.byte()?) {
                0 => None,
                number => Some(*DOUBTS.get(number - 1)?),
            };
            for other in &mut character.alternatives {
                other.code = Code::new(self.byte()?)?;
                other.symbol = symbol(other.code, shift, row);
                other.probability = self.odds()?;
            }
        }
        Some(character)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_character() -> impl Strategy<Value = Character> {
        let code = || (0u8..32).prop_map(|v| Code::new(v).unwrap());
        let likely = || prop_oneof![0f32..=1.0, Just(0.999_99), Just(1.0), Just(0.0)];
        (
            (
                -10.0..90_000.0,
                code(),
                any::<bool>(),
                any::<bool>(),
                likely(),
            ),
            (
                [code(), code()],
                likely(),
                likely(),
                proptest::option::of(0usize..8),
            ),
        )
            .prop_map(
                |((start_s, code, figures, us, p), (others, p1, p2, doubt))| {
                    let shift = if figures {
                        Shift::Figures
                    } else {
                        Shift::Letters
                    };
                    let row = if us { FiguresRow::Us } else { FiguresRow::Ita2 };
                    let other = |code, probability| Alternative {
                        code,
                        symbol: symbol(code, shift, row),
                        probability,
                    };
                    Character {
                        signal: SignalId(3),
                        start_s,
                        code,
                        shift,
                        symbol: symbol(code, shift, row),
                        probability: p,
                        alternatives: [other(others[0], p1), other(others[1], p2)],
                        doubt: doubt.map(|at| DOUBTS[at]),
                        witnesses: None,
                        conditions: Default::default(),
                    }
                },
            )
    }

    fn close(a: f32, b: f32) -> bool {
        // Half a step of the odds, and what 32 bits round.
        (a - b).abs() <= 5e-4 * a.min(1.0 - a) + 1e-7
    }

    proptest! {
        #[test]
        fn what_was_packed_comes_back(line in proptest::collection::vec(any_character(), 0..40)) {
            let back = unpack(&pack(&line), SignalId(3)).unwrap();
            prop_assert_eq!(back.len(), line.len());
            for (a, b) in line.iter().zip(&back) {
                prop_assert_eq!((a.code, a.shift, a.doubt), (b.code, b.shift, b.doubt));
                prop_assert_eq!(a.symbol, b.symbol);
                prop_assert!((a.start_s - b.start_s).abs() < 0.51 / TICKS);
                prop_assert!(close(a.probability, b.probability), "{a:?} {b:?}");
                let others: f32 = a.alternatives.iter().map(|o| o.probability).sum();
                for (a1, b1) in a.alternatives.iter().zip(&b.alternatives) {
                    let kept = a.doubt.is_some() || others >= NEGLIGIBLE;
                    prop_assert_eq!(a1.symbol == b1.symbol || !kept, true);
                    let same = close(a1.probability, b1.probability);
                    let right = if kept { same } else { b1.probability == 0.0 };
                    prop_assert!(right);
                }
            }
        }

        #[test]
        fn any_bytes_give_characters_or_an_error(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            if let Ok(characters) = unpack(&bytes, SignalId(1)) {
                prop_assert!(characters.len() * 4 <= bytes.len());
            }
        }
    }

    #[test]
    fn a_sure_character_takes_five_bytes_and_a_cut_is_told() {
        let code = Code::new(3).unwrap();
        let other = Alternative {
            code,
            symbol: symbol(code, Shift::Letters, FiguresRow::Ita2),
            probability: 1e-6,
        };
        let line: Vec<Character> = (0..60)
            .map(|k| Character {
                signal: SignalId(1),
                start_s: 3600.0 + 0.165 * f64::from(k),
                code,
                shift: Shift::Letters,
                symbol: other.symbol,
                probability: 0.999_99,
                alternatives: [other; 2],
                doubt: None,
                witnesses: None,
                conditions: Default::default(),
            })
            .collect();
        let bytes = pack(&line);
        assert!(bytes.len() < 5 * 60 + 5, "{}", bytes.len());
        let error = unpack(&bytes[..bytes.len() - 1], SignalId(1)).unwrap_err();
        assert!(
            error
                .to_string()
                .contains(&format!("of {}", bytes.len() - 1)),
            "{error}"
        );
        assert!(unpack(&[], SignalId(1)).is_err());
        assert!(unpack(&[2, 0], SignalId(1)).is_err());
    }
}
