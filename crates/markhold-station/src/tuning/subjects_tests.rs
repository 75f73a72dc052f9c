//! Who is the subject, as pairs come and go.

use super::*;
use markhold_event::Sense;

const PAIR: [f64; 2] = [1415.0, 1585.0];

fn moved(hz: f64) -> [f64; 2] {
    PAIR.map(|tone| tone + hz)
}

fn followed(tones_hz: [f64; 2], characters: u64) -> FollowedNow {
    FollowedNow {
        tones_hz,
        sense: Sense::LowerTone,
        drift_hz_per_min: 0.0,
        quality: Some(0.95),
        characters,
    }
}

/// Hears the same for a while from `from_s` on; the subject at the end.
fn hear(
    subjects: &mut Subjects,
    times_s: (f64, f64),
    pair_hz: Option<[f64; 2]>,
    is_one_sender: bool,
    followed: Option<FollowedNow>,
) -> Option<Subject> {
    hear_at(1.0, subjects, times_s, pair_hz, is_one_sender, followed)
}

/// The same with tones of this power.
fn hear_at(
    pair_power: f32,
    subjects: &mut Subjects,
    (from_s, to_s): (f64, f64),
    pair_hz: Option<[f64; 2]>,
    is_one_sender: bool,
    followed: Option<FollowedNow>,
) -> Option<Subject> {
    let mut subject = None;
    let mut now_s = from_s;
    while now_s < to_s {
        let tones = pair_hz.unwrap_or([0.0; 2]);
        let is_tone = |hz: f64| tones.iter().any(|t| (t - hz).abs() < 30.0);
        let turns = |pair: [f64; 2]| is_one_sender && Some(pair) == pair_hz;
        let heard = Heard {
            now_s,
            pair_hz,
            pair_power,
            is_one_sender: &turns,
            followed,
            is_followed_heard: followed.is_some(),
            is_there: &is_tone,
            is_tone: &is_tone,
        };
        subject = subjects.process(&heard).0;
        now_s += 0.04;
    }
    subject
}

#[test]
fn what_does_not_take_turns_and_is_not_read_is_nobody() {
    let mut subjects = Subjects::default();
    assert_eq!(
        hear(&mut subjects, (0.0, 20.0), Some(PAIR), false, None),
        None
    );
    let subject = hear(&mut subjects, (20.0, 20.6), Some(PAIR), true, None);
    assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
}

#[test]
fn an_odd_distance_must_hold_and_gives_way_to_what_is_followed() {
    let odd = [1415.0, 1520.0];
    let mut subjects = Subjects::default();
    assert_eq!(hear(&mut subjects, (0.0, 1.5), Some(odd), true, None), None);
    let subject = hear(&mut subjects, (1.5, 3.0), Some(odd), true, None);
    assert_eq!(subject.map(|s| s.tones_hz), Some(odd));
    let read = Some(followed(PAIR, 9));
    let subject = hear(&mut subjects, (3.0, 3.2), Some(PAIR), true, read);
    assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
}

#[test]
fn a_place_of_before_the_turn_does_not_take_over() {
    let mut subjects = Subjects::default();
    let there = moved(300.0);
    hear(
        &mut subjects,
        (0.0, 10.0),
        Some(PAIR),
        true,
        Some(followed(PAIR, 30)),
    );
    hear(
        &mut subjects,
        (10.0, 10.4),
        Some(there),
        true,
        Some(followed(PAIR, 31)),
    );
    // It pauses, and the receiver still follows, and reads, the old place.
    let stale = Some(followed(PAIR, 32));
    let subject = hear(&mut subjects, (10.4, 14.0), None, false, stale);
    assert_eq!(subject.map(|s| s.tones_hz), Some(there));
}

#[test]
fn a_neighbour_in_a_pause_does_not_take_over() {
    let mut subjects = Subjects::default();
    hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
    // Mark idles; Morse beside it makes a pair with another distance.
    let with_morse = Some([1415.0, 2315.0]);
    let subject = hear(&mut subjects, (2.0, 60.0), with_morse, false, None);
    assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
    assert!(
        subject.is_some_and(|s| s.heard_s > 59.9),
        "its mark is there"
    );
}

#[test]
fn a_turn_moves_it_at_once_and_is_told() {
    let mut subjects = Subjects::default();
    hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
    let there = moved(300.0);
    let subject = hear(&mut subjects, (2.0, 2.2), Some(there), false, None);
    assert_eq!(subject.map(|s| s.tones_hz), Some(there));
}

#[test]
fn another_is_the_subject_when_this_one_has_long_been_silent() {
    let mut subjects = Subjects::default();
    hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
    let other = [800.0, 1225.0];
    let soon = hear(
        &mut subjects,
        (2.0, 2.0 + SILENT_S - 0.2),
        Some(other),
        true,
        None,
    );
    assert_eq!(soon.map(|s| s.tones_hz), Some(PAIR));
    let late = hear(
        &mut subjects,
        (2.0 + SILENT_S, 20.0),
        Some(other),
        true,
        None,
    );
    assert_eq!(late.map(|s| s.tones_hz), Some(other));
    let read = Some(followed(moved(800.0), 9));
    let read = hear(&mut subjects, (20.0, 23.0), Some(moved(800.0)), true, read);
    assert_eq!(read.map(|s| s.tones_hz), Some(moved(800.0)), "it is read");
}

/// The dial takes tones along as strong as they were; what stands out of noise in a fade is weaker.
#[test]
fn noise_in_a_fade_is_no_turn() {
    let mut subjects = Subjects::default();
    hear(&mut subjects, (0.0, 5.0), Some(PAIR), true, None);
    let at = |subject: Option<Subject>| subject.map(|s| s.tones_hz);
    let away = Some(moved(470.0));
    let subject = hear_at(0.03, &mut subjects, (5.0, 5.3), away, false, None);
    assert_eq!(at(subject), Some(PAIR));
    let subject = hear_at(0.3, &mut subjects, (5.3, 5.5), away, false, None);
    assert_eq!(at(subject), away, "faded a little, and turned");
}

#[test]
fn who_comes_back_after_another_takes_turns_with_it() {
    let mut subjects = Subjects::default();
    let mut over = |from_s: f64, pair: [f64; 2]| {
        let (begin_s, to_s) = (from_s + 2.0, from_s + 20.0);
        hear(&mut subjects, (from_s, begin_s), None, false, None);
        let read = Some(followed(pair, from_s as u64));
        let subject = hear(&mut subjects, (begin_s, to_s), Some(pair), true, read);
        assert_eq!(subject.map(|s| s.tones_hz), Some(pair), "{from_s} s");
        subjects.takes_turns_with(to_s).is_some()
    };
    // Another shift than the first's: these are not its tones, moved.
    let other = [1650.0, 1850.0];
    assert!(!over(0.0, PAIR) && !over(20.0, other));
    assert!(over(40.0, PAIR) && over(60.0, other), "they take turns");
    // With the same shift and less than a turn away it is the same, after a pause as before.
    let near = [1750.0, 1950.0];
    assert!(over(80.5, near) && over(101.0, other) && over(121.5, near));
    let third = [800.0, 1225.0];
    assert!(over(142.0, third), "it is not forgotten at once");
    assert_eq!(subjects.takes_turns_with(142.0 + OVER_S + 2.0), None);
}

#[test]
fn read_is_a_state_that_ends() {
    let mut subjects = Subjects::default();
    let few = Some(followed(PAIR, CHARACTERS - 1));
    let subject = hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, few);
    assert_eq!(subject.map(|s| s.is_read), Some(false));
    let some = Some(followed(PAIR, CHARACTERS));
    let subject = hear(&mut subjects, (2.0, 3.0), Some(PAIR), true, some);
    assert_eq!(subject.map(|s| s.is_read), Some(true));
    let stuck = hear(&mut subjects, (3.0, 3.0 + LATE_S), Some(PAIR), true, some);
    assert_eq!(stuck.map(|s| s.is_read), Some(false), "nothing new came");
}
