//! Makes doubt visible.

/// How doubtful characters are set apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Marker {
    /// Not at all.
    None,
    /// Dim and underlined, character by character, so that a terminal is never left so.
    Terminal,
    /// Runs between `[` and `]`. The five-unit alphabet has neither, so deleting both
    /// gives the plain text back.
    Brackets,
}

/// Adds characters to text and marks the doubtful ones.
#[derive(Clone, Copy, Debug)]
pub struct Marking {
    // Configured.
    marker: Marker,
    // State.
    open: bool,
}

impl Marking {
    pub fn new(marker: Marker) -> Self {
        Marking {
            marker,
            open: false,
        }
    }

    pub fn push(&mut self, text: &mut String, c: char, doubtful: bool) {
        match self.marker {
            Marker::None => text.push(c),
            // Select graphic rendition 2 is dim, 4 underlined, 0 neither (ECMA-48).
            Marker::Terminal if doubtful => {
                text.extend(["\x1b[2;4m", c.encode_utf8(&mut [0; 4]), "\x1b[0m"])
            }
            Marker::Terminal => text.push(c),
            Marker::Brackets => {
                if doubtful != self.open {
                    text.push(if doubtful { '[' } else { ']' });
                    self.open = doubtful;
                }
                text.push(c);
            }
        }
    }

    /// Ends a doubtful run; before the end of a line, so that each line stands by itself.
    pub fn close(&mut self, text: &mut String) {
        if std::mem::take(&mut self.open) {
            text.push(']');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marked(marker: Marker) -> String {
        let mut marking = Marking::new(marker);
        let mut text = String::new();
        for (c, doubtful) in [
            ('A', false),
            ('B', true),
            ('C', true),
            ('D', false),
            ('E', true),
        ] {
            marking.push(&mut text, c, doubtful);
        }
        marking.close(&mut text);
        marking.close(&mut text);
        text
    }

    #[test]
    fn each_way() {
        assert_eq!(marked(Marker::None), "ABCDE");
        assert_eq!(marked(Marker::Brackets), "A[BC]D[E]");
        assert_eq!(
            marked(Marker::Terminal),
            "A\x1b[2;4mB\x1b[0m\x1b[2;4mC\x1b[0mD\x1b[2;4mE\x1b[0m"
        );
    }
}
