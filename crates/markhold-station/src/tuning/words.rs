//! Instructions in words that can be read across a room.

use super::Instruction;
use markhold_sound::Sideband;
use std::fmt;

/// Below this a drift is not worth a word, Hz a minute.
const SLOW: f64 = 1.0;

/// An instruction in words; the sideband says whether a turn is one of the dial.
pub fn words(instruction: &Instruction, sideband: Option<Sideband>) -> String {
    match *instruction {
        Instruction::Nothing => "no tones heard".into(),
        Instruction::Turn {
            dial_hz,
            is_mirrored: false,
        } => format!("turn the dial {}", By(dial_hz)),
        Instruction::Turn {
            dial_hz,
            is_mirrored: true,
        } => format!(
            "turn the dial {}: the tones went the other way, is this the {} sideband?",
            By(dial_hz),
            match sideband {
                Some(Sideband::Lower) => "upper",
                _ => "lower",
            }
        ),
        Instruction::Move { audio_hz } => format!("turn until the pitch is {}", Pitch(audio_hz)),
        Instruction::OneTone { turn: None } => "one tone only: you are on its edge".into(),
        Instruction::OneTone { turn: Some(hz) } => match sideband {
            Some(_) => format!("one tone only, at the edge: turn the dial {}", By(hz)),
            None => format!(
                "one tone only, at the edge: turn until the pitch is {}",
                Pitch(hz)
            ),
        },
        Instruction::SteadyTone => "one steady tone: idle, or a carrier".into(),
        Instruction::OtherSideband => {
            "in tune; mark and space are swapped (other sideband?), copied all the same".into()
        }
        Instruction::Overlap => "two signals overlap".into(),
        Instruction::Waiting { silent_s } => format!("waiting; last heard {} ago", Ago(silent_s)),
        Instruction::Fault { fault } => fault.words().into(),
        Instruction::InTune { drift_hz_per_min } if drift_hz_per_min.abs() < SLOW => {
            "in tune".into()
        }
        Instruction::InTune { drift_hz_per_min } => {
            let hz = drift_hz_per_min.abs();
            format!("in tune, drifting {hz:.0} Hz a minute")
        }
    }
}

/// A time that went by, as coarse as one would say it.
struct Ago(f64);

impl fmt::Display for Ago {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (tens, minutes, hours) = (self.0 / 10.0, self.0 / 60.0, self.0 / 3600.0);
        match self.0 {
            s if s < 10.0 => write!(f, "a moment"),
            s if s < 60.0 => write!(f, "{:.0} s", 10.0 * tens.floor()),
            s if s < 120.0 => write!(f, "a minute"),
            s if s < 3600.0 => write!(f, "{:.0} minutes", minutes.floor()),
            s if s < 7200.0 => write!(f, "an hour"),
            _ => write!(f, "{:.0} hours", hours.floor()),
        }
    }
}

/// A way for the pitch.
struct Pitch(f64);

impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let way = if self.0 > 0.0 { "higher" } else { "lower" };
        write!(f, "{:.0} Hz {way}", rounded(self.0))
    }
}

/// To what a hand can do, Hz, without its sign.
fn rounded(hz: f64) -> f64 {
    let step = if hz.abs() < 50.0 { 5.0 } else { 10.0 };
    (hz.abs() / step).round() * step
}

/// A way to go: rounded to what a hand can do.
struct By(f64);

impl fmt::Display for By {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let way = if self.0 > 0.0 { "up" } else { "down" };
        write!(f, "{:.0} Hz {way}", rounded(self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_are_short_and_round() {
        let lower = Some(Sideband::Lower);
        let said = |instruction| words(&instruction, lower);
        let turn = |dial_hz, is_mirrored| Instruction::Turn {
            dial_hz,
            is_mirrored,
        };
        assert_eq!(said(turn(142.0, false)), "turn the dial 140 Hz up");
        assert_eq!(said(turn(-33.0, false)), "turn the dial 35 Hz down");
        let mirrored = said(turn(142.0, true));
        assert!(mirrored.starts_with("turn the dial 140 Hz up: ") && mirrored.contains("upper"));
        assert_eq!(
            words(&Instruction::Move { audio_hz: 96.0 }, None),
            "turn until the pitch is 100 Hz higher"
        );
        assert_eq!(
            said(Instruction::InTune {
                drift_hz_per_min: -2.2
            }),
            "in tune, drifting 2 Hz a minute"
        );
        assert_eq!(
            said(Instruction::InTune {
                drift_hz_per_min: 0.4
            }),
            "in tune"
        );
        let edge = Instruction::OneTone { turn: Some(210.0) };
        let heard = "one tone only, at the edge: ";
        assert_eq!(said(edge), format!("{heard}turn the dial 210 Hz up"));
        let pitch = format!("{heard}turn until the pitch is 210 Hz higher");
        assert_eq!(words(&edge, None), pitch);
    }

    #[test]
    fn pauses_are_told_as_one_would() {
        let said = |silent_s| words(&Instruction::Waiting { silent_s }, None);
        for (silent_s, ago) in [
            (6.0, "a moment"),
            (47.0, "40 s"),
            (65.0, "a minute"),
            (1510.0, "25 minutes"),
            (4000.0, "an hour"),
            (8000.0, "2 hours"),
        ] {
            assert_eq!(said(silent_s), format!("waiting; last heard {ago} ago"));
        }
    }
}
