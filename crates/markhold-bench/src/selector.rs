//! An ideal receiving selector: what a machine in adjustment makes of a line.

use crate::line::{Edge, is_mark};
use markhold_code::{Code, Format, StartStop};

/// A selector that looks at each element during a part of it.
///
/// An element is taken as mark if the line is mark all through that part, as space if it
/// is space all through; if it changes there, the outcome is a chance and counts as wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Selector {
    /// Speed the machine runs at.
    pub speed: StartStop,
    /// Middle of the part looked at, in elements from the beginning of the element; 0.5 is
    /// its centre.
    pub instant: f64,
    /// Length of the part looked at, elements; 0 is the ideal.
    pub width: f64,
}

impl Selector {
    /// The ideal selector: the centre of each element, at once. Instants at 1.5, 2.5, 3.5,
    /// 4.5 and 5.5 units after the start edge (references 3.18, geometry).
    pub fn ideal(speed: StartStop) -> Self {
        Self {
            speed,
            instant: 0.5,
            width: 0.0,
        }
    }

    /// The characters selected from a line; `None` where an element changed while it was
    /// looked at, or the stop element was space.
    pub fn select(&self, line: &[Edge]) -> Vec<Option<Code>> {
        let mut selected = Vec::new();
        let mut free_s = f64::NEG_INFINITY;
        for edge in line {
            if edge.mark || edge.at_s < free_s {
                continue;
            }
            selected.push(self.character(line, edge.at_s));
            // The shaft stops and latches after its look at the stop element.
            free_s =
                edge.at_s + (StartStop::UNITS_BEFORE_STOP + self.instant) * self.speed.element_s();
        }
        selected
    }

    fn character(&self, line: &[Edge], start_s: f64) -> Option<Code> {
        let mut elements = [false; Code::UNITS];
        for (k, element) in elements.iter_mut().enumerate() {
            *element = self.look(line, start_s, k + 1)?;
        }
        (self.look(line, start_s, Format::FIVE_UNIT.units_before_stop())?)
            .then(|| Code::from_elements(elements))
    }

    /// The condition during the look at the element that begins `units` after the start.
    fn look(&self, line: &[Edge], start_s: f64, units: usize) -> Option<bool> {
        let at_s = |part: f64| start_s + (units as f64 + part) * self.speed.element_s();
        let begin = at_s(self.instant - self.width / 2.0);
        let end = at_s(self.instant + self.width / 2.0);
        let changed = line.iter().any(|e| begin < e.at_s && e.at_s < end);
        (!changed).then(|| is_mark(line, end))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::{Distortion, Pattern, Sending};

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    fn reads_right(selector: &Selector, sending: &Sending) -> bool {
        let codes = Pattern::Combinations.codes();
        let line = edges(&sending.line(&codes).expect("not too much"));
        let expected: Vec<_> = codes.into_iter().map(Some).collect();
        selector.select(&line) == expected
    }

    fn distorted(distortion: Distortion) -> Sending {
        Sending {
            distortion,
            ..Sending::new(SPEED)
        }
    }

    /// References 3.18, geometry: the margin of the ideal receiver is 50 %.
    #[test]
    fn the_ideal_margin_is_half_an_element() {
        let ideal = Selector::ideal(SPEED);
        for sign in [-1.0, 1.0] {
            for (share, right) in [(0.0, true), (0.49, true), (0.51, false)] {
                let bias = Distortion {
                    bias: sign * share,
                    ..Distortion::default()
                };
                let end = Distortion {
                    end: sign * share,
                    ..Distortion::default()
                };
                assert_eq!(reads_right(&ideal, &distorted(bias)), right, "{bias:?}");
                assert_eq!(reads_right(&ideal, &distorted(end)), right, "{end:?}");
            }
        }
    }

    /// References 3.19, geometry: speed error alone uses up all 50 % at 7.69 % for a machine
    /// that runs fast (0.5/6.5, the look at the stop element) and at 9.09 % for one that
    /// runs slow (0.5/5.5, the look at element 5; the stop element of 1.5 units is long).
    #[test]
    fn speed_error_alone_uses_up_the_margin() {
        let line = Sending::new(SPEED);
        // The machine's own unit is 1 + e of the line's.
        let machine = |e: f64| Selector::ideal(StartStop::new(50.0 / (1.0 + e), 1.5));
        for (e, right) in [
            (-0.0765, true),
            (-0.0775, false),
            (0.0905, true),
            (0.0915, false),
        ] {
            assert_eq!(reads_right(&machine(e), &line), right, "{e}");
        }
    }

    /// References 3.20, geometry: 0.75 % of speed moves the instants at 5.5, 6 and 6.5
    /// units by 4.1, 4.5 and 4.9 % of a unit, and takes that much of the margin.
    #[test]
    fn the_allowed_speed_error_takes_its_share_of_the_margin() {
        for (units, percent) in [(5.5, 4.1), (6.0, 4.5), (6.5, 4.9)] {
            assert!((100.0 * 0.0075 * units - percent) < 0.051_f64, "{units}");
        }
        // Fast machine: the stop element is looked at at 6.5 (1 - e); late marks reach it.
        let fast = Selector::ideal(StartStop::new(50.0 / (1.0 - 0.0075), 1.5));
        for (bias, right) in [(-0.449, true), (-0.453, false)] {
            let distortion = Distortion {
                bias,
                ..Distortion::default()
            };
            assert_eq!(reads_right(&fast, &distorted(distortion)), right, "{bias}");
        }
    }

    #[test]
    fn a_wide_or_misplaced_look_costs_what_it_covers() {
        let selector = Selector {
            instant: 0.6,
            width: 0.2,
            ..Selector::ideal(SPEED)
        };
        // Begins of marks: late ones reach the look at 0.5, early ones at -0.3.
        for (bias, right) in [(-0.49, true), (-0.51, false), (0.29, true), (0.31, false)] {
            let distortion = Distortion {
                bias,
                ..Distortion::default()
            };
            assert_eq!(
                reads_right(&selector, &distorted(distortion)),
                right,
                "{bias}"
            );
        }
    }
}
