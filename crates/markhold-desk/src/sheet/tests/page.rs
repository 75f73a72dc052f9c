//! One piece of paper: against the page model of a whole copy, golden texts, and what comes of first
//! readings.

use super::*;
use markhold_event::Witnesses;
use markhold_page::{Copied, discipline, print, render::text::text};
use proptest::prelude::*;

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
