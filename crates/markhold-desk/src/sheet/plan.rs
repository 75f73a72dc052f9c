//! The machine that the sheet is laid out for.

use markhold_code::FiguresRow;
use markhold_page::Machine;
use serde::Serialize;

/// More bells than anybody sends: all are shown.
const ALL_BELLS: u16 = 600;

/// How the sheet is laid out, for the page.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Layout {
    /// Characters in one line.
    pub columns: u16,
    /// Column from which the margin lamp is lit; 0 = no lamp.
    pub margin_lamp: u16,
    /// Whether a sure carriage return without a line feed prints over the line.
    pub overprint: bool,
    /// The machine's name, if it is one.
    pub machine: Option<String>,
}

/// This machine, so that its page hides nothing of the copy: its carriage, line length, line
/// ends, word wrap, overprinting, margin and lamp stay; but all characters of the receiver's
/// figures row are shown, doubtful ones as what they are, garble is not left out, every bell
/// is marked, and no motor is waited for.
pub fn on_screen(machine: &Machine, figures: FiguresRow) -> Machine {
    Machine {
        figures,
        lacks: String::new(),
        doubt_mark: None,
        garble_stop: 0,
        bells_per_minute: ALL_BELLS,
        who_are_you: false,
        motor: false,
        ..machine.clone()
    }
}
