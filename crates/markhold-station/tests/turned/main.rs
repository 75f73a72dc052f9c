//! The dial is turned in the middle of the copy: the receiver is on the new place within
//! seconds, lets go of the old one, and nobody is told of signals that overlap.
//!
//! The example `turns` prints the same for many seeds, turns and moments.

mod obeyed;
mod practice;

use markhold_air::practice::Sideband;
use markhold_event::{Event, Signal};
use markhold_station::tuning::Instruction;
use practice::{Evening, TARGET_HZ};

/// From here on after a turn all is as it should be, s: three are listened to and two windows
/// are read.
const SETTLED_S: f64 = 7.5;
/// How long is listened after a turn, s.
const LISTEN_S: f64 = 12.0;
/// From after the first station's text to its next, s: as that evening was made.
const PAUSE_S: (f64, f64) = (124.0, 138.0);
/// How near the pair is to its place, and what is told to the truth, Hz.
const NEAR_HZ: (f64, f64) = (10.0, 25.0);

/// Turns the dial at each place in turn; what goes wrong, in words.
fn turned(seed: u64, sideband: Sideband, first_s: f64, turns_hz: &[f64]) -> Vec<String> {
    let mut evening = Evening::new(seed, sideband, 250.0);
    evening.listen(first_s);
    let mut wrong = Vec::new();
    for by_hz in turns_hz {
        let at_s = evening.now_s();
        evening.move_tones(*by_hz);
        evening.listen(LISTEN_S);
        let found = [told_wrong(&evening, at_s), followed_wrong(&evening, at_s)].concat();
        wrong.extend(
            found
                .iter()
                .map(|w| format!("{by_hz} Hz at {at_s:.1} s: {w}")),
        );
    }
    wrong
}

fn told_wrong(evening: &Evening, at_s: f64) -> Vec<String> {
    let told = evening.told.iter().filter(|t| t.at_s > at_s + 1.0);
    let overlap = told.filter(|t| t.instruction == Instruction::Overlap);
    let mut wrong: Vec<String> = overlap
        .take(1)
        .map(|t| format!("overlap at {:.1} s", t.at_s))
        .collect();
    let last = evening.told.last().expect("something is told");
    let off_hz = evening.middle_hz() - TARGET_HZ;
    let is_right = match last.instruction {
        Instruction::Turn { dial_hz, .. } => (dial_hz.abs() - off_hz.abs()).abs() < NEAR_HZ.1,
        Instruction::InTune { .. } => off_hz.abs() < 2.0 * NEAR_HZ.1,
        _ => false,
    };
    if !is_right {
        wrong.push(format!("{off_hz:.0} Hz off it is said: {}", last.words));
    }
    wrong
}

fn followed_wrong(evening: &Evening, at_s: f64) -> Vec<String> {
    let late = evening.signals.iter().filter(|s| s.0 > at_s + SETTLED_S);
    let problem = |(when, signals): &(f64, Vec<Signal>)| {
        let [one] = &signals[..] else {
            let tones: Vec<[f64; 2]> = signals.iter().map(|s| [s.mark_hz, s.space_hz]).collect();
            return Some(format!("at {when:.1} s there are {tones:.0?} Hz"));
        };
        let off_hz = 0.5 * (one.mark_hz + one.space_hz) - evening.middle_hz();
        (off_hz.abs() > NEAR_HZ.0).then(|| format!("{off_hz:.0} Hz off at {when:.1} s"))
    };
    late.filter_map(problem).collect()
}

fn right(seed: u64, sideband: Sideband, first_s: f64, turns_hz: &[f64]) {
    let wrong = turned(seed, sideband, first_s, turns_hz);
    assert!(wrong.is_empty(), "{sideband:?}:\n{}", wrong.join("\n"));
}

#[test]
fn on_the_lower_sideband() {
    right(
        1,
        Sideband::Lower,
        9.0,
        &[-425.0, 350.0, -140.0, 100.0, -200.0, 170.0],
    );
}

#[test]
fn on_the_upper_sideband() {
    right(
        2,
        Sideband::Upper,
        9.0,
        &[-350.0, -140.0, 425.0, -100.0, -170.0, 200.0],
    );
}

/// In the idle mark before the text there is one tone only.
#[test]
fn in_the_lead_in() {
    right(3, Sideband::Lower, 1.5, &[-425.0]);
    right(4, Sideband::Upper, 1.5, &[-140.0]);
}

/// A person does what is said.
#[test]
fn by_what_is_said() {
    for (seed, sideband, off_hz) in [(5, Sideband::Lower, -350.0), (6, Sideband::Upper, 350.0)] {
        let mut evening = Evening::new(seed, sideband, off_hz);
        evening.listen(8.0);
        for _ in 0..3 {
            if let Some(by_hz) = evening.asked_hz() {
                evening.turn(by_hz);
            }
            evening.listen(6.0);
        }
        let off_hz = evening.middle_hz() - TARGET_HZ;
        assert!(off_hz.abs() < 35.0, "{sideband:?}: {off_hz} Hz off");
        let last = evening.told.last().expect("something is told");
        let is_in_tune = matches!(last.instruction, Instruction::InTune { .. });
        assert!(is_in_tune, "{sideband:?}: {}", last.words);
    }
}

/// A share of what the example `obeyed` does for 50 places. The law is that all of them are good; one in
/// six may be bad until that is reached. None is sent away from what is read.
#[test]
fn who_obeys_is_in_tune_soon() {
    let outcome = |place| {
        let (mut evening, what) = obeyed::random_evening(place);
        let outcome = obeyed::obey(&mut evening, 24.0);
        (outcome, format!("{what}: {outcome:.1?}"))
    };
    let all: Vec<_> = (1..=6).map(outcome).collect();
    let told: Vec<&str> = all.iter().map(|(_, words)| words.as_str()).collect();
    let good = all.iter().filter(|(o, _)| o.is_good()).count();
    assert!(good >= 5, "{good} are good:\n{}", told.join("\n"));
    let sent_away = all.iter().any(|(o, _)| o.was_sent_away);
    assert!(!sent_away, "{}", told.join("\n"));
}

/// In the pause after the text there are noise, Morse and a receiver whose AGC lets all of it
/// rise: none of that is copied.
#[test]
fn nothing_is_copied_in_a_pause() {
    // The first pause of this evening, the first text being over.
    let mut evening = Evening::new(1, Sideband::Lower, 0.0);
    evening.skip(PAUSE_S.0);
    evening.listen(PAUSE_S.1 - PAUSE_S.0);
    let copied = evening
        .copy
        .iter()
        .filter(|e| matches!(e, Event::Character(_)));
    assert_eq!(copied.count(), 0, "{:?}", evening.signals.last());
}
