//! What published limits say about a measured line.
//!
//! Each limit names its source and whether the source itself was read (a stored copy) or is
//! from memory. Limits from memory inform; check them against the current edition.

use crate::measure::{Degree, Estimate, Measurement};

/// How a limit is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Read in a copy of the source.
    Read,
    /// From memory: confirm before relying on it.
    FromMemory,
}

impl Status {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Status::Read => "read in a copy",
            Status::FromMemory => "from memory, check the current edition",
        }
    }
}

/// What a limit is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Gross start-stop distortion.
    Gross,
    /// Isochronous distortion (within characters).
    Isochronous,
    /// Speed error, sign ignored.
    Speed,
    /// Shortest stop element; the limit is the least allowed.
    Stop,
}

/// A published limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// What it is about.
    pub quantity: Quantity,
    /// The limit: share of an element, share of the rate, or units of a stop element.
    pub value: f64,
    /// Where it stands and what it is for.
    pub source: &'static str,
    /// How it is known.
    pub status: Status,
}

/// Whether a limit is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Within the limit, the whole interval of confidence.
    Kept,
    /// Not within it, the whole interval.
    NotKept,
    /// The interval holds the limit.
    Undecided,
}

/// A limit and what the measurement says of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// The limit.
    pub limit: Limit,
    /// What was found, in the unit of the limit.
    pub found: f64,
    /// Kept or not.
    pub verdict: Verdict,
}

use Quantity::{Gross, Isochronous, Speed, Stop};
use Status::{FromMemory, Read};

/// Limits at every rate: (quantity, value, source, status).
const ALWAYS: [Limit; 4] = [
    limit(
        Gross,
        0.40,
        "US Army teletypewriter training text: total distortion in a working system",
        Read,
    ),
    limit(
        Gross,
        0.05,
        "ITU-T S.3: gross start-stop distortion of a sender",
        FromMemory,
    ),
    limit(
        Speed,
        0.0075,
        "ITU-T S.3: speed of a machine against nominal",
        FromMemory,
    ),
    limit(
        Stop,
        1.4,
        "ITU-T S.3: stop element at least (50 Bd)",
        FromMemory,
    ),
];

/// Isochronous limits of circuits by nominal rate, baud: R.50 up to 50 Bd, R.120 Table 1.
const BY_RATE: [(f64, Limit); 4] = [
    (
        50.0,
        limit(
            Isochronous,
            0.28,
            "ITU-T R.50: circuit at 50 Bd without local ends",
            Read,
        ),
    ),
    (
        75.0,
        limit(
            Isochronous,
            0.28,
            "ITU-T R.120 Table 1: circuit at 75 Bd",
            Read,
        ),
    ),
    (
        100.0,
        limit(
            Isochronous,
            0.24,
            "ITU-T R.120 Table 1: circuit at 100 Bd",
            Read,
        ),
    ),
    (
        200.0,
        limit(
            Isochronous,
            0.32,
            "ITU-T R.120 Table 1: circuit at 200 Bd",
            Read,
        ),
    ),
];

const fn limit(quantity: Quantity, value: f64, source: &'static str, status: Status) -> Limit {
    Limit {
        quantity,
        value,
        source,
        status,
    }
}

/// The limits that apply at a nominal rate: for the circuit, those of the slowest listed
/// rate that is not below it.
pub fn limits(nominal_baud: f64) -> Vec<Limit> {
    let circuit = BY_RATE
        .iter()
        .find(|(rate, _)| nominal_baud <= rate * 1.001);
    ALWAYS
        .into_iter()
        .chain(circuit.map(|(_, limit)| *limit))
        .collect()
}

/// Judges a measurement by every limit that applies. Ask [`Measurement::refusal`] first.
pub fn judge(measured: &Measurement) -> Vec<Finding> {
    limits(measured.nominal_baud)
        .into_iter()
        .filter_map(|limit| finding(limit, measured))
        .collect()
}

fn finding(limit: Limit, measured: &Measurement) -> Option<Finding> {
    let (found, least, most) = match limit.quantity {
        Gross => of_degree(&measured.gross),
        Isochronous => of_degree(&measured.isochronous),
        Speed if measured.nominal_known => of_size(&measured.speed_error),
        Speed => return None,
        // Judged as "at least", so the order turns round.
        Stop => {
            let stops = measured.stops?;
            let error = 2.0 * measured.error_rms;
            let verdict = verdict(
                -stops.shortest - error,
                -stops.shortest + error,
                -limit.value,
            );
            return Some(Finding {
                limit,
                found: stops.shortest,
                verdict,
            });
        }
    };
    Some(Finding {
        limit,
        found,
        verdict: verdict(least, most, limit.value),
    })
}

fn of_degree(degree: &Degree) -> (f64, f64, f64) {
    (degree.seen, degree.least, degree.most)
}

fn of_size(estimate: &Estimate) -> (f64, f64, f64) {
    let size = estimate.value.abs();
    (
        size,
        (size - estimate.within).max(0.0),
        size + estimate.within,
    )
}

/// Rounding must not turn "just at the limit" into "not kept".
const ROUNDING: f64 = 1e-9;

fn verdict(least: f64, most: f64, limit: f64) -> Verdict {
    if most <= limit + ROUNDING {
        Verdict::Kept
    } else if least > limit {
        Verdict::NotKept
    } else {
        Verdict::Undecided
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::measure::{Knowledge, measure};
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    /// References 3.11 (R.50, read) and 3.12 (R.120 Table 1, read).
    #[test]
    fn circuits_by_rate() {
        let table = [
            (1.0 / 0.022, Some(0.28)),
            (50.0, Some(0.28)),
            (75.0, Some(0.28)),
            (100.0, Some(0.24)),
            (200.0, Some(0.32)),
            (300.0, None),
        ];
        for (rate, expected) in table {
            let found = limits(rate)
                .into_iter()
                .find(|l| l.quantity == Isochronous)
                .map(|l| l.value);
            assert_eq!(found, expected, "{rate}");
        }
    }

    fn verdicts(distortion: Distortion, speed: StartStop, noise_s: f64) -> Vec<(f64, Verdict)> {
        let sending = Sending {
            distortion,
            ..Sending::new(speed)
        };
        let line = edges(
            &sending
                .line(&Pattern::Combinations.at_least(100))
                .expect("in range"),
        );
        let knowledge = Knowledge {
            noise_s,
            worst_s: 4.0 * noise_s,
            ..Knowledge::default()
        };
        let findings = judge(&measure(&line, &knowledge).expect("a line"));
        findings
            .iter()
            .map(|f| (f.limit.value, f.verdict))
            .collect()
    }

    #[test]
    fn a_clean_line_keeps_all_limits() {
        let found = verdicts(Distortion::default(), StartStop::new(50.0, 1.5), 0.0);
        assert_eq!(found.len(), 5);
        assert!(found.iter().all(|f| f.1 == Verdict::Kept), "{found:?}");
    }

    #[test]
    fn each_limit_is_broken_by_what_breaks_it() {
        let biased = Distortion {
            bias: 0.3,
            ..Distortion::default()
        };
        let found = verdicts(biased, StartStop::new(50.0, 1.5), 0.0);
        let of = |value| found.iter().find(|f| f.0 == value).expect("judged").1;
        assert_eq!(
            (of(0.40), of(0.28), of(0.05)),
            (Verdict::Kept, Verdict::NotKept, Verdict::NotKept)
        );
        let slow = verdicts(Distortion::default(), StartStop::new(49.5, 1.2), 0.0);
        let of = |value| slow.iter().find(|f| f.0 == value).expect("judged").1;
        assert_eq!((of(0.0075), of(1.4)), (Verdict::NotKept, Verdict::NotKept));
    }

    #[test]
    fn near_the_limit_a_poor_measurement_decides_nothing() {
        let biased = Distortion {
            bias: 0.39,
            ..Distortion::default()
        };
        let found = verdicts(biased, StartStop::new(50.0, 1.5), 2e-4);
        assert_eq!(found[0], (0.40, Verdict::Undecided));
    }
}
