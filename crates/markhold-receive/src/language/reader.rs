//! Reader: the likeliest text behind a sequence of doubtful characters.
//!
//! Every character comes with the likelihood of all codes, as the signal has it. The reader
//! follows a sender from character to character through all states in which the sender may
//! be (what was sent so far, shift, kind of word), forward; some characters later it looks
//! back. What comes out are probabilities, of codes as of shifts.
//!
//! ```text
//!   slot        1        2        3   ...   BLOCK  ...  BLOCK + AHEAD
//!   states   o-----o--------o--------o-- ... --o-- ... ----o
//!              \ /   \    /                    |
//!   given out  |<---------- now -------------->|  looked ahead into
//! ```

use std::collections::HashMap;
use std::collections::VecDeque;

use markhold_code::{Code, Shift};
use markhold_language::sender::CODES;
use markhold_language::{Sender, State};

/// Characters that are looked ahead into before one is given out, at least.
pub const AHEAD: usize = 10;
/// Characters given out at a time.
const BLOCK: usize = 6;
/// States that are followed at most.
const MOST_STATES: usize = 96;
/// Least probability of a state, against the likeliest, that is followed.
const LEAST_STATE: f32 = 1e-5;
/// Least likelihood of a code, against the likeliest, that is followed.
const LEAST_CODE: f32 = 1e-4;
/// The share of characters of which the signal knows less than it thinks.
const MISTRUST: f32 = 2e-3;
/// Stands for "no character was sent here".
const ABSENT: u8 = CODES as u8;

/// One character as the signal has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    /// Likelihood of each code, any scale.
    pub codes: [f32; CODES],
    /// Probability that a character was sent here.
    pub present: f32,
    /// Probability that characters were lost since the last one.
    pub lost: f32,
}

/// One character as signal and language have it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Witnessed {
    /// Probability of each code, given that a character was sent here.
    pub codes: [f32; CODES],
    /// Probability that one was.
    pub present: f32,
    /// Probability of figures shift when it was received.
    pub figures: f32,
    /// Probability that the word is prose, of which language says something.
    pub prose: f32,
}

#[derive(Clone, Copy, Debug)]
struct Edge {
    from: u32,
    to: u32,
    code: u8,
    weight: f32,
}

/// All states after a character, and the ways that lead there.
#[derive(Clone, Debug, Default)]
struct Layer {
    states: Vec<State>,
    /// Probability of each, all before and at the character taken into account.
    forward: Vec<f32>,
    edges: Vec<Edge>,
}

/// Reads one signal's characters.
#[derive(Clone, Debug)]
pub struct Reader {
    sender: Sender,
    /// The states before the first character that waits.
    root: Layer,
    waiting: VecDeque<Layer>,
    ways: Vec<(State, f32)>,
}

impl Reader {
    /// A reader of a sender of whom nothing is known.
    pub fn new(sender: Sender) -> Self {
        let (states, forward) = State::unknown().into_iter().unzip();
        Self {
            sender,
            root: Layer {
                states,
                forward,
                edges: Vec::new(),
            },
            waiting: VecDeque::new(),
            ways: Vec::new(),
        }
    }

    /// Takes one more character; gives those that enough was heard after.
    pub fn take(&mut self, slot: &Slot, out: &mut Vec<Witnessed>) {
        let layer = self.follow(slot);
        self.waiting.push_back(layer);
        if self.waiting.len() >= BLOCK + AHEAD {
            self.give(BLOCK, out);
        }
    }

    /// Gives all that wait: nothing more comes, or not soon.
    pub fn finish(&mut self, out: &mut Vec<Witnessed>) {
        self.give(self.waiting.len(), out);
    }

    /// The layer of the next character.
    fn follow(&mut self, slot: &Slot) -> Layer {
        let before = self.waiting.back().unwrap_or(&self.root);
        let codes = trusted(&slot.codes);
        let least = codes.iter().fold(0.0f32, |a, &b| a.max(b)) * LEAST_CODE;
        let mut layer = Growing::default();
        for (from, (&state, &forward)) in before.states.iter().zip(&before.forward).enumerate() {
            let lost = [(state, 1.0 - slot.lost), (Sender::lost(state), slot.lost)];
            for (state, share) in lost.into_iter().filter(|l| l.1 > 0.0) {
                let weight = share * forward;
                layer.add(from, state, ABSENT, share * (1.0 - slot.present), forward);
                let expected = self.sender.codes(state);
                for (code, &likelihood) in codes.iter().enumerate().filter(|c| *c.1 > least) {
                    let sent = Code::new(code as u8).expect("below 32");
                    let p = share * slot.present * likelihood * expected[code] * CODES as f32;
                    if p * weight <= 0.0 {
                        continue;
                    }
                    self.sender.after(state, sent, &mut self.ways);
                    for &(to, way) in &self.ways {
                        layer.add(from, to, code as u8, p * way, forward);
                    }
                }
            }
        }
        layer.pruned()
    }

    /// Looks back from the latest character and gives the first `count`.
    fn give(&mut self, count: usize, out: &mut Vec<Witnessed>) {
        let Some(last) = self.waiting.back() else {
            return;
        };
        let mut backward = vec![1.0f32; last.states.len()];
        let mut given = Vec::with_capacity(count);
        for at in (0..self.waiting.len()).rev() {
            let before = match at {
                0 => &self.root,
                _ => &self.waiting[at - 1],
            };
            let layer = &self.waiting[at];
            if at < count {
                given.push(witnessed(before, layer, &backward));
            }
            let mut earlier = vec![0.0f32; before.states.len()];
            for edge in &layer.edges {
                earlier[edge.from as usize] += edge.weight * backward[edge.to as usize];
            }
            let highest = earlier.iter().fold(f32::MIN_POSITIVE, |a, &b| a.max(b));
            earlier.iter_mut().for_each(|b| *b /= highest);
            backward = earlier;
        }
        out.extend(given.into_iter().rev());
        if let Some(root) = self.waiting.drain(..count).next_back() {
            self.root = root;
        }
    }
}

/// Likelihoods that add up to 1, none of them quite nothing.
fn trusted(codes: &[f32; CODES]) -> [f32; CODES] {
    let total: f32 = codes.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    codes.map(|c| c / total * (1.0 - MISTRUST) + MISTRUST / CODES as f32)
}

fn witnessed(before: &Layer, layer: &Layer, backward: &[f32]) -> Witnessed {
    let mut codes = [0.0f32; CODES];
    let (mut absent, mut figures, mut prose) = (0.0f32, 0.0f32, 0.0f32);
    for edge in &layer.edges {
        let from = edge.from as usize;
        let p = before.forward[from] * edge.weight * backward[edge.to as usize];
        match edge.code {
            ABSENT => absent += p,
            code => codes[usize::from(code)] += p,
        }
        let state = before.states[from];
        figures += if state.shift() == Shift::Figures {
            p
        } else {
            0.0
        };
        prose += if layer.states[edge.to as usize].is_prose() {
            p
        } else {
            0.0
        };
    }
    let sent = codes.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    let total = sent + absent;
    Witnessed {
        codes: codes.map(|c| c / sent),
        present: sent / total,
        figures: figures / total,
        prose: prose / total,
    }
}

/// A layer being made.
#[derive(Default)]
struct Growing {
    layer: Layer,
    index: HashMap<State, u32>,
}

impl Growing {
    fn add(&mut self, from: usize, to: State, code: u8, weight: f32, forward: f32) {
        if weight <= 0.0 {
            return;
        }
        let Layer {
            states,
            forward: sums,
            edges,
        } = &mut self.layer;
        let to = *self.index.entry(to).or_insert_with(|| {
            states.push(to);
            sums.push(0.0);
            states.len() as u32 - 1
        });
        sums[to as usize] += forward * weight;
        edges.push(Edge {
            from: from as u32,
            to,
            code,
            weight,
        });
    }

    /// Only the likeliest states, adding up to 1.
    fn pruned(mut self) -> Layer {
        let layer = &mut self.layer;
        let mut order: Vec<u32> = (0..layer.states.len() as u32).collect();
        order.sort_by(|&a, &b| layer.forward[b as usize].total_cmp(&layer.forward[a as usize]));
        let least = order.first().map_or(0.0, |&i| layer.forward[i as usize]) * LEAST_STATE;
        order.truncate(MOST_STATES);
        order.retain(|&i| layer.forward[i as usize] > least);
        let mut place = vec![u32::MAX; layer.states.len()];
        for (to, &i) in order.iter().enumerate() {
            place[i as usize] = to as u32;
        }
        let total: f32 = order.iter().map(|&i| layer.forward[i as usize]).sum();
        let kept = |e: Edge| {
            (place[e.to as usize] != u32::MAX).then(|| Edge {
                to: place[e.to as usize],
                ..e
            })
        };
        Layer {
            states: order.iter().map(|&i| layer.states[i as usize]).collect(),
            forward: order
                .iter()
                .map(|&i| layer.forward[i as usize] / total)
                .collect(),
            edges: layer.edges.iter().copied().filter_map(kept).collect(),
        }
    }
}
