//! What is learned of a receiver's dial from transmissions whose frequency is known.
//!
//! Each time one was copied with the dial known, it is known how much too high the dial read.
//! By band and evening that gives the dial's error; within an evening, how the receiver moves
//! while it warms up.

mod likely;
mod stands;
mod warm_up;

pub use likely::{Likely, likely};
pub use stands::{Stands, ToldBy, night};
pub use warm_up::WarmUp;

use crate::dial::Dial;
use std::collections::BTreeSet;

/// An error of the dial, found once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Minutes from when the receiver was switched on, if that is known.
    pub minutes_on: Option<f64>,
    /// How many Hz too high the dial read.
    pub reads_high_hz: f64,
}

/// What was found on one evening on one band, in order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FoundEvening {
    /// The band, as [`band`] names it.
    pub band: u32,
    /// All that was found.
    pub found: Vec<Found>,
}

/// The band of a frequency, kHz: its whole megahertz. A receiver's dial has its own error on each
/// range of its switch; megahertz are finer than any of those and coarser than a range of the air.
pub fn band(khz: f64) -> u32 {
    (khz / 1e3).max(0.0) as u32
}

/// The dial's error differs from evening to evening by so many Hz: prior.
const EVENINGS_HZ: (f64, f64) = (5.0, 300.0);
/// Evenings before anything is said.
pub const LEAST_EVENINGS: usize = 3;
/// Minutes on after which a receiver of unknown warm-up is taken to stand.
const STANDS_MIN: f64 = 30.0;

/// What is known of a dial.
#[derive(Clone, Debug, PartialEq)]
pub struct LearnedDial {
    errors: Vec<(u32, f64)>,
    warm_up: Option<WarmUp>,
}

/// What the dial will read too high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hint {
    /// How many Hz.
    pub reads_high_hz: Likely,
    /// Evenings on this band that it was learned from.
    pub evenings: usize,
}

impl LearnedDial {
    /// From all evenings, the latest last.
    pub fn of(evenings: &[FoundEvening]) -> Self {
        let timed = |evening: &FoundEvening| -> Vec<(f64, f64)> {
            let found = evening.found.iter();
            found
                .filter_map(|f| Some((f.minutes_on?, f.reads_high_hz)))
                .collect()
        };
        let warm_up = WarmUp::of(&evenings.iter().map(timed).collect::<Vec<_>>());
        let at_rest = |evening: &FoundEvening| {
            let rest = evening.found.iter().map(|f| {
                let moved = warm_up.as_ref().zip(f.minutes_on);
                f.reads_high_hz - moved.map_or(0.0, |(curve, on)| curve.error(on).middle)
            });
            Some((evening.band, median(rest.collect())?))
        };
        LearnedDial {
            errors: evenings.iter().filter_map(at_rest).collect(),
            warm_up,
        }
    }

    /// How it warms up, if an evening was followed from its beginning.
    pub fn warm_up(&self) -> Option<&WarmUp> {
        self.warm_up.as_ref()
    }

    /// The bands of which something is known, in order.
    pub fn bands(&self) -> BTreeSet<u32> {
        self.errors.iter().map(|(band, _)| *band).collect()
    }

    /// Evenings known on a band.
    pub fn evenings(&self, band: u32) -> usize {
        self.errors.iter().filter(|(name, _)| *name == band).count()
    }

    /// What to expect on a band so many minutes after the receiver was switched on; `None` with
    /// fewer than [`LEAST_EVENINGS`].
    pub fn hint(&self, band: u32, minutes_on: f64) -> Option<Hint> {
        let on_band = self.errors.iter().filter(|(name, _)| *name == band);
        let values: Vec<f64> = on_band.map(|(_, error)| *error).collect();
        if values.len() < LEAST_EVENINGS {
            return None;
        }
        let rest = likely(&values, EVENINGS_HZ)?;
        let moved = self.warm_up.as_ref().map(|curve| curve.error(minutes_on));
        let moved = moved.unwrap_or(Likely {
            middle: 0.0,
            within: 0.0,
        });
        Some(Hint {
            reads_high_hz: Likely {
                middle: rest.middle + moved.middle,
                within: rest.within.hypot(moved.within),
            },
            evenings: values.len(),
        })
    }

    /// What is known, in a sentence for a person.
    pub fn words(&self, band: u32, dial: &Dial) -> String {
        let evenings = self.evenings(band);
        let Some(hint) = self.hint(band, STANDS_MIN) else {
            return match evenings {
                0 => "plain arithmetic: nothing is known of this dial here yet".to_string(),
                1 => "plain arithmetic: only one evening is known here".to_string(),
                n => format!("plain arithmetic: only {n} evenings are known here"),
            };
        };
        let Likely { middle, within } = hint.reads_high_hz;
        let side = if middle >= 0.0 { "high" } else { "low" };
        let mut words = format!(
            "this dial reads {:.2} kHz {side} here, by {evenings} evenings, to within {:.0} Hz nine times in ten",
            middle.abs() / 1e3,
            within.max(dial.step_hz / 2.0)
        );
        if let Some(curve) = &self.warm_up {
            let moved = curve.movement(0.0, STANDS_MIN);
            // What the dial reads too high grows when the receiver itself goes down.
            let way = if moved.middle >= 0.0 { "down" } else { "up" };
            words += &format!(
                "; the receiver moves {way} {:.0} Hz in its first half hour",
                moved.middle.abs()
            );
        }
        words
    }
}

/// The middle one, of two the higher.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}
