//! Where the next of some values will lie, by those before it, with the doubt.
//!
//! Values scatter about a middle by Student's distribution with four degrees of freedom, whose
//! far ends bear a wrong value now and then. Middle and scatter are unknown: every pair of them
//! on a grid has its posterior probability, and the next value is foretold by all pairs together.
//!
//! Prior: the scatter lies anywhere within a given range, equally likely in every octave; the
//! middle anywhere. Older values count less, so that a slow change is followed.

/// What to expect of a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Likely {
    /// As likely above as below.
    pub middle: f64,
    /// Nine times in ten it is no farther from `middle`.
    pub within: f64,
}

/// Values after which one counts half.
const HALVING: f64 = 10.0;
/// Grid: scatters, and middles on either side of the median.
const SCATTERS: usize = 16;
const MIDDLES: i32 = 30;

/// What the next value will be, by those so far, the latest last; `None` without any.
///
/// `scatter` is the range of the prior, in the unit of the values, above 0.
pub fn likely(values: &[f64], scatter: (f64, f64)) -> Option<Likely> {
    let pairs = posterior(values, scatter)?;
    let below = |x: f64| -> f64 {
        let share = |p: &Pair| p.weight * student((x - p.middle) / p.scatter);
        pairs.iter().map(share).sum()
    };
    let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(low, high), x| {
        (low.min(*x), high.max(*x))
    });
    let (low, high) = (low - 50.0 * scatter.1, high + 50.0 * scatter.1);
    let quantile = |share: f64| bisect((low, high), |x| below(x) < share);
    let middle = quantile(0.5);
    Some(Likely {
        middle,
        within: (quantile(0.95) - middle).max(middle - quantile(0.05)),
    })
}

struct Pair {
    middle: f64,
    scatter: f64,
    weight: f64,
}

fn posterior(values: &[f64], (least, most): (f64, f64)) -> Option<Vec<Pair>> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let median = *sorted.get(sorted.len() / 2)?;
    let mut pairs = Vec::new();
    for k in 0..SCATTERS {
        let scatter = least * (most / least).powf(k as f64 / (SCATTERS - 1) as f64);
        for step in -MIDDLES..=MIDDLES {
            // The middle is known to a share of the scatter; wide enough for one value, and the
            // next median but one.
            let middle = median + f64::from(step) / f64::from(MIDDLES) * 5.0 * scatter;
            let weight = log_likelihood(values, middle, scatter) + scatter.ln();
            pairs.push(Pair {
                middle,
                scatter,
                weight,
            });
        }
    }
    let best = pairs.iter().map(|p| p.weight).fold(f64::MIN, f64::max);
    pairs
        .iter_mut()
        .for_each(|p| p.weight = (p.weight - best).exp());
    let sum: f64 = pairs.iter().map(|p| p.weight).sum();
    pairs.iter_mut().for_each(|p| p.weight /= sum);
    // What bears nothing is not carried on.
    pairs.retain(|p| p.weight > 1e-7);
    Some(pairs)
}

/// Cells of the grid are as wide as the scatter: its logarithm is added by the caller.
fn log_likelihood(values: &[f64], middle: f64, scatter: f64) -> f64 {
    let latest = values.len();
    let terms = values.iter().enumerate().map(|(k, x)| {
        let age = (latest - 1 - k) as f64;
        let t = (x - middle) / scatter;
        0.5f64.powf(age / HALVING) * (-2.5 * (1.0 + t * t / 4.0).ln() - scatter.ln())
    });
    terms.sum()
}

/// Share of Student's distribution with four degrees of freedom below `t` (closed form, from its
/// density 3/8 (1 + t^2/4)^-5/2).
fn student(t: f64) -> f64 {
    let square = 1.0 + t * t / 4.0;
    0.5 + 0.375 * t / square.sqrt() * (1.0 - t * t / square / 12.0)
}

/// Where `is_below` turns from true to false.
fn bisect((mut low, mut high): (f64, f64), is_below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..40 {
        let middle = (low + high) / 2.0;
        match is_below(middle) {
            true => low = middle,
            false => high = middle,
        }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of Student's distribution with four degrees of freedom, as in every handbook's table:
    /// 2.132 (95 %), 2.776 (97.5 %), 4.604 (99.5 %).
    #[test]
    fn the_closed_form_is_the_tables() {
        for (t, share) in [(0.0, 0.5), (2.132, 0.95), (2.776, 0.975), (4.604, 0.995)] {
            assert!((student(t) - share).abs() < 1e-4, "{t}");
            assert!((student(-t) - (1.0 - share)).abs() < 1e-4, "{t}");
        }
    }

    /// A wrong value moves the middle hardly. The doubt tells what it must: one in seven is more
    /// than the one in ten that may lie outside, one in twenty is less.
    #[test]
    fn a_wrong_value_hardly_counts() {
        let values: Vec<f64> = (0..20)
            .map(|k| [-610.0, -590.0, -600.0, -605.0, -596.0][k % 5])
            .collect();
        for (n, within) in [(7, 100.0..300.0), (20, 10.0..40.0)] {
            let mut some = values[..n].to_vec();
            some[4] = 400.0;
            let likely = likely(&some, (5.0, 300.0)).unwrap();
            assert!((likely.middle + 600.0).abs() < 8.0, "{n}: {likely:?}");
            assert!(within.contains(&likely.within), "{n}: {likely:?}");
        }
    }

    #[test]
    fn more_values_less_doubt_and_a_change_is_followed() {
        let scattered = |n: usize| (0..n).map(|k| [0.0, 20.0, -15.0, 8.0][k % 4]);
        let within = |n| {
            let values: Vec<f64> = scattered(n).collect();
            likely(&values, (5.0, 300.0)).unwrap().within
        };
        assert!(within(3) > within(8) && within(8) > within(20));
        let after = |n| {
            let values: Vec<f64> = scattered(20)
                .chain(scattered(n).map(|x| x + 200.0))
                .collect();
            likely(&values, (5.0, 300.0)).unwrap()
        };
        let soon = after(12);
        assert!(
            soon.middle > 100.0 && 200.0 - soon.middle < soon.within,
            "{soon:?}"
        );
        let late = after(24);
        assert!((late.middle - 200.0).abs() < 20.0, "{late:?}");
        assert_eq!(likely(&[], (5.0, 300.0)), None);
    }
}
