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
/// Least likelihood of a code, of all that add up to 1, that is followed: no text is so
/// likely that it could bring back what the signal rules out.
const LEAST_CODE: f32 = 1e-4;

/// One character as the signal has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    /// Likelihood of each code, any scale.
    pub codes: [f32; CODES],
    /// Probability that characters were lost since the last one.
    pub lost: f32,
}

/// One character as signal and language have it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Witnessed {
    /// Probability of each code, given that a character was sent here. Whether one was is
    /// for the signal to say: language would explain too much by leaving out.
    pub codes: [f32; CODES],
    /// How much likelier language makes it, as far as the next character, that one was sent
    /// here than that none was.
    pub favour: f32,
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
    /// How much likelier the character is after what came before it than one of all codes
    /// alike, and how much likelier if the one before it had not been sent.
    expected: f32,
    expected_without: f32,
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
    /// A reader of a sender of whom nothing is known but in which shift a printer would be.
    pub fn new(sender: Sender, shift: Shift) -> Self {
        let (states, forward) = State::beginning(shift).into_iter().unzip();
        Self {
            sender,
            root: Layer {
                states,
                forward,
                ..Layer::default()
            },
            waiting: VecDeque::new(),
            ways: Vec::new(),
        }
    }

    /// Takes one more character; gives those that enough was heard after.
    pub fn take(&mut self, slot: &Slot, out: &mut Vec<Witnessed>) {
        let mut layer = self.follow(slot);
        layer.expected_without = self.expected_without(slot);
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
        let codes = shares(&slot.codes);
        let mut layer = Growing::default();
        for (from, (&state, &forward)) in before.states.iter().zip(&before.forward).enumerate() {
            let lost = [(state, 1.0 - slot.lost), (Sender::lost(state), slot.lost)];
            for (state, share) in lost.into_iter().filter(|l| l.1 > 0.0) {
                let weight = share * forward;
                let expected = self.sender.codes(state);
                for (code, &likelihood) in codes.iter().enumerate().filter(|c| *c.1 > LEAST_CODE) {
                    let sent = Code::new(code as u8).expect("below 32");
                    let p = share * likelihood * expected[code] * CODES as f32;
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

    /// How much likelier a character is after all but the latest one than one of all codes
    /// alike.
    fn expected_without(&mut self, slot: &Slot) -> f32 {
        let before = match self.waiting.len() {
            0 => return 1.0,
            1 => &self.root,
            n => &self.waiting[n - 2],
        };
        let codes = shares(&slot.codes);
        let mut sum = 0.0;
        for (&state, &forward) in before.states.iter().zip(&before.forward) {
            let expected = self.sender.codes(state);
            let both = codes.iter().zip(&expected).map(|(a, b)| a * b);
            sum += forward * both.sum::<f32>() * CODES as f32;
        }
        sum
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
                let favour = layer.favour(self.waiting.get(at + 1));
                given.push(Witnessed {
                    favour,
                    ..witnessed(before, layer, &backward)
                });
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

impl Layer {
    fn favour(&self, next: Option<&Layer>) -> f32 {
        let next = next.map_or(1.0, |n| {
            n.expected / n.expected_without.max(f32::MIN_POSITIVE)
        });
        self.expected * next
    }
}

/// Likelihoods that add up to 1.
fn shares(codes: &[f32; CODES]) -> [f32; CODES] {
    let total: f32 = codes.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    codes.map(|c| c / total)
}

fn witnessed(before: &Layer, layer: &Layer, backward: &[f32]) -> Witnessed {
    let mut codes = [0.0f32; CODES];
    let (mut figures, mut prose) = (0.0f32, 0.0f32);
    for edge in &layer.edges {
        let (from, to) = (edge.from as usize, edge.to as usize);
        let p = before.forward[from] * edge.weight * backward[to];
        codes[usize::from(edge.code)] += p;
        if before.states[from].shift() == Shift::Figures {
            figures += p;
        }
        if layer.states[to].is_prose() {
            prose += p;
        }
    }
    let total = codes.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    Witnessed {
        codes: codes.map(|c| c / total),
        favour: 1.0,
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
            ..
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
            expected: total,
            expected_without: 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::{EncodeOptions, FiguresRow, encode};
    use markhold_language::{Habits, Language};
    use proptest::prelude::*;

    fn sender() -> Sender {
        Sender::new(Language::english(), Habits::default())
    }

    fn read(slots: &[Slot]) -> Vec<Witnessed> {
        let (mut reader, mut out) = (Reader::new(sender(), Shift::Letters), Vec::new());
        slots.iter().for_each(|slot| reader.take(slot, &mut out));
        reader.finish(&mut out);
        out
    }

    /// A character heard as one of some codes, each with a likelihood.
    fn slot(codes: &[(u8, f32)]) -> Slot {
        let mut list = [0.0; CODES];
        codes
            .iter()
            .for_each(|&(code, p)| list[usize::from(code)] += p);
        Slot {
            codes: list,
            lost: 0.0,
        }
    }

    fn sent(text: &str) -> Vec<u8> {
        let codes = encode(text, FiguresRow::Ita2, EncodeOptions::default()).expect("can be sent");
        codes.iter().map(|c| c.value()).collect()
    }

    fn best(witnessed: &Witnessed) -> u8 {
        (0..32).fold(0, |b, c| {
            let better = witnessed.codes[usize::from(c)] > witnessed.codes[usize::from(b)];
            if better { c } else { b }
        })
    }

    /// The slow obvious way: every sequence of codes and states by itself.
    struct Obvious {
        sender: Sender,
        sums: Vec<[f64; CODES + 2]>,
    }

    impl Obvious {
        /// Weight of all that follows `state` from slot `at` on.
        fn follow(&mut self, slots: &[Slot], at: usize, state: State, weight: f64) -> f64 {
            let Some(slot) = slots.get(at) else {
                return weight;
            };
            let mut total = 0.0;
            let codes = shares(&slot.codes);
            let lost = [(state, 1.0 - slot.lost), (Sender::lost(state), slot.lost)];
            for (state, share) in lost.into_iter().filter(|l| l.1 > 0.0) {
                let weight = weight * f64::from(share);
                let expected = self.sender.codes(state);
                for code in (0..CODES).filter(|&c| codes[c] > LEAST_CODE) {
                    let p = codes[code] * expected[code] * CODES as f32;
                    let mut ways = Vec::new();
                    let sent = Code::new(code as u8).expect("below 32");
                    self.sender.after(state, sent, &mut ways);
                    for (to, way) in ways {
                        let next = (to, weight * f64::from(p * way));
                        total += self.went(slots, at, state, next, code);
                    }
                }
            }
            total
        }

        fn went(
            &mut self,
            slots: &[Slot],
            at: usize,
            from: State,
            (to, weight): (State, f64),
            code: usize,
        ) -> f64 {
            if weight == 0.0 {
                return 0.0;
            }
            let p = self.follow(slots, at + 1, to, weight);
            let sums = &mut self.sums[at];
            sums[code] += p;
            sums[CODES] += if from.shift() == Shift::Figures {
                p
            } else {
                0.0
            };
            sums[CODES + 1] += if to.is_prose() { p } else { 0.0 };
            p
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]
        #[test]
        fn agrees_with_the_sum_over_all_texts(
            list in prop::collection::vec((prop::collection::vec((0u8..32, 0.1f32..1.0), 1..4), prop::bool::weighted(0.2)), 4),
        ) {
            let slots: Vec<Slot> = list
                .iter()
                .map(|(codes, lost)| Slot { lost: if *lost { 0.3 } else { 0.0 }, ..slot(codes) })
                .collect();
            let mut obvious = Obvious { sender: sender(), sums: vec![[0.0; CODES + 2]; slots.len()] };
            let total: f64 = State::beginning(Shift::Letters)
                .into_iter()
                .map(|(state, p)| obvious.follow(&slots, 0, state, f64::from(p)))
                .sum();
            for (witnessed, sums) in read(&slots).iter().zip(&obvious.sums) {
                let of = |k: usize| (sums[k] / total) as f32;
                let near = |a: f32, b: f32| (a - b).abs() < 3e-3;
                prop_assert!(near(witnessed.figures, of(CODES)));
                prop_assert!(near(witnessed.prose, of(CODES + 1)));
                for code in 0..CODES {
                    let p = witnessed.codes[code];
                    prop_assert!(near(p, of(code)), "{code}: {p} {}", of(code));
                }
            }
        }

        #[test]
        fn as_many_come_out_as_went_in(count in 0usize..60) {
            let codes = sent("NOW IS THE TIME FOR THE NET TO BEGIN AND FOR ALL TO LISTEN BEFORE THEY SEND");
            let slots: Vec<Slot> = codes[..count].iter().map(|&c| slot(&[(c, 1.0)])).collect();
            let out = read(&slots);
            prop_assert_eq!(out.len(), count);
            for (witnessed, &code) in out.iter().zip(&codes) {
                prop_assert_eq!(best(witnessed), code);
                prop_assert!(witnessed.codes[usize::from(code)] > 0.999);
            }
        }
    }

    /// A text in which at some places the signal cannot tell two codes apart.
    fn doubtful(text: &str, at: &[(usize, u8, f32)]) -> Vec<Slot> {
        let mut slots: Vec<Slot> = sent(text).iter().map(|&c| slot(&[(c, 1.0)])).collect();
        for &(place, other, p) in at {
            let this = best_of(&slots[place]);
            slots[place] = slot(&[(this, 1.0 - p), (other, p)]);
        }
        slots
    }

    fn best_of(slot: &Slot) -> u8 {
        (0..32)
            .find(|&c| slot.codes[usize::from(c)] == 1.0)
            .expect("it is certain")
    }

    #[test]
    fn language_reads_what_the_signal_took_for_something_else() {
        // Combination 24 (X) for 20 (T) and 1 (A), ITU-T S.1.
        let slots = doubtful(
            "THE OTHER STATION",
            &[(5, 0b11101, 0.8), (12, 0b11101, 0.8)],
        );
        let out = read(&slots);
        let codes: Vec<u8> = out.iter().map(best).collect();
        assert_eq!(codes, sent("THE OTHER STATION"));
        assert!(out[5].codes[usize::from(codes[5])] > 0.9, "{:?}", out[5]);
        assert!(out[5].prose > 0.95);
    }

    #[test]
    fn digits_and_calls_stay_as_the_signal_has_them() {
        // FIGURES 5 8 7 LETTERS: the 8 may be a 4, which the signal thinks less likely.
        let out = read(&doubtful("AT 587 DE Q7XKQ NR", &[(5, 0b01010, 0.4)]));
        let eight = usize::from(sent("8")[1]);
        assert!((out[5].codes[eight] - 0.6).abs() < 0.01, "{:?}", out[5]);
        // Q FIGURES 7 LETTERS X K Q: the K may be an I, which words would rather have.
        let text = "AT 587 DE Q7XKQ NR";
        let k = sent(text)
            .iter()
            .rposition(|&c| c == 0b01111)
            .expect("K was sent");
        let out = read(&doubtful(text, &[(k, 0b00110, 0.4)]));
        assert!((out[k].codes[0b01111] - 0.6).abs() < 0.1, "{:?}", out[k]);
    }

    #[test]
    fn a_shift_that_was_read_wrong_is_repaired() {
        // LETTERS before the first word read as FIGURES, without much doubt.
        let mut slots = doubtful("WEATHER WAS BAD AND THE NET WAS SHORT", &[]);
        slots.insert(0, slot(&[(0b11011, 0.95), (0b11111, 0.05)]));
        let out = read(&slots);
        assert_eq!(best(&out[0]), 0b11111);
        assert!(out[1..].iter().all(|w| w.figures < 0.01), "{out:?}");
    }
}
