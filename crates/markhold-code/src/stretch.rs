//! A keyed line as a list of stretches: what every keyer, tone maker and meter shares.

use crate::{Code, StartStop};

/// One stretch of a line in one condition.
///
/// A line is a sequence of stretches; neighbours may share a condition, then there is no
/// transition between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// `true` = mark (line closed, current flows), `false` = space.
    pub mark: bool,
    /// How long it lasts, s, 0 or more.
    pub length_s: f64,
}

impl StartStop {
    /// The line of one character without distortion: start element (space), the five code
    /// elements, element 1 first, and the stop element (mark).
    pub fn stretches(self, code: Code) -> [Stretch; 7] {
        let [a, b, c, d, e] = code.elements().map(|mark| Stretch {
            mark,
            length_s: self.element_s(),
        });
        let start = Stretch {
            mark: false,
            length_s: self.element_s(),
        };
        let stop = Stretch {
            mark: true,
            length_s: self.stop_s(),
        };
        [start, a, b, c, d, e, stop]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked example W12: `R` is 01010 on the line and so opens with a double space, `Y` is
    /// 10101 and ends in a double mark.
    #[test]
    fn r_and_y_on_the_line() {
        let speed = StartStop::new(1.0 / 0.022, 1.5);
        let marks = |value| {
            let code = Code::new(value).expect("below 32");
            speed.stretches(code).map(|s| s.mark)
        };
        assert_eq!(marks(10), [false, false, true, false, true, false, true]);
        assert_eq!(marks(21), [false, true, false, true, false, true, true]);
    }

    #[test]
    fn every_character_lasts_its_time() {
        let speed = StartStop::new(50.0, 1.5);
        for code in Code::ALL {
            let total: f64 = speed.stretches(code).iter().map(|s| s.length_s).sum();
            assert!((total - speed.character_s()).abs() < 1e-12, "{code:?}");
        }
    }
}
