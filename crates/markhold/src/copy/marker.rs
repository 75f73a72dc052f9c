//! Makes doubt visible, and what language changed.

use markhold_event::Character;

/// How doubtful characters, and those that language changed, are set apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Marker {
    /// Not at all.
    None,
    /// Underlined, the doubtful dim, the changed slanted, character by character, so that a
    /// terminal is never left so.
    Terminal,
    /// Doubtful runs between `[` and `]`, changed ones between `{` and `}`, these inside of
    /// those. The five-unit alphabet has none of the four, so deleting them gives the plain
    /// text back.
    Brackets,
}

/// What is to be marked of a character.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// It is doubtful.
    pub doubtful: bool,
    /// Language made it another than the signal alone, or would.
    pub changed: bool,
}

impl From<&Character> for Marks {
    fn from(character: &Character) -> Self {
        Marks {
            doubtful: character.doubt.is_some(),
            changed: character.witnesses.is_some_and(|w| w.differ()),
        }
    }
}

impl Marks {
    /// Select graphic rendition: 2 is dim, 3 slanted, 4 underlined (ECMA-48).
    fn rendition(self) -> Option<&'static str> {
        match (self.doubtful, self.changed) {
            (false, false) => None,
            (true, false) => Some("\x1b[2;4m"),
            (false, true) => Some("\x1b[3;4m"),
            (true, true) => Some("\x1b[2;3;4m"),
        }
    }
}

/// Adds characters to text and marks them.
#[derive(Clone, Copy, Debug)]
pub struct Marking {
    // Configured.
    marker: Marker,
    // State.
    open: Marks,
}

impl Marking {
    pub fn new(marker: Marker) -> Self {
        Marking {
            marker,
            open: Marks::default(),
        }
    }

    pub fn push(&mut self, text: &mut String, c: char, marks: Marks) {
        match (self.marker, marks.rendition()) {
            (Marker::Terminal, Some(set)) => {
                text.extend([set, c.encode_utf8(&mut [0; 4]), "\x1b[0m"]);
            }
            (Marker::None | Marker::Terminal, _) => text.push(c),
            (Marker::Brackets, _) => {
                self.open(text, marks);
                text.push(c);
            }
        }
    }

    fn open(&mut self, text: &mut String, marks: Marks) {
        let before = std::mem::replace(&mut self.open, marks);
        if before == marks {
            return;
        }
        if before.changed {
            text.push('}');
        }
        if before.doubtful != marks.doubtful {
            text.push(if marks.doubtful { '[' } else { ']' });
        }
        if marks.changed {
            text.push('{');
        }
    }

    /// Ends a marked run; before the end of a line, so that each line stands by itself.
    pub fn close(&mut self, text: &mut String) {
        self.open(text, Marks::default());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marked(marker: Marker) -> String {
        let mut marking = Marking::new(marker);
        let mut text = String::new();
        for (c, doubtful, changed) in [
            ('A', false, false),
            ('B', true, false),
            ('C', true, true),
            ('D', false, true),
            ('E', true, false),
            ('F', false, false),
            ('G', true, true),
        ] {
            marking.push(&mut text, c, Marks { doubtful, changed });
        }
        marking.close(&mut text);
        marking.close(&mut text);
        text
    }

    #[test]
    fn each_way() {
        assert_eq!(marked(Marker::None), "ABCDEFG");
        assert_eq!(marked(Marker::Brackets), "A[B{C}]{D}[E]F[{G}]");
        assert_eq!(
            marked(Marker::Terminal),
            "A\x1b[2;4mB\x1b[0m\x1b[2;3;4mC\x1b[0m\x1b[3;4mD\x1b[0m\x1b[2;4mE\x1b[0mF\x1b[2;3;4mG\x1b[0m"
        );
    }
}
