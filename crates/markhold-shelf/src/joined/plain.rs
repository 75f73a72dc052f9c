//! A copy as plain text: what is doubtful between [ and ], variants as <117|118>; the five-unit
//! alphabet has none of these.

use super::copies::KeptCopy;
use super::lines::Piece;
use super::{Joined, JointLine};
use markhold_code::{Carriage, Step};
use markhold_join::Joint;

/// A line of a joint copy.
pub(super) fn line(joined: &Joined, joint: &Joint, line: &JointLine) -> String {
    let mut text = Marked::default();
    for piece in &line.pieces {
        match *piece {
            Piece::Character {
                glyph, doubtful, ..
            } => text.push(glyph, doubtful),
            Piece::Variant(number) => text.push_all(&wordings(joined, joint, number)),
        }
    }
    text.finish()
}

fn wordings(joined: &Joined, joint: &Joint, variant: usize) -> String {
    let all = joint.variants[variant].wordings.iter();
    let texts: Vec<String> = all.map(|w| joined.wording(joint, variant, w)).collect();
    format!("<{}>", texts.join("|"))
}

/// The lines of one copy alone on which anything is printed.
pub(super) fn lines_of(copy: &KeptCopy) -> Vec<String> {
    let (mut carriage, mut lines, mut text) = (Carriage::default(), vec![], Marked::default());
    for character in &copy.characters {
        let step = carriage.step(character.symbol);
        if matches!(step, Step::NewLine | Step::NewLinePrint(_)) {
            lines.push(std::mem::take(&mut text).finish());
        }
        if let Step::Print(glyph) | Step::NewLinePrint(glyph) = step {
            text.push(glyph, character.doubt.is_some());
        }
    }
    lines.push(text.finish());
    lines.retain(|line| !line.trim().is_empty());
    lines
}

/// Text with its doubt on the way.
#[derive(Default)]
struct Marked {
    text: String,
    open: bool,
}

impl Marked {
    fn push(&mut self, glyph: char, doubtful: bool) {
        self.mark(doubtful);
        self.text.push(glyph);
    }

    fn push_all(&mut self, text: &str) {
        self.mark(false);
        self.text += text;
    }

    fn mark(&mut self, doubtful: bool) {
        if doubtful != self.open {
            self.text.push(if doubtful { '[' } else { ']' });
            self.open = doubtful;
        }
    }

    fn finish(mut self) -> String {
        self.mark(false);
        self.text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubt_stands_in_brackets() {
        let mut text = Marked::default();
        "ABCD"
            .chars()
            .zip([false, true, true, false])
            .for_each(|(c, d)| text.push(c, d));
        text.push('E', true);
        text.push_all("<1|2>");
        assert_eq!(text.finish(), "A[BC]D[E]<1|2>");
    }
}
