//! The sound that is copied.

use crate::text::{draw, message};
use markhold_air::{Noise, Scene, Sender};
use markhold_code::FiguresRow;

/// What is heard.
#[derive(Clone, Copy, Debug)]
pub enum Sound {
    /// A bulletin, repeated, at this Es/N0, dB.
    Bulletin(f64),
    /// Noise and nothing else.
    Noise,
}

impl Sound {
    /// The scene, `seconds` long.
    pub fn scene(self, seconds: f64) -> Scene {
        let quiet = Scene {
            duration_s: Some(seconds),
            ..Scene::default()
        };
        match self {
            Sound::Noise => Scene {
                noise: Noise::SnrDb {
                    snr_db: 0.0,
                    bandwidth_hz: 3000.0,
                },
                ..quiet
            },
            Sound::Bulletin(es_n0_db) => Scene {
                senders: vec![bulletin()],
                noise: Noise::EsN0Db(es_n0_db),
                ..quiet
            },
        }
    }
}

fn bulletin() -> Sender {
    let text = message(&mut draw("speed", 1), 2000);
    let sender = Sender::of_text(&text, FiguresRow::Ita2).expect("texts can be sent");
    Sender {
        repeat: true,
        ..sender
    }
}
