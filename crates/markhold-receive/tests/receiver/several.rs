//! Two signals at once: the strongest by default, all if wanted, or the one at a place.

use crate::hear::{Heard, hear, render, sender};
use markhold_air::{Noise, Scene, Sender, Sense};
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

fn heard(settings: Settings) -> Heard {
    hear(&SOUND, 8000, settings)
}

#[test]
fn the_strongest_by_default() {
    let heard = heard(Settings::default());
    assert_eq!(heard.found().len(), 1);
    assert_eq!(heard.codes(), senders()[0].codes, "{}", heard.printed());
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
