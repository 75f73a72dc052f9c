//! One signal: its name, and what was measured of it.

use markhold_code::{FiguresRow, Sense, Tones};
use serde::{Deserialize, Serialize};

/// Names one signal for as long as the receiver runs. Counts up from 1.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct SignalId(pub u32);

/// One signal, as known when the report was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Signal {
    /// The signal's name.
    pub id: SignalId,
    /// When its first character or lead-in was heard, s.
    pub begin_s: f64,
    /// Until when it has been followed, s.
    pub until_s: f64,
    /// The tone of mark, Hz, at `until_s`.
    pub mark_hz: f64,
    /// The tone of space, Hz, at `until_s`.
    pub space_hz: f64,
    /// Distance of the tones as measured, Hz.
    pub shift_hz: f64,
    /// The usual shift that the measurement agrees with, Hz, if any.
    pub usual_shift_hz: Option<f64>,
    /// Modulation rate as measured, baud.
    pub rate_baud: f64,
    /// The usual modulation rate that the measurement agrees with, baud, if any.
    pub usual_rate_baud: Option<f64>,
    /// Which tone is mark.
    pub sense: Sense,
    /// The usual length of the stop element, in units, where characters follow each
    /// other without a gap; `None` while too few did.
    pub stop_units: Option<f64>,
    /// Figures row, as forced or as its signs told; `None` while nothing did.
    pub figures_row: Option<FiguresRow>,
    /// Whether a space in figures returns to letters, as forced or found; `None` while it is
    /// not known.
    pub unshift_on_space: Option<bool>,
    /// Energy of one element over one-sided noise density, dB, mean so far.
    pub es_n0_db: f64,
    /// Signal to noise in 3 kHz, dB.
    pub snr_3khz_db: f64,
    /// How far the tones moved since `begin_s`, Hz.
    pub drift_hz: f64,
    /// How fast they move now, Hz per minute.
    pub drift_hz_per_min: f64,
}

impl Signal {
    /// Its tones, at `until_s`.
    pub fn tones(&self) -> Tones {
        Tones {
            mark_hz: self.mark_hz,
            space_hz: self.space_hz,
        }
    }
}
