//! Figures out of a settled fit.

use super::fit::Fit;
use super::framing::{Framed, Framing, Transition};
use super::unit::nominal_baud;
use super::{Degree, Estimate, Individual, Knowledge, Measurement, PAUSE_UNITS, Stops};
use markhold_code::StartStop;

/// All figures of a line whose unit and characters are settled.
pub(super) fn gather(
    fit: Fit,
    framing: Framing,
    turned: bool,
    knowledge: &Knowledge,
) -> Measurement {
    let rate = 1.0 / fit.unit_s;
    let known = knowledge.nominal_baud.or_else(|| nominal_baud(rate));
    let nominal = known.unwrap_or(rate);
    let systematic = knowledge.systematic_s * rate;
    let share = |s: f64, within_s: f64| Estimate {
        value: s * rate,
        within: (within_s * rate).hypot(systematic),
    };
    // Systematic errors move all transitions alike and leave the unit alone, nearly.
    let rate_within = rate * (fit.within_s[0] * rate).hypot(systematic / 10.0);
    let individual = individual(&framing.characters, rate, nominal);
    // Both the transition and its start edge are off by the noise.
    let error_rms = std::f64::consts::SQRT_2 * knowledge.noise_s * rate;
    let degrees = Degrees {
        error_rms,
        worst: (knowledge.worst_s + 2.0 * knowledge.noise_s) * rate,
        systematic,
    };
    let left = left_over_rms(&individual, &fit, rate);
    Measurement {
        nominal_baud: nominal,
        nominal_known: known.is_some(),
        turned,
        rate_baud: Estimate {
            value: rate,
            within: rate_within,
        },
        speed_error: Estimate {
            value: rate / nominal - 1.0,
            within: rate_within / nominal,
        },
        bias: share(fit.early_s, fit.within_s[1]),
        end: fit.late_s.map(|late| share(late, fit.within_s[2])),
        fortuitous_rms: (left * left - error_rms * error_rms).max(0.0).sqrt(),
        error_rms,
        gross: degrees.of(individual.iter().map(|d| d.gross.abs())),
        synchronous: degrees.of(individual.iter().map(|d| d.synchronous.abs())),
        isochronous: degrees.of(spreads(&individual)),
        stops: stops(&framing.characters, rate),
        individual,
        characters: framing.characters,
        explained: framing.explained,
    }
}

fn individual(characters: &[Framed], rate: f64, nominal: f64) -> Vec<Individual> {
    let of = |(character, framed): (usize, &Framed)| -> Vec<Individual> {
        let one = |t: &Transition| Individual {
            character,
            units: t.units,
            to_mark: t.to_mark,
            gross: t.after_s * nominal - f64::from(t.units),
            synchronous: t.after_s * rate - f64::from(t.units),
        };
        framed.transitions.iter().map(one).collect()
    };
    characters.iter().enumerate().flat_map(of).collect()
}

/// Rms of what speed, bias and end distortion leave unexplained, share of an element.
fn left_over_rms(individual: &[Individual], fit: &Fit, rate: f64) -> f64 {
    let left = |d: &Individual| {
        let steady = match d.to_mark {
            true => -fit.early_s * rate,
            false => fit.late_s.unwrap_or(0.0) * rate,
        };
        (d.synchronous - steady).powi(2)
    };
    let count = individual.len().max(1) as f64;
    (individual.iter().map(left).sum::<f64>() / count).sqrt()
}

/// Within each character: latest less earliest transition, the start edge counting as 0.
fn spreads(individual: &[Individual]) -> impl Iterator<Item = f64> {
    individual
        .chunk_by(|a, b| a.character == b.character)
        .map(|character| {
            let of =
                |fold: fn(f64, f64) -> f64| character.iter().map(|d| d.synchronous).fold(0.0, fold);
            of(f64::max) - of(f64::min)
        })
}

/// Makes degrees of what was seen.
struct Degrees {
    error_rms: f64,
    worst: f64,
    systematic: f64,
}

impl Degrees {
    /// The largest of many values with errors exceeds the true largest by up to the worst
    /// error, two sigma of the start edge's beside it; it falls short by two sigma at most
    /// (95 %).
    fn of(&self, values: impl Iterator<Item = f64>) -> Degree {
        let seen = values.fold(0.0, f64::max);
        Degree {
            seen,
            least: (seen - self.worst - self.systematic).max(0.0),
            most: seen + 2.0 * self.error_rms + self.systematic,
        }
    }
}

fn stops(characters: &[Framed], rate: f64) -> Option<Stops> {
    let lengths = characters
        .windows(2)
        .filter(|pair| pair[0].joined)
        .map(|pair| (pair[1].start_s - pair[0].start_s) * rate - StartStop::UNITS_BEFORE_STOP);
    let (mut together, pauses): (Vec<f64>, Vec<f64>) = lengths.partition(|l| *l <= PAUSE_UNITS);
    together.sort_by(f64::total_cmp);
    let (shortest, longest) = (*together.first()?, *together.last()?);
    Some(Stops {
        count: together.len(),
        pauses: pauses.len(),
        shortest,
        median: together[together.len() / 2],
        longest,
    })
}
