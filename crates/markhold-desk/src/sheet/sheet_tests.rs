//! The sheet against the page model of a whole copy, golden texts, and what comes of first
//! readings.

use super::*;
use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_event::{Alternative, CharacterId, Doubt, Sense, Signal, Witnesses};
use markhold_page::{Copied, discipline, kind, print, render::text::text};
use proptest::prelude::*;

fn character(signal: u32, start_s: f64, c: char, probability: f32) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        '\u{7}' => Symbol::Bell,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let other = Alternative {
        code: Code::SPACE,
        symbol: Symbol::Space,
        probability: 0.0,
    };
    Character {
        signal: SignalId(signal),
        id: CharacterId::of_start(start_s),
        start_s,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability,
        present: 1.0,
        codes: None,
        alternatives: [other; 2],
        doubt: (probability < 0.9).then_some(Doubt::Fade),
        witnesses: None,
    }
}

/// A text, sure characters of signal 1, 0.15 s each.
fn characters(text: &str) -> Vec<Character> {
    let all = text.chars().enumerate();
    all.map(|(k, c)| character(1, 0.15 * k as f64, c, 0.99))
        .collect()
}

fn sheet(machine: &Machine) -> Sheet {
    Sheet::new(on_screen(machine, FiguresRow::Ita2))
}

fn narrow() -> Machine {
    Machine {
        columns: 20,
        margin_lamp: 17,
        longest_word: 10,
        ..kind("ita2-69-50").expect("ready-made").machine.clone()
    }
}

/// What stands on all paper, every strike kept: overprints after a carriage return.
fn shown(sheet: &Sheet) -> String {
    let layers = |row: &Row| {
        let mut layers: Vec<Row> = Vec::new();
        for struck in &row.struck {
            let taken = |layer: &&mut Row| layer.struck.iter().all(|s| s.column != struck.column);
            match layers.iter_mut().find(taken) {
                Some(layer) => layer.struck.push(struck.clone()),
                None => layers.push(Row {
                    struck: vec![struck.clone()],
                    ..Row::default()
                }),
            }
        }
        layers.iter().map(Row::text).collect::<Vec<_>>().join("\r")
    };
    let rows = sheet.whole().into_iter().flat_map(|piece| piece.rows);
    rows.map(|row| layers(&row) + "\n").collect()
}

/// What a page shows that begins with nothing and takes every change.
#[derive(Default)]
struct Browser(Vec<Row>);

impl Browser {
    fn take(&mut self, sheet: &mut Sheet) {
        for piece in sheet.changes() {
            assert!(piece.from <= self.0.len() && piece.settled <= piece.from + piece.rows.len());
            self.0.truncate(piece.from);
            self.0.extend(piece.rows);
        }
    }
}

/// Texts and what stands on 20 columns of them.
const GOLDEN: [(&str, &str); 6] = [
    ("GOOD EVENING\r\nALL", "GOOD EVENING\nALL\n"),
    // Words stay whole at the margin.
    (
        "THE HARBOUR CLUB MEETS AT NINE",
        "THE HARBOUR CLUB\nMEETS AT NINE\n",
    ),
    // A word that is longer than any line is divided.
    (
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
        "ABCDEFGHIJKLMNOPQRST\nUVWXYZ\n",
    ),
    ("A\r\r\nB\nC\n\rD", "A\nB\nC\nD\n"),
    // A lost line feed: a new line all the same.
    ("ONE\rTWO", "ONE\nTWO\n"),
    ("A\r\n\r\nB", "A\n\nB\n"),
];

#[test]
fn golden_texts() {
    for (copy, expected) in GOLDEN {
        let mut sheet = sheet(&narrow());
        for character in characters(copy) {
            sheet.take(&Event::Character(character));
        }
        sheet.changes();
        assert_eq!(shown(&sheet), expected, "{copy:?}");
    }
}

#[test]
fn overprints_are_kept_where_the_machine_prints_over() {
    let machine = Machine {
        overprint: true,
        ..narrow()
    };
    let mut sheet = sheet(&machine);
    for character in characters("O NE\r/\r\nTWO") {
        sheet.take(&Event::Character(character));
    }
    sheet.changes();
    assert_eq!(shown(&sheet), "O NE\r/\nTWO\n");
    let first = &sheet.whole()[0].rows[0];
    assert_eq!(first.text(), "O NE");
    let [mark] = &first.marks()[..] else {
        panic!("{:?}", first.marks());
    };
    let glyphs: String = mark.struck.iter().map(|s| s.glyph).collect();
    assert_eq!((mark.column, glyphs.as_str()), (0, "O/"));
}

/// The sheet as it grows is the page that the machine prints of the whole copy.
#[test]
fn every_ready_made_machine_lays_out_the_sheet() {
    let copy = "NR 42 CQ CQ DE Q1ABC Q1ABC\r\nGOOD EVENING ALL: THE HARBOUR CLUB (29 METRES) \
                WILL MEET ON MONDAY AT 19.30, WEATHER PERMITTING. BRING A LAMP\r\r\n\r\n73 K";
    for kind in markhold_page::kinds() {
        let machine = on_screen(&kind.machine, FiguresRow::Ita2);
        let mut sheet = Sheet::new(machine.clone());
        let mut browser = Browser::default();
        for character in characters(copy) {
            sheet.take(&Event::Character(character));
            browser.take(&mut sheet);
        }
        let copied = characters(copy)
            .into_iter()
            .map(|c| Copied::sure(c.symbol, c.start_s));
        let orders = discipline(&machine, copied).expect("a machine");
        let page = text(&print(&machine, &orders));
        // The first new line of every machine makes the first row here, and none is shown
        // after the end.
        assert_eq!(format!("\n{}\n", shown(&sheet)), page, "{}", kind.name);
        assert_eq!(browser.0, sheet.whole()[0].rows, "{}", kind.name);
    }
}

#[test]
fn what_is_decided_takes_the_place_of_first_readings() {
    let mut sheet = sheet(&narrow());
    let early = |k: usize, c| Event::Early(character(1, 0.15 * k as f64 + 0.004, c, 0.7));
    for (k, c) in "HARXOUR".chars().enumerate() {
        sheet.take(&early(k, c));
    }
    sheet.changes();
    assert_eq!(shown(&sheet), "HARXOUR\n");
    assert!(sheet.whole()[0].rows[0].struck.iter().all(|s| s.early));
    for character in characters("HARBO") {
        sheet.take(&Event::Character(character));
    }
    sheet.changes();
    assert_eq!(shown(&sheet), "HARBOUR\n");
    let early: Vec<bool> = sheet.whole()[0].rows[0]
        .struck
        .iter()
        .map(|s| s.early)
        .collect();
    assert_eq!(early, [false, false, false, false, false, true, true]);
    // The signal ends: what was never decided goes.
    sheet.take(&Event::Ended(signal(1)));
    sheet.changes();
    assert_eq!(shown(&sheet), "HARBO\n");
}

fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 0.0,
        until_s: 9.0,
        mark_hz: 2125.0,
        space_hz: 2295.0,
        shift_hz: 170.0,
        usual_shift_hz: None,
        rate_baud: 50.0,
        usual_rate_baud: None,
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 2.0,
        drift_hz: 0.0,
        drift_hz_per_min: 0.0,
    }
}

#[test]
fn the_lamp_is_lit_near_the_margin_and_the_bell_is_marked() {
    let mut sheet = sheet(&narrow());
    for character in characters("ABCDEFGHIJKLMNO\u{7}") {
        sheet.take(&Event::Character(character));
    }
    sheet.changes();
    assert_eq!(
        sheet.under(),
        Under {
            column: 15.0,
            lamp: false
        }
    );
    assert_eq!(sheet.whole()[0].rows[0].bells, 1);
    sheet.take(&Event::Character(character(1, 9.0, 'P', 0.99)));
    sheet.changes();
    assert_eq!(
        sheet.under(),
        Under {
            column: 16.0,
            lamp: true
        }
    );
}

#[test]
fn nothing_of_the_copy_is_hidden() {
    // A machine that would print a sign for doubt, stop at garble, and lacks a letter.
    let machine = Machine {
        doubt_mark: Some('-'),
        garble_stop: 3,
        lacks: "Q!".into(),
        figures: FiguresRow::Us,
        ..narrow()
    };
    let mut sheet = sheet(&machine);
    for (k, c) in "Q=W!E(R)T+".chars().enumerate() {
        sheet.take(&Event::Character(character(1, 0.2 * k as f64, c, 0.4)));
    }
    sheet.changes();
    assert_eq!(shown(&sheet), "Q=W!E(R)T+\n");
    assert_eq!(sheet.whole()[0].rows[0].marks().len(), 10);
}

#[test]
fn each_signal_has_its_own_paper_and_old_paper_goes_first() {
    let mut sheet = sheet(&narrow());
    sheet.take(&Event::Character(character(1, 0.0, 'A', 0.99)));
    sheet.take(&Event::Character(character(2, 0.1, 'B', 0.99)));
    sheet.take(&Event::Character(character(1, 0.2, 'C', 0.99)));
    sheet.changes();
    assert_eq!(shown(&sheet), "AC\nB\n");
    for k in 0..MOST_ROWS {
        let start_s = 1.0 + k as f64;
        sheet.take(&Event::Character(character(2, start_s, '\n', 0.99)));
        sheet.take(&Event::Character(character(2, start_s + 0.5, 'X', 0.99)));
    }
    sheet.changes();
    let whole = sheet.whole();
    assert_eq!((whole.len(), whole[0].signal), (1, Some(2)));
    assert_eq!((whole[0].rows.len(), whole[0].from), (MOST_ROWS, 1));
    // What comes afterwards still counts from the beginning.
    sheet.take(&Event::Character(character(2, 1e6, 'Y', 0.99)));
    let [changed] = &sheet.changes()[..] else {
        panic!("one piece changed");
    };
    assert_eq!((changed.from, changed.rows.len()), (MOST_ROWS, 1));
}

/// Signal `id` from `begin_s` on, at these tones and this rate; its text, and its end.
fn heard(sheet: &mut Sheet, (id, begin_s): (u32, f64), found: &Signal, text: &str) {
    let found = Signal {
        id: SignalId(id),
        begin_s,
        until_s: begin_s,
        ..found.clone()
    };
    sheet.take(&Event::Found(found.clone()));
    for (k, c) in text.chars().enumerate() {
        let start_s = begin_s + 0.15 * k as f64;
        // Another receiver counts from its own first sample.
        let id = CharacterId::of_start(0.15 * k as f64);
        let of = character(found.id.0, start_s, c, 0.99);
        sheet.take(&Event::Character(Character { id, ..of }));
    }
    let until_s = begin_s + 0.15 * text.len() as f64;
    sheet.take(&Event::Ended(Signal { until_s, ..found }));
    sheet.changes();
}

#[test]
fn fragments_of_one_transmission_are_one_and_others_are_not() {
    let mut sheet = sheet(&narrow());
    let here = signal(1);
    for (k, text) in ["ZCZC", "LOW MARSH", "NNNN"].into_iter().enumerate() {
        let drifted = Signal {
            mark_hz: here.mark_hz + 8.0 * k as f64,
            space_hz: here.space_hz + 8.0 * k as f64,
            ..here.clone()
        };
        heard(&mut sheet, (1 + k as u32, 30.0 * k as f64), &drifted, text);
    }
    assert_eq!(shown(&sheet), "ZCZC\nLOW MARSH\nNNNN\n");
    assert_eq!(sheet.whole().len(), 1);
    let elsewhere = Signal {
        mark_hz: 1275.0,
        space_hz: 1445.0,
        ..here.clone()
    };
    let faster = Signal {
        rate_baud: 56.9,
        ..here.clone()
    };
    heard(&mut sheet, (4, 70.0), &elsewhere, "DE");
    heard(&mut sheet, (5, 72.0), &faster, "CQ");
    // Two minutes later somebody else may be there.
    heard(&mut sheet, (6, 200.0), &here, "QRZ");
    let signals: Vec<_> = sheet.whole().iter().map(|rows| rows.signal).collect();
    assert_eq!(signals, [Some(1), Some(4), Some(5), Some(6)]);
}

#[test]
fn what_is_typed_at_once_has_lanes_and_what_follows_has_not() {
    let mut sheet = sheet(&narrow());
    let type_ = |sheet: &mut Sheet, of: u32, at_s: f64| {
        sheet.take(&Event::Character(character(of, at_s, 'A', 0.99)))
    };
    type_(&mut sheet, 1, 0.0);
    type_(&mut sheet, 2, 1.0);
    sheet.take(&Event::Ended(signal(1)));
    type_(&mut sheet, 3, 100.0);
    sheet.take(&Event::Ended(signal(2)));
    sheet.take(&Event::Ended(signal(3)));
    type_(&mut sheet, 4, 200.0);
    sheet.changes();
    let lanes: Vec<_> = sheet.whole().iter().map(|rows| rows.lane).collect();
    assert_eq!(lanes, [0, 1, 0, 0]);
}

#[test]
fn what_is_told_again_is_typed_once() {
    let mut sheet = sheet(&narrow());
    for _ in 0..2 {
        heard(&mut sheet, (1, 0.0), &signal(1), "ZCZC");
        heard(&mut sheet, (2, 10.0), &signal(1), "NNNN");
    }
    assert_eq!(shown(&sheet), "ZCZC\nNNNN\n");
}

#[test]
fn rows_are_written_for_the_page() {
    let strike = |row: &mut Row, column, glyph, probability, early| {
        let character =
            std::sync::Arc::new(character(1, 2.5 + f64::from(column), glyph, probability));
        row.strike(column, glyph, Some((character, early)));
    };
    let mut row = Row {
        bells: 2,
        ..Row::default()
    };
    strike(&mut row, 0, 'A', 0.99, false);
    strike(&mut row, 2, 'B', 0.99, true);
    strike(&mut row, 4, 'C', 0.7, false);
    // Sure, and by language another one than by the signal alone.
    let mut changed = character(1, 9.0, 'D', 0.99);
    let reading = |symbol, probability| Alternative {
        code: changed.code,
        symbol,
        probability,
    };
    changed.witnesses = Some(Witnesses {
        signal: reading(Symbol::Print('X'), 0.6),
        both: reading(Symbol::Print('D'), 0.99),
        from_signal: 0.3,
        prose: 1.0,
    });
    row.strike(6, 'D', Some((std::sync::Arc::new(changed), false)));
    let json = serde_json::to_value(&row).expect("JSON");
    assert_eq!(
        (&json["text"], &json["at"]),
        (&"A B C D".into(), &2.5.into())
    );
    assert_eq!(
        (&json["marks"][0]["column"], &json["bells"]),
        (&2.into(), &2.into())
    );
    assert_eq!(json["marks"][0]["struck"][0]["early"], true);
    assert_eq!(json["marks"][1]["struck"][0]["character"]["glyph"], "C");
    assert_eq!(
        json["marks"][2]["struck"][0]["character"]["language"]["changed"],
        true
    );
    assert_eq!(json["marks"].as_array().expect("a list").len(), 3);
}

proptest! {
    /// Whatever first readings came before, in whatever order changes are asked for, the
    /// sheet and what a browser made of all changes are those of the decided copy alone.
    #[test]
    fn first_readings_leave_no_trace(
        text in "[A-Z ]{1,9}(\r\n|\r|\n| )([A-Z0-9 .]{0,30}(\r\r\n| |\r)){0,6}",
        wrong in prop::collection::vec(0u8..6, 200),
        ask in prop::collection::vec(any::<bool>(), 200),
    ) {
        let decided = characters(&text);
        let (mut hasty, mut patient) = (sheet(&narrow()), sheet(&narrow()));
        let mut browser = Browser::default();
        for (k, character) in decided.iter().enumerate() {
            let mut early = character.clone();
            early.start_s += 0.003;
            match wrong[k] {
                0 => {}
                1 => early.symbol = Symbol::LineFeed,
                2 => early.symbol = Symbol::Print('X'),
                _ => {}
            }
            if wrong[k] != 0 {
                hasty.take(&Event::Early(early));
            }
            // Decided six characters later.
            if let Some(earlier) = k.checked_sub(6) {
                hasty.take(&Event::Character(decided[earlier].clone()));
            }
            if ask[k] {
                browser.take(&mut hasty);
            }
        }
        for character in decided.iter().skip(decided.len().saturating_sub(6)) {
            hasty.take(&Event::Character(character.clone()));
        }
        for character in &decided {
            patient.take(&Event::Character(character.clone()));
        }
        browser.take(&mut hasty);
        patient.changes();
        prop_assert_eq!(shown(&hasty), shown(&patient));
        prop_assert_eq!(&browser.0, &patient.whole()[0].rows);
    }
}

#[test]
fn a_gap_stands_where_it_is_with_its_length_and_cause() {
    let gap = Gap {
        at_s: 0.8,
        lost_s: Some(2.4),
        cause: Cause::Card,
    };
    let mut sheet = sheet(&narrow());
    let (mut browser, all) = (Browser::default(), characters("GOOD AFTERNOON"));
    for (k, character) in all.iter().enumerate() {
        if k == 8 {
            // It is told before what came ahead of it is decided.
            sheet.gap(gap);
        }
        if k < 5 {
            sheet.take(&Event::Character(character.clone()));
        } else {
            sheet.take(&Event::Early(character.clone()));
        }
        browser.take(&mut sheet);
    }
    let seen = |browser: &Browser| -> Vec<String> {
        let words = |row: &Row| row.gap.clone().unwrap_or_else(|| row.text());
        browser.0.iter().map(words).collect()
    };
    let expected = ["GOOD A", &gap.words(), "FTERNOON"];
    assert_eq!(seen(&browser), expected, "first readings");
    for character in &all[5..] {
        sheet.take(&Event::Character(character.clone()));
        browser.take(&mut sheet);
    }
    assert_eq!(seen(&browser), expected, "decided");
    // A signal that begins after it does not say it again.
    sheet.take(&Event::Character(character(2, 9.0, 'B', 0.99)));
    sheet.changes();
    let second = sheet.whole().pop().expect("two pieces");
    assert!(second.rows.iter().all(|row| row.gap.is_none()));
}

#[test]
fn a_gap_that_ended_a_signal_stands_over_the_next() {
    let mut sheet = sheet(&narrow());
    sheet.take(&Event::Character(character(1, 1.0, 'A', 0.99)));
    sheet.gap(Gap {
        at_s: 60.0,
        lost_s: Some(50.0),
        cause: Cause::Input,
    });
    sheet.take(&Event::Character(character(2, 70.0, 'B', 0.99)));
    sheet.changes();
    let second = sheet.whole().pop().expect("two pieces");
    let gap = second.rows[0].gap.as_deref();
    assert!(gap.is_some_and(|words| words.starts_with("50 s without sound")));
    assert_eq!(second.rows[1].text(), "B");
}

fn sent(number: u64, at_s: f64, text: &str) -> markhold_event::SentLine {
    markhold_event::SentLine {
        number,
        at_s,
        text: text.into(),
        closed: true,
    }
}

/// One signal before, while and after something is sent: each where it belongs, though what was
/// received is decided late.
#[test]
fn what_is_sent_stands_in_its_place() {
    let mut sheet = sheet(&narrow());
    let heard = |from: usize, text: &str| -> Vec<Character> {
        let all = text.chars().enumerate();
        all.map(|(k, c)| character(1, 0.15 * (from + k) as f64, c, 0.99))
            .collect()
    };
    let take = |sheet: &mut Sheet, all: &[Character]| {
        all.iter()
            .for_each(|c| sheet.take(&Event::Character(c.clone())));
    };
    let before = heard(0, "BTU");
    take(&mut sheet, &before[..2]);
    sheet.sent(&sent(0, 10.0, "TNX"));
    sheet.sent(&sent(0, 10.0, "TNX OM"));
    // Late, and from before.
    take(&mut sheet, &before[2..]);
    sheet.sent(&sent(1, 12.0, "KN"));
    let after = heard(100, "R R");
    sheet.take(&Event::Early(after[0].clone()));
    take(&mut sheet, &after);
    sheet.take(&Event::Ended(signal(1)));
    let shown: Vec<_> = sheet
        .changes()
        .iter()
        .map(|piece| {
            let rows = piece.rows.iter().map(Row::text).collect::<Vec<_>>();
            (piece.signal, rows.join("|"))
        })
        .collect();
    let expected = [(Some(1), "BTU"), (None, "TNX OM|KN"), (Some(1), "R R")];
    assert_eq!(
        shown,
        expected.map(|(signal, text)| (signal, text.to_string()))
    );
    assert!(sheet.changes().is_empty());
    sheet.sent(&sent(2, 30.0, "73"));
    let changes = sheet.changes();
    assert_eq!(
        (changes.len(), changes[0].from, changes[0].piece),
        (1, 0, 4)
    );
    // A signal from before, decided late, stands above what was sent after it.
    sheet.take(&Event::Character(character(2, 8.0, 'X', 0.99)));
    let changes = sheet.changes();
    assert_eq!((changes[0].signal, changes[0].before), (Some(2), Some(2)));
    let order: Vec<u32> = sheet.whole().iter().map(|piece| piece.piece).collect();
    assert_eq!(order, [1, 5, 2, 3, 4]);
}
