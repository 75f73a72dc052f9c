//! Words: the likeliest letters behind a sequence of doubtful characters.
//!
//! A writer is followed from character to character through all states in which it may be
//! (kind of text and word, what was written so far), forward and back. What is letters and
//! what is figures is settled before ([`super::shifts`]); language only chooses among the
//! codes of text where letters were sent.
//!
//! ```text
//!   slot        1        2        3   ...   given  ...   in view
//!   states   o-----o--------o--------o-- ... --o-- ... ----o
//!              \ /   \    /                    |
//!            |<------- chosen among ---------->|  looked ahead into
//! ```

use std::collections::HashMap;

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};
use markhold_language::writer::{TEXT_CODES, is_text};
use markhold_language::{Kind, State, Writer};

use super::shifts::Shares;
use super::slot::{CODES, Slot};

/// States that are followed at most.
const MOST_STATES: usize = 128;
/// Least probability of a state, against the likeliest, that is followed.
const LEAST_STATE: f32 = 1e-5;
/// Least probability that a character is of some class (letters, a digit ...) which is followed.
const LEAST_CLASS: f32 = 1e-3;
/// Probability that the text does not go on after a pause where it stood.
const BEGINS_ANEW: f32 = 0.5;

/// The letters behind one character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Letters {
    /// Probability of each code of text, given that one was sent in letters shift; adds up
    /// to 1.
    pub codes: [f32; CODES],
    /// Probability that the text is prose, in English or another language; not that the word
    /// is known: names stand in prose too.
    pub prose: f32,
}

#[derive(Clone, Copy, Debug)]
struct Edge {
    from: u32,
    to: u32,
    /// Code of text in letters shift; `None` for all else.
    code: Option<u8>,
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

/// Follows one writer.
#[derive(Clone, Debug)]
pub struct Words {
    writer: Writer,
    /// The states before the first character that was not given.
    root: Layer,
    ways: Vec<(State, f32)>,
}

impl Words {
    /// A writer of whom nothing is known.
    pub fn new(writer: Writer) -> Self {
        let (states, forward) = State::beginning().into_iter().unzip();
        Self {
            writer,
            root: Layer {
                states,
                forward,
                ..Layer::default()
            },
            ways: Vec::new(),
        }
    }

    /// The letters of the first `given` of these characters, the others in view; goes on behind
    /// those.
    pub fn read(&mut self, slots: &[(&Slot, Shares)], given: usize) -> Vec<Letters> {
        let mut layers = vec![std::mem::take(&mut self.root)];
        for (slot, shares) in slots {
            let next = self.follow(&layers[layers.len() - 1], slot, shares);
            layers.push(next);
        }
        let mut backward = vec![1.0f32; layers[slots.len()].states.len()];
        let mut letters = Vec::with_capacity(given);
        for at in (0..slots.len()).rev() {
            let (before, layer) = (&layers[at], &layers[at + 1]);
            if at < given {
                letters.push(chosen(before, layer, &backward, slots[at].0));
            }
            backward = looked_back(before, layer, &backward);
        }
        letters.reverse();
        self.root = layers.swap_remove(given);
        self.root.edges.clear();
        letters
    }

    /// The layer of the next character.
    fn follow(&mut self, before: &Layer, slot: &Slot, shares: &Shares) -> Layer {
        let classes = Classes::of(slot, shares);
        let anew = if slot.paused { BEGINS_ANEW } else { slot.lost };
        let mut layer = Growing::default();
        for (from, (&state, &forward)) in before.states.iter().zip(&before.forward).enumerate() {
            let lost = [(state, 1.0 - anew), (state.lost(), anew)];
            for (state, share) in lost.into_iter().filter(|l| l.1 > 0.0) {
                let mut add = |to, code, p| layer.add(from, to, code, share * p, forward);
                if classes.letters.iter().any(|p| *p > 0.0) {
                    let expected = self.writer.codes(state);
                    for code in Code::ALL.into_iter().filter(|c| is_text(*c)) {
                        let c = usize::from(code.value());
                        let p = classes.letters[c] * expected[c] * TEXT_CODES as f32;
                        if p > 0.0 {
                            self.writer.after(state, code, &mut self.ways);
                            self.ways
                                .iter()
                                .for_each(|&(to, way)| add(to, Some(c as u8), p * way));
                        }
                    }
                }
                for (is_digit, p) in [(true, classes.digit), (false, classes.sign)] {
                    if p > 0.0 {
                        add(state.figure(self.writer.language(), is_digit), None, p);
                    }
                }
                if classes.gap > 0.0 {
                    self.writer.after(state, Code::SPACE, &mut self.ways);
                    self.ways
                        .iter()
                        .for_each(|&(to, way)| add(to, None, classes.gap * way));
                }
                if classes.shift > 0.0 {
                    add(state, None, classes.shift);
                }
            }
        }
        layer.pruned(before)
    }
}

/// Probability of all that a character may be.
#[derive(Clone, Debug)]
struct Classes {
    /// Each code of text in letters shift.
    letters: [f32; CODES],
    /// In figures shift: a digit, another sign, the end of a word.
    digit: f32,
    sign: f32,
    gap: f32,
    /// A shift, or blank: the text goes on where it stood.
    shift: f32,
}

impl Classes {
    fn of(slot: &Slot, shares: &Shares) -> Self {
        let text = slot.text();
        let least = |p: f32| if p < LEAST_CLASS { 0.0 } else { p };
        let letters = least(shares.letters);
        let figures = least(shares.figures);
        let of = |wanted: fn(Symbol) -> bool| {
            let codes = Code::ALL.into_iter();
            let meant = codes.filter(|c| wanted(symbol(*c, Shift::Figures, FiguresRow::Ita2)));
            meant.map(|c| text[usize::from(c.value())]).sum::<f32>()
        };
        let digit = of(|s| matches!(s, Symbol::Print(c) if c.is_ascii_digit()));
        let gap = of(|s| matches!(s, Symbol::Space | Symbol::CarriageReturn | Symbol::LineFeed));
        Self {
            letters: text.map(|p| letters * p),
            digit: figures * digit,
            gap: figures * gap,
            sign: figures * (1.0 - digit - gap).max(0.0),
            shift: least(shares.to_letters + shares.to_figures + shares.blank),
        }
    }
}

fn chosen(before: &Layer, layer: &Layer, backward: &[f32], slot: &Slot) -> Letters {
    let mut codes = [0.0f32; CODES];
    let (mut prose, mut all) = (0.0f32, 0.0f32);
    for edge in &layer.edges {
        let (from, to) = (edge.from as usize, edge.to as usize);
        let p = before.forward[from] * edge.weight * backward[to];
        if let Some(code) = edge.code {
            codes[usize::from(code)] += p;
        }
        all += p;
        if layer.states[to].text() != Kind::Any {
            prose += p;
        }
    }
    let total: f32 = codes.iter().sum();
    Letters {
        codes: match total > 0.0 {
            true => codes.map(|c| c / total),
            false => slot.text(),
        },
        prose: prose / all.max(f32::MIN_POSITIVE),
    }
}

fn looked_back(before: &Layer, layer: &Layer, backward: &[f32]) -> Vec<f32> {
    let mut earlier = vec![0.0f32; before.states.len()];
    for edge in &layer.edges {
        earlier[edge.from as usize] += edge.weight * backward[edge.to as usize];
    }
    let highest = earlier.iter().fold(f32::MIN_POSITIVE, |a, &b| a.max(b));
    earlier.iter_mut().for_each(|b| *b /= highest);
    earlier
}

/// A layer being made.
#[derive(Default)]
struct Growing {
    layer: Layer,
    index: HashMap<State, u32>,
}

impl Growing {
    fn add(&mut self, from: usize, to: State, code: Option<u8>, weight: f32, forward: f32) {
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

    /// Only the likeliest states, adding up to 1; those of before if none is left.
    fn pruned(self, before: &Layer) -> Layer {
        let Layer {
            states,
            forward,
            edges,
        } = self.layer;
        let mut order: Vec<u32> = (0..states.len() as u32).collect();
        order.sort_by(|&a, &b| forward[b as usize].total_cmp(&forward[a as usize]));
        let least = order.first().map_or(0.0, |&i| forward[i as usize]) * LEAST_STATE;
        order.truncate(MOST_STATES);
        order.retain(|&i| forward[i as usize] > least);
        if order.is_empty() {
            let stays = (0..before.states.len() as u32).map(|i| Edge {
                from: i,
                to: i,
                code: None,
                weight: 1.0,
            });
            return Layer {
                edges: stays.collect(),
                ..before.clone()
            };
        }
        let mut place = vec![u32::MAX; states.len()];
        for (to, &i) in order.iter().enumerate() {
            place[i as usize] = to as u32;
        }
        let total: f32 = order.iter().map(|&i| forward[i as usize]).sum();
        let kept = |e: Edge| {
            let to = place[e.to as usize];
            (to != u32::MAX).then_some(Edge { to, ..e })
        };
        let likeliest = order.iter().map(|&i| i as usize);
        Layer {
            states: likeliest.clone().map(|i| states[i]).collect(),
            forward: likeliest.map(|i| forward[i] / total).collect(),
            edges: edges.into_iter().filter_map(kept).collect(),
        }
    }
}
