//! What an invented sender sends, and when.

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_skeds::{Sked, When};

/// A text in noise.
pub fn scene(text: &str) -> Scene {
    Scene {
        senders: vec![Sender::of_text(text, FiguresRow::Ita2).unwrap()],
        noise: Noise::EsN0Db(20.0),
        ..Scene::default()
    }
}

/// Its sound, quiet enough that 16 bits do not clip it.
pub fn sound(scene: Scene, rate: u32) -> Vec<f32> {
    let samples = Air::new(scene, rate).unwrap().render();
    samples.iter().map(|s| 0.1 * s).collect()
}

/// A bulletin each week, of which no more is known.
pub fn weekly(zone: &str, first: &str) -> Sked {
    Sked {
        station: "Q1LMC".into(),
        name: "bulletin".into(),
        sends: String::new(),
        channels: vec![],
        shift_hz: None,
        rate_baud: None,
        mark: None,
        when: When {
            zone: zone.into(),
            first: first.parse().unwrap(),
            rules: vec!["FREQ=WEEKLY".into()],
            except: vec![],
            also: vec![],
        },
        length_min: 20.0,
        place: String::new(),
        notes: String::new(),
        print_on: String::new(),
    }
}
