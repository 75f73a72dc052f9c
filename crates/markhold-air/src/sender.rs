//! A radioteletype station: what it sends, how it keys, where it is heard.

use crate::channel::Channel;
use crate::drift::Drift;
use crate::error::{SceneError, within};
use crate::pace::{Gaps, Pace};
pub use markhold_code::Sense;
use markhold_code::{Code, EncodeError, EncodeOptions, FiguresRow, StartStop, encode};

/// How a sender makes its two tones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum SenderModel {
    /// One oscillator whose frequency is shifted: the phase never breaks.
    #[default]
    PhaseContinuous,
    /// Two oscillators that run all the time, switched between.
    TwoOscillators,
    /// A new random phase at each element.
    RandomPhase,
}

impl SenderModel {
    /// Every model.
    pub const ALL: [SenderModel; 3] = [
        SenderModel::PhaseContinuous,
        SenderModel::TwoOscillators,
        SenderModel::RandomPhase,
    ];
}

/// One radioteletype station.
#[derive(Clone, Debug, PartialEq)]
pub struct Sender {
    /// What it sends.
    pub codes: Vec<Code>,
    /// Begin again after the last code, until the scene is over; needs
    /// [`Scene::duration_s`](crate::Scene::duration_s).
    pub repeat: bool,
    /// Modulation rate and stop element.
    pub speed: StartStop,
    /// How characters follow each other.
    pub pace: Pace,
    /// Silence before it comes on, s.
    pub begin_s: f64,
    /// Idle mark before the first character, s.
    pub lead_in_s: f64,
    /// Idle mark after the last character, s.
    pub tail_s: f64,
    /// How it makes its tones.
    pub model: SenderModel,
    /// Gaussian keying jitter of each transition, rms, ms.
    pub jitter_ms: f64,
    /// Bias distortion, % of an element: above 0 mark is lengthened (marking bias), below 0
    /// space is.
    pub bias_percent: f64,
    /// Middle of the two tones before offset and drift, Hz of audio.
    pub centre_hz: f64,
    /// Distance of the two tones, Hz.
    pub shift_hz: f64,
    /// Which tone is mark.
    pub sense: Sense,
    /// How far both tones are off their place from the beginning, Hz of audio.
    pub offset_hz: f64,
    /// How both tones move.
    pub drift: Drift,
    /// What the ionosphere does.
    pub channel: Channel,
    /// Mean power while on, dB over the scene's reference.
    pub level_db: f64,
}

impl Default for Sender {
    /// Nothing but idle mark on 2125/2295 Hz at 45.45 baud, steady and clean.
    fn default() -> Self {
        Self {
            codes: Vec::new(),
            repeat: false,
            speed: StartStop::new(markhold_code::usual::RATES_BAUD[0], 1.42),
            pace: Pace::Continuous,
            begin_s: 0.0,
            lead_in_s: 1.0,
            tail_s: 1.0,
            model: SenderModel::PhaseContinuous,
            jitter_ms: 0.0,
            bias_percent: 0.0,
            centre_hz: 2210.0,
            shift_hz: 170.0,
            sense: Sense::LowerTone,
            offset_hz: 0.0,
            drift: Drift::default(),
            channel: Channel::Steady,
            level_db: 0.0,
        }
    }
}

impl Sender {
    /// A sender of text, everything else as in the default.
    ///
    /// # Errors
    ///
    /// A character that the alphabet does not hold.
    pub fn of_text(text: &str, row: FiguresRow) -> Result<Self, EncodeError> {
        let codes = encode(text, row, EncodeOptions::default())?;
        Ok(Self {
            codes,
            ..Self::default()
        })
    }

    /// The tone of mark before offset and drift, Hz of audio.
    pub fn mark_hz(&self) -> f64 {
        match self.sense {
            Sense::LowerTone => self.centre_hz - self.shift_hz / 2.0,
            Sense::HigherTone => self.centre_hz + self.shift_hz / 2.0,
        }
    }

    /// The tone of space before offset and drift, Hz of audio.
    pub fn space_hz(&self) -> f64 {
        2.0 * self.centre_hz - self.mark_hz()
    }

    /// Mean power while on, the scene's reference being 1.
    pub(crate) fn power(&self) -> f64 {
        10f64.powf(self.level_db / 10.0)
    }

    pub(crate) fn check(&self, whose: &str) -> Result<(), SceneError> {
        let check = |what: &str, found, range, unit| {
            within(format!("{what} of {whose}"), found, range, unit)
        };
        check(
            "modulation rate",
            self.speed.rate_baud,
            (10.0, 300.0),
            "baud",
        )?;
        check("stop element", self.speed.stop_units, (1.0, 10.0), "units")?;
        check("silence before", self.begin_s, (0.0, 1e6), "s")?;
        check("lead-in", self.lead_in_s, (0.0, 1e6), "s")?;
        check("tail", self.tail_s, (0.0, 1e6), "s")?;
        check("jitter", self.jitter_ms, (0.0, 100.0), "ms")?;
        check("bias distortion", self.bias_percent, (-90.0, 90.0), "%")?;
        check("shift", self.shift_hz, (10.0, 5000.0), "Hz")?;
        check("offset", self.offset_hz, (-1e4, 1e4), "Hz")?;
        check("level", self.level_db, (-100.0, 100.0), "dB")?;
        if let Pace::Keyboard {
            characters_per_second,
            gaps,
        } = self.pace
        {
            let most = self.speed.characters_per_second();
            check(
                "typing speed",
                characters_per_second,
                (0.01, most),
                "characters/s",
            )?;
            if let Gaps::LogNormal { sigma } = gaps {
                check(
                    "scatter of the typing",
                    sigma,
                    (0.0, 3.0),
                    "(natural logarithm)",
                )?;
            }
        }
        self.drift.check(whose)?;
        self.channel.check(whose)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice: 2125 Hz mark and 2295 Hz space on the lower sideband.
    #[test]
    fn the_default_pair_is_2125_and_2295() {
        let sender = Sender::default();
        assert_eq!((sender.mark_hz(), sender.space_hz()), (2125.0, 2295.0));
        let other = Sender {
            sense: Sense::HigherTone,
            ..sender
        };
        assert_eq!((other.mark_hz(), other.space_hz()), (2295.0, 2125.0));
    }

    #[test]
    fn checks_name_the_setting_and_the_range() {
        let message = |sender: Sender| sender.check("sender 1").expect_err("wrong").to_string();
        let fast = Pace::Keyboard {
            characters_per_second: 20.0,
            gaps: Gaps::Exponential,
        };
        assert!(
            message(Sender {
                pace: fast,
                ..Sender::default()
            })
            .starts_with("typing speed of sender 1 is 20; give 0.01 to 6.1")
        );
        assert_eq!(
            message(Sender {
                shift_hz: f64::NAN,
                ..Sender::default()
            }),
            "shift of sender 1 is NaN; give 10 to 5000 Hz"
        );
    }
}
