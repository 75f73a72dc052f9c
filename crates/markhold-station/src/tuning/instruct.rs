//! One instruction out of what is known and what is wanted. Pure.

use super::Instruction;
use super::aim::Place;
use super::sight::Lone;
use super::subject::Subject;
use markhold_event::Sense;
use markhold_sound::Sideband;

/// The usual shift of the amateur bands (common practice), Hz, for a tone whose other one
/// has not been heard.
const SHIFT_HZ: f64 = 170.0;
/// A lone keyed tone is one of a pair only this near to an edge, Hz: the widest usual shift.
const EDGE_HZ: f64 = 850.0;
/// Between which edges the other tone of a pair would be heard where no filter is known, Hz:
/// a usual voice filter (common practice).
const USUAL_FILTER_HZ: [f64; 2] = [300.0, 2700.0];
/// A sender that was not heard for this long is waited for, s: longer than the pauses of one
/// who types.
const PAUSE_S: f64 = 5.0;
/// A turn is asked for of tones that stood there no longer ago than this, s: longer than a fade of
/// both, shorter than a hand takes to turn. What was said of where they were is not true any more.
const FRESH_S: f64 = 0.6;

/// Everything that is known of the tones.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    /// Now, s.
    pub now_s: f64,
    /// The sender that the dial is turned for.
    pub subject: Option<Subject>,
    /// A tone that has been alone for a while.
    pub lone: Option<Lone>,
    /// Whether that tone is keyed as one of a start-stop pair is.
    pub is_lone_start_stop: bool,
    /// Whether something lies over the subject.
    pub is_overlapped: bool,
    /// Edges of the receiver's filter, Hz, where they are known.
    pub filter_hz: Option<[f64; 2]>,
    /// The tones of another that the subject takes turns with, lower first, Hz.
    pub other_hz: Option<[f64; 2]>,
}

impl Known {
    /// What is to be placed: the tones of the subject, and those of one that it takes turns with where
    /// both find room, so that each is asked for the same.
    fn tones_hz(&self, subject: &Subject, place: &Place) -> [f64; 2] {
        let own = subject.tones_hz;
        let (Some(other), Some([from, to])) = (self.other_hz, place.room_hz) else {
            return own;
        };
        let both = [own[0].min(other[0]), own[1].max(other[1])];
        if both[1] - both[0] <= to - from {
            both
        } else {
            own
        }
    }
}

/// What is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Where the tones should be.
    pub place: Place,
    /// The sideband in use, where known.
    pub sideband: Option<Sideband>,
    /// Whether turns of the dial have moved the tones the other way than the sideband in use
    /// makes them.
    pub is_mirrored: bool,
    /// Whether they were in tune just now.
    pub was_in_tune: bool,
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
pub fn instruct(known: &Known, wanted: &Wanted) -> Instruction {
    let Some(subject) = &known.subject else {
        return without_subject(known, wanted);
    };
    let silent_s = known.now_s - subject.heard_s;
    if silent_s > PAUSE_S {
        // One tone of it may be all that is left, at an edge.
        return match without_subject(known, wanted) {
            one @ Instruction::OneTone { .. } => one,
            _ => Instruction::Waiting { silent_s },
        };
    }
    if known.is_overlapped && !subject.is_read {
        return Instruction::Overlap;
    }
    // Where no place was named, one that is read well is in a good one.
    let is_fine = subject.is_readable() && wanted.place.room_hz.is_some();
    let tones_hz = known.tones_hz(subject, &wanted.place);
    let way_hz = wanted.place.way_hz(tones_hz, wanted.was_in_tune);
    match way_hz.filter(|_| !is_fine) {
        Some(_) if known.now_s - subject.there_s > FRESH_S => Instruction::Waiting { silent_s },
        Some(audio_hz) => move_by(audio_hz, wanted),
        None if is_other_sideband(subject, wanted) => Instruction::OtherSideband,
        None => Instruction::InTune {
            drift_hz_per_min: subject.followed.map_or(0.0, |f| f.drift_hz_per_min),
        },
    }
}

/// Only said of a signal that was read well: the sense of others is not known.
fn is_other_sideband(subject: &Subject, wanted: &Wanted) -> bool {
    match (subject.sense, wanted.sideband) {
        (Some(sense), Some(sideband)) => sense != usual_sense(sideband),
        _ => false,
    }
}

/// Perhaps one tone of a pair is heard, the other being beyond an edge.
fn without_subject(known: &Known, wanted: &Wanted) -> Instruction {
    let Some(lone) = known.lone else {
        return Instruction::Nothing;
    };
    match beyond_edge_hz(lone.hz, known) {
        Some(middle_hz) if lone.keyed && known.is_lone_start_stop => {
            let audio_hz = wanted.place.middle_hz - middle_hz;
            let turn = wanted
                .sideband
                .map_or(audio_hz, |s| wanted.dial_hz(audio_hz, s));
            Instruction::OneTone { turn: Some(turn) }
        }
        _ if lone.keyed => Instruction::Nothing,
        _ => Instruction::SteadyTone,
    }
}

/// The middle of a pair of which one tone is heard at `hz`, the other lying beyond the nearer
/// edge; `None` where no edge is near.
fn beyond_edge_hz(hz: f64, known: &Known) -> Option<f64> {
    let [low, high] = known.filter_hz.unwrap_or(USUAL_FILTER_HZ);
    let (below, above) = (hz - low, high - hz);
    let shift_hz = known
        .subject
        .map_or(SHIFT_HZ, |s| s.tones_hz[1] - s.tones_hz[0]);
    let side = if below < above { -0.5 } else { 0.5 };
    (below.min(above) < EDGE_HZ).then_some(hz + side * shift_hz)
}

impl Wanted {
    fn dial_hz(&self, audio_hz: f64, sideband: Sideband) -> f64 {
        let way = dial_hz(audio_hz, sideband);
        if self.is_mirrored { -way } else { way }
    }
}

fn move_by(audio_hz: f64, wanted: &Wanted) -> Instruction {
    match wanted.sideband {
        Some(sideband) => Instruction::Turn {
            dial_hz: wanted.dial_hz(audio_hz, sideband),
            is_mirrored: wanted.is_mirrored,
        },
        None => Instruction::Move { audio_hz },
    }
}

#[cfg(test)]
mod tests {
    use super::super::aim::Aim;
    use super::super::subject::FollowedNow;
    use super::*;
    use crate::settings::Target;

    fn at(low: f64, high: f64) -> Known {
        Known {
            now_s: 10.0,
            subject: Some(Subject {
                tones_hz: [low, high],
                followed: None,
                is_read: false,
                sense: None,
                read_hz: None,
                heard_s: 10.0,
                there_s: 10.0,
                power: 0.0,
            }),
            ..Known::default()
        }
    }

    fn read(known: Known, sense: Sense) -> Known {
        let read = |s: Subject| Subject {
            followed: Some(FollowedNow {
                tones_hz: s.tones_hz,
                sense,
                drift_hz_per_min: 2.0,
                quality: Some(0.97),
                characters: 60,
            }),
            is_read: true,
            sense: Some(sense),
            ..s
        };
        Known {
            subject: known.subject.map(read),
            ..known
        }
    }

    fn wanted(target: Target, sideband: Option<Sideband>) -> Wanted {
        Wanted {
            place: Aim::default().place(target),
            sideband,
            is_mirrored: false,
            was_in_tune: false,
        }
    }

    const MIDDLE: Target = Target::Middle(2210.0);

    fn turn(dial_hz: f64) -> Instruction {
        Instruction::Turn {
            dial_hz,
            is_mirrored: false,
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
    fn two_that_take_turns_are_asked_for_the_same() {
        // A usual voice filter; the second one stands at its edge.
        let pairs = [[1000.0, 1170.0], [2590.0, 2760.0]];
        let asked = |own: [f64; 2], other: [f64; 2]| {
            let known = Known {
                other_hz: Some(other),
                ..at(own[0], own[1])
            };
            instruct(&known, &wanted(Target::Passband, Some(Sideband::Lower)))
        };
        let [one, two] = [asked(pairs[0], pairs[1]), asked(pairs[1], pairs[0])];
        assert_eq!(one, two);
        let Instruction::Turn { dial_hz, .. } = one else {
            panic!("{one:?}")
        };
        let turned = pairs.map(|pair| pair.map(|hz| hz + dial_hz));
        for (own, other) in [(turned[0], turned[1]), (turned[1], turned[0])] {
            assert!(
                matches!(asked(own, other), Instruction::InTune { .. }),
                "{own:?}"
            );
        }
        // Both do not fit: each is asked for alone.
        let apart = asked([1000.0, 1170.0], [3200.0, 3370.0]);
        assert!(matches!(apart, Instruction::InTune { .. }), "{apart:?}");
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
                let known = at(heard - 85.0, heard + 85.0);
                let said = instruct(&known, &wanted(MIDDLE, Some(sideband)));
                let Instruction::Turn { dial_hz, .. } = said else {
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
        let low = at(1985.0, 2155.0);
        let said = |sideband| instruct(&low, &wanted(MIDDLE, sideband));
        assert_eq!(said(Some(Sideband::Lower)), turn(140.0));
        assert_eq!(said(Some(Sideband::Upper)), turn(-140.0));
        assert_eq!(said(None), Instruction::Move { audio_hz: 140.0 });
        let mirrored = Wanted {
            is_mirrored: true,
            ..wanted(MIDDLE, Some(Sideband::Lower))
        };
        let expected = Instruction::Turn {
            dial_hz: -140.0,
            is_mirrored: true,
        };
        assert_eq!(instruct(&low, &mirrored), expected);
    }

    #[test]
    fn nobody_is_sent_away_from_tones_that_have_room() {
        let wanted = wanted(Target::Passband, Some(Sideband::Lower));
        // The last one is near an edge, and read all the same.
        for low in [500.0, 1415.0, 2125.0, 2500.0] {
            let said = instruct(&read(at(low, low + 170.0), Sense::LowerTone), &wanted);
            assert!(
                matches!(said, Instruction::InTune { .. }),
                "{low}: {said:?}"
            );
        }
    }

    #[test]
    fn the_other_sideband_is_told_by_the_sense_of_what_is_read() {
        let known = at(2125.0, 2295.0);
        let said = |sense, sideband| instruct(&read(known, sense), &wanted(MIDDLE, sideband));
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
    fn one_keyed_tone_at_an_edge_is_brought_in_and_morse_is_not() {
        let lone = |hz, keyed, is_lone_start_stop| Known {
            lone: Some(Lone { hz, keyed }),
            is_lone_start_stop,
            filter_hz: Some([300.0, 2700.0]),
            ..Known::default()
        };
        let mut aim = Aim::default();
        (0..20).for_each(|_| aim.look(Some([300.0, 2700.0])));
        let wanted = Wanted {
            place: aim.place(Target::Passband),
            ..wanted(MIDDLE, Some(Sideband::Lower))
        };
        // The higher tone at the lower edge: the pair is around 295 Hz and belongs to 1500.
        let said = instruct(&lone(380.0, true, true), &wanted);
        assert_eq!(said, Instruction::OneTone { turn: Some(1205.0) });
        let said = instruct(&lone(2600.0, true, true), &wanted);
        let expected = Instruction::OneTone {
            turn: Some(-1185.0),
        };
        assert_eq!(said, expected);
        let morse = instruct(&lone(380.0, true, false), &wanted);
        assert_eq!(morse, Instruction::Nothing);
        let carrier = instruct(&lone(1000.0, false, false), &wanted);
        assert_eq!(carrier, Instruction::SteadyTone);
    }

    #[test]
    fn a_pause_is_waited_through() {
        let wanted = wanted(Target::Passband, Some(Sideband::Lower));
        let after = |silent_s: f64| {
            let known = Known {
                now_s: 10.0 + silent_s,
                ..at(1415.0, 1585.0)
            };
            instruct(&known, &wanted)
        };
        assert!(matches!(after(3.0), Instruction::InTune { .. }));
        assert_eq!(after(40.0), Instruction::Waiting { silent_s: 40.0 });
    }

    #[test]
    fn a_turn_is_not_asked_for_of_tones_that_have_left() {
        let wanted = wanted(MIDDLE, Some(Sideband::Lower));
        let after = |gone_s: f64| {
            let known = Known {
                now_s: 10.0 + gone_s,
                ..at(1415.0, 1585.0)
            };
            instruct(&known, &wanted)
        };
        assert_eq!(after(0.4), turn(710.0));
        assert!(matches!(after(0.8), Instruction::Waiting { .. }));
    }

    #[test]
    fn overlap_is_told_where_it_spoils_the_copy() {
        let wanted = wanted(Target::Passband, None);
        let over = |known: Known| Known {
            is_overlapped: true,
            ..known
        };
        let known = at(1000.0, 1170.0);
        assert_eq!(instruct(&over(known), &wanted), Instruction::Overlap);
        let well = over(read(known, Sense::LowerTone));
        assert!(matches!(
            instruct(&well, &wanted),
            Instruction::InTune { .. }
        ));
        let nothing = instruct(&Known::default(), &wanted);
        assert_eq!(nothing, Instruction::Nothing);
    }
}
