//! A keyboard on a status wire: looked at by the clock, and framed.

use super::framer::{Framer, MARGIN};
use super::line::{Heard, KeyboardLine};
use crate::{KeyerError, Looked, ask_for_real_time};
use markhold_code::StartStop;
use std::time::{Duration, Instant};

/// Between two looks inside a character: 0.9 % of an element at 45.45 baud, 2 % at 100.
const LOOK: Duration = Duration::from_micros(200);
/// Between two looks at a line at rest, elements: the start edge is known to half of it.
const LOOK_AT_REST: f64 = 1.0 / 24.0;

/// A keyboard on something that is asserted or not.
pub struct WireKeyboard<L> {
    // Configured.
    wire: L,
    /// Asserted is space.
    inverted: bool,
    at_rest: Duration,
    /// A look that comes later than so may have missed a transition, s.
    most_apart_s: f64,
    // State.
    framer: Framer,
    begun: Instant,
    looked_s: f64,
    mark: bool,
    has_real_time: bool,
}

impl<L: Looked> WireKeyboard<L> {
    /// Looks at this wire; asserted is mark, as the current of a loop asserts it by its
    /// opto-coupler, or space if `inverted`.
    ///
    /// # Errors
    ///
    /// As [`Looked::look`].
    pub fn new(
        mut wire: L,
        speed: StartStop,
        break_s: f64,
        inverted: bool,
    ) -> Result<Self, KeyerError> {
        let mark = wire.look()? != inverted;
        let mut framer = Framer::new(speed, break_s);
        framer.edge(0.0, mark);
        Ok(WireKeyboard {
            wire,
            inverted,
            at_rest: Duration::from_secs_f64(LOOK_AT_REST * speed.element_s()),
            most_apart_s: MARGIN * speed.element_s(),
            framer,
            begun: Instant::now(),
            looked_s: 0.0,
            mark,
            has_real_time: false,
        })
    }

    /// Looks once; how the line is between two looks decides nothing unless they differ.
    fn look(&mut self) -> Result<(), KeyerError> {
        let before_s = self.looked_s;
        let mark = self.wire.look()? != self.inverted;
        self.looked_s = self.begun.elapsed().as_secs_f64();
        let changed = std::mem::replace(&mut self.mark, mark) != mark;
        let inside = self.framer.is_inside();
        if inside && self.looked_s - before_s > self.most_apart_s {
            // Others had the processor: better nothing than a wrong letter.
            self.framer.lost();
        }
        match changed {
            true => self.framer.edge((before_s + self.looked_s) / 2.0, mark),
            false => self.framer.until(self.looked_s),
        }
        Ok(())
    }
}

impl<L: Looked + Send> KeyboardLine for WireKeyboard<L> {
    fn next(&mut self, patience: Duration) -> Result<Option<Heard>, KeyerError> {
        if !self.has_real_time {
            // Of the thread that looks, so not before it does. Without it more is misread.
            ask_for_real_time();
            self.has_real_time = true;
        }
        let until_s = (self.begun.elapsed() + patience).as_secs_f64();
        loop {
            if let Some(framed) = self.framer.take() {
                return Ok(Some(Heard::now(framed.stroke)));
            }
            if self.looked_s >= until_s {
                return Ok(None);
            }
            std::thread::sleep(match self.framer.is_inside() {
                true => LOOK,
                false => self.at_rest,
            });
            self.look()?;
        }
    }

    fn is_open(&self) -> bool {
        self.framer.is_open()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Stroke;
    use markhold_code::{Code, EncodeOptions, FiguresRow, encode};

    /// A wire that goes by the clock, as keyed.
    struct Keyed {
        begun: Instant,
        line: Vec<(f64, bool)>,
        end_s: f64,
    }

    impl Looked for Keyed {
        fn look(&mut self) -> Result<bool, KeyerError> {
            let at_s = self.begun.elapsed().as_secs_f64();
            if at_s > self.end_s {
                return Err(KeyerError::PulledOut { what: "it".into() });
            }
            let before = self.line.iter().rev().find(|edge| edge.0 <= at_s);
            Ok(before.is_none_or(|edge| edge.1))
        }
    }

    fn keyed(codes: &[Code], element_s: f64) -> Vec<(f64, bool)> {
        let (mut line, mut at_s) = (Vec::new(), 0.05);
        for code in codes {
            line.push((at_s, false));
            let elements = code.elements().into_iter().chain([true]).enumerate();
            line.extend(elements.map(|(k, mark)| (at_s + (k + 1) as f64 * element_s, mark)));
            at_s += 7.5 * element_s;
        }
        line.push((at_s, false));
        line.push((at_s + 0.3, true));
        line
    }

    /// On a computer with other things to do a character may be lost; none is read wrong.
    #[test]
    fn what_a_wire_does_is_read_and_never_wrong() {
        let codes = encode("RYRY QUICK 73", FiguresRow::Us, EncodeOptions::default()).unwrap();
        let line = keyed(&codes, 0.022);
        let end_s = line.last().unwrap().0 + 0.05;
        let begun = Instant::now();
        let wire = Keyed { begun, line, end_s };
        let speed = StartStop::new(1.0 / 0.022, 1.5);
        let mut keyboard = WireKeyboard::new(wire, speed, 0.2, false).unwrap();
        let mut read = Vec::new();
        let ended = loop {
            match keyboard.next(Duration::from_millis(20)) {
                Ok(heard) => read.extend(heard.map(|heard| heard.stroke)),
                Err(error) => break error,
            }
        };
        assert!(matches!(ended, KeyerError::PulledOut { .. }), "{ended}");
        let mut expected = codes
            .iter()
            .copied()
            .map(Stroke::Code)
            .chain([Stroke::Break]);
        let right = read.iter().filter(|stroke| **stroke != Stroke::Misread);
        for stroke in right {
            assert!(
                expected.any(|next| next == *stroke),
                "{stroke:?} of {read:?}"
            );
        }
        assert!(read.len() > codes.len() / 2, "{read:?}");
    }
}
