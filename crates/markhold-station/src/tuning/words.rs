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
        Instruction::Turn { dial_hz } => format!("turn {}", By(dial_hz)),
        Instruction::Move { audio_hz } => format!("move the tones {}", By(audio_hz)),
        Instruction::OneTone { turn: None } => "one tone only: you are on its edge".into(),
        Instruction::OneTone { turn: Some(hz) } => match sideband {
            Some(_) => format!("one tone only: you are on its edge, turn {}", By(hz)),
            None => format!("one tone only: you are on its edge, move it {}", By(hz)),
        },
        Instruction::SteadyTone => "one steady tone: idle, or a carrier".into(),
        Instruction::OtherSideband => "other sideband: copying anyway".into(),
        Instruction::Overlap => "two signals overlap".into(),
        Instruction::InTune { drift_hz_per_min } if drift_hz_per_min.abs() < SLOW => {
            "in tune".into()
        }
        Instruction::InTune { drift_hz_per_min } => {
            let hz = drift_hz_per_min.abs();
            format!("in tune, drifting {hz:.0} Hz a minute")
        }
    }
}

/// A way to go: rounded to what a hand can do.
struct By(f64);

impl fmt::Display for By {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let step = if self.0.abs() < 50.0 { 5.0 } else { 10.0 };
        let hz = (self.0.abs() / step).round() * step;
        let way = if self.0 > 0.0 { "up" } else { "down" };
        write!(f, "{hz:.0} Hz {way}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_are_short_and_round() {
        let lower = Some(Sideband::Lower);
        let said = |instruction| words(&instruction, lower);
        assert_eq!(said(Instruction::Turn { dial_hz: 142.0 }), "turn 140 Hz up");
        assert_eq!(
            said(Instruction::Turn { dial_hz: -33.0 }),
            "turn 35 Hz down"
        );
        assert_eq!(
            words(&Instruction::Move { audio_hz: 96.0 }, None),
            "move the tones 100 Hz up"
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
        let heard = "one tone only: you are on its edge, ";
        assert_eq!(said(edge), format!("{heard}turn 210 Hz up"));
        assert_eq!(words(&edge, None), format!("{heard}move it 210 Hz up"));
    }
}
