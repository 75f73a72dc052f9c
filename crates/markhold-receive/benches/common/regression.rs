//! Multinomial logistic regression: the weights under which known classes are likeliest.

/// One known case: what was measured, its class, and how much it counts.
#[derive(Clone, Debug)]
pub struct Example {
    /// What was measured.
    pub evidence: Vec<f64>,
    /// Which class it is of.
    pub class: usize,
    /// How much it counts.
    pub weight: f64,
}

/// Steps of the ascent; more change the weights in the third digit.
const STEPS: usize = 3000;
/// Length of the first step.
const STEP: f64 = 0.1;
/// Decay of the means of gradient and squared gradient (D. P. Kingma and J. Ba, 2014).
const DECAYS: [f64; 2] = [0.9, 0.999];

/// Weights of each class, the offset first. `shrink` draws weights towards zero: half the
/// inverse variance of their prior, for evidence of variance 1 and examples of total weight 1.
pub fn fit(examples: &[Example], classes: usize, shrink: f64) -> Vec<Vec<f64>> {
    let (means, scales) = spread(examples);
    let rows: Vec<Vec<f64>> = examples
        .iter()
        .map(|e| {
            let scaled = e.evidence.iter().zip(means.iter().zip(&scales));
            std::iter::once(1.0)
                .chain(scaled.map(|(x, (m, s))| (x - m) / s))
                .collect()
        })
        .collect();
    let count = means.len() + 1;
    let mut weights = vec![vec![0.0; count]; classes];
    let (mut first, mut second) = (weights.clone(), weights.clone());
    for step in 1..=STEPS {
        let gradient = gradient(examples, &rows, &weights, shrink);
        let length = STEP / (1.0 + step as f64 / 300.0);
        for c in 0..classes {
            for i in 0..count {
                let g = gradient[c][i];
                first[c][i] += (g - first[c][i]) * (1.0 - DECAYS[0]);
                second[c][i] += (g * g - second[c][i]) * (1.0 - DECAYS[1]);
                let m = first[c][i] / (1.0 - DECAYS[0].powi(step as i32));
                let v = second[c][i] / (1.0 - DECAYS[1].powi(step as i32));
                weights[c][i] += length * m / (v.sqrt() + 1e-12);
            }
        }
    }
    unscaled(weights, &means, &scales)
}

/// Mean and standard deviation of each measure.
fn spread(examples: &[Example]) -> (Vec<f64>, Vec<f64>) {
    let count = examples.first().map_or(0, |e| e.evidence.len());
    let total: f64 = examples.iter().map(|e| e.weight).sum();
    let mean = |of: &dyn Fn(&Example) -> f64| {
        examples.iter().map(|e| e.weight * of(e)).sum::<f64>() / total
    };
    let means: Vec<f64> = (0..count).map(|i| mean(&|e| e.evidence[i])).collect();
    let scale = |i: usize| {
        mean(&|e| (e.evidence[i] - means[i]).powi(2))
            .sqrt()
            .max(1e-9)
    };
    let scales = (0..count).map(scale).collect();
    (means, scales)
}

/// Gradient of the mean log likelihood less what large weights cost.
fn gradient(
    examples: &[Example],
    rows: &[Vec<f64>],
    weights: &[Vec<f64>],
    shrink: f64,
) -> Vec<Vec<f64>> {
    let total: f64 = examples.iter().map(|e| e.weight).sum();
    let mut gradient: Vec<Vec<f64>> = weights
        .iter()
        .map(|w| {
            let cost = |(i, w): (usize, &f64)| if i == 0 { 0.0 } else { -2.0 * shrink * w };
            w.iter().enumerate().map(cost).collect()
        })
        .collect();
    for (example, row) in examples.iter().zip(rows) {
        let p = probabilities(weights, row);
        for (c, g) in gradient.iter_mut().enumerate() {
            let off = f64::from(u8::from(c == example.class)) - p[c];
            let by = example.weight / total * off;
            g.iter_mut().zip(row).for_each(|(g, x)| *g += by * x);
        }
    }
    gradient
}

fn probabilities(weights: &[Vec<f64>], row: &[f64]) -> Vec<f64> {
    let score = |w: &Vec<f64>| w.iter().zip(row).map(|(w, x)| w * x).sum::<f64>();
    let scores: Vec<f64> = weights.iter().map(score).collect();
    let highest = scores.iter().fold(f64::MIN, |a, b| a.max(*b));
    let raw: Vec<f64> = scores.iter().map(|s| (s - highest).exp()).collect();
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|r| r / sum).collect()
}

/// Weights for the measures as they are.
fn unscaled(weights: Vec<Vec<f64>>, means: &[f64], scales: &[f64]) -> Vec<Vec<f64>> {
    let plain = |w: &Vec<f64>| {
        let own: Vec<f64> = w[1..].iter().zip(scales).map(|(w, s)| w / s).collect();
        let moved: f64 = own.iter().zip(means).map(|(w, m)| w * m).sum();
        std::iter::once(w[0] - moved).chain(own).collect()
    };
    weights.iter().map(plain).collect()
}
