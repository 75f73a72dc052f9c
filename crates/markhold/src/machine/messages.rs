//! Test messages: what to send to see whether a machine is in order.

use clap::ValueEnum;
use markhold_page::Machine;

/// A test message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Test {
    /// Lines of RY: every element changes with every character (range, bias)
    Ry,
    /// Every letter and every sign the machine has
    Type,
    /// A ruler as long as the line, and one that is longer
    Margin,
    /// Long and short lines in turn: the first character must stand at the margin
    Return,
    /// Groups of letters and figures: shifts, and unshift on space
    Shift,
    /// Three bells, a line apart
    Bell,
}

/// The text of a test message for this machine.
pub fn text(test: Test, machine: &Machine) -> String {
    let columns = usize::from(machine.usable_columns());
    match test {
        Test::Ry => format!("{}\n", "RY".repeat(columns / 2)).repeat(3),
        Test::Type => type_test(machine),
        Test::Margin => format!("{}\n{}\n", ruler(columns), ruler(columns + 10)),
        Test::Return => {
            let long = "E".repeat(columns);
            let lines = [columns, columns / 2, columns / 4, 1];
            lines
                .iter()
                .map(|&k| format!("{long}\nI{}\n", "E".repeat(k - 1)))
                .collect()
        }
        Test::Shift => "A1B2C3 4D5E6F 78 GH 90 IJ 1 K 2 L\n".repeat(2),
        Test::Bell => "BELL\u{7}\n".repeat(3),
    }
}

fn type_test(machine: &Machine) -> String {
    let all = (' '..='~').chain(['£']).filter(|&c| machine.has(c));
    let (letters, signs): (String, String) = all.partition(|c| c.is_ascii_uppercase());
    format!("THE QUICK BROWN FOX JUMPS OVER THE LAZY DOG\n{letters}\n{signs}\n")
}

/// Columns counted: a dot each, a colon every five, the tens as figures.
fn ruler(columns: usize) -> String {
    let mark = |k: usize| match k {
        k if k.is_multiple_of(10) => char::from(b'0' + (k / 10 % 10) as u8),
        k if k.is_multiple_of(5) => ':',
        _ => '.',
    };
    (1..=columns).map(mark).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_page::{Copied, discipline, kinds, print};

    #[test]
    fn a_ruler_counts_columns() {
        assert_eq!(ruler(22), "....:....1....:....2..");
    }

    #[test]
    fn every_message_prints_on_every_machine() {
        for kind in kinds() {
            for test in Test::value_variants() {
                let text = text(*test, &kind.machine);
                let orders = discipline(&kind.machine, Copied::of_text(&text, 0.0)).unwrap();
                let page = print(&kind.machine, &orders);
                assert_eq!((page.overstruck(), page.struck_in_return()), (0, 0));
                let struck: usize = page.lines.iter().map(|line| line.struck.len()).sum();
                let given = text
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != '\u{7}')
                    .count();
                assert_eq!(struck, given, "{test:?} on {}", kind.name);
            }
        }
    }
}
