//! Slot: one place where a character was sent, as the signal alone has it.

use markhold_code::Code;
use markhold_language::writer::is_text;

/// Number of codes.
pub const CODES: usize = 32;
/// Least share of a code that counts: nothing brings back what the signal rules out.
const LEAST_CODE: f32 = 1e-4;
/// Characters that stand at least this far apart may have had another between them, elements.
const ROOM_FOR_ANOTHER: f64 = 13.5;
/// Probability that it was lost, there; and where the line idled meanwhile, as somebody's does
/// who types.
const LOST: f32 = 0.3;
const LOST_IDLING: f32 = 0.03;
/// After a pause this long, s, somebody else may be sending, unless the line idled.
const PAUSE_S: f64 = 2.5;
/// What came before a character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// When the character before began, s, if there was one.
    pub last_s: Option<f64>,
    /// Whether there is a seam: the gap is none of this sender's.
    pub seam: bool,
    /// Whether the line stood at mark throughout.
    pub idled: bool,
}

/// One character as the signal has it.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// When its start element begins, s.
    pub start_s: f64,
    /// Probability of each code by the signal alone, given that a character was sent; adds up
    /// to 1. What is ruled out has none.
    pub codes: [f32; CODES],
    /// Probability that one was sent.
    pub present: f32,
    /// Probability that another was lost before it.
    pub lost: f32,
    /// Whether the sender paused before it.
    pub paused: bool,
}

impl Slot {
    /// A character that begins at `start_s`, after such a gap, in elements of `element_s`.
    pub fn new(start_s: f64, gap: Gap, element_s: f64, codes: &[f32; CODES], present: f32) -> Self {
        let after_s = gap.last_s.map_or(0.0, |last_s| start_s - last_s);
        let has_room = after_s > ROOM_FOR_ANOTHER * element_s;
        Self {
            start_s,
            codes: shares(codes),
            present,
            lost: match (gap.seam, has_room, gap.idled) {
                (true, ..) | (_, true, false) => LOST,
                (_, true, true) => LOST_IDLING,
                _ => 0.0,
            },
            paused: after_s > PAUSE_S && !gap.idled,
        }
    }

    /// The likeliest code.
    pub fn best(&self) -> Code {
        let best = (0..CODES).fold(0, |a, b| if self.codes[b] > self.codes[a] { b } else { a });
        Code::new(best as u8).expect("below 32")
    }

    /// Probability of each code of text, given that it is one; adds up to 1.
    pub fn text(&self) -> [f32; CODES] {
        let mut text = self.codes;
        for code in Code::ALL.into_iter().filter(|c| !is_text(*c)) {
            text[usize::from(code.value())] = 0.0;
        }
        let all: f32 = text.iter().sum();
        if all > 0.0 {
            text.iter_mut().for_each(|p| *p /= all);
        }
        text
    }

    /// Probability that it is another than the likeliest.
    pub fn doubt(&self) -> f32 {
        1.0 - self.codes[usize::from(self.best().value())]
    }
}

/// What the signal rules out is left out; all else as it is.
pub fn counted(codes: &[f32; CODES]) -> [f32; CODES] {
    let all: f32 = codes.iter().sum();
    codes.map(|c| if c < LEAST_CODE * all { 0.0 } else { c })
}

/// Shares that add up to 1; all alike if there is nothing to share.
fn shares(codes: &[f32; CODES]) -> [f32; CODES] {
    let all: f32 = codes.iter().sum();
    match all > 0.0 && all.is_finite() {
        true => codes.map(|c| c / all),
        false => [1.0 / CODES as f32; CODES],
    }
}
