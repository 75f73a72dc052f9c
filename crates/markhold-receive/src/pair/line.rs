//! The line: when a signal was on it, and how surely it is a start-stop line.

use super::tones::Grid;
use super::window::WindowReading;
use crate::search::rivals::rivals;

/// Time constant of the evidence against rivals, s.
const MARGIN_S: f64 = 10.0;
/// Evidence against rivals that a certain character stands for, at least: its start and
/// stop elements fell in place by chance once in four, its five elements fit the clock.
const CERTAIN_EVIDENCE: f32 = 4.0;
/// Evidence of a window, against noise alone, from which a signal is on the line. Noise
/// gives about none, however low the expected power has fallen.
const PRESENT_EVIDENCE: f32 = 5.0;
/// From the begin of a character to where the next may begin, elements; a line with a character
/// in every so many of these is as busy as can be.
const CHARACTER: f64 = 7.0;
const BUSY: f64 = 1.5;
/// Fewer certain characters in a window do not stand for evidence.
const CERTAIN_CHARACTERS: usize = 4;

/// Evidence that a line is a start-stop line, over other explanations; natural logarithm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Margin {
    /// Over noise, a steady tone, and two carriers keyed each for itself.
    pub apart: f32,
    /// Over elements of the same length in any order.
    pub unframed: f32,
}

impl Margin {
    /// Over the best of these, where elements in any order are so much less likely beforehand.
    pub fn over_all(self, unlikely: f32) -> f32 {
        self.apart.min(self.unframed + unlikely)
    }

    fn of(reading: &WindowReading, is_certain: bool) -> Self {
        let heard = reading.readings.len();
        if heard >= CERTAIN_CHARACTERS && is_certain {
            let certain = CERTAIN_EVIDENCE * heard as f32;
            return Self {
                apart: certain,
                unframed: certain,
            };
        }
        let evidence = reading.framed.evidence + reading.framed.head;
        let rivals = rivals(&reading.elements);
        Self {
            apart: evidence - rivals.apart,
            unframed: evidence - rivals.unframed,
        }
    }
}

/// What became of the line by the last commit point.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineState {
    /// The latest commit point at which a signal was there, s.
    pub on_until_s: Option<f64>,
    /// Evidence of the last ten seconds or so in which something was sent.
    pub margin: Margin,
}

impl LineState {
    /// Takes in whether the line was on in a window up to `commit_s`.
    pub fn notice(&mut self, reading: &WindowReading, commit_s: f64) {
        if reading.framed.evidence > PRESENT_EVIDENCE {
            self.on_until_s = Some(commit_s);
        }
    }

    /// Takes in the evidence of a window of which `advanced_s` are new. Where the reading
    /// `is_certain` the number of characters stands for it.
    pub fn weigh(
        &mut self,
        grid: &Grid,
        reading: &WindowReading,
        advanced_s: f64,
        is_certain: bool,
    ) {
        let window_s = grid.points as f64 * grid.step_s;
        let share = (advanced_s / window_s).min(1.0) as f32;
        let keep = (-advanced_s * sent(reading, grid) / MARGIN_S).exp() as f32;
        let margin = Margin::of(reading, is_certain);
        self.margin = Margin {
            apart: self.margin.apart * keep + margin.apart * share,
            unframed: self.margin.unframed * keep + margin.unframed * share,
        };
    }
}

/// Share of a window in which something was sent, or nothing was there: a line that is there and
/// stays at mark says nothing of what it is, and what was known of it holds.
fn sent(reading: &WindowReading, grid: &Grid) -> f64 {
    if reading.framed.evidence < PRESENT_EVIDENCE {
        return 1.0;
    }
    let elements = grid.points as f64 / grid.steps as f64;
    (BUSY * CHARACTER * reading.readings.len() as f64 / elements).min(1.0)
}
