//! What the receiver says: signals found, characters copied, signals ended.
//!
//! Time is always seconds from the first sample given to the receiver; frequency is
//! always hertz of audio. Events of one signal come in the order of its time.

use crate::pair::conditions::Conditions;
use markhold_code::{Code, Shift, Symbol};

/// Names one signal for as long as the receiver runs. Counts up from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SignalId(pub u32);

/// Which of the two tones is mark.
///
/// Mark is customarily the higher radio frequency (common practice), so on the lower
/// sideband it is heard as the lower tone. `HigherTone` therefore usually means that
/// the receiver is set to the other sideband.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// The lower tone is mark.
    LowerTone,
    /// The higher tone is mark.
    HigherTone,
}

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
    /// Energy of one element over one-sided noise density, dB, mean so far.
    pub es_n0_db: f64,
    /// Signal to noise in 3 kHz, dB.
    pub snr_3khz_db: f64,
    /// How far the tones moved since `begin_s`, Hz.
    pub drift_hz: f64,
    /// How fast they move now, Hz per minute.
    pub drift_hz_per_min: f64,
}

/// Why a character is doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Doubt {
    /// One tone faded away.
    FadeOfOneTone,
    /// Both tones faded away, or the signal is weak throughout.
    Fade,
    /// A static crash covered part of the character.
    Crash,
    /// Another signal fell into the pair.
    Neighbour,
    /// The receiver's gain was pumped by something strong.
    Gain,
    /// The tones moved away from where they were followed.
    Drift,
    /// The elements do not fit their places in time.
    Timing,
    /// The shift character before it may be lost.
    ShiftLost,
}

/// One other way to read a character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alternative {
    /// The five-unit code.
    pub code: Code,
    /// What it would mean in the same shift.
    pub symbol: Symbol,
    /// Its probability, 0 to 1.
    pub probability: f32,
}

/// What the signal alone says of a character, and what signal and language say together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Witnesses {
    /// The likeliest reading by the signal alone.
    pub signal: Alternative,
    /// The likeliest reading by both.
    pub both: Alternative,
    /// Probability of the code of `both` by the signal alone: how much of its certainty does
    /// not come from language.
    pub from_signal: f32,
    /// Probability that it stands in a word of prose; language says nothing of others.
    pub prose: f32,
}

impl Witnesses {
    /// Whether language makes it another character than the signal alone.
    pub fn differ(&self) -> bool {
        self.signal.code != self.both.code || self.signal.symbol != self.both.symbol
    }
}

/// One character of copy.
#[derive(Clone, Debug, PartialEq)]
pub struct Character {
    /// Whose character it is.
    pub signal: SignalId,
    /// Where its start element begins, s.
    pub start_s: f64,
    /// The five-unit code most likely sent.
    pub code: Code,
    /// The shift in force when it was received.
    pub shift: Shift,
    /// What it means: the character, a control, or nothing.
    pub symbol: Symbol,
    /// Probability that a character with this code was sent here, 0 to 1.
    pub probability: f32,
    /// The next best two readings.
    pub alternatives: [Alternative; 2],
    /// Why it is doubtful; `None` where it is not.
    pub doubt: Option<Doubt>,
    /// Under what conditions it was received.
    pub conditions: Conditions,
    /// What the signal and language each say; `None` where language was not asked.
    pub witnesses: Option<Witnesses>,
}

impl Character {
    /// The character as the signal alone has it. What it means stays in the shift in force.
    pub fn by_signal(&self) -> Self {
        let Some(Witnesses { signal, .. }) = self.witnesses else {
            return self.clone();
        };
        Self {
            code: signal.code,
            symbol: signal.symbol,
            probability: signal.probability,
            witnesses: None,
            ..self.clone()
        }
    }
}

/// What the receiver reports.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// A signal was found; its characters follow.
    Found(Signal),
    /// A first reading of a character, for those who cannot wait; the decided one follows
    /// some seconds later and begins at the same instant within half an element, or the
    /// early one was an error. Only with [`crate::Settings::early`].
    Early(Character),
    /// A character was decided.
    Character(Character),
    /// A signal ended; nothing more comes with its name. Holds the final measurements.
    Ended(Signal),
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ITU-T S.1: combination 5 is E, combination 20 is T.
    #[test]
    fn what_the_signal_alone_has_is_taken_back() {
        let reading = |code: u8, letter: char, probability: f32| Alternative {
            code: Code::new(code).expect("five units"),
            symbol: Symbol::Print(letter),
            probability,
        };
        let (e, t) = (reading(0b00001, 'E', 0.9), reading(0b10000, 'T', 0.55));
        let changed = Character {
            signal: SignalId(1),
            start_s: 2.0,
            code: e.code,
            shift: Shift::Letters,
            symbol: e.symbol,
            probability: 0.9,
            alternatives: [t, t],
            doubt: None,
            conditions: Conditions::default(),
            witnesses: Some(Witnesses {
                signal: t,
                both: e,
                from_signal: 0.4,
                prose: 1.0,
            }),
        };
        let heard = changed.by_signal();
        assert_eq!((heard.code, heard.symbol), (t.code, t.symbol));
        assert_eq!((heard.probability, heard.witnesses), (0.55, None));
        assert_eq!(heard.by_signal(), heard, "nothing is left to take back");
    }
}
