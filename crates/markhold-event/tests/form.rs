//! The form in which events are written: what scripts rely on, and that it is read back.
#![allow(missing_docs, reason = "tests")]

use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::{
    Alternative, Character, CharacterId, Codes, Doubt, Event, Sense, Signal, SignalId, VERSION,
    Witnesses,
};
use proptest::prelude::*;
use serde_json::{Value, json};

fn code() -> impl Strategy<Value = Code> {
    (0u8..32).prop_map(|v| Code::new(v).unwrap())
}

fn meaning() -> impl Strategy<Value = (Shift, FiguresRow)> {
    (any::<bool>(), any::<bool>()).prop_map(|(figures, us)| {
        (
            [Shift::Letters, Shift::Figures][usize::from(figures)],
            [FiguresRow::Ita2, FiguresRow::Us][usize::from(us)],
        )
    })
}

fn reading(code: Code, (shift, row): (Shift, FiguresRow), probability: f32) -> Alternative {
    Alternative {
        code,
        symbol: symbol(code, shift, row),
        probability,
    }
}

fn witnesses() -> impl Strategy<Value = Witnesses> {
    let one = || (code(), meaning(), 0f32..=1.0).prop_map(|(c, m, p)| reading(c, m, p));
    (one(), one(), 0f32..=1.0, 0f32..=1.0).prop_map(|(signal, both, from_signal, prose)| {
        Witnesses {
            signal,
            both,
            from_signal,
            prose,
        }
    })
}

fn codes() -> impl Strategy<Value = Codes> {
    (proptest::collection::vec(1e-4..1.0f32, 32), 0.5..12.0f32)
        .prop_map(|(raw, sharp)| Codes::new(&std::array::from_fn(|c| raw[c].powf(sharp))))
}

fn character() -> impl Strategy<Value = Character> {
    let first = (any::<u32>(), any::<u32>(), 0.0..1e5f64, meaning());
    let read = proptest::collection::vec((code(), 0f32..=1.0), 3);
    let rest = (
        0f32..=1.0,
        proptest::option::of(codes()),
        proptest::option::of(0usize..Doubt::ALL.len()),
        proptest::option::of(witnesses()),
    );
    (first, read, rest).prop_map(
        |((signal, id, start_s, meaning), read, (present, codes, doubt, witnesses))| {
            let [best, second, third] = [0, 1, 2].map(|k| reading(read[k].0, meaning, read[k].1));
            Character {
                signal: SignalId(signal),
                id: CharacterId(id),
                start_s,
                code: best.code,
                shift: meaning.0,
                symbol: best.symbol,
                probability: best.probability,
                present,
                codes,
                alternatives: [second, third],
                doubt: doubt.map(|k| Doubt::ALL[k].0),
                witnesses,
            }
        },
    )
}

fn signal() -> impl Strategy<Value = Signal> {
    let number = || prop_oneof![9 => -5000.0..5000.0f64, 1 => Just(f64::NAN)];
    (
        proptest::collection::vec(number(), 11),
        proptest::option::of(-9.0..9.0f64),
        any::<bool>(),
    )
        .prop_map(|(n, maybe, higher)| Signal {
            id: SignalId(7),
            begin_s: n[0],
            until_s: n[1],
            mark_hz: n[2],
            space_hz: n[3],
            shift_hz: n[4],
            usual_shift_hz: maybe.map(|_| 170.0),
            rate_baud: n[5],
            usual_rate_baud: maybe.map(|_| 1.0 / 0.022),
            sense: [Sense::LowerTone, Sense::HigherTone][usize::from(higher)],
            stop_units: maybe,
            figures_row: maybe.map(|_| FiguresRow::Us),
            unshift_on_space: maybe.map(|_| higher),
            es_n0_db: n[6],
            snr_3khz_db: n[7],
            drift_hz: n[8],
            drift_hz_per_min: n[9],
        })
}

fn event() -> impl Strategy<Value = Event> {
    prop_oneof![
        signal().prop_map(Event::Found),
        signal().prop_map(Event::Ended),
        character().prop_map(Event::Early),
        character().prop_map(Event::Unlikely),
        character().prop_map(Event::Character),
    ]
}

/// As it is printed, and read from print.
fn printed(event: &Event) -> Value {
    serde_json::from_str(&serde_json::to_string(event).unwrap()).unwrap()
}

proptest! {
    #[test]
    fn what_was_read_is_written_the_same(event in event()) {
        let once = printed(&event);
        let back: Event = serde_json::from_value(once.clone()).unwrap();
        prop_assert_eq!(&printed(&back), &once);
        prop_assert_eq!(back.signal(), event.signal());
        let [Event::Character(a), Event::Character(b)] = [&event, &back] else {
            return Ok(());
        };
        prop_assert_eq!((a.id, a.code, a.shift, a.symbol), (b.id, b.code, b.shift, b.symbol));
        prop_assert_eq!((a.doubt, a.codes), (b.doubt, b.codes));
        prop_assert!((a.start_s - b.start_s).abs() <= 0.51e-4);
        prop_assert!((a.probability - b.probability).abs() <= 0.6e-5);
        for (a, b) in a.alternatives.iter().zip(&b.alternatives) {
            prop_assert_eq!((a.code, a.symbol), (b.code, b.symbol));
        }
        let both = |c: &Character| c.witnesses.map(|w| (w.signal.symbol, w.both.symbol));
        prop_assert_eq!(both(a), both(b));
    }

    #[test]
    fn no_text_whatever_does_harm(text in "[\\{\\}\\[\\]\":,a-z0-9. -]{0,60}") {
        let _ = serde_json::from_str::<Event>(&text);
    }
}

fn line() -> Value {
    json!({
        "type": "character", "version": VERSION, "signal": 1, "id": 1235, "start": 12.3457,
        "code": 20, "shift": "letters", "glyph": "H", "probability": 0.75, "present": 1.0,
        "alternatives": [
            {"code": 4, "glyph": " ", "probability": 0.2},
            {"code": 16, "glyph": "T", "probability": 0.05},
        ],
        "doubt": "fade-of-one-tone", "language": null,
        "codes": [[20, 0.763926], [4, 0.19804], [16, 0.038034]],
    })
}

#[test]
fn a_line_for_scripts() {
    let event: Event = serde_json::from_value(line()).unwrap();
    let Event::Character(character) = &event else {
        panic!("{event:?}")
    };
    assert_eq!(character.symbol.text(), Some('H'));
    assert_eq!(printed(&event), line());
}

/// As version 0.1.0 wrote it.
#[test]
fn a_line_of_before_gets_its_id_from_its_start() {
    let mut old = line();
    for later in ["version", "id", "present", "codes"] {
        old.as_object_mut().unwrap().remove(later);
    }
    let event: Event = serde_json::from_value(old).unwrap();
    let Event::Character(character) = event else {
        panic!("{event:?}")
    };
    assert_eq!(character.id, CharacterId(1235));
    assert_eq!((character.present, character.codes), (1.0, None));
}

#[test]
fn what_cannot_be_is_said() {
    for (field, value, said) in [
        ("version", json!(VERSION + 1), "update"),
        ("code", json!(32), "from 0 to 31"),
        ("glyph", json!("Q"), "code 20"),
        ("glyph", json!(null), "without a glyph"),
        ("shift", json!("capitals"), "letters"),
        ("doubt", json!("gremlins"), "gremlins"),
        ("codes", json!([[40, 1.0]]), "code 40"),
    ] {
        let mut wrong = line();
        wrong[field] = value;
        let error = serde_json::from_value::<Event>(wrong).unwrap_err();
        assert!(error.to_string().contains(said), "{error}");
    }
    // What a later version adds is passed over.
    let mut more = line();
    more["colour"] = json!("red");
    assert!(serde_json::from_value::<Event>(more).is_ok());
}
