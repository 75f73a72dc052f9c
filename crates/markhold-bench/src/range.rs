//! Step by step to the range of a machine's selector.
//!
//! A pure state machine: it says what to send next, takes whether the machine printed it
//! right, and ends with how much of each kind of distortion the machine bears.
//!
//! ```text
//!   undistorted -> marking bias -> spacing bias -> marking end -> spacing end -> done
//!                  each: climb by 10 % until wrong, then halve down to 1 %
//! ```
//!
//! The four kinds reach the selector from both sides. It looks at an element from `a` to
//! `b` (shares of the element from its beginning): begins of marks may be late by `a`
//! (spacing bias) and early by `1 - b` (marking bias); ends of marks may be late by `a`
//! (marking end) and early by `1 - b` (spacing end). So the range says where the look is.

use crate::{Distortion, Pattern};

/// A kind of distortion the range is found for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Marks begin early.
    MarkingBias,
    /// Marks begin late.
    SpacingBias,
    /// Marks end late.
    MarkingEnd,
    /// Marks end early.
    SpacingEnd,
}

impl Kind {
    /// All, in the order they are tried.
    pub const ALL: [Kind; 4] = [
        Kind::MarkingBias,
        Kind::SpacingBias,
        Kind::MarkingEnd,
        Kind::SpacingEnd,
    ];

    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Kind::MarkingBias => "marking bias",
            Kind::SpacingBias => "spacing bias",
            Kind::MarkingEnd => "marking end distortion",
            Kind::SpacingEnd => "spacing end distortion",
        }
    }

    /// That much of it; `percent` of an element, 0 or more.
    pub fn distortion(self, percent: u8) -> Distortion {
        let share = f64::from(percent) / 100.0;
        let (bias, end) = match self {
            Kind::MarkingBias => (share, 0.0),
            Kind::SpacingBias => (-share, 0.0),
            Kind::MarkingEnd => (0.0, share),
            Kind::SpacingEnd => (0.0, -share),
        };
        Distortion {
            bias,
            end,
            fortuitous: 0.0,
        }
    }
}

/// What to send next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trial {
    /// Number of the trial, from 1.
    pub number: u32,
    /// What to print.
    pub pattern: Pattern,
    /// Kind of distortion; `None` for the undistorted trial in front.
    pub kind: Option<Kind>,
    /// How much, % of an element.
    pub percent: u8,
}

impl Trial {
    /// The distortion to send it with.
    pub fn distortion(&self) -> Distortion {
        self.kind
            .map_or_else(Distortion::default, |k| k.distortion(self.percent))
    }
}

/// What the machine made of a trial.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// All of it printed right.
    Right,
    /// Something printed wrong.
    Wrong,
}

/// How much the machine bears, % of an element, in the order of [`Kind::ALL`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Range {
    /// Largest distortion printed right; the next percent was printed wrong, except at the
    /// end of the scale.
    pub borne: [u8; 4],
}

impl Range {
    /// How much of a kind is borne, %.
    pub fn of(&self, kind: Kind) -> u8 {
        self.borne[kind as usize]
    }

    /// The margin: the least of the four, %. At most 50, the ideal receiver's (geometry).
    pub fn margin(&self) -> u8 {
        self.borne.into_iter().min().unwrap_or(0)
    }

    /// Where the look at an element begins, % of the element: what comes late may reach it.
    pub fn look_begins(&self) -> f64 {
        let late = [Kind::SpacingBias, Kind::MarkingEnd].map(|k| f64::from(self.of(k)));
        late[0].min(late[1])
    }

    /// Where the look at an element ends, % of the element: what comes early may reach it.
    pub fn look_ends(&self) -> f64 {
        let early = [Kind::MarkingBias, Kind::SpacingEnd].map(|k| f64::from(self.of(k)));
        100.0 - early[0].min(early[1])
    }

    /// How far the look is off the centre of the element, %: above 0 it comes too late.
    pub fn off_centre(&self) -> f64 {
        (self.look_begins() + self.look_ends()) / 2.0 - 50.0
    }

    /// The margin that would be left with the look centred, %.
    pub fn margin_centred(&self) -> f64 {
        (100.0 - (self.look_ends() - self.look_begins())) / 2.0
    }
}

/// Where the finding stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Send this and answer.
    Send(Trial),
    /// Even the undistorted pattern is printed wrong: no range can be found yet.
    Unfit,
    /// Found.
    Found(Range),
}

/// Percent from one trial to the next while climbing.
const CLIMB: u8 = 10;
/// Most distortion tried, %: beyond it elements shrink to nothing.
pub const MOST: u8 = 90;

/// The guided finding of a range.
#[derive(Clone, Debug)]
pub struct RangeFinding {
    // Configured.
    pattern: Pattern,
    // State.
    number: u32,
    stage: Stage,
    borne: [u8; 4],
}

#[derive(Clone, Copy, Debug)]
enum Stage {
    Undistorted,
    /// Trying one kind: most known right, least known wrong.
    Kind {
        index: usize,
        right: u8,
        wrong: Option<u8>,
    },
    Unfit,
    Done,
}

impl RangeFinding {
    /// Begins with the undistorted pattern. [`Pattern::Combinations`] tries every
    /// character.
    pub fn new(pattern: Pattern) -> Self {
        Self {
            pattern,
            number: 1,
            stage: Stage::Undistorted,
            borne: [0; 4],
        }
    }

    /// What to do now.
    pub fn step(&self) -> Step {
        let (kind, percent) = match self.stage {
            Stage::Unfit => return Step::Unfit,
            Stage::Done => return Step::Found(Range { borne: self.borne }),
            Stage::Undistorted => (None, 0),
            Stage::Kind {
                index,
                right,
                wrong,
            } => (Some(Kind::ALL[index]), next_percent(right, wrong)),
        };
        Step::Send(Trial {
            number: self.number,
            pattern: self.pattern,
            kind,
            percent,
        })
    }

    /// Takes the answer to the trial that [`Self::step`] gave; nothing happens when there
    /// is none.
    pub fn answer(&mut self, answer: Answer) {
        let right_now = answer == Answer::Right;
        self.number += 1;
        self.stage = match self.stage {
            Stage::Undistorted if right_now => begin(0),
            Stage::Undistorted => Stage::Unfit,
            Stage::Kind {
                index,
                right,
                wrong,
            } => self.narrowed(index, right, wrong, right_now),
            over => over,
        };
    }

    fn narrowed(&mut self, index: usize, right: u8, wrong: Option<u8>, right_now: bool) -> Stage {
        let tried = next_percent(right, wrong);
        let (right, wrong) = if right_now {
            (tried, wrong)
        } else {
            (right, Some(tried))
        };
        if right < MOST && wrong.is_none_or(|w| w > right + 1) {
            return Stage::Kind {
                index,
                right,
                wrong,
            };
        }
        self.borne[index] = right;
        match index + 1 {
            next if next < Kind::ALL.len() => begin(next),
            _ => Stage::Done,
        }
    }
}

fn begin(index: usize) -> Stage {
    Stage::Kind {
        index,
        right: 0,
        wrong: None,
    }
}

fn next_percent(right: u8, wrong: Option<u8>) -> u8 {
    match wrong {
        None => (right + CLIMB).min(MOST),
        Some(wrong) => right + (wrong - right) / 2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sending;
    use crate::line::edges;
    use crate::selector::Selector;
    use markhold_code::StartStop;
    use proptest::prelude::*;

    const SPEED: StartStop = StartStop::new(50.0, 1.5);

    /// A machine with this selector, asked until the range is found.
    fn found_for(selector: &Selector) -> Step {
        let mut finding = RangeFinding::new(Pattern::Combinations);
        for _ in 0..100 {
            let Step::Send(trial) = finding.step() else {
                return finding.step();
            };
            let codes = trial.pattern.codes();
            let sending = Sending {
                distortion: trial.distortion(),
                ..Sending::new(SPEED)
            };
            let line = edges(&sending.line(&codes).expect("in range"));
            let expected: Vec<_> = codes.into_iter().map(Some).collect();
            finding.answer(match selector.select(&line) == expected {
                true => Answer::Right,
                false => Answer::Wrong,
            });
        }
        panic!("no end after 100 trials");
    }

    fn range_of(instant: f64, width: f64) -> Range {
        let selector = Selector {
            speed: SPEED,
            instant,
            width,
        };
        match found_for(&selector) {
            Step::Found(range) => range,
            other => panic!("{other:?}"),
        }
    }

    /// References 3.18, geometry: 50 % on every side; the last percent is the border itself.
    #[test]
    fn the_ideal_selector_has_its_margin() {
        let range = range_of(0.5, 0.0);
        assert!(
            range.borne.iter().all(|b| *b == 49 || *b == 50),
            "{range:?}"
        );
        assert!(range.off_centre().abs() <= 1.0);
    }

    #[test]
    fn a_machine_that_prints_nothing_right_is_unfit() {
        let selector = Selector::ideal(StartStop::new(60.0, 1.5));
        assert_eq!(found_for(&selector), Step::Unfit);
    }

    #[test]
    fn an_answer_too_many_changes_nothing() {
        let mut finding = RangeFinding::new(Pattern::Alternating);
        finding.answer(Answer::Wrong);
        finding.answer(Answer::Right);
        assert_eq!(finding.step(), Step::Unfit);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        /// Wherever the look lies, each kind is found to the percent and the look with it.
        #[test]
        fn the_look_is_found(instant in 0.3..0.7f64, width in 0.0..0.3f64) {
            let range = range_of(instant, width);
            let (a, b) = (100.0 * (instant - width / 2.0), 100.0 * (instant + width / 2.0));
            prop_assert!((range.look_begins() - a).abs() <= 1.0, "{:?} {}", range, a);
            prop_assert!((range.look_ends() - b).abs() <= 1.0, "{:?} {}", range, b);
            prop_assert!((range.off_centre() - 100.0 * (instant - 0.5)).abs() <= 1.0);
            prop_assert!((range.margin_centred() - 50.0 * (1.0 - width)).abs() <= 1.0);
        }

        /// Any answers at all lead to an end, and soon.
        #[test]
        fn every_way_ends(answers in proptest::collection::vec(any::<bool>(), 80)) {
            let mut finding = RangeFinding::new(Pattern::Combinations);
            for right in answers {
                if let Step::Send(trial) = finding.step() {
                    prop_assert!(trial.percent <= MOST);
                    prop_assert!(trial.distortion().check().is_ok());
                }
                finding.answer(if right { Answer::Right } else { Answer::Wrong });
            }
            prop_assert!(!matches!(finding.step(), Step::Send(_)));
        }
    }
}
