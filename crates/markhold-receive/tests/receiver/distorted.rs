//! A sender with a bias of 30 to 40 % of an element, as much as a page printer in good order
//! bears, is found as what it is: its pair, its sense and its speed, and nothing else.
//!
//! A receiver's margin is to be at least 35 %, a sender's distortion at most 5 % (ITU-T S.3,
//! from memory).

use crate::hear::{hear_scene, scene, sender};
use crate::text::{draw, message};
use markhold_air::{Sender, Sense};

fn is_found_as_it_is(bias_percent: f64, sense: Sense) {
    let what = format!("{bias_percent} %, {sense:?}");
    let text = message(&mut draw("distorted", bias_percent.to_bits()), 120);
    let sent = Sender {
        bias_percent,
        sense,
        ..sender(&text)
    };
    let heard = hear_scene(scene(sent.clone(), 15.0));
    let found = heard.found();
    assert_eq!(found.len(), 1, "{what}: {found:?}");
    assert_eq!(found[0].sense, sent.sense, "{what}");
    // At a find the speed is told from a second or two.
    let speed = found[0].rate_baud / sent.speed.rate_baud;
    assert!((speed - 1.0).abs() < 0.03, "{what}: {speed}");
    let off_hz = [
        found[0].mark_hz - sent.mark_hz(),
        found[0].space_hz - sent.space_hz(),
    ];
    assert!(off_hz.iter().all(|hz| hz.abs() < 8.0), "{what}: {off_hz:?}");
}

#[test]
fn with_longer_marks() {
    for sense in [Sense::LowerTone, Sense::HigherTone] {
        for bias_percent in [30.0, 36.0, 40.0] {
            is_found_as_it_is(bias_percent, sense);
        }
    }
}

#[test]
fn with_longer_spaces() {
    for sense in [Sense::LowerTone, Sense::HigherTone] {
        for bias_percent in [-30.0, -36.0, -40.0] {
            is_found_as_it_is(bias_percent, sense);
        }
    }
}
