//! Codes as a keyed line, exact in time, distorted on purpose.
//!
//! ```text
//!              start          1     2     3     4     5    stop
//!   mark  ----+     +-----------+     +-----+           +-------
//!   space     +-----+           +-----+     +-----------+
//!             ^     ^           ^
//!             |     |           an end of a mark: late by `end`
//!             |     a begin of a mark: early by `bias`
//!             the start edge: every instant counts from here, it is never moved
//! ```

use markhold_code::{Code, StartStop, Stretch};
use rand::RngExt;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

/// Distortion of a line, in shares of one element (0.1 = 10 %).
///
/// The kinds are those of Federal Standard 1037C. Start-stop distortion counts from the
/// start edge of its own character (ITU-T R.140, FS-1037C), so no kind moves that edge.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Distortion {
    /// Bias: above 0 every mark begins that much early (marking bias, marks lengthened),
    /// below 0 that much late (spacing bias).
    pub bias: f64,
    /// End distortion: above 0 every end of a mark but that of the stop element is late
    /// (marking end, run on), below 0 early (spacing end, cut short).
    pub end: f64,
    /// Fortuitous: every transition but the start edge is moved by a random share, uniform
    /// between minus and plus this much; 0 or more.
    pub fortuitous: f64,
}

/// A distortion that would swallow whole elements.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "the distortion adds up to {:.0} % of an element (bias + end + twice fortuitous); \
     keep it below 100 %, or elements vanish", 100.0 * .found
)]
pub struct DistortionError {
    /// The worst shortening of an element, as its share.
    pub found: f64,
}

impl Distortion {
    /// Checks that no element can vanish.
    ///
    /// # Errors
    ///
    /// The shortest element would be empty, or a number is not finite.
    pub fn check(self) -> Result<(), DistortionError> {
        let found = self.bias.abs() + self.end.abs() + 2.0 * self.fortuitous.abs();
        // Written so that NaN is refused.
        if found < 1.0 {
            Ok(())
        } else {
            Err(DistortionError { found })
        }
    }
}

/// How codes are sent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sending {
    /// Modulation rate really sent and length of the stop element. A speed error is a rate
    /// that is off.
    pub speed: StartStop,
    /// Distortion put on.
    pub distortion: Distortion,
    /// Mark before the first character, s.
    pub lead_s: f64,
    /// Mark after the last stop element, s.
    pub tail_s: f64,
    /// Seed of the fortuitous distortion.
    pub seed: u64,
}

impl Sending {
    /// An undistorted sending with half a second of mark on both sides.
    pub fn new(speed: StartStop) -> Self {
        Self {
            speed,
            distortion: Distortion::default(),
            lead_s: 0.5,
            tail_s: 0.5,
            seed: 1,
        }
    }

    /// The line of these codes: stretches in alternating conditions, the first mark.
    ///
    /// Instants are computed from the beginning, so nothing accumulates: the speed is
    /// exact to rounding whatever the length.
    ///
    /// # Errors
    ///
    /// The distortion would swallow whole elements.
    pub fn line(&self, codes: &[Code]) -> Result<Vec<Stretch>, DistortionError> {
        self.distortion.check()?;
        let mut random = Xoshiro256PlusPlus::seed_from_u64(self.seed);
        let mut line = Vec::new();
        let (mut mark, mut since_s) = (true, 0.0);
        for (k, code) in codes.iter().enumerate() {
            let start_s = self.lead_s + k as f64 * self.speed.character_s();
            for (units, to_mark) in transitions(*code) {
                let moved = self.moved(units, to_mark, &mut random);
                let at_s = start_s + (f64::from(units) + moved) * self.speed.element_s();
                line.push(Stretch {
                    mark,
                    length_s: at_s - since_s,
                });
                (mark, since_s) = (to_mark, at_s);
            }
        }
        let end_s = self.lead_s + codes.len() as f64 * self.speed.character_s() + self.tail_s;
        line.push(Stretch {
            mark,
            length_s: end_s - since_s,
        });
        Ok(line)
    }

    fn moved(&self, units: u8, to_mark: bool, random: &mut Xoshiro256PlusPlus) -> f64 {
        let Distortion {
            bias,
            end,
            fortuitous,
        } = self.distortion;
        if units == 0 {
            return 0.0;
        }
        let chance = (2.0 * random.random::<f64>() - 1.0) * fortuitous;
        chance + if to_mark { -bias } else { end }
    }
}

/// The transitions of a character: units after the start edge (0 to 6) and whether they
/// go to mark. The first is the start edge itself.
pub fn transitions(code: Code) -> impl Iterator<Item = (u8, bool)> {
    (0..7u8).filter_map(move |units| {
        let before = match units {
            0 => true,
            1 => false,
            n => code.is_mark(usize::from(n) - 2),
        };
        let after = units > 0 && code.is_mark(usize::from(units) - 1);
        (before != after).then_some((units, after))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn total(line: &[Stretch]) -> f64 {
        line.iter().map(|s| s.length_s).sum()
    }

    #[test]
    fn without_distortion_it_is_the_line_of_the_code_crate() {
        let speed = StartStop::new(50.0, 1.5);
        for code in Code::ALL {
            let mut expected: Vec<Stretch> = Vec::new();
            for s in speed.stretches(code) {
                match expected.last_mut() {
                    Some(last) if last.mark == s.mark => last.length_s += s.length_s,
                    _ => expected.push(s),
                }
            }
            let line = Sending {
                tail_s: 0.0,
                ..Sending::new(speed)
            }
            .line(&[code])
            .expect("undistorted");
            assert_eq!(line.len(), expected.len() + 1, "{code:?}");
            for (found, expected) in line[1..].iter().zip(&expected) {
                assert_eq!(found.mark, expected.mark);
                assert!((found.length_s - expected.length_s).abs() < 1e-12);
            }
        }
    }

    /// US Army teletypewriter training text (3.14): a mark shortened is spacing bias.
    #[test]
    fn bias_lengthens_marks_and_end_distortion_ends_them_late() {
        let speed = StartStop::new(50.0, 1.5);
        // 01000: start, space; one mark; three spaces.
        let lengths = |distortion| {
            let sending = Sending {
                distortion,
                ..Sending::new(speed)
            };
            let line = sending.line(&[Code::LINE_FEED]).expect("small");
            line.iter().map(|s| s.length_s * 50.0).collect::<Vec<_>>()
        };
        let near = |found: &[f64], expected: [f64; 3]| {
            for (f, e) in found[1..4].iter().zip(expected) {
                assert!((f - e).abs() < 1e-9, "{found:?}");
            }
        };
        let bias = |bias| Distortion {
            bias,
            ..Distortion::default()
        };
        let end = |end| Distortion {
            end,
            ..Distortion::default()
        };
        near(&lengths(bias(0.09)), [1.91, 1.09, 2.91]);
        near(&lengths(bias(-0.09)), [2.09, 0.91, 3.09]);
        near(&lengths(end(0.2)), [2.0, 1.2, 2.8]);
        near(&lengths(end(-0.2)), [2.0, 0.8, 3.2]);
    }

    #[test]
    fn the_speed_stays_exact_over_an_hour() {
        let speed = StartStop::new(1.0 / 0.022, 1.5);
        let codes = crate::Pattern::Alternating.at_least(22_000);
        let line = Sending::new(speed).line(&codes).expect("undistorted");
        let expected = 1.0 + codes.len() as f64 * speed.character_s();
        // The target is 0.01 % of the speed; rounding is all that is left.
        assert!((total(&line) / expected - 1.0).abs() < 1e-9);
    }

    #[test]
    fn what_would_swallow_elements_is_refused() {
        let sending = |bias, end, fortuitous| Sending {
            distortion: Distortion {
                bias,
                end,
                fortuitous,
            },
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let error = sending(0.5, -0.3, 0.1).line(&[Code::LETTERS]).unwrap_err();
        assert!(error.to_string().contains("100 %"), "{error}");
        assert!(sending(f64::NAN, 0.0, 0.0).line(&[]).is_err());
        assert!(sending(0.49, 0.0, 0.25).line(&Code::ALL).is_ok());
    }

    proptest! {
        #[test]
        fn stretches_alternate_and_have_length(
            values in proptest::collection::vec(0u8..32, 1..40),
            (bias, end, fortuitous) in (-0.3..0.3f64, -0.3..0.3f64, 0.0..0.19f64),
            stop in 1.0..2.0f64,
            seed: u64,
        ) {
            let codes: Vec<Code> = values.into_iter().filter_map(Code::new).collect();
            let sending = Sending {
                distortion: Distortion { bias, end, fortuitous },
                seed,
                ..Sending::new(StartStop::new(75.0, stop))
            };
            let line = sending.line(&codes).expect("below the limit");
            prop_assert!(line[0].mark && line[line.len() - 1].mark);
            for pair in line.windows(2) {
                prop_assert!(pair[0].mark != pair[1].mark);
            }
            for stretch in &line {
                prop_assert!(stretch.length_s > 0.0);
            }
        }
    }
}
