//! Shifts: in which shift a sender is, and what its machine does, without any language.
//!
//! A sender prints letters or figures and sends a shift where the two change. Everything is
//! followed at once, forward and back, over the likelihoods of all codes:
//!
//! ```text
//!   habit   holds      a shift holds until the next (the rule of ITA2)
//!           repeats    so, but the shift is sent again after each space in figures
//!           unshifts   a space returns to letters
//!   shift   letters | figures
//!   place   within a word | after a space in letters, in figures | after a line's end | after a shift
//!   letters like words | any | what was sent before, sent again, or keys in their order
//! ```
//!
//! Letters taken for figures look like no figures that anybody sends, and groups of figures
//! taken for letters look like no words: that alone tells where a shift was misread. What
//! repeats what came before (test rows, repeated groups) says nothing either way.
//!
//! A shift changes by what was sent and by nothing else, except where a character may have
//! been lost. So where every code is certain, shifts are those of the sender's machine.

use markhold_code::{Code, Shift};

use super::sending::{
    AGAIN, HABITS, Habit, LOOKS, PLACES, PLAIN, Place, STATES, State, TARGETS, WAYS, index, way,
};
use super::sent::Sent;
use super::slot::{CODES, Slot};

/// How often a sender of whom nothing is known has each habit. No count of senders is known
/// here; holding is the standard's rule and the others common.
const HABIT_SHARES: [f32; 3] = [0.45, 0.35, 0.2];
/// How often a habit changes from one character to the next: another sender on the same
/// place; and after a pause.
const HABIT_CHANGES: [f32; 2] = [1e-4, 0.03];
/// Looks of letters to begin with: like words, any, repeated.
const LOOK_SHARES: [f32; LOOKS] = [0.5, 0.35, 0.15];
/// How often the look changes from one character to the next.
const LOOK_CHANGES: f32 = 0.01;
/// Probability that a copy begins in figures: senders begin with a letters shift (common
/// practice). An order of size, not a count: at 0.02 the first letter of a row was printed as a
/// figure.
const BEGINS_IN_FIGURES: f32 = 0.002;

/// Probability that a lost character was a shift, in letters and in figures: how often shifts
/// are sent there ([`super::sending`]).
const LOST_SHIFT: [f32; 2] = [0.03, 0.13];
/// The same where the sender paused: the next over mostly begins in letters.
const PAUSED_SHIFT: [f32; 2] = [0.02, 0.35];
/// Doubt about a character below which none can have been lost beside it, and the share of
/// the rest that says one was.
const SURE: f32 = 2e-3;
const LOST_IN_DOUBT: f32 = 0.3;

/// Share of what was sent before among what is sent by a sender who sends it again, in letters
/// and in figures. It says next to nothing of the shift; but test rows are rows of letters.
const REPEATED: [f32; 2] = [0.85, 0.83];

/// Probability of each state.
type Belief = [f32; STATES];

/// What is believed of a character, all that follows it taken into account or only what came
/// before. The five add up to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    /// A code of text (a letter, space, carriage return or line feed) in letters shift.
    pub letters: f32,
    /// A code of text in figures shift.
    pub figures: f32,
    /// A letters shift.
    pub to_letters: f32,
    /// A figures shift.
    pub to_figures: f32,
    /// Blank.
    pub blank: f32,
    /// Of all of them: that the sender was in figures before it.
    pub in_figures: f32,
}

/// Follows one sender.
#[derive(Clone, Debug)]
pub struct Shifts {
    // configured
    allowed: [f32; HABITS.len()],
    // state
    belief: Belief,
    sent: Sent,
    /// Doubt about the latest character.
    doubt: f32,
}

/// Steps from one belief to the next: what leads where, and how much of it.
struct Step {
    /// Weight of each way: print, space, carriage return and line feed, letters, figures, blank.
    ways: Vec<[f32; WAYS]>,
    moves: Moves,
}

/// What may change unheard between two characters.
#[derive(Clone, Copy)]
struct Moves {
    /// From letters to figures and back.
    flips: [f32; 2],
    habits: f32,
    allowed: [f32; HABITS.len()],
}

impl Moves {
    /// Belief before the next character; `back` takes what is seen later to before it.
    fn apply(&self, belief: &Belief, back: bool) -> Belief {
        let mut after = mixed(belief, back, 1, LOOKS, &LOOK_SHARES, LOOK_CHANGES);
        let stride = 2 * PLACES * LOOKS;
        after = mixed(
            &after,
            back,
            stride,
            HABITS.len(),
            &self.allowed,
            self.habits,
        );
        let mut flipped = after;
        for (i, value) in flipped.iter_mut().enumerate() {
            let state = State::of(i);
            let shift = match state.shift {
                Shift::Letters => Shift::Figures,
                Shift::Figures => Shift::Letters,
            };
            let other = after[State { shift, ..state }.index()];
            let [out, into] = match state.shift {
                Shift::Letters => self.flips,
                Shift::Figures => [self.flips[1], self.flips[0]],
            };
            *value = match back {
                false => *value * (1.0 - out) + other * into,
                true => *value * (1.0 - out) + other * out,
            };
        }
        flipped
    }
}

/// Of `count` alternatives that stand `stride` apart, some of each goes over to all by their
/// shares.
fn mixed(
    belief: &Belief,
    back: bool,
    stride: usize,
    count: usize,
    shares: &[f32],
    changes: f32,
) -> Belief {
    let mut out = *belief;
    for first in (0..STATES).filter(|i| (i / stride).is_multiple_of(count)) {
        let places = (0..count).map(|k| first + k * stride);
        let listed = places.clone().zip(shares);
        let sum: f32 = match back {
            false => listed.clone().map(|(i, _)| belief[i]).sum(),
            true => listed.clone().map(|(i, share)| share * belief[i]).sum(),
        };
        for (i, share) in listed {
            let into = if back { sum } else { share * sum };
            out[i] = belief[i] * (1.0 - changes) + into * changes;
        }
    }
    out
}

impl Shifts {
    /// Follows a sender of whom nothing is known; `unshifts` where it is known whether a space
    /// returns to letters.
    pub fn new(unshifts: Option<bool>) -> Self {
        let mut allowed = HABIT_SHARES;
        for (habit, share) in HABITS.into_iter().zip(&mut allowed) {
            if unshifts.is_some_and(|u| u != (habit == Habit::Unshifts)) {
                *share = 0.0;
            }
        }
        let total: f32 = allowed.iter().sum();
        allowed.iter_mut().for_each(|a| *a /= total);
        let mut belief = [0.0; STATES];
        for (habit, a) in HABITS.into_iter().zip(allowed) {
            let shifts = [
                (Shift::Letters, 1.0 - BEGINS_IN_FIGURES),
                (Shift::Figures, BEGINS_IN_FIGURES),
            ];
            for (shift, b) in shifts {
                for (look, c) in LOOK_SHARES.into_iter().enumerate() {
                    let state = State {
                        habit,
                        shift,
                        place: Place::Within,
                        look,
                    };
                    belief[state.index()] = a * b * c;
                }
            }
        }
        Self {
            allowed,
            belief,
            sent: Sent::default(),
            doubt: 0.0,
        }
    }

    /// Goes on with what is known, where what is known of the habit changed.
    pub fn forced(&self, unshifts: Option<bool>) -> Self {
        let mut next = Self::new(unshifts);
        for shift in [Shift::Letters, Shift::Figures] {
            let of = |i: &usize| State::of(*i).shift == shift;
            let now: f32 = (0..STATES).filter(of).map(|i| self.belief[i]).sum();
            let new: f32 = (0..STATES).filter(of).map(|i| next.belief[i]).sum();
            let places: Vec<usize> = (0..STATES).filter(of).collect();
            for i in places {
                next.belief[i] *= now / new;
            }
        }
        next
    }

    /// Takes in the next character by what came before; says what is believed of it.
    pub fn take(&mut self, slot: &Slot) -> Shares {
        let (step, before) = self.step(slot);
        let shares = shares(&before, &step, None);
        self.go(&step, &before, slot);
        shares
    }

    /// What is believed of each of these characters with all of them in view; stays where it
    /// stands.
    pub fn look(&self, slots: &[&Slot]) -> Vec<Shares> {
        let mut now = self.clone();
        let mut steps = Vec::with_capacity(slots.len());
        for slot in slots {
            let (step, before) = now.step(slot);
            now.go(&step, &before, slot);
            steps.push((step, before));
        }
        let mut back = [1.0; STATES];
        let mut out = Vec::with_capacity(slots.len());
        for (step, before) in steps.iter().rev() {
            out.push(shares(before, step, Some(&back)));
            let mut earlier = [0.0; STATES];
            for (i, value) in earlier.iter_mut().enumerate() {
                let ways = step.ways[i].iter().zip(TARGETS[i]);
                *value = ways.map(|(w, to)| w * back[to]).sum();
            }
            normalise(&mut earlier);
            back = step.moves.apply(&earlier, true);
        }
        out.reverse();
        out
    }

    /// Probability of each habit.
    pub fn habits(&self) -> [(Habit, f32); HABITS.len()] {
        HABITS.map(|habit| {
            let of = (0..STATES).filter(|i| State::of(*i).habit == habit);
            (habit, of.map(|i| self.belief[i]).sum())
        })
    }

    fn step(&self, slot: &Slot) -> (Step, Belief) {
        let doubt = (self.doubt + slot.doubt() - SURE).clamp(0.0, 1.0) * LOST_IN_DOUBT;
        let lost = slot.lost + doubt - slot.lost * doubt;
        let by = if slot.paused {
            PAUSED_SHIFT
        } else {
            LOST_SHIFT
        };
        let moves = Moves {
            flips: by.map(|p| p * if slot.paused { 1.0 } else { lost }),
            habits: HABIT_CHANGES[usize::from(slot.paused)],
            allowed: self.allowed,
        };
        let before = moves.apply(&self.belief, false);
        let again = self.sent.again();
        let ways = (0..STATES).map(|i| {
            let mut ways = [0.0; WAYS];
            for code in Code::ALL {
                let c = index(code);
                let p = match (i % LOOKS == AGAIN, again == Some(code)) {
                    (false, _) => PLAIN[i][c],
                    (true, true) => REPEATED[State::of(i).shift as usize],
                    // And what is misread meanwhile says nothing either.
                    (true, false) => (1.0 - REPEATED[0]) / CODES as f32,
                };
                ways[way(code)] += slot.codes[c] * p;
            }
            ways
        });
        let step = Step {
            ways: ways.collect(),
            moves,
        };
        (step, before)
    }

    fn go(&mut self, step: &Step, before: &Belief, slot: &Slot) {
        let mut after = [0.0; STATES];
        for (i, p) in before.iter().enumerate() {
            for (w, to) in step.ways[i].iter().zip(TARGETS[i]) {
                after[to] += p * w;
            }
        }
        normalise(&mut after);
        self.belief = after;
        self.doubt = slot.doubt();
        self.sent.note(slot.best());
    }
}

fn shares(before: &Belief, step: &Step, back: Option<&Belief>) -> Shares {
    let mut sums = [[0.0f32; WAYS]; 2];
    for (i, p) in before.iter().enumerate() {
        let figures = State::of(i).shift == Shift::Figures;
        for (k, (w, to)) in step.ways[i].iter().zip(TARGETS[i]).enumerate() {
            sums[usize::from(figures)][k] += p * w * back.map_or(1.0, |b| b[to]);
        }
    }
    let total: f32 = sums.iter().flatten().sum::<f32>().max(f32::MIN_POSITIVE);
    let sums = sums.map(|s| s.map(|w| w / total));
    let both = |k: usize| sums[0][k] + sums[1][k];
    Shares {
        letters: sums[0][..3].iter().sum(),
        figures: sums[1][..3].iter().sum(),
        to_letters: both(3),
        to_figures: both(4),
        blank: both(5),
        in_figures: sums[1].iter().sum(),
    }
}

fn normalise(belief: &mut Belief) {
    let total: f32 = belief.iter().sum();
    match total > 0.0 && total.is_finite() {
        true => belief.iter_mut().for_each(|b| *b /= total),
        false => *belief = [1.0 / STATES as f32; STATES],
    }
}
