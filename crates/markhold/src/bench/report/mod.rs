//! A measurement for reading: text, JSON, a page.

mod html;
mod json;
mod running;
mod text;

pub use html::html;
pub use json::json;
pub use running::running;
pub use text::text;

use markhold_bench::limits::{Finding, Quantity, Verdict};
use markhold_bench::measure::Measurement;
use markhold_bench::sound::Pair;

/// Where a measurement comes from.
pub struct About {
    /// Name of the file.
    pub name: String,
    /// What the file is.
    pub source: String,
    /// The tones, where it was sound.
    pub pair: Option<Pair>,
    /// Which tone is mark.
    pub mark_is_lower: bool,
}

impl About {
    /// The tones in words: nothing for time stamps.
    fn tones(&self) -> Option<String> {
        let pair = self.pair?;
        let (mark, space) = match self.mark_is_lower {
            true => (pair.low_hz, pair.high_hz),
            false => (pair.high_hz, pair.low_hz),
        };
        Some(match pair.shift_hz() {
            0.0 => format!("one keyed tone, {mark:.1} Hz"),
            shift => format!("mark {mark:.1} Hz, space {space:.1} Hz (shift {shift:.1})"),
        })
    }
}

/// Name and value of every figure, in order.
fn figures(measured: &Measurement) -> Vec<(&'static str, String)> {
    let percent = |e: &markhold_bench::measure::Estimate| {
        format!("{} % ±{:.1}", signed(100.0 * e.value, 1), 100.0 * e.within)
    };
    let degree = |d: &markhold_bench::measure::Degree| {
        let [seen, least, most] = [d.seen, d.least, d.most].map(|s| 100.0 * s);
        format!("{seen:.1} % (from {least:.1} to {most:.1})")
    };
    let m = measured;
    let rate = format!("{:.3} baud ±{:.3}", m.rate_baud.value, m.rate_baud.within);
    let speed = match m.nominal_known {
        true => format!(
            "{} % ±{:.2} against {:.2} baud",
            signed(100.0 * m.speed_error.value, 2),
            100.0 * m.speed_error.within,
            m.nominal_baud
        ),
        false => "no usual rate is near; give the nominal one with --rate".to_string(),
    };
    let end = m
        .end
        .as_ref()
        .map_or("no mark ends within a character".to_string(), percent);
    let stops = m
        .stops
        .map_or("no two characters without a gap".to_string(), |s| {
            format!(
                "{:.2} units, from {:.2} to {:.2}; {} pauses",
                s.median, s.shortest, s.longest, s.pauses
            )
        });
    vec![
        ("modulation rate", rate),
        ("speed error", speed),
        (
            "bias distortion",
            format!("{} {}", percent(&m.bias), side(m.bias.value))
                .trim_end()
                .to_string(),
        ),
        ("end distortion", end),
        (
            "fortuitous distortion",
            format!("{:.1} % rms", 100.0 * m.fortuitous_rms),
        ),
        ("gross start-stop distortion", degree(&m.gross)),
        ("synchronous start-stop", degree(&m.synchronous)),
        ("isochronous, in characters", degree(&m.isochronous)),
        ("stop elements", stops),
        ("characters", m.characters.len().to_string()),
        (
            "transitions explained",
            format!("{:.1} %", 100.0 * m.explained),
        ),
        (
            "error of one transition",
            format!("{:.2} % rms", 100.0 * m.error_rms),
        ),
    ]
}

fn side(bias: f64) -> &'static str {
    match bias {
        b if b > 0.0005 => "(marking: marks lengthened)",
        b if b < -0.0005 => "(spacing: marks shortened)",
        _ => "",
    }
}

/// One row for each place a transition can have: units, begins of marks, ends of marks.
fn places(measured: &Measurement) -> Vec<(u8, [String; 2])> {
    let cell = |units: u8, to_mark: bool| {
        let here: Vec<f64> = measured
            .individual
            .iter()
            .filter(|d| d.units == units && d.to_mark == to_mark)
            .map(|d| 100.0 * d.gross)
            .collect();
        let mean = here.iter().sum::<f64>() / here.len() as f64;
        let early = here.iter().copied().fold(f64::INFINITY, f64::min);
        let late = here.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        match here.len() {
            0 => "-".to_string(),
            _ => {
                let [mean, early, late] = [mean, early, late].map(|p| signed(p, 1));
                format!("{mean} ({early} to {late})")
            }
        }
    };
    (1..=6)
        .map(|units| (units, [cell(units, true), cell(units, false)]))
        .collect()
}

/// A number that rounds to nothing has no sign: `-0.04` at one decimal is `+0.0`.
fn signed(value: f64, decimals: usize) -> String {
    let scale = 10f64.powi(decimals as i32);
    let rounded = (value * scale).round() / scale;
    format!("{:+.decimals$}", rounded + 0.0)
}

/// A verdict as a word.
fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Kept => "kept",
        Verdict::NotKept => "not kept",
        Verdict::Undecided => "undecided",
    }
}

/// What was found and what is allowed, in words.
fn compared(finding: &Finding) -> String {
    let (found, limit) = (finding.found, finding.limit.value);
    match finding.limit.quantity {
        Quantity::Gross => format!(
            "gross {:.1} %, at most {:.0} %",
            100.0 * found,
            100.0 * limit
        ),
        Quantity::Isochronous => {
            format!(
                "isochronous {:.1} %, at most {:.0} %",
                100.0 * found,
                100.0 * limit
            )
        }
        Quantity::Speed => format!(
            "speed {:.2} %, at most {:.2} %",
            100.0 * found,
            100.0 * limit
        ),
        Quantity::Stop => format!("stop {found:.2} units, at least {limit:.1}"),
    }
}
