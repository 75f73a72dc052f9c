//! Where to set the dial of this receiver, with the arithmetic in words.
//!
//! On the lower sideband a radio frequency is heard as carrier minus frequency, on the upper one
//! as frequency minus carrier. So the carrier stands above the middle of the two tones by the
//! pitch at which they are to be heard, or below it.

use crate::{Channel, Figure, MarkOnAir, Sked, SkedError};
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

/// Shift taken where none is known, Hz: that of most amateur stations (common practice).
const USUAL_SHIFT_HZ: f64 = 170.0;

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
        let shift = sked.shift_hz.unwrap_or(USUAL_SHIFT_HZ);
        let mark = sked.mark.unwrap_or(MarkOnAir::Higher);
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
        let shift = sked.shift_hz.unwrap_or(USUAL_SHIFT_HZ);
        let mark = sked.mark.unwrap_or(MarkOnAir::Higher);
        let middle = middle(channel, shift, mark, &mut Vec::new());
        let carrier = match self.shows {
            Shows::LowerCarrier => middle + heard_hz / 1e3,
            Shows::UpperCarrier => middle - heard_hz / 1e3,
            Shows::Mark | Shows::Heard => return None,
        };
        Some((read_khz - carrier) * 1e3)
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

/// The middle of the two tones of a channel, kHz.
fn middle(channel: &Channel, shift: f64, mark: MarkOnAir, steps: &mut Vec<String>) -> f64 {
    let (khz, half) = (channel.khz, shift / 2e3);
    let (value, line) = match (channel.means, mark) {
        (Figure::Middle, _) => (
            khz,
            format!("{khz:.3} is assigned, the middle of the tones"),
        ),
        (Figure::Mark, MarkOnAir::Higher) => (
            khz - half,
            format!("{khz:.3} is mark, the higher one: the middle is {khz:.3} - {half:.3}"),
        ),
        (Figure::Mark, MarkOnAir::Lower) => (
            khz + half,
            format!("{khz:.3} is mark, the lower one: the middle is {khz:.3} + {half:.3}"),
        ),
        (Figure::LowerCarrier { pitch_hz }, _) => {
            let pitch = pitch_hz / 1e3;
            let line = format!(
                "{khz:.3} is the carrier of the lower sideband: the middle is {khz:.3} - {pitch:.3}"
            );
            (khz - pitch, line)
        }
        (Figure::UpperCarrier { pitch_hz }, _) => {
            let pitch = pitch_hz / 1e3;
            let line = format!(
                "{khz:.3} is the carrier of the upper sideband: the middle is {khz:.3} + {pitch:.3}"
            );
            (khz + pitch, line)
        }
    };
    steps.push(format!("{line} = {value:.3} kHz"));
    value
}

fn assumed(sked: &Sked) -> String {
    let shift = sked
        .shift_hz
        .is_none()
        .then(|| format!("a shift of {USUAL_SHIFT_HZ} Hz"));
    let mark = sked
        .mark
        .is_none()
        .then(|| "mark as the higher radio frequency".to_string());
    let both: Vec<String> = shift.into_iter().chain(mark).collect();
    format!(
        "assumed, since the sked does not say: {}",
        both.join(" and ")
    )
}

fn said(tones: Tones) -> String {
    format!(
        "then mark is heard at {:.0} Hz, space at {:.0} Hz",
        tones.mark_hz, tones.space_hz
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sked::tests::bulletin;

    /// Worked by hand. Tones of 170 Hz around 7050.000 kHz: mark 7050.085 where it is the higher
    /// one, 7049.915 where it is the lower. The published figure, what it means, which is mark;
    /// what the dial shows and its pitch; reading, then mark and space as they are heard.
    #[test]
    fn readings_by_hand() {
        use Figure::*;
        use MarkOnAir::*;
        let lsb = |pitch_hz| LowerCarrier { pitch_hz };
        let usb = |pitch_hz| UpperCarrier { pitch_hz };
        for (khz, means, mark, shows, pitch, reading, tones) in [
            // Every meaning of the figure, heard on the lower sideband at 2210: 7050 + 2.210.
            (
                7050.000,
                Middle,
                Higher,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2125.0, 2295.0)),
            ),
            (
                7050.000,
                Middle,
                Lower,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2295.0, 2125.0)),
            ),
            (
                7050.085,
                Mark,
                Higher,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2125.0, 2295.0)),
            ),
            (
                7049.915,
                Mark,
                Lower,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2295.0, 2125.0)),
            ),
            (
                7051.700,
                lsb(1700.0),
                Higher,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2125.0, 2295.0)),
            ),
            (
                7048.300,
                usb(1700.0),
                Higher,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2125.0, 2295.0)),
            ),
            (
                7048.300,
                usb(1700.0),
                Lower,
                Shows::LowerCarrier,
                2210.0,
                7052.210,
                Some((2295.0, 2125.0)),
            ),
            // On the upper sideband: 7050 - 2.210; mark that is higher sounds higher.
            (
                7050.000,
                Middle,
                Higher,
                Shows::UpperCarrier,
                2210.0,
                7047.790,
                Some((2295.0, 2125.0)),
            ),
            (
                7050.000,
                Middle,
                Lower,
                Shows::UpperCarrier,
                2210.0,
                7047.790,
                Some((2125.0, 2295.0)),
            ),
            (
                7050.085,
                Mark,
                Higher,
                Shows::UpperCarrier,
                2210.0,
                7047.790,
                Some((2295.0, 2125.0)),
            ),
            (
                7049.915,
                Mark,
                Lower,
                Shows::UpperCarrier,
                2210.0,
                7047.790,
                Some((2125.0, 2295.0)),
            ),
            (
                7051.700,
                lsb(1700.0),
                Lower,
                Shows::UpperCarrier,
                2210.0,
                7047.790,
                Some((2125.0, 2295.0)),
            ),
            // Heard where it was sent: the dial shows the published carrier itself.
            (
                7051.700,
                lsb(1700.0),
                Higher,
                Shows::LowerCarrier,
                1700.0,
                7051.700,
                Some((1615.0, 1785.0)),
            ),
            (
                7048.300,
                usb(1700.0),
                Higher,
                Shows::UpperCarrier,
                1700.0,
                7048.300,
                Some((1785.0, 1615.0)),
            ),
            // A dial that shows mark, and one that shows what is heard at 700 Hz.
            (
                7050.000,
                Middle,
                Higher,
                Shows::Mark,
                2210.0,
                7050.085,
                None,
            ),
            (7050.000, Middle, Lower, Shows::Mark, 2210.0, 7049.915, None),
            (
                7050.000,
                Middle,
                Higher,
                Shows::Heard,
                700.0,
                7050.000,
                None,
            ),
            (7050.085, Mark, Higher, Shows::Heard, 700.0, 7050.000, None),
        ] {
            let sked = Sked {
                mark: Some(mark),
                ..bulletin()
            };
            let dial = Dial {
                shows,
                pitch_hz: pitch,
                ..Dial::default()
            };
            let set = dial.setting(&sked, &Channel { khz, means });
            let case = format!("{khz} {means:?} {mark:?} {shows:?}: {set:?}");
            assert!(
                (set.khz - reading).abs() < 1e-6 && set.khz == set.exact_khz,
                "{case}"
            );
            let heard = set.tones.map(|t| (t.mark_hz.round(), t.space_hz.round()));
            assert_eq!(heard, tones, "{case}");
        }
    }

    /// 3595.2 is mark of 850 Hz reversed: the middle is 3595.2 + 0.425 = 3595.625; heard at 1275
    /// on the upper sideband: 3594.350. It reads 0.6 low: 3593.750. Steps of 0.4: 3593.6, 150 Hz
    /// too low, so tones 150 Hz higher: 1275 - 425 + 150 = 1000 (mark is lower) and 1850.
    #[test]
    fn error_and_steps_by_hand() {
        let sked = Sked {
            shift_hz: Some(850.0),
            mark: Some(MarkOnAir::Lower),
            ..bulletin()
        };
        let dial = Dial {
            shows: Shows::UpperCarrier,
            pitch_hz: 1275.0,
            step_hz: 400.0,
            up: Turn::CounterClockwise,
        };
        let channel = Channel {
            khz: 3595.2,
            means: Figure::Mark,
        };
        let set = dial.set(&sked, &channel, -600.0);
        assert!((set.exact_khz - 3593.750).abs() < 1e-6, "{set:?}");
        assert!((set.khz - 3593.6).abs() < 1e-6, "{set:?}");
        let tones = set.tones.unwrap();
        assert!((tones.mark_hz - 1000.0).abs() < 1e-3 && (tones.space_hz - 1850.0).abs() < 1e-3);
        let text = set.steps.join("\n");
        for said in [
            "3595.200 + 0.425 = 3595.625 kHz",
            "3595.625 - 1.275 = 3594.350 kHz",
            "0.600 low",
            "3594.350 - 0.600 = 3593.750",
            "150 Hz counter-clockwise",
            "mark is heard at 1000 Hz",
        ] {
            assert!(text.contains(said), "{said} in\n{text}");
        }
    }

    #[test]
    fn what_is_assumed_is_said() {
        let sked = Sked {
            shift_hz: None,
            mark: None,
            ..bulletin()
        };
        let set = Dial::default().setting(&sked, &sked.channels[0]);
        let text = set.steps.join("\n");
        assert!(
            text.contains("assumed") && text.contains("170") && text.contains("higher"),
            "{text}"
        );
    }

    /// What is heard where it is to be heard, with the dial where it is to stand, shows no error;
    /// a dial that reads high shows so much.
    #[test]
    fn an_error_is_what_is_read_too_much() {
        let sked = bulletin();
        for shows in [Shows::LowerCarrier, Shows::UpperCarrier] {
            let dial = Dial {
                shows,
                ..Dial::default()
            };
            for channel in &sked.channels {
                for error in [-600.0, 0.0, 250.0] {
                    let set = dial.set(&sked, channel, error);
                    let found = dial.reads_high_hz(&sked, channel, (set.exact_khz, dial.pitch_hz));
                    assert!(
                        (found.unwrap() - error).abs() < 1e-3,
                        "{shows:?} {error} {found:?}"
                    );
                }
            }
        }
        let dial = Dial {
            shows: Shows::Mark,
            ..Dial::default()
        };
        assert_eq!(
            dial.reads_high_hz(&sked, &sked.channels[0], (3595.2, 2210.0)),
            None
        );
    }
}
