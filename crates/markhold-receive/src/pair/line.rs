//! The line: when a signal was on it, and how surely it is a start-stop line.

use super::rivals::rivals;
use super::tones::Grid;
use super::window::WindowReading;

/// Time constant of the evidence against rivals, s.
const MARGIN_S: f64 = 10.0;
/// Evidence against rivals that a certain character stands for, at least: its start and
/// stop elements fell in place by chance once in four, its five elements fit the clock.
const CERTAIN_EVIDENCE: f32 = 4.0;
/// Evidence against a line in one window is bounded: what slides across a tone stands on it for as
/// long, by hundreds, and is gone again. Several windows are needed to refute what was confirmed.
const LEAST_MARGIN: f32 = -60.0;
/// Evidence of a window, against noise alone, from which a signal is on the line. Noise
/// gives about none, however low the expected power has fallen.
const PRESENT_EVIDENCE: f32 = 5.0;
/// Fewer certain characters in a window do not stand for evidence.
const CERTAIN_CHARACTERS: usize = 4;

/// What became of the line by the last commit point.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineState {
    /// The latest commit point at which a signal was there, s.
    pub on_until_s: Option<f64>,
    /// Evidence of the last ten seconds or so that this is a start-stop line, over the best
    /// other explanation; natural logarithm.
    pub margin: f32,
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
        let share = (advanced_s / (grid.points as f64 * grid.step_s)).min(1.0) as f32;
        let keep = (-advanced_s / MARGIN_S).exp() as f32;
        let heard = reading.readings.len();
        let margin = if heard >= CERTAIN_CHARACTERS && is_certain {
            CERTAIN_EVIDENCE * heard as f32
        } else {
            let framed = &reading.framed;
            framed.evidence + framed.head - rivals(&reading.elements)
        };
        let margin = margin.max(LEAST_MARGIN);
        self.margin = self.margin * keep + margin * share;
    }
}
