//! Several signals: which share a piece of paper, and which stand side by side.

use super::*;

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
