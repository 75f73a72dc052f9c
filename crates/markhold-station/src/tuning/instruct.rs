//! One instruction out of what is seen and what is wanted. Pure.

use super::Instruction;
use super::sight::Seen;
use crate::settings::Target;
use markhold_event::Sense;
use markhold_sound::Sideband;

/// Tones are in tune within this, Hz: any nearer is finer than most dials.
const TOLERANCE_HZ: f64 = 20.0;
/// Once in tune they are until they are this far off, Hz.
const HOLD_HZ: f64 = 35.0;
/// The usual shift of the amateur bands (common practice), Hz, for a tone whose other one
/// has not been heard.
const SHIFT_HZ: f64 = 170.0;
/// Middle of the usual terminal unit's 2125 and 2295 Hz (common practice), where nothing
/// else is known.
const USUAL_HZ: f64 = 2210.0;

/// The signal that the receiver follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FollowedNow {
    /// Its tones, lower first, Hz.
    pub tones_hz: [f64; 2],
    /// Which is mark.
    pub sense: Sense,
    /// How the tones move, Hz of audio a minute.
    pub drift_hz_per_min: f64,
}

/// Everything that is known of the tones.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measured {
    /// What the fast sight sees.
    pub seen: Seen,
    /// What the receiver follows.
    pub followed: Option<FollowedNow>,
    /// Whether the receiver follows two signals that lie over each other.
    pub overlapping: bool,
    /// Edges of what the receiver lets through, Hz, where they are known.
    pub passband_hz: Option<[f64; 2]>,
}

/// What is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Wanted {
    /// Where the tones should be.
    pub target: Target,
    /// The sideband in use, where known.
    pub sideband: Option<Sideband>,
    /// Whether they were in tune just now.
    pub was_in_tune: bool,
}

impl Wanted {
    /// Where the middle of the tones should be, Hz.
    pub fn target_hz(&self, passband_hz: Option<[f64; 2]>) -> f64 {
        match (self.target, passband_hz) {
            (Target::Middle(hz), _) => hz,
            (Target::Passband, Some([low, high])) => 0.5 * (low + high),
            (Target::Passband, None) => USUAL_HZ,
        }
    }
}

/// How far the dial must be turned, up being positive, to move tones by `audio_hz`.
///
/// On the lower sideband audio is the dial less the radio frequency, so they go the same
/// way; on the upper sideband it is the other way round.
pub fn dial_hz(audio_hz: f64, sideband: Sideband) -> f64 {
    match sideband {
        Sideband::Lower => audio_hz,
        Sideband::Upper => -audio_hz,
    }
}

/// The sense that a signal has which keys mark on the higher radio frequency, as is usual
/// (common practice).
fn usual_sense(sideband: Sideband) -> Sense {
    match sideband {
        Sideband::Lower => Sense::LowerTone,
        Sideband::Upper => Sense::HigherTone,
    }
}

/// What to do now.
pub fn instruct(measured: &Measured, wanted: &Wanted) -> Instruction {
    let seen = &measured.seen;
    if measured.overlapping || seen.crowded {
        return Instruction::Overlap;
    }
    if is_other_sideband(measured, wanted) {
        return Instruction::OtherSideband;
    }
    let target_hz = wanted.target_hz(measured.passband_hz);
    match (
        seen.pair.or(measured.followed.map(|f| f.tones_hz)),
        seen.lone,
    ) {
        (_, Some(lone)) if lone.keyed && seen.pair.is_none() => {
            let audio_hz = target_hz - lone_middle_hz(lone.hz, measured);
            let turn = wanted.sideband.map_or(audio_hz, |s| dial_hz(audio_hz, s));
            Instruction::OneTone { turn: Some(turn) }
        }
        (Some([low, high]), _) => move_by(target_hz - 0.5 * (low + high), measured, wanted),
        (None, Some(_)) => Instruction::SteadyTone,
        (None, None) => Instruction::Nothing,
    }
}

/// Only said of a signal that is copied: the sense of others is not known.
fn is_other_sideband(measured: &Measured, wanted: &Wanted) -> bool {
    match (measured.followed, wanted.sideband) {
        (Some(followed), Some(sideband)) => followed.sense != usual_sense(sideband),
        _ => false,
    }
}

/// The middle of a pair of which one tone is heard: the other lies beyond the nearer edge.
fn lone_middle_hz(hz: f64, measured: &Measured) -> f64 {
    let shift = measured
        .followed
        .map_or(SHIFT_HZ, |f| f.tones_hz[1] - f.tones_hz[0]);
    let [low, high] = measured.passband_hz.unwrap_or([300.0, 2700.0]);
    let side = if hz - low < high - hz { -0.5 } else { 0.5 };
    hz + side * shift
}

fn move_by(audio_hz: f64, measured: &Measured, wanted: &Wanted) -> Instruction {
    let within = if wanted.was_in_tune {
        HOLD_HZ
    } else {
        TOLERANCE_HZ
    };
    if audio_hz.abs() <= within {
        let drift_hz_per_min = measured.followed.map_or(0.0, |f| f.drift_hz_per_min);
        return Instruction::InTune { drift_hz_per_min };
    }
    match wanted.sideband {
        Some(sideband) => Instruction::Turn {
            dial_hz: dial_hz(audio_hz, sideband),
        },
        None => Instruction::Move { audio_hz },
    }
}

#[cfg(test)]
mod tests {
    use super::super::sight::Lone;
    use super::*;

    fn pair(low: f64, high: f64) -> Measured {
        let seen = Seen {
            pair: Some([low, high]),
            ..Seen::default()
        };
        Measured {
            seen,
            ..Measured::default()
        }
    }

    fn wanted(sideband: Option<Sideband>) -> Wanted {
        Wanted {
            target: Target::Middle(2210.0),
            sideband,
            was_in_tune: false,
        }
    }

    /// A receiver: the audio of a radio frequency, by definition of the sidebands.
    fn audio_hz(radio_hz: f64, dial_hz: f64, sideband: Sideband) -> f64 {
        match sideband {
            Sideband::Lower => dial_hz - radio_hz,
            Sideband::Upper => radio_hz - dial_hz,
        }
    }

    #[test]
    fn doing_what_is_said_brings_the_tones_home_on_both_sidebands() {
        for sideband in [Sideband::Lower, Sideband::Upper] {
            for off_hz in [-900.0, -140.0, 30.0, 560.0] {
                let dial = 7_040_000.0;
                let start_hz = 2210.0 + off_hz;
                let radio = match sideband {
                    Sideband::Lower => dial - start_hz,
                    Sideband::Upper => dial + start_hz,
                };
                let heard = audio_hz(radio, dial, sideband);
                let said = instruct(&pair(heard - 85.0, heard + 85.0), &wanted(Some(sideband)));
                let Instruction::Turn { dial_hz } = said else {
                    panic!("{said:?}")
                };
                let after = audio_hz(radio, dial + dial_hz, sideband);
                assert!(
                    (after - 2210.0).abs() < 1e-6,
                    "{sideband:?} {off_hz}: {after}"
                );
            }
        }
    }

    #[test]
    fn low_tones_on_lsb_are_turned_up_and_on_usb_down() {
        let low = pair(1985.0, 2155.0);
        let turn = |sideband| instruct(&low, &wanted(sideband));
        assert_eq!(
            turn(Some(Sideband::Lower)),
            Instruction::Turn { dial_hz: 140.0 }
        );
        assert_eq!(
            turn(Some(Sideband::Upper)),
            Instruction::Turn { dial_hz: -140.0 }
        );
        assert_eq!(turn(None), Instruction::Move { audio_hz: 140.0 });
    }

    #[test]
    fn in_tune_has_some_play() {
        let near = pair(2125.0 + 30.0, 2295.0 + 30.0);
        let fresh = wanted(Some(Sideband::Lower));
        let held = Wanted {
            was_in_tune: true,
            ..fresh
        };
        assert_eq!(
            instruct(&near, &fresh),
            Instruction::Turn { dial_hz: -30.0 }
        );
        assert!(matches!(instruct(&near, &held), Instruction::InTune { .. }));
    }

    #[test]
    fn the_other_sideband_is_told_by_the_sense() {
        let followed = |sense| Measured {
            followed: Some(FollowedNow {
                tones_hz: [2125.0, 2295.0],
                sense,
                drift_hz_per_min: 2.0,
            }),
            ..pair(2125.0, 2295.0)
        };
        let said = |sense, sideband| instruct(&followed(sense), &wanted(sideband));
        let fine = Instruction::InTune {
            drift_hz_per_min: 2.0,
        };
        let (lower, upper) = (Some(Sideband::Lower), Some(Sideband::Upper));
        assert_eq!(said(Sense::LowerTone, lower), fine);
        assert_eq!(said(Sense::HigherTone, upper), fine);
        assert_eq!(said(Sense::HigherTone, lower), Instruction::OtherSideband);
        assert_eq!(said(Sense::LowerTone, upper), Instruction::OtherSideband);
        assert_eq!(said(Sense::HigherTone, None), fine);
    }

    #[test]
    fn one_keyed_tone_at_an_edge_is_brought_in() {
        let lone = |hz, keyed| Measured {
            seen: Seen {
                lone: Some(Lone { hz, keyed }),
                ..Seen::default()
            },
            passband_hz: Some([300.0, 2700.0]),
            ..Measured::default()
        };
        let wanted = Wanted {
            target: Target::Passband,
            ..wanted(Some(Sideband::Lower))
        };
        // The higher tone at the lower edge: the pair is around 295 Hz and belongs to 1500.
        let said = instruct(&lone(380.0, true), &wanted);
        assert_eq!(said, Instruction::OneTone { turn: Some(1205.0) });
        let said = instruct(&lone(2600.0, true), &wanted);
        assert_eq!(
            said,
            Instruction::OneTone {
                turn: Some(-1185.0)
            }
        );
        assert_eq!(
            instruct(&lone(1000.0, false), &wanted),
            Instruction::SteadyTone
        );
    }

    #[test]
    fn overlap_comes_first_and_nothing_last() {
        let crowded = Measured {
            overlapping: true,
            ..pair(1000.0, 1170.0)
        };
        assert_eq!(instruct(&crowded, &wanted(None)), Instruction::Overlap);
        assert_eq!(
            instruct(&Measured::default(), &wanted(None)),
            Instruction::Nothing
        );
    }

    #[test]
    fn the_target_is_what_was_set_then_the_passband_then_the_usual() {
        let wanted = Wanted::default();
        assert_eq!(wanted.target_hz(Some([300.0, 2700.0])), 1500.0);
        assert_eq!(wanted.target_hz(None), 2210.0);
        let set = Wanted {
            target: Target::Middle(1000.0),
            ..wanted
        };
        assert_eq!(set.target_hz(Some([300.0, 2700.0])), 1000.0);
    }
}
