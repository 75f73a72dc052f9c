//! Rivals: what else might explain two tones.

use crate::characters::log_sum::{NEVER, add};
use crate::elements::Elements;

/// Evidence of the best explanation that is no start-stop line: noise, one steady tone,
/// elements of the same length that come in any order and slip, or two carriers that are
/// keyed each for itself.
pub fn rivals(elements: &Elements) -> f32 {
    let steady = |list: &[f32]| list.iter().step_by(elements.steps).sum::<f32>();
    [
        steady(&elements.mark),
        steady(&elements.space),
        one_line(elements),
        two_carriers(elements),
    ]
    .into_iter()
    .fold(0.0, f32::max)
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

/// Evidence for a line that is in one of two states: each element stays what the last was
/// with probability `stay`, and slips by a grid point now and then.
fn chain(one: &[f32], other: &[f32], steps: usize, stay: f32) -> f32 {
    const SLIP: f32 = 0.03;
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
