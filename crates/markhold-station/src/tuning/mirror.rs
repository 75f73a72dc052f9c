//! Whether turns of the dial move the tones the other way than is believed: the person obeys,
//! and the tones go away instead of home. Then the receiver is on the other sideband than was said.

use super::Instruction;
use super::instruct::dial_hz;
use markhold_sound::Sideband;

/// A turn is taken for the one that was asked for when its size is right within this share.
const LIKE: f64 = 0.3;
/// Smaller turns say nothing, Hz: tones seem to move by keying.
const LEAST_HZ: f64 = 60.0;
/// A turn is over when the tones have stayed for this long, s.
const OVER_S: f64 = 0.6;

/// Watches what turns do.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mirror {
    // state
    sideband: Option<Sideband>,
    is_mirrored: bool,
    /// What was asked for before the turn: Hz of audio.
    asked_hz: Option<f64>,
    /// How far the tones have moved in this turn, Hz, and when last, s.
    moved_hz: f64,
    moved_s: Option<f64>,
}

impl Mirror {
    /// Takes what stands, the sideband in use and by how much the tones were moved just now;
    /// whether the dial works the other way round.
    pub fn process(
        &mut self,
        standing: &Instruction,
        sideband: Option<Sideband>,
        moved_hz: Option<f64>,
        now_s: f64,
    ) -> bool {
        if self.sideband != sideband {
            *self = Mirror {
                sideband,
                ..Mirror::default()
            };
        }
        if let Some(hz) = moved_hz {
            if self.moved_s.is_none() {
                self.asked_hz = self.audio_hz(standing);
            }
            self.moved_hz += hz;
            self.moved_s = Some(now_s);
        }
        if self.moved_s.is_some_and(|s| now_s - s > OVER_S) {
            self.judge();
            (self.moved_hz, self.moved_s, self.asked_hz) = (0.0, None, None);
        }
        self.is_mirrored
    }

    /// The way that the tones would go who obeyed, Hz of audio.
    fn audio_hz(&self, standing: &Instruction) -> Option<f64> {
        let Instruction::Turn { dial_hz: by_hz, .. } = *standing else {
            return None;
        };
        // On either sideband the way there and the way back are the same.
        let audio_hz = dial_hz(by_hz, self.sideband?);
        Some(if self.is_mirrored {
            -audio_hz
        } else {
            audio_hz
        })
    }

    fn judge(&mut self) {
        let Some(asked_hz) = self.asked_hz else {
            return;
        };
        let went_back = (self.moved_hz + asked_hz).abs() < LIKE * asked_hz.abs();
        if went_back && asked_hz.abs() > LEAST_HZ {
            self.is_mirrored = !self.is_mirrored;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ASKED: Instruction = Instruction::Turn {
        dial_hz: 400.0,
        is_mirrored: false,
    };

    /// The dial is turned in 20 steps of 40 ms, then left.
    fn turned(by_hz: f64, standing: &Instruction, sideband: Option<Sideband>) -> bool {
        let (mut mirror, mut is_mirrored) = (Mirror::default(), false);
        for step in 0..60 {
            let now_s = 0.04 * f64::from(step);
            let moved = (step < 20).then_some(by_hz / 20.0);
            is_mirrored = mirror.process(standing, sideband, moved, now_s);
        }
        is_mirrored
    }

    #[test]
    fn tones_that_go_the_other_way_mirror_the_dial() {
        let (lower, upper) = (Some(Sideband::Lower), Some(Sideband::Upper));
        assert!(turned(-390.0, &ASKED, lower));
        assert!(turned(390.0, &ASKED, upper));
        assert!(!turned(390.0, &ASKED, lower) && !turned(-390.0, &ASKED, upper));
    }

    #[test]
    fn another_turn_than_the_one_asked_for_says_nothing() {
        let lower = Some(Sideband::Lower);
        assert!(!turned(-150.0, &ASKED, lower) && !turned(-800.0, &ASKED, lower));
        assert!(!turned(-400.0, &Instruction::Nothing, lower));
        assert!(!turned(-400.0, &ASKED, None));
    }
}
