//! What a user forces is kept.

use crate::hear::{Heard, hear, render, scene, sender};
use markhold_air::Sender;
use markhold_code::StartStop;
use markhold_receive::event::Sense;
use markhold_receive::{Receiver, Settings};

const TEXT: &str = "FORCED SETTINGS ARE KEPT 24680 DE Q6SET";

fn heard(sender: Sender, settings: Settings) -> Heard {
    hear(&render(scene(sender, 16.0), 8000), 8000, settings)
}

#[test]
fn right_ones_copy_without_an_error() {
    let all = Settings {
        at_hz: Some(2210.0),
        shift_hz: Some(170.0),
        rate_baud: Some(45.45),
        sense: Some(Sense::LowerTone),
        ..Settings::default()
    };
    let each = [
        Settings {
            at_hz: all.at_hz,
            ..Settings::default()
        },
        Settings {
            shift_hz: all.shift_hz,
            ..Settings::default()
        },
        Settings {
            rate_baud: all.rate_baud,
            ..Settings::default()
        },
        Settings {
            sense: all.sense,
            ..Settings::default()
        },
        all,
    ];
    for settings in each {
        let heard = heard(sender(TEXT), settings.clone());
        assert_eq!(
            heard.codes(),
            sender(TEXT).codes,
            "{settings:?}: {}",
            heard.printed()
        );
    }
}

#[test]
fn unusual_ones_can_be_forced() {
    let sender = Sender {
        speed: StartStop::new(65.0, 1.5),
        shift_hz: 300.0,
        centre_hz: 1500.0,
        ..sender(TEXT)
    };
    let settings = Settings {
        shift_hz: Some(300.0),
        rate_baud: Some(65.0),
        ..Settings::default()
    };
    let heard = heard(sender.clone(), settings);
    assert_eq!(heard.codes(), sender.codes, "{}", heard.printed());
}

/// The wrong sense, rate or shift may give garble or nothing, but never what was not
/// asked for.
#[test]
fn wrong_ones_are_kept_all_the_same() {
    let wrong = [
        Settings {
            sense: Some(Sense::HigherTone),
            ..Settings::default()
        },
        Settings {
            rate_baud: Some(75.0),
            ..Settings::default()
        },
        Settings {
            shift_hz: Some(850.0),
            ..Settings::default()
        },
    ];
    for settings in wrong {
        let heard = heard(sender(TEXT), settings.clone());
        for found in heard.found() {
            assert!(settings.sense.is_none_or(|s| s == found.sense), "{found:?}");
            let near =
                |forced: Option<f64>, hz: f64| forced.is_none_or(|f| (hz / f - 1.0).abs() < 0.1);
            assert!(near(settings.rate_baud, found.rate_baud), "{found:?}");
            assert!(near(settings.shift_hz, found.shift_hz), "{found:?}");
        }
    }
}

#[test]
fn impossible_ones_are_refused_with_their_numbers() {
    let settings = Settings {
        shift_hz: Some(5.0),
        ..Settings::default()
    };
    let error = Receiver::new(8000.0, settings).err().expect("too narrow");
    assert!(
        error
            .to_string()
            .contains("5 Hz, but must lie between 85 and 1000"),
        "{error}"
    );
    let error = Receiver::new(500.0, Settings::default())
        .err()
        .expect("too slow");
    assert!(
        error
            .to_string()
            .contains("500 Hz, but must lie between 6000"),
        "{error}"
    );
}
