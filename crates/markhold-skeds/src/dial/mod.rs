//! Where to set the dial of this receiver, with the arithmetic in words.
//!
//! On the lower sideband a radio frequency is heard as carrier minus frequency, on the upper one
//! as frequency minus carrier. So the carrier stands above the middle of the two tones by the
//! pitch at which they are to be heard, or below it.

mod figure;

use crate::{Channel, MarkOnAir, Sked, SkedError};
use figure::{assumed, keying, middle};
use markhold_code::{Sense, Tones};
use serde::{Deserialize, Serialize};

/// What a receiver's dial shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shows {
    /// The carrier, on the lower sideband.
    LowerCarrier,
    /// The carrier, on the upper sideband.
    UpperCarrier,
    /// The frequency of mark, as in a receiver's own FSK mode.
    Mark,
    /// What is heard at the pitch, as in a receiver's CW mode.
    Heard,
}

/// Which way the figures of the dial run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Turn {
    /// Clockwise is up.
    #[default]
    Clockwise,
    /// Counter-clockwise is up.
    CounterClockwise,
}

/// A receiver's dial.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dial {
    /// What it shows.
    pub shows: Shows,
    /// Where the middle of the two tones is to be heard, Hz of audio.
    pub pitch_hz: f64,
    /// The finest that can be read off it, Hz; 0 for any.
    #[serde(default)]
    pub step_hz: f64,
    /// Which way is up.
    #[serde(default)]
    pub up: Turn,
}

impl Default for Dial {
    /// The lower sideband with tones of 2125 and 2295 Hz (common practice).
    fn default() -> Self {
        Dial {
            shows: Shows::LowerCarrier,
            pitch_hz: 2210.0,
            step_hz: 0.0,
            up: Turn::default(),
        }
    }
}

/// Where to set the dial.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// What it should show, kHz, exactly.
    pub exact_khz: f64,
    /// The nearest that can be read off it, kHz.
    pub khz: f64,
    /// The tones that are heard with the dial at `khz`, Hz; `None` where the receiver's mode or
    /// an unknown shift leaves that open.
    pub tones: Option<Tones>,
    /// How it was reckoned, a step a line.
    pub steps: Vec<String>,
}

/// The middle of the two tones on the air, kHz, where a sked has one frequency.
pub(crate) fn middle_khz(sked: &Sked) -> Option<f64> {
    let [channel] = &sked.channels[..] else {
        return None;
    };
    let (shift, mark) = keying(sked);
    Some(middle(channel, shift, mark, &mut Vec::new()))
}

impl Dial {
    /// Whether it can be.
    ///
    /// # Errors
    ///
    /// A pitch or a step that cannot.
    pub fn check(&self) -> Result<(), SkedError> {
        let wrong = |what, found: f64, expected| SkedError::Value {
            what,
            found: found.to_string(),
            expected,
        };
        if !(50.0..=5000.0).contains(&self.pitch_hz) {
            return Err(wrong("the pitch", self.pitch_hz, "Hz from 50 to 5000"));
        }
        if !(0.0..=100_000.0).contains(&self.step_hz) {
            return Err(wrong(
                "the dial's step",
                self.step_hz,
                "Hz from 0 to 100 000",
            ));
        }
        Ok(())
    }

    /// Where to set it for a channel of a sked, if the dial were right.
    pub fn setting(&self, sked: &Sked, channel: &Channel) -> Setting {
        self.set(sked, channel, 0.0)
    }

    /// Where to set it when it is known to read so many Hz too high.
    pub fn set(&self, sked: &Sked, channel: &Channel, reads_high_hz: f64) -> Setting {
        let (shift, mark) = keying(sked);
        let mut steps = Vec::new();
        let middle = middle(channel, shift, mark, &mut steps);
        let exact = self.reading(middle, shift, mark, &mut steps);
        if sked.shift_hz.is_none() || sked.mark.is_none() {
            steps.push(assumed(sked));
        }
        let shown = exact + reads_high_hz / 1e3;
        if reads_high_hz != 0.0 {
            let (high, sign) = match reads_high_hz > 0.0 {
                true => ("high", '+'),
                false => ("low", '-'),
            };
            let by = reads_high_hz.abs() / 1e3;
            steps.push(format!(
                "the dial reads {by:.3} {high} here: {exact:.3} {sign} {by:.3} = {shown:.3}"
            ));
        }
        let khz = self.nearest(shown, &mut steps);
        let off = (khz - shown) * 1e3;
        let tones = self.tones(off, shift, mark);
        steps.extend(tones.map(said));
        Setting {
            exact_khz: shown,
            khz,
            tones,
            steps,
        }
    }

    /// How many Hz too high the dial read, when the middle of the tones of a known transmission
    /// was heard at `heard_hz` with the dial at `read_khz`. `None` in the modes of a receiver in
    /// which that cannot be told from outside.
    pub fn reads_high_hz(
        &self,
        sked: &Sked,
        channel: &Channel,
        (read_khz, heard_hz): (f64, f64),
    ) -> Option<f64> {
        let (shift, mark) = keying(sked);
        let middle = middle(channel, shift, mark, &mut Vec::new());
        let carrier = match self.shows {
            Shows::LowerCarrier => middle + heard_hz / 1e3,
            Shows::UpperCarrier => middle - heard_hz / 1e3,
            Shows::Mark | Shows::Heard => return None,
        };
        Some((read_khz - carrier) * 1e3)
    }

    /// The channel of a sked that a reading tells of, which is the one nearest to it, and how many
    /// Hz too high the dial read. `None` where the sked has no frequency, and in the modes of a
    /// receiver in which that cannot be told from outside.
    pub fn found(&self, sked: &Sked, (read_khz, heard_hz): (f64, f64)) -> Option<(Channel, f64)> {
        let error = |channel: &Channel| {
            let error = self.reads_high_hz(sked, channel, (read_khz, heard_hz))?;
            Some((*channel, error))
        };
        let errors = sked.channels.iter().filter_map(error);
        errors.min_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }

    /// What it shows when the middle of the tones, kHz, is heard at the pitch.
    fn reading(&self, middle: f64, shift: f64, mark: MarkOnAir, steps: &mut Vec<String>) -> f64 {
        let pitch = self.pitch_hz / 1e3;
        let (value, line) = match self.shows {
            Shows::LowerCarrier => (
                middle + pitch,
                format!("lower sideband, the carrier above by the pitch: {middle:.3} + {pitch:.3}"),
            ),
            Shows::UpperCarrier => (
                middle - pitch,
                format!("upper sideband, the carrier below by the pitch: {middle:.3} - {pitch:.3}"),
            ),
            Shows::Mark => {
                let half = shift / 2e3;
                let (value, sign) = match mark {
                    MarkOnAir::Higher => (middle + half, '+'),
                    MarkOnAir::Lower => (middle - half, '-'),
                };
                let line = format!(
                    "the dial shows mark, half the shift off the middle: {middle:.3} {sign} {half:.3}"
                );
                (value, line)
            }
            Shows::Heard => (
                middle,
                "the dial shows what is heard at the pitch: the middle".to_string(),
            ),
        };
        steps.push(format!("{line} = {value:.3} kHz"));
        value
    }

    fn nearest(&self, khz: f64, steps: &mut Vec<String>) -> f64 {
        if self.step_hz <= 0.0 {
            return khz;
        }
        let step = self.step_hz / 1e3;
        let nearest = (khz / step).round() * step;
        let rest = (khz - nearest) * 1e3;
        let line = match rest.abs() < 0.5 {
            true => format!("the dial can be read to {step}: {nearest:.3}"),
            false => {
                let turn = self.turn(rest);
                format!(
                    "the dial can be read to {step}: {nearest:.3}, then {:.0} Hz {turn}",
                    rest.abs()
                )
            }
        };
        steps.push(line);
        nearest
    }

    /// Which way to turn for so many Hz up (down, below 0).
    pub fn turn(&self, up_hz: f64) -> &'static str {
        match (self.up, up_hz >= 0.0) {
            (Turn::Clockwise, true) | (Turn::CounterClockwise, false) => "clockwise",
            _ => "counter-clockwise",
        }
    }

    /// The tones heard with the dial so many Hz above where it should be.
    fn tones(&self, off: f64, shift: f64, mark: MarkOnAir) -> Option<Tones> {
        let (middle, higher_is_mark) = match self.shows {
            Shows::LowerCarrier => (self.pitch_hz + off, mark == MarkOnAir::Lower),
            Shows::UpperCarrier => (self.pitch_hz - off, mark == MarkOnAir::Higher),
            Shows::Mark | Shows::Heard => return None,
        };
        let sense = match higher_is_mark {
            true => Sense::HigherTone,
            false => Sense::LowerTone,
        };
        Some(Tones::of_pair(
            middle - shift / 2.0,
            middle + shift / 2.0,
            sense,
        ))
    }
}

fn said(tones: Tones) -> String {
    format!(
        "then mark is heard at {:.0} Hz, space at {:.0} Hz",
        tones.mark_hz, tones.space_hz
    )
}

#[cfg(test)]
mod tests;
