//! The carriage at work, by hand and by the published line endings.

use super::{Bell, Page, Printer, Struck};
use crate::machine::{AtMargin, Blank, Machine};
use crate::render::text;
use markhold_code::{Code, EncodeOptions, FiguresRow, LineEnd, ShiftMachine, Symbol, encode};
use proptest::prelude::*;

/// A machine of ten columns that needs one second to return.
fn small() -> Machine {
    Machine {
        columns: 10,
        margin_lamp: 7,
        return_s: 1.0,
        ..Machine::default()
    }
}

/// Types `text`, a character every `each_s`; `\n` is a line feed alone.
fn typed(machine: &Machine, typed: &str, each_s: f64) -> Printer {
    let mut printer = Printer::new(machine);
    let mut at_s = 0.0;
    for c in typed.chars() {
        let codes = match c {
            '\n' => vec![Code::LINE_FEED],
            c => encode(&c.to_string(), machine.figures, EncodeOptions::default()).unwrap(),
        };
        for code in codes {
            printer.receive(code, at_s);
        }
        at_s += each_s;
    }
    printer
}

fn printed(machine: &Machine, words: &str, each_s: f64) -> String {
    text::text(typed(machine, words, each_s).page())
}

#[test]
fn return_and_line_feed_are_apart() {
    assert_eq!(printed(&small(), "AB\nCD", 1.0), "AB\n  CD\n");
    assert_eq!(printed(&small(), "AB\r\nCD", 1.0), "AB\nCD\n");
    assert_eq!(printed(&small(), "AB\n\rCD", 1.0), "AB\nCD\n");
}

#[test]
fn a_lost_line_feed_overprints() {
    let printer = typed(&small(), "ABC\rXY", 1.0);
    let cells: Vec<String> = (0..3)
        .map(|k| {
            printer.page().lines[0]
                .cell(k)
                .map(|s| s.character)
                .collect()
        })
        .collect();
    assert_eq!(cells, ["AX", "BY", "C"]);
    assert_eq!(printer.page().overstruck(), 2);
}

#[test]
fn a_lost_return_piles_up_at_the_margin() {
    let page = printed(&small(), "ABCDEFGHIJKLM", 1.0);
    assert_eq!(page, "ABCDEFGHIJ\r         K\r         L\r         M\n");
}

#[test]
fn a_machine_may_make_a_new_line_by_itself() {
    let machine = Machine {
        at_margin: AtMargin::NewLine,
        ..small()
    };
    assert_eq!(printed(&machine, "ABCDEFGHIJKLM", 1.0), "ABCDEFGHIJ\nKLM\n");
    // Faster than the carriage: K comes 0.3 s after the start of the return, at column 7,
    // L at 4, M at 1; then it is home, and O stands over M.
    let page = printed(&machine, "ABCDEFGHIJKLMNO", 0.3);
    assert_eq!(page, "ABCDEFGHIJ\nNM  L  K\r O\n");
}

#[test]
fn characters_in_the_return_stand_where_the_carriage_is() {
    // Five columns take half a second. X comes 0.2 s after the return: 5 - 2 = column 3.
    let mut printer = typed(&small(), "ABCDE", 0.0);
    printer.receive(Code::CARRIAGE_RETURN, 1.0);
    printer.receive(Code::LINE_FEED, 1.1);
    let x = encode("X", FiguresRow::Us, EncodeOptions::default()).unwrap()[0];
    printer.receive(x, 1.2);
    assert!((printer.carriage() - 3.0).abs() < 1e-9);
    printer.receive(x, 1.5);
    assert_eq!(text::text(printer.page()), "ABCDE\nX  X\n");
    assert_eq!(printer.page().struck_in_return(), 1);
}

#[test]
fn a_second_return_does_not_start_again() {
    let mut printer = typed(&small(), "ABCDE", 0.0);
    printer.receive(Code::CARRIAGE_RETURN, 1.0);
    printer.receive(Code::CARRIAGE_RETURN, 1.3);
    printer.receive(Code::LETTERS, 1.5);
    assert_eq!(printer.carriage(), 0.0);
}

#[test]
fn bell_lamp_and_blanks() {
    let mut machine = small();
    let printer = typed(&machine, "AB\u{7}C", 1.0);
    assert_eq!(printer.page().bells, [Bell { at_s: 2.0, line: 0 }]);
    assert!(!typed(&machine, "ABCDE", 1.0).margin_lamp());
    assert!(typed(&machine, "ABCDEF", 1.0).margin_lamp());
    let blanks = |machine: &Machine| {
        let mut printer = Printer::new(machine);
        printer.receive(Code::BLANK, 0.0);
        printer.carriage()
    };
    assert_eq!(blanks(&machine), 0.0);
    machine.blank = Blank::Steps;
    assert_eq!(blanks(&machine), 1.0);
}

#[test]
fn unshift_on_space_and_missing_type() {
    let codes = [
        Code::FIGURES,
        Code::new(23).unwrap(),
        Code::SPACE,
        Code::new(23).unwrap(),
    ];
    let show = |machine: &Machine| {
        let mut printer = Printer::new(machine);
        for (k, code) in codes.into_iter().enumerate() {
            printer.receive(code, k as f64);
        }
        text::text(printer.page())
    };
    let mut machine = small();
    machine.unshift_on_space = true;
    assert_eq!(show(&machine), "1 Q\n");
    machine.unshift_on_space = false;
    assert_eq!(show(&machine), "1 1\n");
    machine.lacks = "1".into();
    assert_eq!(show(&machine), "\n");
}

/// Return times of reference table 11.4: from the start of the first CR to the next
/// printing character, ms (arithmetic on the character times of the US Army and US Navy
/// training texts). A carriage that needs 1 ms less is home, one that needs 2 ms more is
/// not.
#[test]
fn line_endings_give_the_times_of_the_table() {
    let endings = [LineEnd::CrLf, LineEnd::CrCrLf, LineEnd::CrCrLfLetters];
    for (rate_baud, stop_units, times_ms) in [
        (1.0 / 0.022, 1.42, [326.0, 490.0, 653.0]),
        (50.0, 1.5, [300.0, 450.0, 600.0]),
        (75.0, 1.5, [200.0, 300.0, 400.0]),
        (100.0, 1.5, [150.0, 225.0, 300.0]),
    ] {
        for (line_end, time_ms) in endings.into_iter().zip(times_ms) {
            for (more_ms, in_return) in [(-1.0, 0), (2.0, 1)] {
                let machine = Machine {
                    rate_baud,
                    stop_units,
                    columns: 20,
                    return_s: (time_ms + more_ms) / 1e3,
                    ..Machine::default()
                };
                let page = back_to_back("ABCDEFGHIJKLMNOPQRST\nE", &machine, line_end);
                assert_eq!(
                    page.struck_in_return(),
                    in_return,
                    "{rate_baud} {line_end:?}"
                );
            }
        }
    }
}

fn back_to_back(words: &str, machine: &Machine, line_end: LineEnd) -> Page {
    let options = EncodeOptions {
        line_end,
        ..EncodeOptions::default()
    };
    let mut printer = Printer::new(machine);
    for (k, code) in encode(words, machine.figures, options)
        .unwrap()
        .into_iter()
        .enumerate()
    {
        printer.receive(code, k as f64 * machine.speed().character_s());
    }
    printer.tear_off()
}

proptest! {
    /// Whatever comes, whenever: nothing is struck outside the line, nothing is lost.
    #[test]
    fn any_codes_at_any_time(
        values in proptest::collection::vec((0u8..32, -1.0f64..3.0), 0..300),
        new_line: bool,
    ) {
        let at_margin = if new_line { AtMargin::NewLine } else { AtMargin::PileUp };
        let machine = Machine { at_margin, ..small() };
        let mut printer = Printer::new(&machine);
        let mut reader = ShiftMachine::new(machine.figures, machine.unshift_on_space);
        let (mut at_s, mut expected) = (0.0, 0);
        for (value, wait) in values {
            at_s += wait;
            let code = Code::new(value).unwrap();
            printer.receive(code, at_s);
            expected += usize::from(matches!(reader.receive(code), Symbol::Print(_)));
            prop_assert!((0.0..=10.0).contains(&printer.carriage()));
        }
        let all: Vec<&Struck> =
            printer.page().lines.iter().flat_map(|line| &line.struck).collect();
        prop_assert_eq!(all.len(), expected);
        prop_assert!(all.iter().all(|struck| struck.column < 10));
    }
}
