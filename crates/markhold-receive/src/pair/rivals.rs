//! Rivals: what else might explain two tones.

use crate::characters::priors::RESUMED;
use crate::elements::Elements;
use crate::sums::log_sum::{NEVER, add};

/// Probability that an element begins a grid point late, and that a rest begins after it: as a short
/// pause ends, of a line of which nothing is known.
const SLIP: f32 = 0.03;
const SETTLED: f32 = 0.1;

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
        let keyed = |stay: f32| chain(tone, &silent, elements.steps, stay);
        let steady = tone.iter().step_by(elements.steps).sum::<f32>();
        keyed(0.6).max(keyed(0.85)).max(steady)
    };
    let mark = line(&by_mark) + alone(&elements.space);
    mark.max(line(&by_space) + alone(&elements.mark))
}

/// Evidence for a line whose elements come in any order, and slip.
pub fn one_line(elements: &Elements) -> f32 {
    let keyed = |stay: f32| chain(&elements.mark, &elements.space, elements.steps, stay);
    keyed(0.5).max(keyed(0.85))
}

/// Evidence for two carriers that are keyed each for itself.
pub fn two_carriers(elements: &Elements) -> f32 {
    let silent = vec![0.0; elements.points()];
    let keyed = |tone: &[f32], stay: f32| chain(tone, &silent, elements.steps, stay);
    [0.6, 0.85]
        .into_iter()
        .map(|stay| keyed(&elements.mark, stay) + keyed(&elements.space, stay))
        .fold(NEVER, f32::max)
}

/// Evidence for a line whose elements come in any order, slip, and rest at either tone in between:
/// rest costs as little as that of a start-stop line.
pub fn bursts(elements: &Elements) -> f32 {
    let keyed = |stay: f32| chain_that_rests(&elements.mark, &elements.space, elements.steps, stay);
    keyed(0.5).max(keyed(0.85))
}

/// As [`chain`]; after any element a rest may begin, which ends with the other state.
fn chain_that_rests(one: &[f32], other: &[f32], steps: usize, stay: f32) -> f32 {
    let keyed = (1.0 - SLIP) * (1.0 - SETTLED);
    let (same, change) = ((stay * keyed).ln(), ((1.0 - stay) * keyed).ln());
    let (slip, settles) = (SLIP.ln(), SETTLED.ln());
    let (rests, resumes) = ((1.0 - RESUMED).ln(), RESUMED.ln());
    let points = one.len();
    let states = || {
        [
            vec![NEVER; points + steps + 1],
            vec![NEVER; points + steps + 1],
        ]
    };
    let (mut line, mut rest) = (states(), states());
    for k in 0..2 {
        line[k][0] = -std::f32::consts::LN_2;
        rest[k][0] = -std::f32::consts::LN_2;
    }
    let mut total = NEVER;
    for i in 0..points {
        let now = [line[0][i], line[1][i]];
        let resting = [rest[0][i], rest[1][i]];
        for (k, weight) in [one[i], other[i]].into_iter().enumerate() {
            let begins = add(now[k] + same, now[1 - k] + change);
            let arrives = add(begins, resting[1 - k] + resumes) + weight;
            let stays = add(now[k] + settles, resting[k] + rests) + weight;
            line[k][i + steps] = add(line[k][i + steps], arrives);
            line[k][i + 1] = add(line[k][i + 1], now[k] + slip);
            rest[k][i + steps] = add(rest[k][i + steps], stays);
            // A rest is not bound to whole elements.
            rest[k][i + 1] = add(rest[k][i + 1], resting[k] + slip);
            if i + steps >= points {
                total = add(total, add(arrives, stays));
            }
        }
    }
    total
}

/// Evidence for a line that is in one of two states: each element stays what the last was
/// with probability `stay`, and slips by a grid point now and then.
fn chain(one: &[f32], other: &[f32], steps: usize, stay: f32) -> f32 {
    let points = one.len();
    let (same, change, slip) = (
        (stay * (1.0 - SLIP)).ln(),
        ((1.0 - stay) * (1.0 - SLIP)).ln(),
        SLIP.ln(),
    );
    let mut line = [
        vec![NEVER; points + steps + 1],
        vec![NEVER; points + steps + 1],
    ];
    line[0][0] = -std::f32::consts::LN_2;
    line[1][0] = -std::f32::consts::LN_2;
    let mut total = NEVER;
    for i in 0..points {
        let now = [line[0][i], line[1][i]];
        for (k, weight) in [one[i], other[i]].into_iter().enumerate() {
            let arrives = add(now[k] + same, now[1 - k] + change) + weight;
            line[k][i + steps] = add(line[k][i + steps], arrives);
            line[k][i + 1] = add(line[k][i + 1], now[k] + slip);
            if i + steps >= points {
                total = add(total, arrives);
            }
        }
    }
    total
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{Carry, LinePriors, evidence_of};
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

    fn framed(elements: &Elements) -> f32 {
        evidence_of(elements, &LinePriors::unknown(STEPS), &Carry::nothing())
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
