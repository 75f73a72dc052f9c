//! Framing against a slow and obvious version: every path of a small window, one by one.

use markhold_receive::characters::framing::{Carry, Framed, LinePriors, evidence_of, frame};
use markhold_receive::characters::reading::read;
use markhold_receive::elements::Elements;

const STEPS: usize = 8;
/// From the begin of a character to the end of its first stop unit, points.
const CHARACTER: usize = 7 * STEPS;

/// Splitmix64 (Steele, Lea and Flood, OOPSLA 2014).
struct Random(u64);

impl Random {
    fn uniform(&mut self) -> f32 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 40) as f32 / (1u64 << 24) as f32
    }

    fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.uniform()
    }
}

/// Elements of noise: any ratios whatever.
fn noise(points: usize, seed: u64) -> Elements {
    let mut random = Random(seed);
    let mut list =
        |count: usize| -> Vec<f32> { (0..count).map(|_| random.between(-3.0, 4.0)).collect() };
    let (mark, space) = (list(points), list(points));
    let part = list(points * STEPS);
    Elements {
        steps: STEPS,
        mark,
        space,
        part: (0..points * STEPS)
            .map(|i| if i % STEPS == 0 { 0.0 } else { part[i] })
            .collect(),
    }
}

/// A line whose tone is `true` for mark at each point, as elements: each point of the right
/// tone is worth `gain`, each of the wrong one costs it, and noise is added.
fn line(marks: &[bool], gain: f32, seed: u64) -> Elements {
    let points = marks.len();
    let mut random = Random(seed);
    let step = gain / STEPS as f32;
    let mut total = vec![0.0f32];
    for mark in marks {
        let value = if *mark { step } else { -step };
        total.push(total[total.len() - 1] + value + random.between(-step, step));
    }
    let worth = |i: usize, r: usize| total[(i + r).min(points)] - total[i];
    Elements {
        steps: STEPS,
        mark: (0..points).map(|i| worth(i, STEPS)).collect(),
        space: (0..points).map(|i| -worth(i, STEPS)).collect(),
        part: (0..points * STEPS)
            .map(|k| worth(k / STEPS, k % STEPS))
            .collect(),
    }
}

/// Idle for `idle` points, then characters with these stops, in points, after each.
fn keyed(idle: usize, characters: &[(u8, usize)], end: usize) -> Vec<bool> {
    let mut marks = vec![true; idle];
    for (code, stop) in characters {
        marks.extend([false; STEPS]);
        (0..5).for_each(|k| marks.extend([code >> k & 1 == 1; STEPS]));
        marks.extend(vec![true; *stop]);
    }
    marks.resize(end, true);
    marks
}

/// Every path, one after the other, in f64.
struct Paths<'a> {
    elements: &'a Elements,
    priors: &'a LinePriors,
    /// Times the line may end: each costs 14 in evidence, so two are enough.
    ends: usize,
    starts: Vec<usize>,
    total: f64,
    start: Vec<f64>,
    count: usize,
}

/// Weights are kept relative to this, so that sums stay in range.
const UNIT: f64 = 20.0;

impl<'a> Paths<'a> {
    fn all(elements: &'a Elements, priors: &'a LinePriors, ends: usize) -> Self {
        let mut paths = Self {
            elements,
            priors,
            ends,
            starts: vec![],
            total: 0.0,
            start: vec![0.0; elements.points()],
            count: 0,
        };
        // What `Carry::nothing` says: off, or at mark for long already with e^-8 of that.
        paths.off(0, 0.0);
        paths.mark(2, 0, -8.0);
        paths.start.iter_mut().for_each(|s| *s /= paths.total);
        paths
    }

    fn points(&self) -> usize {
        self.elements.points()
    }

    fn evidence(&self) -> f64 {
        self.total.ln() + UNIT - (1.0 + (-8.0f64).exp()).ln()
    }

    fn ended(&mut self, weight: f64) {
        let share = (weight - UNIT).exp();
        self.total += share;
        self.count += 1;
        for i in &self.starts {
            self.start[*i] += share;
        }
    }

    /// The line is off from point `i` on, until it comes on at some point or never.
    fn off(&mut self, i: usize, weight: f64) {
        let on = f64::from(self.priors.on);
        let stays = (-on.exp()).ln_1p();
        for later in i..self.points() {
            self.mark(2, later, weight + stays * (later - i) as f64 + on);
        }
        self.ended(weight + stays * (self.points() - i) as f64);
    }

    /// The line is at mark at point `i`, in one of the three states.
    fn mark(&mut self, state: usize, i: usize, weight: f64) {
        if i >= self.points() {
            return self.ended(weight);
        }
        for r in 0..STEPS {
            let part = f64::from(self.elements.part[i * STEPS + r]);
            let next = f64::from(self.priors.next[state][r]).ln();
            self.start(i + r, weight + next + part);
        }
        let stays = f64::from(self.priors.stay[state] + self.elements.mark[i]);
        self.mark((state + 1).min(2), i + STEPS, weight + stays);
        if self.ends > 0 {
            self.ends -= 1;
            self.off(i + 1, weight + f64::from(self.priors.off));
            self.ends += 1;
        }
    }

    /// A character starts at point `i`: all 32 of them at once.
    fn start(&mut self, i: usize, weight: f64) {
        if i >= self.points() {
            return self.ended(weight);
        }
        self.starts.push(i);
        let character = self.character(i);
        self.mark(0, i + CHARACTER, weight + character);
        self.starts.pop();
    }

    fn character(&self, i: usize) -> f64 {
        let tone =
            |list: &[f32], k: usize| f64::from(list.get(i + k * STEPS).copied().unwrap_or(0.0));
        let code = |code: u32| -> f64 {
            let element = |k: usize| match code >> (k - 1) & 1 {
                1 => tone(&self.elements.mark, k),
                _ => tone(&self.elements.space, k),
            };
            (1..=5).map(element).sum()
        };
        let codes: f64 = (0..32).map(|c| code(c).exp() / 32.0).sum();
        tone(&self.elements.space, 0) + codes.ln() + tone(&self.elements.mark, 6)
    }
}

fn check(elements: &Elements, priors: &LinePriors, ends: usize, name: &str) {
    let slow = Paths::all(elements, priors, ends);
    let fast = frame(elements, priors, &Carry::nothing());
    let error = (f64::from(fast.evidence) - slow.evidence()).abs();
    let (got, expected, count) = (fast.evidence, slow.evidence(), slow.count);
    assert!(error < 1e-3, "{name}: {got} for {expected}, {count} paths");
    let short = evidence_of(elements, priors, &Carry::nothing());
    assert!(
        (short - fast.evidence).abs() < 1e-4,
        "{name}: {short} alone"
    );
    let heard: f64 = slow.start.iter().sum();
    assert!(heard > 0.03, "{name}: nothing at stake, {heard} characters");
    for (i, (got, expected)) in fast.start.iter().zip(&slow.start).enumerate() {
        let error = (f64::from(*got) - expected).abs();
        assert!(error < 1e-3, "{name}, start at {i}: {got} for {expected}");
    }
}

#[test]
fn one_character_of_noise_by_every_path() {
    for seed in 0..8 {
        let priors = LinePriors::unknown(STEPS);
        check(&noise(30, seed), &priors, 2, &format!("noise, seed {seed}"));
    }
}

#[test]
fn two_characters_of_noise_by_every_path() {
    for seed in 0..3 {
        let priors = LinePriors::unknown(STEPS);
        check(&noise(84, seed), &priors, 1, &format!("noise, seed {seed}"));
    }
}

#[test]
fn three_characters_by_every_path() {
    for (seed, stops) in [(1, [8, 12]), (2, [12, 16]), (3, [11, 21])] {
        let characters = [(0b00101, stops[0]), (0b11000, stops[1]), (0b01110, 8)];
        let elements = line(&keyed(5, &characters, 142), 3.0, seed);
        let priors = LinePriors::unknown(STEPS);
        check(&elements, &priors, 0, &format!("a line, seed {seed}"));
    }
}

#[test]
fn a_known_sender_by_every_path() {
    // Stops of 1.5 units, and hardly ever a pause.
    let stops: Vec<f32> = (0..2 * STEPS)
        .map(|d| if d == 4 { 1.0 } else { 0.0 })
        .collect();
    let priors = LinePriors::from_stops(&stops, STEPS, 0.02);
    for seed in 0..2 {
        check(&noise(84, seed), &priors, 1, &format!("noise, seed {seed}"));
    }
}

fn text(count: usize, seed: u64) -> Elements {
    let mut random = Random(seed);
    let characters: Vec<(u8, usize)> = (0..count)
        .map(|_| {
            (
                (random.uniform() * 32.0) as u8,
                STEPS + (random.uniform() * 20.0) as usize,
            )
        })
        .collect();
    line(
        &keyed(11, &characters, 30 + count * (CHARACTER + 12)),
        2.0,
        seed,
    )
}

fn from(elements: &Elements, cut: usize) -> Elements {
    Elements {
        steps: STEPS,
        mark: elements.mark[cut..].to_vec(),
        space: elements.space[cut..].to_vec(),
        part: elements.part[cut * STEPS..].to_vec(),
    }
}

/// Framing on from what is carried over a cut gives what framing all at once gives.
#[test]
fn a_window_in_two_gives_the_same_as_in_one() {
    let priors = LinePriors::unknown(STEPS);
    for seed in 0..10 {
        let elements = text(12, seed);
        let whole = frame(&elements, &priors, &Carry::nothing());
        for cut in (1..elements.points() - 1).step_by(37) {
            let carry = whole.carry(&elements, &priors, cut);
            let rest = frame(&from(&elements, cut), &priors, &carry);
            for (i, got) in rest.start.iter().enumerate() {
                let expected = whole.start[cut + i];
                let error = (got - expected).abs();
                assert!(
                    error < 2e-3,
                    "seed {seed}, cut {cut}, {i}: {got} for {expected}"
                );
            }
            for (i, got) in rest.off.iter().enumerate() {
                let expected = whole.off[cut + i];
                assert!(
                    (got - expected).abs() < 2e-3,
                    "off, seed {seed}, cut {cut}, {i}"
                );
            }
        }
    }
}

/// What was framed before a cut holds as soon as the window reached far enough beyond it.
#[test]
fn looking_farther_ahead_changes_little_behind() {
    let priors = LinePriors::unknown(STEPS);
    for seed in 0..10 {
        let elements = line(&keyed(11, &[(0b10101, 12); 12], 11 + 12 * 60), 6.0, seed);
        let whole = frame(&elements, &priors, &Carry::nothing());
        let upto = 400;
        let first = Elements {
            steps: STEPS,
            mark: elements.mark[..upto].to_vec(),
            space: elements.space[..upto].to_vec(),
            part: elements.part[..upto * STEPS].to_vec(),
        };
        let ahead = frame(&first, &priors, &Carry::nothing());
        for i in 0..upto - 3 * CHARACTER {
            let error = (whole.start[i] - ahead.start[i]).abs();
            assert!(error < 0.02, "seed {seed}, point {i}: moved by {error}");
        }
    }
}

fn probabilities(framed: &Framed) -> impl Iterator<Item = &f32> {
    framed.start.iter().chain(&framed.off)
}

#[test]
fn posteriors_are_probabilities() {
    let priors = LinePriors::unknown(STEPS);
    for seed in 0..20 {
        for elements in [noise(300, seed), text(6, seed)] {
            let framed = frame(&elements, &priors, &Carry::nothing());
            assert!(probabilities(&framed).all(|p| (0.0..=1.0).contains(p)));
            for reading in read(&framed, &elements) {
                let sum: f32 = reading.codes.iter().sum();
                assert!((sum - 1.0).abs() < 1e-5, "codes sum to {sum}");
                assert!((0.5..=1.0).contains(&reading.present));
                assert!(reading.start >= 0.0 && reading.spread >= 0.0);
            }
            // Characters are seven elements apart, so no six elements hold two.
            for window in framed.start.windows(CHARACTER) {
                let sum: f32 = window.iter().sum();
                assert!(sum < 1.01, "{sum} characters begin in one");
            }
        }
    }
}

#[test]
fn a_clear_line_is_read_as_it_was_keyed() {
    let codes = [0b00000, 0b11111, 0b10101, 0b01010, 0b00100, 0b11011];
    for stop in [8, 11, 12, 16, 50] {
        let characters: Vec<(u8, usize)> = codes.iter().map(|c| (*c, stop)).collect();
        let length = 6 * STEPS + stop;
        let elements = line(&keyed(20, &characters, 20 + 6 * length + 20), 8.0, 5);
        let framed = frame(&elements, &LinePriors::unknown(STEPS), &Carry::nothing());
        let readings = read(&framed, &elements);
        let got: Vec<u8> = readings.iter().map(|r| r.best() as u8).collect();
        assert_eq!(got, codes, "stops of {stop} points");
        for (k, reading) in readings.iter().enumerate() {
            let error = reading.start - (20 + k * length) as f64;
            assert!(
                error.abs() < 1.0,
                "stops of {stop}, character {k}: off by {error}"
            );
        }
    }
}
