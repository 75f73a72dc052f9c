//! Tests of the order in which pairs are tried.

use super::promise::LONG_TRIALS_S;
use super::*;
use crate::event::Sense;
use crate::pair::follower::PairStart;
use crate::search::spectrum::Peak;

fn finder(settings: &Settings) -> Finder {
    Finder::new(BandPlan::new(8000.0), settings)
}

fn peak(hz: f64, ratio: f32) -> Peak {
    Peak {
        hz,
        ratio,
        power: ratio - 1.0,
        is_steady: false,
    }
}

#[test]
fn pairs_have_a_possible_shift_and_the_lower_tone_first() {
    let peaks = [
        peak(1200.0, 9.0),
        peak(1000.0, 9.0),
        peak(2205.0, 9.0),
        peak(1230.0, 9.0),
    ];
    let mut pairs = finder(&Settings::default()).pairs(&peaks, &[]);
    pairs.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    let expected = [
        [1000.0, 1200.0],
        [1000.0, 1230.0],
        [1200.0, 2205.0],
        [1230.0, 2205.0],
    ];
    assert_eq!(pairs, expected);
}

#[test]
fn a_usual_pair_that_was_rejected_is_heard_longer_every_other_time() {
    let mut finder = finder(&Settings::default());
    let (usual, other) = ([1000.0, 1170.0], [1000.0, 1300.0]);
    assert_eq!(
        finder.long_trial_s(&usual),
        None,
        "a short trial comes first"
    );
    let [shorter, longer] = LONG_TRIALS_S.map(Some);
    for long in [shorter, None, longer, None, shorter] {
        finder.reject(usual, 10.0);
        finder.reject(other, 10.0);
        assert_eq!(finder.long_trial_s(&usual), long);
        assert_eq!(finder.long_trial_s(&other), None);
    }
}

#[test]
fn the_most_promising_pair_comes_first() {
    let first = |peaks: &[Peak]| finder(&Settings::default()).pairs(peaks, &[])[0];
    // A usual shift before an unusual one of the same strength.
    let usual = [peak(1000.0, 5.0), peak(1130.0, 5.0), peak(1170.0, 5.0)];
    assert_eq!(first(&usual), [1000.0, 1170.0]);
    // Two even tones before a strong and a weak one.
    let even = [
        peak(1000.0, 20.0),
        peak(1170.0, 1.5),
        peak(2300.0, 10.0),
        peak(2470.0, 10.0),
    ];
    assert_eq!(first(&even), [2300.0, 2470.0]);
}

#[test]
fn a_forced_shift_is_the_only_one() {
    let forced = Settings {
        shift_hz: Some(200.0),
        ..Settings::default()
    };
    let finder = finder(&forced);
    for (shift, fits) in [(184.0, false), (186.0, true), (214.0, true), (216.0, false)] {
        assert_eq!(finder.fits_shift(shift), fits, "{shift} Hz");
        let wanted = finder.is_wanted(&verdict([1000.0, 1000.0 + shift]));
        assert_eq!(wanted, fits, "{shift} Hz");
    }
    // Others are heard after it, to be told of.
    let peaks = [peak(1000.0, 9.0), peak(1170.0, 9.0), peak(1371.0, 2.0)];
    assert_eq!(finder.pairs(&peaks, &[])[0], [1170.0, 1371.0]);
}

fn verdict([mark_hz, space_hz]: [f64; 2]) -> Verdict {
    Verdict {
        start: PairStart {
            at_s: 0.0,
            rate_baud: 50.0,
            mark_hz,
            space_hz,
            power: [1.0; 2],
            noise: [0.1; 2],
        },
        mark: usize::from(mark_hz > space_hz),
        evidence: 50.0,
        missing: None,
    }
}

#[test]
fn a_forced_place_wants_what_lies_near() {
    let forced = Settings {
        at_hz: Some(1600.0),
        ..Settings::default()
    };
    let finder = finder(&forced);
    for (low, wanted) in [
        (1210.0, false),
        (1220.0, true),
        (1810.0, true),
        (1820.0, false),
    ] {
        let wanted_there = finder.is_wanted(&verdict([low, low + 170.0]));
        assert_eq!(wanted_there, wanted, "{low} Hz");
    }
}

#[test]
fn what_was_not_asked_for_is_not_wanted() {
    let found = verdict([1000.0, 1170.0]);
    let with = |sense, rate_baud| Settings {
        sense,
        rate_baud,
        ..Settings::default()
    };
    for (settings, wanted) in [
        (with(None, None), true),
        (with(Some(Sense::LowerTone), None), true),
        (with(Some(Sense::HigherTone), None), false),
        (with(None, Some(50.0)), true),
        (with(None, Some(45.45)), false),
    ] {
        assert_eq!(finder(&settings).is_wanted(&found), wanted, "{settings:?}");
    }
}

#[test]
fn a_rejected_pair_waits_ever_longer() {
    let mut finder = finder(&Settings::default());
    let (pair, moved) = ([1000.0, 1170.0], [1005.0, 1165.0]);
    let mut now_s = 5.0;
    let mut waits = Vec::new();
    for _ in 0..12 {
        assert!(finder.is_due(&moved, now_s, false));
        finder.reject(pair, now_s);
        let from_s = now_s;
        while !finder.is_due(&moved, now_s, false) {
            assert!(
                finder.is_due(&moved, now_s, true),
                "the last look is always due"
            );
            now_s += 0.01;
        }
        waits.push(now_s - from_s);
    }
    assert!((waits[0] - 0.7).abs() < 0.02, "{waits:?}");
    assert!((waits[1] - 0.98).abs() < 0.02, "{waits:?}");
    assert!((waits[11] - 6.0).abs() < 0.02, "{waits:?}");
    assert!(finder.is_due(&[1020.0, 1170.0], 0.0, false), "another pair");
    assert_eq!(finder.rejected.len(), 1);
}
