//! The line at mark: how likely its next steps are, from what is known of a sender's stops.
//!
//! States and ways are those of the drawing in [`super::framing`].

/// Elements from the begin of a character to the end of its first whole stop unit.
pub(super) const CHARACTER: usize = 7;
/// States of the line at mark that the window keeps apart: in the first stop unit's end,
/// in the second's, in a short pause, in a long one.
pub(super) const MARKS: usize = 4;
/// The ways in which the next character may begin after them: pauses all end alike.
pub(super) const WAYS: usize = 3;
/// The states of a pause.
pub(super) const SHORT: usize = 2;
pub(super) const LONG: usize = 3;

/// Probability that a short pause ends within an element: somebody typing.
const TYPED: f32 = 0.1;
/// Probability that a pause is seen to be a long one, in each element that it lasts.
const SETTLED: f32 = 0.02;
/// Probability that a long pause ends within an element: one of some seconds.
pub const RESUMED: f32 = 0.003;

/// Runs of characters whose stops are all alike: of one unit, of two.
pub(super) const RUNS: usize = 2;
/// The mark state that is left where a run ends after a character.
pub(super) const AFTER: [usize; RUNS] = [0, SHORT];
/// Share of the stops of such a length that begin a run of them.
const ALIKE: f32 = 0.3;
/// Probability that a run ends after a character.
pub const APART: f32 = 0.03;
/// A character of such a run begins a grid point early, and a point late: what an error of
/// the rate adds up to now and then.
pub const EARLY: f32 = 0.03;

/// How likely the line's next steps are; natural logarithms where not said otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct LinePriors {
    /// `next[m][r]`: from mark state `m`, the next character begins after `r` steps; a
    /// plain probability, for these are summed. For a pause, given that it ends within the
    /// element.
    pub next: [Vec<f32>; WAYS],
    /// A short and a long pause end within an element; plain probabilities.
    pub ends: [f32; 2],
    /// From mark state `m`, at least one whole element more of mark follows.
    pub stay: [f32; MARKS],
    /// The same, and a short pause becomes a long one.
    pub settle: f32,
    /// A character with a stop of any length is the first of a run of those whose stops are
    /// one unit each, or two.
    pub runs: [f32; RUNS],
    /// The signal begins at a grid point.
    pub on: f32,
    /// The signal ends at a grid point where an element of mark ended.
    pub off: f32,
}

impl LinePriors {
    /// Priors that know nothing of the sender, for `steps` grid points to the element:
    /// half of all stops end within the second unit, with some favour for 1.42 and 1.5
    /// units, and idle line ends after some ten elements.
    pub fn unknown(steps: usize) -> Self {
        Self::from_stops(&Self::unknown_stops(steps), steps, 0.35)
    }

    /// Share of an unknown sender's stops that are `1 + d/steps` units long, for `d` below
    /// two elements; they add up to 1.
    pub fn unknown_stops(steps: usize) -> Vec<f32> {
        let weights: Vec<f32> = (0..2 * steps)
            .map(|d| Self::unknown_stop(d, steps))
            .collect();
        let total: f32 = weights.iter().sum();
        weights.iter().map(|w| w / total).collect()
    }

    fn unknown_stop(extra: usize, steps: usize) -> f32 {
        let units = 1.0 + extra as f32 / steps as f32;
        let near = |at: f32| (-((units - at) * 12.0).powi(2)).exp();
        let favoured = near(1.0) + 2.0 * near(1.45) + near(1.55) + near(2.0);
        if units <= 2.0 { 0.3 + favoured } else { 0.1 }
    }

    /// Priors from the share of characters whose stop element was `1 + d/steps` units long
    /// (`stops[d]`, two elements' worth, any scale) and the share with a longer pause.
    pub fn from_stops(stops: &[f32], steps: usize, paused: f32) -> Self {
        let total: f32 = stops.iter().sum::<f32>().max(f32::MIN_POSITIVE);
        let share: Vec<f32> = stops.iter().map(|s| s / total * (1.0 - paused)).collect();
        let ends_first: f32 = share[..steps].iter().sum();
        let stays_first = (1.0 - ends_first).max(1e-6);
        let second: Vec<f32> = share[steps..2 * steps]
            .iter()
            .map(|s| s / stays_first)
            .collect();
        let stays_second = (1.0 - second.iter().sum::<f32>()).max(1e-6);
        let some = |s: &f32| s.max(1e-9);
        let goes_on = 1.0 - TYPED;
        Self {
            next: [
                share[..steps].iter().map(some).collect(),
                second.iter().map(some).collect(),
                vec![1.0 / steps as f32; steps],
            ],
            ends: [TYPED, RESUMED],
            stay: [
                stays_first.ln(),
                stays_second.ln(),
                (goes_on * (1.0 - SETTLED)).ln(),
                (1.0 - RESUMED).ln(),
            ],
            settle: (goes_on * SETTLED).ln(),
            runs: [
                share[0] + share[1],
                share[steps - 1] + share[steps] + share[steps + 1],
            ]
            .map(|share| (ALIKE * share).clamp(1e-6, 0.4).ln()),
            on: (1e-4f32 / steps as f32).ln(),
            off: 1e-6f32.ln(),
        }
    }
}

impl LinePriors {
    /// Probability of each mark state after so many whole elements more of mark, from the end
    /// of the first unit of a stop.
    pub fn after_stop(&self, whole: usize) -> [f32; MARKS] {
        match whole {
            0 => [1.0, 0.0, 0.0, 0.0],
            1 => [0.0, self.stay[0].exp(), 0.0, 0.0],
            _ => {
                let pause = (self.stay[0] + self.stay[1]).exp();
                self.after_pause([pause, 0.0], whole - 2)
            }
        }
    }

    /// The same from within a pause, of which this much is a short and a long one.
    pub fn after_pause(&self, [short, long]: [f32; 2], whole: usize) -> [f32; MARKS] {
        let (stays, settles) = (self.stay[SHORT].exp(), self.settle.exp());
        let lasts = self.stay[LONG].exp();
        let (stayed, lasted) = (stays.powi(whole as i32), lasts.powi(whole as i32));
        let settled = settles * (lasted - stayed) / (lasts - stays);
        [0.0, 0.0, short * stayed, short * settled + long * lasted]
    }

    /// Probability that the next character begins `r` steps later, given the probability of
    /// each mark state.
    pub fn begins(&self, state: [f32; MARKS], r: usize) -> f32 {
        let pause = state[SHORT] * self.ends[0] + state[LONG] * self.ends[1];
        state[0] * self.next[0][r] + state[1] * self.next[1][r] + pause * self.next[2][r]
    }

    /// Probability that the line stays at mark for a whole element more.
    pub fn stays(&self, state: [f32; MARKS]) -> f32 {
        let ends: f32 = state[SHORT] * self.ends[0] + state[LONG] * self.ends[1];
        state[0] * self.stay[0].exp() + state[1] * self.stay[1].exp() + state[SHORT] + state[LONG]
            - ends
    }

    /// A character is the first of no run.
    pub(super) fn open(&self) -> f32 {
        (-self.runs.map(f32::exp).iter().sum::<f32>()).ln_1p()
    }

    /// The line stays off from one grid point to the next, or comes on for no time at all.
    /// The latter counts here, so that each point waits for one sum only of the last one's.
    pub(super) fn stay_off(&self) -> f32 {
        let on = self.on.exp();
        (on * self.off.exp() - on).ln_1p()
    }
}

/// Log probabilities within a run.
pub(super) struct Run {
    pub(super) goes_on: f32,
    pub(super) apart: f32,
    pub(super) on_time: f32,
    pub(super) off_time: f32,
    /// No run begins.
    pub(super) open: f32,
}

impl Run {
    pub(super) fn new(priors: &LinePriors) -> Self {
        Self {
            goes_on: (1.0 - APART).ln(),
            apart: APART.ln(),
            on_time: (1.0 - 2.0 * EARLY).ln(),
            off_time: EARLY.ln(),
            open: priors.open(),
        }
    }
}
