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
        let mark = self.wire.look()? != self.inverted;
        self.seen(self.begun.elapsed().as_secs_f64(), mark);
        Ok(())
    }

    /// At `at_s` the line is mark, or not.
    fn seen(&mut self, at_s: f64, mark: bool) {
        let before_s = std::mem::replace(&mut self.looked_s, at_s);
        let changed = std::mem::replace(&mut self.mark, mark) != mark;
        if at_s - before_s > self.most_apart_s {
            // Others had the processor: better nothing than a wrong letter.
            self.framer.lost(before_s, at_s, mark);
        } else if changed {
            self.framer.edge((before_s + at_s) / 2.0, mark);
        } else {
            self.framer.until(at_s);
        }
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
    use proptest::prelude::*;

    /// One element at 45.45 baud, s.
    const ELEMENT_S: f64 = 0.022;

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
            Ok(is_mark(&self.line, at_s))
        }
    }

    fn is_mark(line: &[(f64, bool)], at_s: f64) -> bool {
        let before = line.iter().rev().find(|edge| edge.0 <= at_s);
        before.is_none_or(|edge| edge.1)
    }

    /// A line of codes that rests for so many elements after each, and their start edges, s.
    fn keyed(codes: &[(Code, f64)]) -> (Vec<(f64, bool)>, Vec<f64>) {
        let (mut line, mut starts, mut at_s) = (Vec::new(), Vec::new(), 0.2);
        for (code, rest) in codes {
            starts.push(at_s);
            line.push((at_s, false));
            let elements = code.elements().into_iter().chain([true]).enumerate();
            line.extend(elements.map(|(k, mark)| (at_s + (k + 1) as f64 * ELEMENT_S, mark)));
            at_s += (6.0 + rest) * ELEMENT_S;
        }
        (line, starts)
    }

    /// All that is framed of a line that is looked at after each of these times, elements, over and
    /// over again.
    fn framed(line: Vec<(f64, bool)>, end_s: f64, apart: &[f64]) -> Vec<(f64, Stroke)> {
        let wire = Keyed {
            begun: Instant::now(),
            line: vec![],
            end_s: f64::INFINITY,
        };
        let speed = StartStop::new(1.0 / ELEMENT_S, 1.5);
        let mut keyboard = WireKeyboard::new(wire, speed, 0.2, false).unwrap();
        let mut at_s = 0.0;
        for apart in apart.iter().cycle() {
            at_s += apart * ELEMENT_S;
            if at_s > end_s {
                break;
            }
            keyboard.seen(at_s, is_mark(&line, at_s));
        }
        let all = std::iter::from_fn(|| keyboard.framer.take());
        all.map(|framed| (framed.start_s, framed.stroke)).collect()
    }

    proptest! {
        /// However late a busy computer looks, and however often: no character is read that was not
        /// keyed there.
        #[test]
        fn what_is_read_is_never_wrong(
            codes in proptest::collection::vec((0u8..32, prop_oneof![Just(1.0), Just(1.5), 1.0..12.0]), 1..30),
            apart in proptest::collection::vec(prop_oneof![30 => Just(0.04), 2 => 0.02..1.2f64, 1 => 0.02..20.0f64], 40..400),
        ) {
            let codes: Vec<_> = codes.iter().map(|(code, rest)| (Code::new(*code).unwrap(), *rest)).collect();
            let (line, starts) = keyed(&codes);
            let end_s = line.last().unwrap().0 + 0.3;
            for (start_s, stroke) in framed(line, end_s, &apart) {
                let Stroke::Code(code) = stroke else { continue };
                let mut keyed = starts.iter().zip(&codes);
                let near = keyed.find(|(at_s, _)| (*at_s - start_s).abs() < ELEMENT_S / 2.0);
                prop_assert_eq!(near.map(|(_, (code, _))| *code), Some(code), "at {} s", start_s);
            }
        }

        /// Looked at in time all is read; after one gap anywhere all from the next pause on.
        #[test]
        fn what_is_looked_at_in_time_is_read(
            codes in proptest::collection::vec((0u8..32, 1.0..3.0f64), 2..30),
            (before, gap) in (10usize..4000, 0.5..30.0f64),
        ) {
            let mut codes: Vec<_> = codes.iter().map(|(code, rest)| (Code::new(*code).unwrap(), *rest)).collect();
            let strokes = |codes: &[(Code, f64)]| codes.iter().map(|c| Stroke::Code(c.0)).collect::<Vec<_>>();
            let read = |codes: &[(Code, f64)], apart: &[f64]| {
                let (line, _) = keyed(codes);
                let end_s = line.last().unwrap().0 + 0.3;
                framed(line, end_s, apart).into_iter().map(|(_, stroke)| stroke).collect::<Vec<_>>()
            };
            prop_assert_eq!(read(&codes, &[0.04]), strokes(&codes));
            let count = codes.len();
            codes.last_mut().unwrap().1 = 60.0;
            codes.extend_from_within(..);
            let mut apart = vec![0.04; 20_000];
            apart[before.min(25 * 9 * count)] = gap;
            let after = read(&codes, &apart);
            prop_assert!(after.ends_with(&strokes(&codes[count..])), "{after:?}");
        }
    }

    /// On a computer with other things to do a character may be lost; none is read wrong.
    #[test]
    fn what_a_wire_does_is_read_and_never_wrong() {
        let codes = encode("RYRY QUICK 73", FiguresRow::Us, EncodeOptions::default()).unwrap();
        // After a pause it is known again where characters begin, if somebody was late.
        let sent: Vec<_> = codes.iter().map(|code| (*code, 8.0)).collect();
        let (mut line, _) = keyed(&sent);
        let begins_s = line.last().unwrap().0 + 8.0 * ELEMENT_S;
        line.extend([(begins_s, false), (begins_s + 0.3, true)]);
        let end_s = line.last().unwrap().0 + 0.05;
        let begun = Instant::now();
        let wire = Keyed { begun, line, end_s };
        let speed = StartStop::new(1.0 / ELEMENT_S, 1.5);
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
