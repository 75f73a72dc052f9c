//! Whether the shift is known: the belief that the sender is in figures, beside the shift
//! that the decided codes give.
//!
//! A shift character that was read as something else leaves its mark in the probabilities:
//! what was decided may be certain enough to be printed and still have had a shift for its
//! second reading. The belief follows all of them,
//!
//! ```text
//!   figures after = P(FIGS) + (1 - P(FIGS) - P(LTRS)) * figures before
//! ```
//!
//! and then listens a little to what is printed. Codes that figures are seldom sent as speak
//! for letters. Codes that they are often sent as speak for figures where figures are
//! printed; never where letters are, because calls, codes and test lines may look like
//! anything.

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

/// Probability that the shift changed without leaving a mark, for each character.
const UNNOTICED: f32 = 5e-4;
/// Figures beside the digits that bulletins, reports and nets are full of (common practice).
const USUAL: &str = ".,/-:?()";
/// Log odds for letters by a code that figures are seldom sent as, and against them by one
/// that they are often. Of English letters two in five stand on unusual figures by their
/// frequency (common tables); of figures sent in bulletins fewer than one in twenty.
const SELDOM: f32 = 1.5;
const OFTEN: f32 = -0.4;
/// The belief that the sender is in figures.
#[derive(Clone, Debug)]
pub struct ShiftBelief {
    // configured
    unshift_on_space: bool,
    // derived: what each code says for letters when it is received in figures
    says: [f32; 32],
    // state
    figures: f32,
}

impl ShiftBelief {
    /// Begins in letters, as the shift machine does, but not sure of it.
    pub fn new(row: FiguresRow, unshift_on_space: bool) -> Self {
        Self {
            unshift_on_space,
            says: std::array::from_fn(|c| says_for_letters(c, row)),
            figures: UNNOTICED,
        }
    }

    /// Probability that the sender is in `shift` now.
    pub fn of(&self, shift: Shift) -> f32 {
        match shift {
            Shift::Figures => self.figures,
            Shift::Letters => 1.0 - self.figures,
        }
    }

    /// Takes in the probabilities of a character's 32 codes, and the shift in force when it
    /// was received.
    pub fn take(&mut self, codes: &[f32; 32], shift: Shift) {
        let of = |code: Code| codes[usize::from(code.value())];
        let space = if self.unshift_on_space {
            of(Code::SPACE)
        } else {
            0.0
        };
        let (to_figures, to_letters) = (of(Code::FIGURES), of(Code::LETTERS) + space);
        let stays = (1.0 - to_figures - to_letters).max(0.0);
        let after = to_figures + stays * self.heard(codes, shift);
        self.figures = after.clamp(UNNOTICED, 1.0 - UNNOTICED);
    }

    /// The belief after it listened to what is printed.
    fn heard(&self, codes: &[f32; 32], shift: Shift) -> f32 {
        let says: f32 = codes.iter().zip(&self.says).map(|(p, s)| p * s).sum();
        let says = match shift {
            Shift::Figures => says,
            Shift::Letters => says.max(0.0),
        };
        let odds = self.figures / (1.0 - self.figures) * (-says).exp();
        odds / (1.0 + odds)
    }
}

/// Whether a code means something else in the other shift.
pub fn depends_on_shift(code: Code) -> bool {
    let controls = [
        Code::LETTERS,
        Code::FIGURES,
        Code::SPACE,
        Code::CARRIAGE_RETURN,
        Code::LINE_FEED,
    ];
    code.value() != 0 && !controls.contains(&code)
}

fn says_for_letters(value: usize, row: FiguresRow) -> f32 {
    let code = Code::new(value as u8).expect("below 32");
    let usual = |c: char| c.is_ascii_digit() || USUAL.contains(c);
    match symbol(code, Shift::Figures, row) {
        _ if !depends_on_shift(code) => 0.0,
        Symbol::Print(c) if usual(c) => OFTEN,
        _ => SELDOM,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn belief(unshift_on_space: bool) -> ShiftBelief {
        ShiftBelief::new(FiguresRow::Ita2, unshift_on_space)
    }

    fn certain(code: Code) -> [f32; 32] {
        between(&[(code, 1.0)])
    }

    fn between(list: &[(Code, f32)]) -> [f32; 32] {
        let mut codes = [0.0; 32];
        for (code, p) in list {
            codes[usize::from(code.value())] = *p;
        }
        codes
    }

    fn code(value: u8) -> Code {
        Code::new(value).expect("below 32")
    }

    // ITU-T S.1 combinations 5 (E and 3) and 8 (H, no figure in international use).
    const E: u8 = 0b00001;
    const H: u8 = 0b10100;

    #[test]
    fn certain_shifts_are_believed() {
        let mut belief = belief(false);
        assert!(belief.of(Shift::Letters) > 0.99);
        belief.take(&certain(Code::FIGURES), Shift::Letters);
        assert!(belief.of(Shift::Figures) > 0.99);
        belief.take(&certain(Code::SPACE), Shift::Figures);
        assert!(belief.of(Shift::Figures) > 0.99);
        belief.take(&certain(Code::LETTERS), Shift::Figures);
        assert!(belief.of(Shift::Letters) > 0.99);
    }

    #[test]
    fn a_space_counts_where_it_unshifts() {
        let mut belief = belief(true);
        belief.take(&certain(Code::FIGURES), Shift::Letters);
        belief.take(&certain(Code::SPACE), Shift::Figures);
        assert!(belief.of(Shift::Letters) > 0.99);
    }

    /// The rule of total probability, by hand: 0.3 + 0.65 * 0.
    #[test]
    fn a_shift_that_was_second_best_leaves_doubt_until_the_next() {
        let mut belief = belief(false);
        let unsure = between(&[(code(E), 0.65), (Code::FIGURES, 0.3), (Code::LETTERS, 0.05)]);
        belief.take(&unsure, Shift::Letters);
        for _ in 0..20 {
            assert!((belief.of(Shift::Letters) - 0.7).abs() < 0.02);
            belief.take(&certain(code(E)), Shift::Letters);
        }
        // H is no figure: it speaks for letters, and R and E do not speak against them.
        for _ in 0..3 {
            belief.take(&certain(code(H)), Shift::Letters);
        }
        assert!(belief.of(Shift::Letters) > 0.98);
        belief.take(&certain(Code::LETTERS), Shift::Letters);
        assert!(belief.of(Shift::Letters) > 0.99);
    }

    /// Letters that were missed altogether show in what is printed; figures go on as they
    /// are however many there be.
    #[test]
    fn implausible_figures_are_doubted_and_figures_are_not() {
        let after = |value: u8| {
            let mut belief = belief(false);
            belief.take(&certain(Code::FIGURES), Shift::Letters);
            for _ in 0..6 {
                belief.take(&certain(code(value)), Shift::Figures);
            }
            belief.of(Shift::Figures)
        };
        assert!(after(E) > 0.99, "{}", after(E));
        assert!(after(H) < 0.95, "{}", after(H));
    }

    #[test]
    fn letters_are_never_held_to_be_figures_by_what_they_say() {
        let mut belief = belief(false);
        for k in 0..200 {
            // R and Y in turn (combinations 18 and 25): a customary test.
            let value = if k % 2 == 0 { 0b01010 } else { 0b10101 };
            belief.take(&certain(code(value)), Shift::Letters);
        }
        assert!(belief.of(Shift::Letters) > 0.95);
    }
}
