//! What characters of a joint copy print.

use markhold_code::{Code, FiguresRow, Shift, ShiftMachine, Symbol, symbol};
use markhold_join::{Joint, JointCharacter, SURE, Wording};

/// A character that is less likely there than this is left out, probability.
pub const THERE: f32 = 0.4;

/// What a character prints.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Printed {
    /// What it is.
    pub symbol: Symbol,
    /// Probability that this was sent, 0 to 1.
    pub probability: f32,
}

impl Printed {
    /// Whether it is doubtful.
    pub fn is_doubtful(&self) -> bool {
        self.probability < SURE
    }
}

/// What a character prints in the shift that is likelier.
pub(super) fn printed(character: &JointCharacter, row: FiguresRow) -> Printed {
    let (code, shift) = (character.code(), character.shift());
    let figures = character.figures;
    let shifted = symbol(code, Shift::Letters, row) != symbol(code, Shift::Figures, row);
    let in_shift = if shifted {
        figures.max(1.0 - figures)
    } else {
        1.0
    };
    Printed {
        symbol: symbol(code, shift, row),
        probability: character.probability() * in_shift,
    }
}

/// The characters that are shown, with their places.
pub(super) fn shown(joint: &Joint) -> impl Iterator<Item = (usize, &JointCharacter)> {
    let all = joint.characters.iter().enumerate();
    all.filter(|(_, c)| c.present >= THERE || c.variant.is_some())
}

/// What a wording prints, from the shift on in which it begins.
pub(super) fn wording(wording: &Wording, shift: Shift, row: FiguresRow) -> String {
    let mut machine = ShiftMachine::new(row, false);
    machine.set_shift(shift);
    let best = |codes: &[f32; Code::COUNT]| {
        let at = (0..Code::COUNT).max_by(|a, b| codes[*a].total_cmp(&codes[*b]));
        Code::ALL[at.unwrap_or_default()]
    };
    let codes = wording.codes.iter().map(best);
    codes.filter_map(|c| machine.receive(c).printed()).collect()
}
