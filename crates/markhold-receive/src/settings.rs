//! What a user may force. Everything left `None` is found from the sound.

use crate::event::Sense;
use markhold_code::FiguresRow;

/// Settings of the receiver; the default finds everything.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Settings {
    /// Copy only the signal whose middle lies nearest to this audio frequency, Hz.
    pub at_hz: Option<f64>,
    /// Distance of the tones, Hz, 85 to 1000.
    pub shift_hz: Option<f64>,
    /// Modulation rate, baud, 40 to 110.
    pub rate_baud: Option<f64>,
    /// Which tone is mark.
    pub sense: Option<Sense>,
    /// Figures row; ITA2 by default.
    pub figures_row: FiguresRow,
    /// Whether a space returns to letters (common practice on many machines).
    pub unshift_on_space: bool,
    /// Report every signal rather than only the strongest.
    pub all: bool,
}
