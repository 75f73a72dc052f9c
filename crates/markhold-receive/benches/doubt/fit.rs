//! The weights of the causes, fitted.

use crate::regression::{Example, fit};
use crate::sample::Sample;
use crate::troubles::Trouble;
use markhold_receive::copy::doubt::evidence::evidence;
use markhold_receive::copy::doubt::{CAUSES, SURE};
use markhold_receive::event::Doubt;
use std::fmt::Write;
use std::path::Path;

/// Draws weights towards zero: their prior has a standard deviation of some five for
/// evidence of variance 1, with a few hundred examples of each cause.
const SHRINK: f64 = 1e-4;

/// Fits the weights to samples and writes them into a file.
pub fn write(samples: &[(Trouble, Vec<Sample>)], into: &Path) -> Result<(), String> {
    let examples = examples(samples);
    let weights = fit(&examples, CAUSES.len(), SHRINK);
    let source = source(&weights);
    print!("{source}");
    std::fs::write(into, source).map_err(|e| format!("{}: {e}", into.display()))
}

/// Both fades are right: such a character teaches nothing about telling them apart.
fn is_either_fade(causes: &[Doubt]) -> bool {
    [Doubt::Fade, Doubt::FadeOfOneTone]
        .iter()
        .all(|fade| causes.contains(fade))
}

/// The doubtful characters. Every cause counts the same, and within it a trouble by the
/// root of its number of characters.
fn examples(samples: &[(Trouble, Vec<Sample>)]) -> Vec<Example> {
    let mut examples = Vec::new();
    for (_, samples) in samples {
        let begin = examples.len();
        let teaches = |s: &&Sample| s.character.probability < SURE && !is_either_fade(&s.causes);
        for sample in samples.iter().filter(teaches) {
            let main = sample.causes.first();
            if let Some(class) = CAUSES.iter().position(|c| main == Some(c)) {
                let evidence = evidence(&sample.conditions);
                examples.push(Example {
                    evidence: evidence.map(f64::from).to_vec(),
                    class,
                    weight: 1.0,
                });
            }
        }
        even(&mut examples[begin..], |count, _| 1.0 / count.sqrt());
    }
    even(&mut examples, |_, weight| 1.0 / weight);
    examples
}

/// Multiplies the weights of each class by a factor of their number and sum.
fn even(examples: &mut [Example], factor: impl Fn(f64, f64) -> f64) {
    for class in 0..CAUSES.len() {
        let of = |e: &&Example| e.class == class;
        let count = examples.iter().filter(of).count() as f64;
        let sum: f64 = examples.iter().filter(of).map(|e| e.weight).sum();
        for example in examples.iter_mut().filter(|e| e.class == class) {
            example.weight *= factor(count, sum);
        }
    }
}

fn source(weights: &[Vec<f64>]) -> String {
    let mut source = String::from(
        "//! Weights of the causes of doubt, written by `--bench doubt -- --fit`.\n\n\
         use super::CAUSES;\n\
         use super::evidence::COUNT;\n\n\
         /// Offset and weights of each cause.\n\
         #[rustfmt::skip]\n\
         #[allow(clippy::approx_constant, reason = \"a weight may come near pi\")]\n\
         pub const WEIGHTS: [[f32; COUNT + 1]; CAUSES.len()] = [\n",
    );
    for (cause, weights) in CAUSES.iter().zip(weights) {
        let numbers: Vec<String> = weights.iter().map(|w| format!("{w:.2}")).collect();
        let _ = writeln!(source, "    // {cause:?}\n    [{}],", numbers.join(", "));
    }
    source.push_str("];\n");
    source
}
