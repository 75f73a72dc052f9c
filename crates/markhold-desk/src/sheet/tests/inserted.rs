//! What stands between the lines of a copy: gaps, and what was sent.

use super::*;

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
