//! Rivals: what else might explain two tones.

use crate::characters::priors::RESUMED;
use crate::elements::Elements;
use crate::sums::log_sum::exp_wide;

/// Probability that an element begins a grid point late, and that a rest begins after it: as a short
/// pause ends, of a line of which nothing is known.
const SLIP: f64 = 0.03;
const SETTLED: f64 = 0.1;

/// Evidence of the best explanation that is no start-stop line: noise, one steady tone,
/// elements of the same length that come in any order and slip, or two carriers that are
/// keyed each for itself.
pub fn rivals(elements: &Elements) -> f32 {
    [steady(elements), one_line(elements), two_carriers(elements)]
        .into_iter()
        .fold(0.0, f32::max)
}

/// Evidence that one of the tones stands all the time.
pub fn steady(elements: &Elements) -> f32 {
    let tone = |list: &[f32]| list.iter().step_by(elements.steps).sum::<f32>();
    tone(&elements.mark).max(tone(&elements.space))
}

/// Evidence that one tone alone is a start-stop line, and the other is keyed for itself: what a
/// tone of another pair makes of any tone. `line` gives the evidence of a line.
pub fn one_tone(elements: &Elements, line: impl Fn(&Elements) -> f32) -> f32 {
    let silent = vec![0.0; elements.points()];
    let by_mark = Elements {
        space: silent.clone(),
        ..elements.clone()
    };
    let by_space = Elements {
        mark: silent.clone(),
        part: vec![0.0; elements.part.len()],
        ..elements.clone()
    };
    let alone = |tone: &[f32]| {
        let keyed = chain([tone, &silent], elements.steps, CARRIER, 0.0);
        let steady = tone.iter().step_by(elements.steps).sum::<f32>();
        keyed.into_iter().fold(steady, f32::max)
    };
    let mark = line(&by_mark) + alone(&elements.space);
    mark.max(line(&by_space) + alone(&elements.mark))
}

/// How likely a line's element, or a carrier's, is to stay what the last one was: any text, and
/// long runs.
const LINE: [f64; 2] = [0.5, 0.85];
const CARRIER: [f64; 2] = [0.6, 0.85];

/// Evidence for a line whose elements come in any order, and slip.
pub fn one_line(elements: &Elements) -> f32 {
    let tones = [&elements.mark[..], &elements.space];
    let [text, runs] = chain(tones, elements.steps, LINE, 0.0);
    text.max(runs)
}

/// Evidence for two carriers that are keyed each for itself.
pub fn two_carriers(elements: &Elements) -> f32 {
    let silent = vec![0.0; elements.points()];
    let keyed = |tone: &[f32]| chain([tone, &silent], elements.steps, CARRIER, 0.0);
    let (mark, space) = (keyed(&elements.mark), keyed(&elements.space));
    (mark[0] + space[0]).max(mark[1] + space[1])
}

/// Evidence for a line whose elements come in any order, slip, and rest at either tone in between:
/// rest costs as little as that of a start-stop line.
pub fn bursts(elements: &Elements) -> f32 {
    let tones = [&elements.mark[..], &elements.space];
    let [text, runs] = chain(tones, elements.steps, LINE, SETTLED);
    text.max(runs)
}

/// What each state of a chain weighs at one grid point, for either chance to stay.
#[derive(Clone, Copy, Default)]
struct States {
    /// An element begins after one of this tone.
    line: [[f64; 2]; 2],
    /// The line rests at this tone.
    rest: [[f64; 2]; 2],
}

impl States {
    fn greatest(&self, of: usize) -> f64 {
        let all = self.line.iter().chain(&self.rest);
        all.fold(0.0, |most, state| most.max(state[of]))
    }

    fn scale(&mut self, by: [f64; 2]) {
        for state in self.line.iter_mut().chain(&mut self.rest) {
            state[0] *= by[0];
            state[1] *= by[1];
        }
    }
}

/// Evidence for a line that is in one of two states, for two chances that an element stays what
/// the last one was; it slips by a grid point now and then. After any element a rest may begin,
/// with the chance `settles`, which ends with the other state.
///
/// Sums are of plain numbers, in a unit that is chosen anew with every element: the evidence of one
/// is some forty nats at most.
fn chain(tones: [&[f32]; 2], steps: usize, stays: [f64; 2], settles: f64) -> [f32; 2] {
    let weights = tones.map(|tone| tone.iter().map(|x| exp_wide(*x)).collect::<Vec<f64>>());
    let keyed = (1.0 - SLIP) * (1.0 - settles);
    let (same, change) = (stays.map(|s| s * keyed), stays.map(|s| (1.0 - s) * keyed));
    let (resumes, points) = (f64::from(RESUMED), tones[0].len());
    let mut states = vec![States::default(); points + steps + 1];
    let resting = if settles > 0.0 { 0.5 } else { 0.0 };
    states[0] = States {
        line: [[0.5; 2]; 2],
        rest: [[resting; 2]; 2],
    };
    let (mut total, mut unit_ln) = ([0.0; 2], [0.0; 2]);
    for i in 0..points {
        if i % steps == 0 {
            let ahead = &mut states[i..=i + steps];
            let most = [0, 1].map(|of| ahead.iter().fold(0.0, |m: f64, s| m.max(s.greatest(of))));
            let by = most.map(f64::recip);
            ahead.iter_mut().for_each(|s| s.scale(by));
            for of in 0..2 {
                total[of] *= by[of];
                unit_ln[of] += most[of].ln();
            }
        }
        let now = states[i];
        for (k, weights) in weights.iter().enumerate() {
            let weight = weights[i];
            for of in 0..2 {
                let (own, other) = (now.line[k][of], now.line[1 - k][of]);
                let begins = own * same[of] + other * change[of];
                let arrives = weight * (begins + resumes * now.rest[1 - k][of]);
                let rests = weight * (settles * own + (1.0 - resumes) * now.rest[k][of]);
                states[i + steps].line[k][of] += arrives;
                states[i + steps].rest[k][of] += rests;
                states[i + 1].line[k][of] += SLIP * own;
                // A rest is not bound to whole elements.
                states[i + 1].rest[k][of] += SLIP * now.rest[k][of];
                if i + steps >= points {
                    total[of] += arrives + rests;
                }
            }
        }
    }
    [0, 1].map(|of| (total[of].max(f64::MIN_POSITIVE).ln() + unit_ln[of]) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{LinePriors, evidence_of};
    use crate::pair::testing::Random;

    const STEPS: usize = 8;

    /// Elements of which each grid point is at mark or not, given for both tones, worth so much
    /// for a whole one.
    fn elements([mark, space]: [&[bool]; 2], worth: f32) -> Elements {
        let points = mark.len() - STEPS;
        let share = |line: &[bool], i: usize, steps: usize| -> f32 {
            let on = line[i..i + steps].iter().filter(|m| **m).count();
            worth * (2.0 * on as f32 - steps as f32) / STEPS as f32
        };
        Elements {
            steps: STEPS,
            mark: (0..points).map(|i| share(mark, i, STEPS)).collect(),
            space: (0..points).map(|i| share(space, i, STEPS)).collect(),
            part: (0..points * STEPS)
                .map(|k| share(mark, k / STEPS, k % STEPS))
                .collect(),
        }
    }

    /// Whether a line of random characters is at mark, for so many of them with such stops.
    fn line(stop_units: f64, characters: usize, random: &mut Random) -> Vec<bool> {
        let mut line = vec![true; 3 * STEPS];
        let mut place = 0.0;
        for _ in 0..characters {
            line.extend([false; STEPS]);
            (0..5).for_each(|_| line.extend([random.uniform() < 0.5; STEPS]));
            place += stop_units * STEPS as f64;
            line.extend(vec![true; place as usize]);
            place = place.fract();
        }
        line
    }

    /// The same sum as [`chain`] by logarithms, one chance at a time.
    fn slow(tones: [&[f32]; 2], steps: usize, stay: f64, settles: f64) -> f32 {
        const NEVER: f64 = -1e30;
        let add = |a: f64, b: f64| a.max(b) + (-(a - b).abs()).exp().ln_1p();
        let ln = |p: f64| if p > 0.0 { p.ln() } else { NEVER };
        let keyed = (1.0 - SLIP) * (1.0 - settles);
        let points = tones[0].len();
        let states = |first: f64| {
            let mut list = vec![NEVER; points + steps + 1];
            list[0] = first;
            [list.clone(), list]
        };
        let resting = if settles > 0.0 { ln(0.5) } else { NEVER };
        let (mut line, mut rest) = (states(ln(0.5)), states(resting));
        let resumes = f64::from(RESUMED);
        let mut total = NEVER;
        for i in 0..points {
            for k in 0..2 {
                let begins = add(
                    line[k][i] + ln(stay * keyed),
                    line[1 - k][i] + ln((1.0 - stay) * keyed),
                );
                let weight = f64::from(tones[k][i]);
                let arrives = add(begins, rest[1 - k][i] + ln(resumes)) + weight;
                let settled = add(line[k][i] + ln(settles), rest[k][i] + ln(1.0 - resumes));
                let stays = settled + weight;
                line[k][i + steps] = add(line[k][i + steps], arrives);
                rest[k][i + steps] = add(rest[k][i + steps], stays);
                if i + steps >= points {
                    total = add(total, add(arrives, stays));
                }
            }
            for k in 0..2 {
                line[k][i + 1] = add(line[k][i + 1], line[k][i] + ln(SLIP));
                rest[k][i + 1] = add(rest[k][i + 1], rest[k][i] + ln(SLIP));
            }
        }
        total as f32
    }

    #[test]
    fn chains_sum_what_the_slow_way_sums() {
        for seed in 1..6 {
            let mut random = Random::new(seed);
            // From weak to as sure as several receivers together are.
            for worth in [0.3, 3.0, 40.0, 120.0] {
                let mark = line(1.5, 12, &mut random);
                let space: Vec<bool> = mark.iter().map(|m| !m).collect();
                let elements = elements([&mark, &space], worth);
                let tones = [&elements.mark[..], &elements.space];
                for (stays, settles) in [(LINE, 0.0), (LINE, SETTLED), (CARRIER, 0.0)] {
                    let found = chain(tones, STEPS, stays, settles);
                    for (found, stay) in found.into_iter().zip(stays) {
                        let slow = slow(tones, STEPS, stay, settles);
                        let near = 0.02 + 1e-4 * slow.abs();
                        assert!((found - slow).abs() < near, "{worth}: {found}, {slow}");
                    }
                }
            }
        }
    }

    fn framed(elements: &Elements) -> f32 {
        evidence_of(elements, &LinePriors::unknown(STEPS))
    }

    #[test]
    fn a_line_needs_both_of_its_tones() {
        for seed in 1..5 {
            let mut random = Random::new(seed);
            let mark = line(2.0, 45, &mut random);
            let space: Vec<bool> = mark.iter().map(|m| !m).collect();
            let pieces = (0..mark.len() / STEPS + 1).map(|_| random.uniform() < 0.5);
            let other: Vec<bool> = pieces.flat_map(|on| [on; STEPS]).collect();
            let margin = |mark: &[bool]| {
                let elements = elements([mark, &space], 8.0);
                framed(&elements) - one_tone(&elements, framed)
            };
            assert!(margin(&mark) > 32.0, "seed {seed}: {}", margin(&mark));
            let other = &other[..mark.len()];
            assert!(margin(other) < 0.0, "seed {seed}: {}", margin(other));
        }
    }
}
