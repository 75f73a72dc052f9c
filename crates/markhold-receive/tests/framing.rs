//! Framing against a slow and obvious version: every path of a small window, one by one.

use std::collections::HashMap;

use markhold_receive::characters::framing::{Carry, Framed, LinePriors, evidence_of, frame};
use markhold_receive::characters::priors::{APART, EARLY};
use markhold_receive::characters::reading::read;
use markhold_receive::elements::Elements;
use markhold_receive::pair::rivals::rivals;

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

/// The sum over all paths, in f64 and by the definition: what may follow a state of the line at
/// a point, each possibility added up. One start may be forbidden: its probability is what is
/// then missing.
struct Paths<'a> {
    elements: &'a Elements,
    priors: &'a LinePriors,
    forbidden: Option<usize>,
    known: HashMap<(State, usize), f64>,
}

/// States of the line, as the framing knows them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum State {
    Off,
    /// At mark: after a stop's first unit, after its second, in a short pause, in a long one.
    Mark(usize),
    /// A character begins, after a stop of any length.
    Start,
    /// Within a run of characters with one or two units of stop, of which one has ended.
    Run(usize),
}

impl<'a> Paths<'a> {
    fn total(elements: &'a Elements, priors: &'a LinePriors, forbidden: Option<usize>) -> f64 {
        let mut paths = Self {
            elements,
            priors,
            forbidden,
            known: HashMap::new(),
        };
        // What `Carry::nothing` says: off, or at mark for long already with e^-8 of that.
        paths.after(State::Off, 0) + (-8.0f64).exp() * paths.after(State::Mark(2), 0)
    }

    /// Likelihood of all that may follow a state at point `i`, against noise.
    fn after(&mut self, state: State, i: usize) -> f64 {
        if i >= self.elements.points() {
            return 1.0;
        }
        if let Some(known) = self.known.get(&(state, i)) {
            return *known;
        }
        let sum = match state {
            State::Off => self.off(i),
            State::Mark(m) => self.mark(m, i),
            State::Start => self.start(i),
            State::Run(k) => self.run(k, i),
        };
        self.known.insert((state, i), sum);
        sum
    }

    fn off(&mut self, i: usize) -> f64 {
        let on = f64::from(self.priors.on).exp();
        on * self.after(State::Mark(2), i) + (1.0 - on) * self.after(State::Off, i + 1)
    }

    fn mark(&mut self, m: usize, i: usize) -> f64 {
        let ends = match m {
            0 | 1 => 1.0,
            _ => f64::from(self.priors.ends[m - 2]),
        };
        let mut sum = f64::from(self.priors.off).exp() * self.after(State::Off, i + 1);
        for r in 0..STEPS {
            let part = f64::from(self.elements.part[i * STEPS + r]).exp();
            let next = ends * f64::from(self.priors.next[m.min(2)][r]);
            sum += next * part * self.after(State::Start, i + r);
        }
        let mark = f64::from(self.elements.mark[i]).exp();
        let stays = f64::from(self.priors.stay[m]).exp();
        sum += stays * mark * self.after(State::Mark([1, 2, 2, 3][m]), i + STEPS);
        if m == 2 {
            let settles = f64::from(self.priors.settle).exp();
            sum += settles * mark * self.after(State::Mark(3), i + STEPS);
        }
        sum
    }

    fn start(&mut self, i: usize) -> f64 {
        if self.forbidden == Some(i) {
            return 0.0;
        }
        let end = i + CHARACTER;
        let runs = self.priors.runs.map(|ln| f64::from(ln).exp());
        let one = runs[0] * self.after(State::Run(0), end);
        let two = runs[1] * self.second(end) * self.after(State::Run(1), end + STEPS);
        let open = (1.0 - runs[0] - runs[1]) * self.after(State::Mark(0), end);
        self.character(i) * (one + two + open)
    }

    /// The second unit of a stop.
    fn second(&self, end: usize) -> f64 {
        f64::from(self.elements.mark.get(end).copied().unwrap_or(0.0)).exp()
    }

    /// The next character of the run begins at once, or the run is over.
    fn run(&mut self, k: usize, i: usize) -> f64 {
        let (apart, early) = (f64::from(APART), f64::from(EARLY));
        let over = apart * self.after(State::Mark([0, 2][k]), i);
        if self.forbidden == Some(i) {
            return over;
        }
        let mut follows = self.character(i);
        if k == 1 {
            follows *= self.second(i + CHARACTER);
        }
        let end = i + CHARACTER + k * STEPS;
        let then = early * self.after(State::Run(k), end - 1)
            + (1.0 - 2.0 * early) * self.after(State::Run(k), end)
            + early * self.after(State::Run(k), end + 1);
        over + (1.0 - apart) * follows * then
    }

    /// All 32 characters that may begin at point `i`.
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
        codes * (tone(&self.elements.space, 0) + tone(&self.elements.mark, 6)).exp()
    }
}

fn check(elements: &Elements, priors: &LinePriors, name: &str) {
    let total = Paths::total(elements, priors, None);
    let expected = total.ln() - (1.0 + (-8.0f64).exp()).ln();
    let fast = frame(elements, priors, &Carry::nothing());
    let got = fast.evidence;
    let error = (f64::from(got) - expected).abs();
    assert!(error < 1e-3, "{name}: {got} for {expected}");
    let short = evidence_of(elements, priors);
    assert!((short - got).abs() < 1e-4, "{name}: {short} alone");
    let starts = |i: usize| 1.0 - Paths::total(elements, priors, Some(i)) / total;
    let starts: Vec<f64> = (0..elements.points()).map(starts).collect();
    let heard: f64 = starts.iter().sum();
    assert!(heard > 0.03, "{name}: nothing at stake, {heard} characters");
    for (i, (got, expected)) in fast.start.iter().zip(&starts).enumerate() {
        let error = (f64::from(*got) - expected).abs();
        assert!(error < 1e-3, "{name}, start at {i}: {got} for {expected}");
    }
}

#[test]
fn noise_agrees_with_the_sum_over_all_paths() {
    let priors = LinePriors::unknown(STEPS);
    for (seed, points) in (0..12).zip([30, 84, 84, 150].into_iter().cycle()) {
        check(
            &noise(points, seed),
            &priors,
            &format!("noise, seed {seed}"),
        );
    }
}

#[test]
fn a_line_agrees_with_the_sum_over_all_paths() {
    let priors = LinePriors::unknown(STEPS);
    for (seed, stops) in [
        (1, [8, 12]),
        (2, [12, 16]),
        (3, [11, 21]),
        (4, [8, 8]),
        (5, [16, 16]),
    ] {
        let characters = [
            (0b00101, stops[0]),
            (0b11000, stops[1]),
            (0b01110, stops[0]),
        ];
        let end = 5 + 3 * 48 + 2 * stops[0] + stops[1] + 30;
        let elements = line(&keyed(5, &characters, end), 3.0, seed);
        check(&elements, &priors, &format!("a line, seed {seed}"));
    }
}

#[test]
fn a_known_sender_agrees_with_the_sum_over_all_paths() {
    // Stops of 1.5 units, and of one, and hardly ever a pause.
    for stop in [4, 0] {
        let share = |d: usize| if d == stop { 1.0 } else { 0.0 };
        let stops: Vec<f32> = (0..2 * STEPS).map(share).collect();
        let priors = LinePriors::from_stops(&stops, STEPS, 0.02);
        for seed in 0..2 {
            check(&noise(84, seed), &priors, &format!("noise, seed {seed}"));
        }
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
    for (stop, gain) in [8, 9, 11, 12, 16, 50]
        .map(|stop| (stop, 8.0))
        .into_iter()
        .chain([(700, 12.0)])
    {
        let characters: Vec<(u8, usize)> = codes.iter().map(|c| (*c, stop)).collect();
        let length = 6 * STEPS + stop;
        let elements = line(&keyed(20, &characters, 20 + 6 * length + 20), gain, 5);
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

/// A line of this code time and again, `gap` points apart, and the evidence for it over that
/// for a line of elements in any order.
fn over_rivals(count: usize, stop: usize, gain: f32, seed: u64) -> f32 {
    let mut random = Random(seed + 100);
    let code = |_| ((random.uniform() * 32.0) as u8, stop);
    let characters: Vec<(u8, usize)> = (0..count).map(code).collect();
    let end = 11 + count * (6 * STEPS + stop);
    let elements = line(&keyed(11, &characters, end), gain, seed);
    let priors = LinePriors::unknown(STEPS);
    evidence_of(&elements, &priors) - rivals(&elements)
}

/// A stop of one unit leaves no gap: only that all characters have it tells a start-stop line
/// from elements in any order. Each character has a start and a stop element where they must be,
/// which chance does once in four.
#[test]
fn every_stop_from_one_unit_up_beats_elements_in_any_order() {
    for stop in [8, 9, 10, 11, 12, 14, 16] {
        for seed in 0..4 {
            let margin = over_rivals(45, stop, 8.0, seed);
            let least = 45.0 * 0.8;
            assert!(
                margin > least,
                "stops of {stop} points, seed {seed}: {margin}"
            );
        }
    }
}

/// A line that stays at mark costs a pause once, however long it lasts.
#[test]
fn a_long_pause_costs_little_more_than_a_short_one() {
    let evidence = |pause: usize| {
        let characters = [
            (0b00101, 12),
            (0b11000, pause),
            (0b01110, 12),
            (0b10101, 12),
        ];
        let elements = line(&keyed(20, &characters, 20 + 4 * 60 + pause), 8.0, 3);
        let ideal: f32 = elements.mark.iter().step_by(STEPS).map(|m| m.abs()).sum();
        frame(&elements, &LinePriors::unknown(STEPS), &Carry::nothing()).evidence - ideal
    };
    let (short, long) = (evidence(20 * STEPS), evidence(1000 * STEPS));
    assert!(
        short - long < 8.0,
        "20 elements: {short}, 1000 elements: {long}"
    );
}
