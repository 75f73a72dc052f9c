//! What was packed comes back; older layouts too; any bytes give entries or an error.

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

/// ITU-T S.1: B is 10011, element 1 first, and A 11000. What the signal holds for possible comes first,
/// then what differs in one element.
#[test]
fn other_readings_that_were_not_kept_are_other_codes() {
    let a = Code::new(0b00011).unwrap();
    let b = Code::new(0b11001).unwrap();
    let mut entries = sure(None);
    for (place, entry) in entries.iter_mut().enumerate() {
        let (Entry::Decided(c) | Entry::Unlikely(c)) = entry;
        let mut shares = [0.0; 32];
        (shares[3], shares[25]) = (1.0, 4e-4);
        c.codes = [Some(Codes::new(&shares)), Some(Codes::only(a)), None][place % 3];
    }
    let back = decided(unpack(&pack(&entries), SignalId(1)).unwrap());
    for (place, c) in back.iter().enumerate() {
        let [first, second] = c.alternatives;
        assert_eq!(c.code, a);
        assert_eq!([first.probability, second.probability], [0.0, 0.0]);
        assert!(first.code != second.code && second.code != a);
        let apart = (first.code.value() ^ a.value()).count_ones();
        assert_eq!(
            (first.code == b, apart == 1),
            (place % 3 == 0, place % 3 != 0)
        );
        assert_eq!(first.symbol, symbol(first.code, c.shift, FiguresRow::Ita2));
    }
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
