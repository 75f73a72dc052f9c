//! What a port gives that marks breaks and framing errors among what it reads (POSIX, PARMRK).

use super::line::Stroke;
use markhold_code::Code;

/// Reads the marks.
///
/// | bytes | meaning |
/// |---|---|
/// | 255 0 0 | break |
/// | 255 0 n | n came with its stop element in space |
/// | 255 255 | 255 itself, which five units do not have |
/// | n | n |
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marked {
    /// Bytes of a mark so far, 0 to 2.
    begun: u8,
}

const MARK: u8 = 255;

impl Marked {
    /// Takes one byte.
    pub fn take(&mut self, byte: u8) -> Option<Stroke> {
        let begun = std::mem::take(&mut self.begun);
        match (begun, byte) {
            (0, MARK) => self.begun = 1,
            (1, 0) => self.begun = 2,
            (2, 0) => return Some(Stroke::Break),
            (1 | 2, _) => return Some(Stroke::Misread),
            // Some ports leave what is above the five units set.
            (_, byte) => return Code::new(byte & 31).map(Stroke::Code),
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8]) -> Vec<Stroke> {
        let mut marked = Marked::default();
        bytes.iter().filter_map(|byte| marked.take(*byte)).collect()
    }

    /// POSIX.1-2017, general terminal interface, input modes: PARMRK.
    #[test]
    fn breaks_and_framing_errors_are_marked() {
        let code = |value| Stroke::Code(Code::new(value).unwrap());
        assert_eq!(all(&[3, 0, 31]), [code(3), code(0), code(31)]);
        assert_eq!(all(&[3, 255, 0, 0, 3]), [code(3), Stroke::Break, code(3)]);
        assert_eq!(all(&[255, 0, 7, 3]), [Stroke::Misread, code(3)]);
        assert_eq!(all(&[255, 255, 3]), [Stroke::Misread, code(3)]);
        assert_eq!(all(&[255, 0]), []);
    }
}
