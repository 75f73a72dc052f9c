//! Two signals at once: the strongest by default, all if wanted, or the one at a place.

use crate::hear::{Heard, hear, render, sender};
use markhold_air::{Noise, Scene, Sender, Sense};
use markhold_code::StartStop;
use markhold_receive::Settings;
use std::sync::LazyLock;

const STRONG: &str = "THE STRONGER STATION IS Q1AAA AND SENDS 12345";
const WEAK: &str = "Q2BBB IS WEAKER BUT JUST AS WELL COPIED 67890";
const WEAK_HZ: f64 = 2210.0;

fn senders() -> Vec<Sender> {
    let strong = Sender {
        centre_hz: 1100.0,
        ..sender(STRONG)
    };
    let weak = Sender {
        centre_hz: WEAK_HZ,
        sense: Sense::HigherTone,
        level_db: -9.0,
        ..sender(WEAK)
    };
    vec![strong, weak]
}

static SOUND: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let scene = Scene {
        senders: senders(),
        noise: Noise::EsN0Db(26.0),
        silence_after_s: 1.0,
        ..Scene::default()
    };
    render(scene, 8000)
});

/// What is heard of two senders where a place is pointed at.
fn heard_at(at_hz: f64, senders: Vec<Sender>) -> Heard {
    let scene = Scene {
        senders,
        noise: Noise::EsN0Db(20.0),
        silence_after_s: 1.0,
        ..Scene::default()
    };
    let settings = Settings {
        at_hz: Some(at_hz),
        ..Settings::default()
    };
    hear(&render(scene, 8000), 8000, settings)
}

fn heard(settings: Settings) -> Heard {
    hear(&SOUND, 8000, settings)
}

#[test]
fn the_strongest_by_default() {
    let heard = heard(Settings::default());
    assert_eq!(heard.found().len(), 1);
    assert_eq!(heard.codes(), senders()[0].codes, "{}", heard.printed());
}

/// The one that is meant, and one next door that begins before it and goes on after it.
fn meant_and_neighbour() -> [Sender; 2] {
    let meant = Sender {
        centre_hz: 1500.0,
        begin_s: 14.0,
        ..sender(&STRONG.repeat(3))
    };
    let neighbour = Sender {
        centre_hz: 1760.0,
        ..sender(&WEAK.repeat(8))
    };
    [meant, neighbour]
}

#[test]
fn who_is_copied_beside_the_one_that_is_meant_stays_unmeant() {
    let [meant, neighbour] = meant_and_neighbour();
    let heard = heard_at(1500.0, vec![meant.clone(), neighbour]);
    let found = heard.found();
    let last = found.last().expect("both were found");
    assert!((last.mark_hz - meant.mark_hz()).abs() < 10.0, "{found:?}");
    // Its first character or two may be read together with the other's splashes before it came.
    let codes = heard.codes();
    assert!(codes.ends_with(&meant.codes[3..]), "{}", heard.printed());
}

/// Nearer than what a turn of the dial would be taken for.
#[test]
fn a_neighbour_of_the_same_shift_is_another_one() {
    for by_hz in [70.0, 82.0, -88.0] {
        let pair = |centre_hz: f64, rate_baud: f64, text: &str| Sender {
            centre_hz,
            shift_hz: 200.0,
            speed: StartStop::new(rate_baud, 1.5),
            ..sender(&text.repeat(6))
        };
        let meant = pair(1500.0, 50.0, STRONG);
        let heard = heard_at(
            1500.0,
            vec![meant.clone(), pair(1500.0 + by_hz, 75.0, WEAK)],
        );
        let found = heard.found();
        let is_meant = found
            .iter()
            .any(|s| (s.mark_hz - meant.mark_hz()).abs() < 10.0);
        assert!(is_meant, "{by_hz} Hz: {found:?}");
    }
}

#[test]
fn all_if_wanted() {
    let heard = heard(Settings {
        all: true,
        ..Settings::default()
    });
    let found = heard.found();
    assert_eq!(found.len(), 2, "{found:?}");
    for sender in senders() {
        let of = found
            .iter()
            .find(|s| (s.mark_hz - sender.mark_hz()).abs() < 10.0)
            .unwrap_or_else(|| panic!("nothing at {} Hz: {found:?}", sender.mark_hz()));
        assert_eq!(heard.codes_of(of.id), sender.codes);
    }
}

#[test]
fn the_one_at_a_place() {
    for (at_hz, k) in [(1100.0, 0), (WEAK_HZ + 40.0, 1)] {
        let heard = heard(Settings {
            at_hz: Some(at_hz),
            ..Settings::default()
        });
        assert_eq!(
            heard.codes(),
            senders()[k].codes,
            "{at_hz} Hz: {}",
            heard.printed()
        );
    }
}

#[test]
fn nothing_where_nothing_is() {
    let heard = heard(Settings {
        at_hz: Some(3000.0),
        ..Settings::default()
    });
    assert_eq!(heard.events, []);
}
