//! Every character of a line, packed: some ten bytes for a sure one.
//!
//! ```text
//! 3 (layout) | character | character | ...
//! character = time | head | odds | if head says so: more
//! time  signed, 0.1 ms, from the character before (the first: from the evening's begin);
//!       7 bits a byte, lowest first, the top bit says that more follow; the sign is the
//!       lowest bit (zigzag)
//! head  bits 0-4 code, 5 figures shift, 6 row (0 ITA2, 1 US), 7 more follows
//! odds  ln(p / (1 - p)) in 1/1024, 16 bits signed, low byte first; the ends mean 0 and 1
//! more  flags | if flag 7: flags of the reading | if flag 4: 2 x (code, odds)
//!       | if flag 5 or 6: witnesses | if flags say so: id, likelihoods, presence
//! flags bits 0-3 doubt, 0 for none, 1.. in the order of [`Doubt::ALL`]; 4 other readings
//!       follow; 5 language was asked and signal alone is as sure; 6 what both say follows
//!       in full; 7 flags of the reading follow, see `reading`
//! ```
//!
//! Layout 1 knew nothing of language; its `more` was doubt | 2 x (code, odds). Layout 2 had
//! no flag 7: no ids, no likelihoods but those of three codes. Both are read as they are;
//! characters get their ids from their starts.
//!
//! Other readings of a character that are together less likely than [`NEGLIGIBLE`] are
//! left out; they come back with a probability of 0.

mod bytes;
mod reading;
mod witness;

use super::ShelfError;
use bytes::{Bytes, put_odds, put_time};
use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::{Alternative, Character, CharacterId, Doubt, SignalId};

/// The layout that is written.
const LAYOUT: u8 = 3;

/// The layout before language was kept.
const WITHOUT_LANGUAGE: u8 = 1;

/// Ticks of the time in a second.
const TICKS: f64 = 10_000.0;

/// Alternatives less likely than this are not kept.
const NEGLIGIBLE: f32 = 1e-3;

/// Flags of `more`.
const DOUBT: u8 = 0x0F;
const OTHERS: u8 = 1 << 4;
const READING: u8 = 1 << 7;

/// What a line holds: characters of its copy, and readings that are more likely noise.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A decided character.
    Decided(Character),
    /// A reading that nothing vouched for, see [`markhold_event::Event::Unlikely`].
    Unlikely(Character),
}

impl Entry {
    /// The character, whatever it is.
    pub fn character(&self) -> &Character {
        match self {
            Entry::Decided(character) | Entry::Unlikely(character) => character,
        }
    }
}

/// Packs the entries of one line. Times are kept to 0.1 ms, probabilities to 0.1 % of
/// their odds.
pub(super) fn pack(entries: &[Entry]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(1 + 10 * entries.len());
    bytes.push(LAYOUT);
    let mut before = 0;
    let mut ids = reading::Ids::default();
    for entry in entries {
        let now = (entry.character().start_s * TICKS).round() as i64;
        // A sound longer than the clock has bits does not happen; wrong times may.
        put_time(&mut bytes, now.wrapping_sub(before));
        before = now;
        put_entry(&mut bytes, entry, ids.step(entry.character(), now));
    }
    bytes
}

/// Unpacks what [`pack`] packed; the characters get `signal` as their name.
///
/// Any bytes whatever give entries or [`ShelfError::Details`].
pub fn unpack(bytes: &[u8], signal: SignalId) -> Result<Vec<Entry>, ShelfError> {
    let mut from = Bytes::new(bytes);
    let mut ids = reading::Ids::default();
    let mut entries = Vec::with_capacity(bytes.len() / 5);
    let damaged = |at| ShelfError::Details {
        at,
        length: bytes.len(),
    };
    let layout = from
        .byte()
        .filter(|layout| (WITHOUT_LANGUAGE..=LAYOUT).contains(layout))
        .ok_or_else(|| damaged(0))?;
    let mut before = 0i64;
    while from.at() < bytes.len() {
        let begin = from.at();
        let step = from.time().ok_or_else(|| damaged(begin))?;
        before = before.wrapping_add(step);
        let entry = entry(&mut from, layout, before, signal, &mut ids);
        entries.push(entry.ok_or_else(|| damaged(begin))?);
    }
    Ok(entries)
}

/// Whether these details would tell what language had to do with the line: not where a
/// version wrote them that dropped it.
pub(super) fn know_language(bytes: &[u8]) -> bool {
    bytes
        .first()
        .is_some_and(|layout| *layout > WITHOUT_LANGUAGE)
}

fn put_entry(bytes: &mut Vec<u8>, entry: &Entry, id_step: i64) {
    let character = entry.character();
    let reading = reading::flags(entry, id_step);
    let Character { code, shift, .. } = *character;
    let others: f32 = character.alternatives.iter().map(|a| a.probability).sum();
    let others = character.doubt.is_some() || others >= NEGLIGIBLE;
    let more = others || character.witnesses.is_some() || reading != 0;
    let others_too = character.alternatives.iter().map(|a| (a.code, a.symbol));
    let mut meanings = others_too.chain([(code, character.symbol)]);
    let us = meanings.any(|(code, meant)| symbol(code, shift, FiguresRow::Ita2) != meant);
    let flag = |set: bool, bit: u8| u8::from(set) << bit;
    bytes.push(code.value() | flag(shift == Shift::Figures, 5) | flag(us, 6) | flag(more, 7));
    put_odds(bytes, character.probability);
    if !more {
        return;
    }
    let doubt = character.doubt.map_or(0, number);
    let others_flag = if others { OTHERS } else { 0 };
    let reading_flag = if reading != 0 { READING } else { 0 };
    bytes.push(doubt | others_flag | reading_flag | witness::flag(character));
    if reading != 0 {
        bytes.push(reading);
    }
    if others {
        for other in &character.alternatives {
            bytes.push(other.code.value());
            put_odds(bytes, other.probability);
        }
    }
    witness::put(bytes, character);
    reading::put(bytes, character, reading, id_step);
}

/// The number of a cause of doubt.
fn number(doubt: Doubt) -> u8 {
    let place = Doubt::ALL.iter().position(|(known, _)| *known == doubt);
    place.map_or(0, |at| at as u8 + 1)
}

fn entry(
    from: &mut Bytes,
    layout: u8,
    ticks: i64,
    signal: SignalId,
    ids: &mut reading::Ids,
) -> Option<Entry> {
    let head = from.byte()?;
    let code = Code::new(head & 0x1F)?;
    let (shift, row) = shift_and_row(head);
    let none = Alternative {
        code,
        symbol: symbol(code, shift, row),
        probability: 0.0,
    };
    let mut character = Character {
        signal,
        id: CharacterId::default(),
        start_s: ticks as f64 / TICKS,
        code,
        shift,
        symbol: none.symbol,
        probability: from.odds()?,
        present: 1.0,
        codes: None,
        alternatives: [none; 2],
        doubt: None,
        witnesses: None,
    };
    let mut reading = if layout < LAYOUT { reading::UNKNOWN } else { 0 };
    if head & 0x80 != 0 {
        let flags = match layout {
            WITHOUT_LANGUAGE => from.byte().filter(|doubt| doubt & !DOUBT == 0)? | OTHERS,
            _ => from.byte()?,
        };
        if flags & READING != 0 {
            reading = from.byte().filter(|_| layout == LAYOUT)?;
        }
        character.doubt = match usize::from(flags & DOUBT) {
            0 => None,
            number => Some(Doubt::ALL.get(number - 1)?.0),
        };
        if flags & OTHERS != 0 {
            for other in &mut character.alternatives {
                other.code = Code::new(from.byte()?)?;
                other.symbol = symbol(other.code, shift, row);
                other.probability = from.odds()?;
            }
        }
        let asked = flags & !(DOUBT | OTHERS | READING);
        character.witnesses = witness::take(from, asked, &character)?;
    }
    reading::take(from, reading, character, ticks, ids)
}

/// What bits 5 and 6 of a head mean.
fn shift_and_row(head: u8) -> (Shift, FiguresRow) {
    (
        [Shift::Letters, Shift::Figures][usize::from(head >> 5 & 1)],
        [FiguresRow::Ita2, FiguresRow::Us][usize::from(head >> 6 & 1)],
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Symbol;
    use markhold_event::{Codes, Witnesses};
    use proptest::prelude::*;

    fn any_code() -> impl Strategy<Value = Code> {
        (0u8..32).prop_map(|v| Code::new(v).unwrap())
    }

    fn likely() -> impl Strategy<Value = f32> {
        prop_oneof![0f32..=1.0, Just(0.999_99), Just(1.0), Just(0.0)]
    }

    fn meaning() -> impl Strategy<Value = (Shift, FiguresRow)> {
        (any::<bool>(), any::<bool>()).prop_map(|(figures, us)| {
            (
                [Shift::Letters, Shift::Figures][usize::from(figures)],
                [FiguresRow::Ita2, FiguresRow::Us][usize::from(us)],
            )
        })
    }

    fn alternative() -> impl Strategy<Value = Alternative> {
        (any_code(), meaning(), likely()).prop_map(|(code, (shift, row), probability)| {
            let symbol = symbol(code, shift, row);
            Alternative {
                code,
                symbol,
                probability,
            }
        })
    }

    /// Language has its own say, or none; `None` for not asked.
    fn witnesses() -> impl Strategy<Value = Option<Option<Witnesses>>> {
        let own = (alternative(), alternative(), likely(), 0f32..=1.0).prop_map(
            |(signal, both, from_signal, prose)| Witnesses {
                signal,
                both,
                from_signal,
                prose,
            },
        );
        proptest::option::of(proptest::option::of(own))
    }

    fn any_character() -> impl Strategy<Value = Character> {
        let first = (-10.0..90_000.0, alternative(), meaning());
        let rest = (
            [any_code(), any_code()],
            [likely(), likely()],
            proptest::option::of(0usize..8),
            witnesses(),
        );
        let reading = (any::<u32>(), proptest::option::of(codes()), likely());
        (first, rest, reading).prop_map(
            |((start_s, best, (shift, row)), (others, others_p, doubt, asked), reading)| {
                let alternative = |code, probability| Alternative {
                    code,
                    symbol: symbol(code, shift, row),
                    probability,
                };
                let best = alternative(best.code, best.probability);
                let nothing_to_say = Witnesses {
                    signal: best,
                    both: best,
                    from_signal: best.probability,
                    prose: 0.4,
                };
                Character {
                    signal: SignalId(3),
                    id: CharacterId(reading.0),
                    start_s,
                    code: best.code,
                    shift,
                    symbol: best.symbol,
                    probability: best.probability,
                    present: reading.2,
                    codes: reading.1,
                    alternatives: [
                        alternative(others[0], others_p[0]),
                        alternative(others[1], others_p[1]),
                    ],
                    doubt: doubt.map(|at| Doubt::ALL[at].0),
                    witnesses: asked.map(|own| own.unwrap_or(nothing_to_say)),
                }
            },
        )
    }

    fn codes() -> impl Strategy<Value = Codes> {
        prop_oneof![
            any_code().prop_map(Codes::only),
            (proptest::collection::vec(1e-4..1.0f32, 32), 0.5..20.0f32)
                .prop_map(|(raw, sharp)| Codes::new(&std::array::from_fn(|c| raw[c].powf(sharp)))),
        ]
    }

    fn any_entry() -> impl Strategy<Value = Entry> {
        prop_oneof![
            4 => any_character().prop_map(Entry::Decided),
            1 => any_character().prop_map(Entry::Unlikely),
        ]
    }

    /// The characters, all of them decided.
    fn decided(entries: Vec<Entry>) -> Vec<Character> {
        entries
            .into_iter()
            .map(|entry| match entry {
                Entry::Decided(character) => character,
                Entry::Unlikely(other) => panic!("{other:?}"),
            })
            .collect()
    }

    fn same_witnesses(a: &Witnesses, b: &Witnesses) -> bool {
        let same = |a: &Alternative, b: &Alternative| {
            (a.code, a.symbol) == (b.code, b.symbol) && near(a.probability, b.probability)
        };
        same(&a.signal, &b.signal)
            && same(&a.both, &b.both)
            && near(a.from_signal, b.from_signal)
            && (a.prose - b.prose).abs() < 0.002
    }

    /// Close, or both as good as sure.
    fn near(a: f32, b: f32) -> bool {
        close(a, b) || (a.min(b) >= 1.0 - NEGLIGIBLE - 1e-6)
    }

    fn close(a: f32, b: f32) -> bool {
        // Half a step of the odds, and what 32 bits round.
        (a - b).abs() <= 5e-4 * a.min(1.0 - a) + 1e-7
    }

    proptest! {
        #[test]
        fn what_was_packed_comes_back(line in proptest::collection::vec(any_entry(), 0..40)) {
            let back = unpack(&pack(&line), SignalId(3)).unwrap();
            prop_assert_eq!(back.len(), line.len());
            for (a, b) in line.iter().zip(&back) {
                prop_assert_eq!(matches!(a, Entry::Decided(_)), matches!(b, Entry::Decided(_)));
                let (a, b) = (a.character(), b.character());
                prop_assert_eq!((a.id, a.codes), (b.id, b.codes));
                prop_assert!(close(a.present, b.present), "{a:?} {b:?}");
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
                match (&a.witnesses, &b.witnesses) {
                    (Some(a), Some(b)) => prop_assert!(same_witnesses(a, b), "{a:?} {b:?}"),
                    (a, b) => prop_assert!(a.is_none() && b.is_none(), "{a:?} {b:?}"),
                }
            }
        }

        #[test]
        fn any_bytes_give_characters_or_an_error(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            if let Ok(entries) = unpack(&bytes, SignalId(1)) {
                prop_assert!(entries.len() * 4 <= bytes.len());
            }
        }
    }

    #[test]
    fn a_sure_character_takes_few_bytes_and_a_cut_is_told() {
        let bytes = pack(&sure(None));
        assert!(bytes.len() < 5 * 60 + 10, "{}", bytes.len());
        let error = unpack(&bytes[..bytes.len() - 1], SignalId(1)).unwrap_err();
        assert!(
            error
                .to_string()
                .contains(&format!("of {}", bytes.len() - 1)),
            "{error}"
        );
        assert!(unpack(&[], SignalId(1)).is_err());
        assert!(unpack(&[LAYOUT + 1, 0], SignalId(1)).is_err());
        let alone = Alternative {
            code: Code::new(3).unwrap(),
            symbol: symbol(Code::new(3).unwrap(), Shift::Letters, FiguresRow::Ita2),
            probability: 0.9995,
        };
        let asked = Witnesses {
            signal: alone,
            both: alone,
            from_signal: 0.9999,
            prose: 1.0,
        };
        let bytes = pack(&sure(Some(asked)));
        assert!(bytes.len() < 7 * 60 + 10, "{}", bytes.len());
    }

    /// A character that may be one of eight codes.
    #[test]
    fn likelihoods_take_some_ten_bytes() {
        let line = |codes: Codes| {
            let one = |mut entry: Entry| {
                let (Entry::Decided(c) | Entry::Unlikely(c)) = &mut entry;
                c.codes = Some(codes);
                entry
            };
            pack(&sure(None).into_iter().map(one).collect::<Vec<_>>()).len()
        };
        let mut shares = [0.0; 32];
        shares[3] = 1.0;
        (0..8).for_each(|c| shares[c] += 0.1);
        let more = line(Codes::new(&shares)) - line(Codes::only(Code::ALL[3]));
        assert!((10 * 60..14 * 60).contains(&more), "{more}");
    }

    /// A line of sixty sure characters.
    fn sure(witnesses: Option<Witnesses>) -> Vec<Entry> {
        let code = Code::new(3).unwrap();
        let other = Alternative {
            code,
            symbol: symbol(code, Shift::Letters, FiguresRow::Ita2),
            probability: 1e-6,
        };
        let character = |k: u32| Character {
            signal: SignalId(1),
            id: CharacterId::of_start(3600.0 + 0.165 * f64::from(k)),
            start_s: 3600.0 + 0.165 * f64::from(k),
            code,
            shift: Shift::Letters,
            symbol: other.symbol,
            probability: 0.999_99,
            present: 1.0,
            codes: Some(Codes::only(code)),
            alternatives: [other; 2],
            doubt: None,
            witnesses,
        };
        (0..60).map(character).map(Entry::Decided).collect()
    }

    /// As version 0.1.0 wrote it: B sure, then a doubtful A for 0.6 that may be a Z.
    #[test]
    fn the_layout_without_language_is_still_read() {
        let bytes = [
            1,
            0x80,
            0x7D,
            0b11001,
            0xFF,
            0x7F, // 0.8 s, sure
            0xE4,
            0x19,
            0x80 | 0b00011,
            0x9F,
            0x01, // 0.165 s later
            2,
            0b10001,
            0x74,
            0xFA,
            0b00100,
            0x00,
            0x80,
        ];
        let back = unpack(&bytes, SignalId(1)).unwrap();
        let again = pack(&back);
        assert_eq!(
            unpack(&again, SignalId(1)).unwrap(),
            back,
            "nothing is lost"
        );
        assert!(!know_language(&bytes) && know_language(&again));
        let back = decided(back);
        let [b, a] = &back[..] else {
            panic!("{back:?}")
        };
        assert_eq!((a.id, a.present, a.codes), (CharacterId(97), 1.0, None));
        assert_eq!((b.symbol, b.start_s), (Symbol::Print('B'), 0.8));
        assert_eq!((b.probability, b.doubt), (1.0, None));
        assert_eq!((a.symbol, a.doubt), (Symbol::Print('A'), Some(Doubt::Fade)));
        assert!((a.probability - 0.6).abs() < 1e-3 && (a.start_s - 0.965).abs() < 1e-9);
        assert_eq!(a.alternatives[0].symbol, Symbol::Print('Z'));
        assert!((a.alternatives[0].probability - 0.2).abs() < 1e-3);
        assert_eq!((a.alternatives[1].probability, a.witnesses), (0.0, None));
    }
}
