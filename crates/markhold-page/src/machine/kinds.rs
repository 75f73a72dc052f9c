//! Ready-made machines, named by figures row, columns and modulation rate.
//!
//! Return times are assumed: they are those for which the trade's usual line endings were
//! found enough (CR CR LF at 45.45 baud gives 490 ms, at 50 baud 450 ms; about 200 ms on
//! the IA5 machine of ITU-T S.30). Measure your own: print a long line, then short ones with
//! less and less after the carriage return, until the first character lands in the line.

use super::{AtMargin, Blank, Figures, Fill, LineEnding, Machine};
use std::sync::LazyLock;

/// A ready-made machine.
#[derive(Clone, Debug)]
pub struct Kind {
    /// Its name in the settings file.
    pub name: &'static str,
    /// What it is, in a few words.
    pub about: &'static str,
    /// Its description.
    pub machine: Machine,
}

/// All ready-made machines; the first is the one meant where none is named.
pub fn kinds() -> &'static [Kind] {
    &KINDS
}

/// The ready-made machine of this name.
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|kind| kind.name == name)
}

static KINDS: LazyLock<Vec<Kind>> = LazyLock::new(|| {
    vec![
        named(
            "us-72-45",
            "72 columns, 45.45 baud, US row, unshift on space",
            us(72, 66, RATE_60, 0.45, "CR CR LF LTRS"),
        ),
        named(
            "us-72-45-slow",
            "the same with a slow carriage and no margin lamp",
            Machine {
                return_s: 0.9,
                ..us(72, 0, RATE_60, 0.9, "CR CR LF")
            },
        ),
        named(
            "us-74-56",
            "74 columns, 56.92 baud, US row, unshift on space",
            us(74, 68, 56.92, 0.4, "CR CR LF LTRS"),
        ),
        named(
            "us-72-74",
            "72 columns, 74.2 baud, US row, new line by itself",
            Machine {
                at_margin: AtMargin::NewLine,
                ..us(72, 66, 74.2, 0.35, "CR CR LF LTRS")
            },
        ),
        named(
            "us-76-45-motor",
            "76 columns, 45.45 baud, US row, motor switched",
            Machine {
                motor: true,
                ..us(76, 70, RATE_60, 0.45, "CR CR LF LTRS")
            },
        ),
        named(
            "ita2-69-50",
            "69 columns, 50 baud, ITA2, international telegraph practice",
            ita2(69, 50.0, 0.45, "CR CR LF"),
        ),
        named(
            "ita2-69-75",
            "69 columns, 75 baud, ITA2",
            ita2(69, 75.0, 0.35, "CR CR LF LTRS"),
        ),
        named(
            "ita2-80-100",
            "80 columns, 100 baud, ITA2, new line by itself",
            Machine {
                at_margin: AtMargin::NewLine,
                margin_lamp: 0,
                ..ita2(80, 100.0, 0.2, "CR LF")
            },
        ),
    ]
});

/// "60 words per minute": 22 ms elements (US Army teletypewriter training text).
const RATE_60: f64 = 1.0 / 0.022;

fn named(name: &'static str, about: &'static str, machine: Machine) -> Kind {
    Kind {
        name,
        about,
        machine,
    }
}

/// A machine of the United States trade: stop element of 1.42 units (US Navy training
/// text), unshift on space (common practice).
fn us(columns: u16, margin_lamp: u16, rate_baud: f64, return_s: f64, end: &str) -> Machine {
    Machine {
        figures: Figures::Us,
        unshift_on_space: true,
        margin_lamp,
        stop_units: 1.42,
        ..plain(columns, rate_baud, return_s, end)
    }
}

/// A machine of international telegraph practice. Figures F, G and H are left to national
/// use in ITU-T S.1, so it is taken to have no type for them.
fn ita2(columns: u16, rate_baud: f64, return_s: f64, end: &str) -> Machine {
    Machine {
        lacks: "!&£".into(),
        ..plain(columns, rate_baud, return_s, end)
    }
}

fn plain(columns: u16, rate_baud: f64, return_s: f64, end: &str) -> Machine {
    Machine {
        columns,
        margin_lamp: columns - 6,
        at_margin: AtMargin::PileUp,
        return_s,
        figures: Figures::Ita2,
        lacks: String::new(),
        unshift_on_space: false,
        blank: Blank::Still,
        rate_baud,
        stop_units: 1.5,
        line_end: LineEnding::parse(end).expect("a line ending of this table"),
        fill: Fill::Letters,
        shift_after_space: true,
        shift_after_line: true,
        longest_word: 20,
        word_hold_s: 3.0,
        replacement: '?',
        doubt_mark: None,
        overprint: false,
        empty_lines: 8,
        bells_per_minute: 10,
        who_are_you: false,
        garble_stop: 24,
        garble_resume: 3,
        garble_note: "...".into(),
        motor: false,
        run_up_s: 1.5,
        motor_off_after_s: 60.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_holds_together() {
        for kind in kinds() {
            kind.machine
                .check()
                .unwrap_or_else(|e| panic!("{}: {e}", kind.name));
            assert_eq!(super::kind(kind.name).unwrap().machine, kind.machine);
        }
    }

    #[test]
    fn names_say_columns_and_rate() {
        for kind in kinds() {
            let parts: Vec<&str> = kind.name.split('-').collect();
            assert_eq!(parts[1], kind.machine.columns.to_string());
            assert_eq!(parts[2], (kind.machine.rate_baud as u32).to_string());
            assert_eq!(parts[0] == "us", kind.machine.figures == Figures::Us);
        }
    }
}
