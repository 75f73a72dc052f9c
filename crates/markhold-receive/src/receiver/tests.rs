//! Laws of choice, of how far copying looks back, and of who finds room.

use super::*;
use crate::pair::follower::PairStart;
use crate::search::trial::Verdict;

fn find(mark_hz: f64, power: f32) -> Find {
    let start = PairStart {
        at_s: 1000.0,
        rate_baud: 45.45,
        mark_hz,
        space_hz: mark_hz + 170.0,
        power: [power; 2],
        noise: [0.1; 2],
    };
    Find {
        verdict: Verdict {
            start,
            mark: 0,
            evidence: 50.0,
            missing: None,
        },
        instead_of: Vec::new(),
        since_s: None,
    }
}

/// A receiver that was given finds of (when, lower tone, power).
fn receiver(settings: Settings, finds: &[(f64, f64, f32)]) -> Receiver {
    let mut receiver = Receiver::new(8000.0, settings).expect("settings that work");
    for (at_s, hz, power) in finds {
        receiver.begin(&find(*hz, *power), *at_s);
    }
    receiver
}

fn chosen(receiver: &mut Receiver, now_s: f64) -> Option<u32> {
    receiver.choose(now_s, false);
    receiver.chosen.map(|id| id.0)
}

#[test]
fn a_forced_place_takes_the_nearest() {
    let forced = Settings {
        at_hz: Some(1600.0),
        ..Settings::default()
    };
    let finds = [(5.0, 1440.0, 9.0), (5.0, 1510.0, 1.0)];
    let mut receiver = receiver(forced, &finds);
    assert_eq!(chosen(&mut receiver, 7.0), Some(2));
}

#[test]
fn all_signals_need_no_choice() {
    let all = Settings {
        all: true,
        ..Settings::default()
    };
    let mut receiver = receiver(all, &[(5.0, 1000.0, 1.0)]);
    assert_eq!(chosen(&mut receiver, 50.0), None);
}

#[test]
fn copying_looks_back_but_not_into_what_was_copied() {
    let begun = |receiver: &Receiver| receiver.candidates[0].copying.committed_s();
    assert_eq!(
        begun(&receiver(Settings::default(), &[(20.0, 1000.0, 1.0)])),
        6.0
    );
    assert_eq!(
        begun(&receiver(Settings::default(), &[(5.0, 1000.0, 1.0)])),
        0.0
    );
    // A long trial: from before it, as far as sound is remembered.
    let mut late = receiver(Settings::default(), &[]);
    let mut long = find(1000.0, 1.0);
    long.verdict.start.at_s = 12.0;
    late.begin(&long, 40.0);
    assert_eq!(begun(&late), 4.0);
    // The dial was turned to it: nothing was there before.
    let mut turned = receiver(Settings::default(), &[]);
    let mut found = find(1000.0, 1.0);
    found.since_s = Some(17.5);
    turned.begin(&found, 20.0);
    assert_eq!(begun(&turned), 17.5);
    let mut again = receiver(Settings::default(), &[]);
    for (hz, start_s) in [(1010.0, 11.0), (2000.0, 15.0)] {
        let place = Place {
            tones_hz: [hz, hz + 170.0],
            element_s: 0.02,
        };
        again.committed.note(SignalId(9), start_s, place);
    }
    again.begin(&find(1000.0, 1.0), 20.0);
    assert!((begun(&again) - 11.14).abs() < 1e-9);
}

#[test]
fn of_a_tone_alone_there_is_one_line_and_a_pair_finds_room() {
    let alone = |hz: f64, power: f32| {
        let mut found = find(hz, power);
        found.verdict.missing = Some(1);
        found
    };
    let mut receiver = receiver(Settings::default(), &[]);
    for i in 0..MOST_SIGNALS {
        receiver.begin(&alone(500.0 + 100.0 * i as f64, 2.0 + i as f32), 20.0);
    }
    let places = |receiver: &Receiver| -> Vec<f64> {
        let all = receiver.candidates.iter();
        all.filter_map(|c| c.alone_hz).collect()
    };
    receiver.let_go_for(&alone(905.0, 1.0), &mut |_| ());
    assert!(!places(&receiver).contains(&900.0));
    assert_eq!(receiver.candidates.len(), MOST_SIGNALS - 1);
    receiver.let_go_for(&find(1850.0, 1.0), &mut |_| ());
    assert_eq!(receiver.candidates.len(), MOST_SIGNALS - 1, "there is room");
    receiver.begin(&alone(905.0, 30.0), 20.0);
    receiver.let_go_for(&find(1850.0, 1.0), &mut |_| ());
    assert_eq!(receiver.candidates.len(), MOST_SIGNALS - 1);
    assert!(!places(&receiver).contains(&500.0), "the weakest goes");
}
