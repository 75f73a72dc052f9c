//! Speed and distortion of a keyed line, from its edges.
//!
//! Terms as in ITU-T R.140 and Federal Standard 1037C: an *individual* distortion is how far
//! a transition lies from its ideal instant, counted from the start edge of its character, in
//! units. The *degree* is the largest of them, sign ignored. *Gross*: the ideal unit is that
//! of the nominal rate, so a speed error counts; *synchronous*: it is the line's own mean.

pub mod fit;
pub mod framing;
mod gather;
pub mod running;
pub mod unit;

use crate::line::{Edge, LineError, check, turned};
use framing::{Framed, Framing, frame};
use gather::gather;

/// What is known beforehand.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Knowledge {
    /// Nominal rate, baud; found if left out.
    pub nominal_baud: Option<f64>,
    /// Error of each edge's time, rms, s: noise of the sound or grain of the clock.
    pub noise_s: f64,
    /// Largest error that an edge's time may have, s.
    pub worst_s: f64,
    /// Error of the method that more characters do not average away, s.
    pub systematic_s: f64,
    /// Whether mark and space may have been exchanged, and the better reading is wanted.
    pub either_sense: bool,
}

/// A figure and the half width of its 95 % confidence interval, in the same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Half width of the interval, 0 or more.
    pub within: f64,
}

/// A degree of distortion: the largest seen, and between which limits the line's own lies
/// once the error of measuring is allowed for. Shares of an element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Degree {
    /// Largest seen.
    pub seen: f64,
    /// Least it can be.
    pub least: f64,
    /// Most it can be.
    pub most: f64,
}

/// One individual distortion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Individual {
    /// Index of the character.
    pub character: usize,
    /// Place after the start edge, units, 1 to 6.
    pub units: u8,
    /// Whether it leads to mark.
    pub to_mark: bool,
    /// Against the nominal unit, share of an element, late positive.
    pub gross: f64,
    /// Against the line's own unit.
    pub synchronous: f64,
}

/// Lengths of stop elements, units of the line's own rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stops {
    /// How many stop elements end in the next character's start without a pause.
    pub count: usize,
    /// How many were longer than [`PAUSE_UNITS`] and count as pauses.
    pub pauses: usize,
    /// Shortest.
    pub shortest: f64,
    /// Median of those without pause.
    pub median: f64,
    /// Longest of those without pause.
    pub longest: f64,
}

/// A stop element longer than this is a pause: 2.0 units are the longest stop element in
/// use (US Navy electrician training text), and half a unit is distortion's share.
pub const PAUSE_UNITS: f64 = 2.5;
/// Least number of characters to judge a line by: 20 characters have about 60 transitions.
pub const LEAST_CHARACTERS: usize = 20;
/// Least share of edges that must belong to characters.
pub const LEAST_EXPLAINED: f64 = 0.9;
/// Bias must be known to this share of an element, the accuracy this bench stands for.
pub const ACCURACY: f64 = 0.01;
/// Between its limits the gross degree may be uncertain by this share of an element.
pub const DEGREE_SPAN: f64 = 0.15;

/// A measured line.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// The nominal rate taken, baud.
    pub nominal_baud: f64,
    /// Whether that is a known rate or was given; else it is the measured one.
    pub nominal_known: bool,
    /// Whether mark and space were exchanged to read the line.
    pub turned: bool,
    /// The line's own rate, baud.
    pub rate_baud: Estimate,
    /// Speed error against the nominal rate; fast is positive.
    pub speed_error: Estimate,
    /// Bias distortion: marks lengthened (marking bias) is positive.
    pub bias: Estimate,
    /// End distortion: marks run on (marking end) is positive; `None` if no mark ends within
    /// a character.
    pub end: Option<Estimate>,
    /// Fortuitous distortion, rms: what neither speed, bias nor end explain, less the error
    /// of measuring.
    pub fortuitous_rms: f64,
    /// Error of measuring one individual distortion, rms.
    pub error_rms: f64,
    /// Gross start-stop distortion.
    pub gross: Degree,
    /// Synchronous start-stop distortion.
    pub synchronous: Degree,
    /// Isochronous distortion within characters: the largest difference between actual and
    /// ideal interval of any two transitions of one character, start edge included. (There
    /// is no common clock between characters of a start-stop line.)
    pub isochronous: Degree,
    /// Stop elements; `None` if no two characters stood together.
    pub stops: Option<Stops>,
    /// Every individual distortion.
    pub individual: Vec<Individual>,
    /// The characters.
    pub characters: Vec<Framed>,
    /// Edges that belong to characters, share of all.
    pub explained: f64,
}

/// Why nothing could be measured.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MeasureError {
    /// The edges are no line.
    #[error(transparent)]
    Line(#[from] LineError),
    /// Too little to find characters in.
    #[error(
        "{found} transitions make no start-stop characters at any rate looked for; give a \
         longer line, its modulation rate, or the other sense"
    )]
    NoCharacters {
        /// Transitions there are.
        found: usize,
    },
    /// All characters have their transitions in the same places.
    #[error(
        "the {characters} characters have too few different transitions to tell speed from \
         bias; send the alternating pattern or all combinations"
    )]
    Monotonous {
        /// Characters found.
        characters: usize,
    },
}

/// Why a line is not judged.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// Too few characters.
    #[error("only {found} characters, at least {LEAST_CHARACTERS} are needed")]
    Few {
        /// Characters found.
        found: usize,
    },
    /// Many edges are in no character: noise, or another rate.
    #[error(
        "{:.0} % of the transitions belong to no character (noise, or another rate?)",
        100.0 * (1.0 - .explained)
    )]
    Unexplained {
        /// Share of edges in characters.
        explained: f64,
    },
    /// The interval is too wide.
    #[error(
        "the bias is known to ±{:.1} % of an element only, ±1 % is needed (less noise, or a \
         longer line)", 100.0 * .within
    )]
    Uncertain {
        /// Half width of the bias, share of an element.
        within: f64,
    },
    /// The degree of distortion may be nearly anything.
    #[error(
        "noise leaves the gross distortion anywhere from {:.0} to {:.0} % of an element (take \
         the line nearer to its source)", 100.0 * .least, 100.0 * .most
    )]
    Blurred {
        /// Least it can be, share of an element.
        least: f64,
        /// Most it can be.
        most: f64,
    },
}

impl Measurement {
    /// Why this measurement is too poor to be judged by; `None` if it is good enough.
    pub fn refusal(&self) -> Option<Refusal> {
        let (found, explained) = (self.characters.len(), self.explained);
        if found < LEAST_CHARACTERS {
            Some(Refusal::Few { found })
        } else if explained < LEAST_EXPLAINED {
            Some(Refusal::Unexplained { explained })
        } else if self.bias.within > ACCURACY {
            Some(Refusal::Uncertain {
                within: self.bias.within,
            })
        } else if self.gross.most - self.gross.least > DEGREE_SPAN {
            Some(Refusal::Blurred {
                least: self.gross.least,
                most: self.gross.most,
            })
        } else {
            None
        }
    }
}

/// Measures a line.
///
/// # Errors
///
/// The edges are out of order, or nothing can be told from them.
pub fn measure(line: &[Edge], knowledge: &Knowledge) -> Result<Measurement, MeasureError> {
    check(line)?;
    let (read, turned) = read_in_best_sense(line, knowledge);
    let found = line.len();
    let (unit_s, framing) = read.ok_or(MeasureError::NoCharacters { found })?;
    if framing.characters.is_empty() {
        return Err(MeasureError::NoCharacters { found });
    }
    let other = turned.then(|| crate::line::turned(line));
    let line = other.as_deref().unwrap_or(line);
    let (fit, framing) = settle(line, unit_s, framing)?;
    Ok(gather(fit, framing, turned, knowledge))
}

type Read = Option<(f64, Framing)>;

/// The line as it is, or turned where that reads clearly better.
fn read_in_best_sense(line: &[Edge], knowledge: &Knowledge) -> (Read, bool) {
    let as_is = unit::best(line, knowledge.nominal_baud);
    if !knowledge.either_sense {
        return (as_is, false);
    }
    let other = unit::best(&turned(line), knowledge.nominal_baud);
    let score = |read: &Read| read.as_ref().map_or(f64::NEG_INFINITY, |r| r.1.score);
    // Where both read alike (some repeated patterns do), the sense stays.
    if score(&other) > score(&as_is) + 0.02 {
        (other, true)
    } else {
        (as_is, false)
    }
}

/// Frames and fits in turn until the unit stays.
fn settle(
    line: &[Edge],
    mut unit_s: f64,
    mut framing: Framing,
) -> Result<(fit::Fit, Framing), MeasureError> {
    for _ in 0..8 {
        let monotonous = MeasureError::Monotonous {
            characters: framing.characters.len(),
        };
        let fit = fit::fit(&framing.characters).ok_or(monotonous)?;
        if (fit.unit_s / unit_s - 1.0).abs() < 1e-6 || fit.unit_s < 0.5 * unit_s {
            return Ok((fit, framing));
        }
        unit_s = fit.unit_s;
        framing = frame(line, unit_s);
    }
    let characters = framing.characters.len();
    let fit = fit::fit(&framing.characters).ok_or(MeasureError::Monotonous { characters })?;
    Ok((fit, framing))
}

#[cfg(test)]
mod tests;
