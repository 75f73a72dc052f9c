//! Where sound is missing from the sheet, for how long and why.

use markhold_station::report::InputReport;

/// What follows on another loss of the same kind within this is one with it, s.
const TOGETHER_S: f64 = 2.0;

/// Why something is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The sound card lost samples.
    Card,
    /// The input was gone.
    Input,
    /// The copying was too slow.
    Slow,
    /// Nothing is missing: the computer's clock was set.
    Clock,
}

/// A place where the sheet is not whole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// What comes from here on comes after it, live time, s.
    pub at_s: f64,
    /// How much is missing, s, if anybody knows; for the clock, by how much it was put forward.
    pub lost_s: Option<f64>,
    /// Why.
    pub cause: Cause,
}

impl Gap {
    /// What was told of the input, if it leaves a gap.
    pub fn of(told: &InputReport) -> Option<Self> {
        let gap = |at_s: f64, lost_s, cause| Gap {
            at_s,
            lost_s,
            cause,
        };
        match *told {
            InputReport::Gap { at_s, lost_s } => Some(gap(at_s, Some(lost_s), Cause::Card)),
            InputReport::Lost { at_s } => Some(gap(at_s, None, Cause::Card)),
            InputReport::Back { at_s, lost_s, .. } => Some(gap(at_s, Some(lost_s), Cause::Input)),
            InputReport::Behind { at_s, lost_s } => Some(gap(at_s, Some(lost_s), Cause::Slow)),
            InputReport::ClockSet { at_s, by_s } => Some(gap(at_s, Some(by_s), Cause::Clock)),
            _ => None,
        }
    }

    /// Takes in another one if both are one loss.
    pub fn take(&mut self, other: &Gap) -> bool {
        let missing_s = self.lost_s.unwrap_or(0.0);
        let near = (other.at_s - self.at_s).abs() < TOGETHER_S + missing_s;
        let same = self.cause == other.cause && self.cause != Cause::Clock;
        if near && same {
            let known = self.lost_s.zip(other.lost_s);
            self.lost_s = known.map(|(a, b)| a + b);
        }
        near && same
    }

    /// In words.
    pub fn words(&self) -> String {
        let long = self.lost_s.map(|s| span(s.abs()));
        match (self.cause, long) {
            (Cause::Card, Some(long)) => format!("{long} of sound lost here by the sound card"),
            (Cause::Card, None) => {
                "some sound lost here by the sound card; how much is not known".into()
            }
            (Cause::Input, Some(long)) => format!("{long} without sound: the input was gone"),
            (Cause::Input, None) => "a while without sound: the input was gone".into(),
            (Cause::Slow, long) => format!(
                "{} not copied: this computer was too slow; the sound is kept",
                long.unwrap_or_else(|| "some sound".into())
            ),
            (Cause::Clock, long) => {
                let way = if self.lost_s < Some(0.0) {
                    "back"
                } else {
                    "forward"
                };
                let by = long.unwrap_or_default();
                format!("the computer's clock was put {way} by {by}; times here go on as before")
            }
        }
    }
}

/// A length of time as one would say it.
fn span(s: f64) -> String {
    match s {
        s if s < 10.0 => format!("{s:.1} s"),
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.0} h", s / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_and_causes_are_said() {
        let words = |cause, lost_s| {
            Gap {
                at_s: 5.0,
                lost_s,
                cause,
            }
            .words()
        };
        assert!(words(Cause::Card, Some(0.32)).starts_with("0.3 s of sound lost"));
        assert!(words(Cause::Card, None).contains("not known"));
        assert!(words(Cause::Input, Some(125.0)).starts_with("2 min without sound"));
        assert!(words(Cause::Slow, Some(40.0)).starts_with("40 s not copied"));
        assert!(words(Cause::Clock, Some(-7200.0)).contains("put back by 2 h"));
    }

    #[test]
    fn losses_on_end_are_one() {
        let slow = |at_s| Gap {
            at_s,
            lost_s: Some(0.5),
            cause: Cause::Slow,
        };
        let mut gap = slow(10.0);
        assert!((1..20).all(|k| gap.take(&slow(10.0 + 0.5 * f64::from(k)))));
        assert_eq!(gap.lost_s, Some(10.0));
        assert!(
            !gap.take(&slow(60.0))
                && !gap.take(&Gap {
                    cause: Cause::Card,
                    ..slow(10.0)
                })
        );
    }
}
