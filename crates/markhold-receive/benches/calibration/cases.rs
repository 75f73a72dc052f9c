//! The cases that probabilities must come true in: 45.45 baud, 170 Hz.

use crate::text::{draw, message};
use markhold_air::{Channel, Noise, Scene, Sender};
use markhold_code::{Code, EncodeOptions, FiguresRow, encode};
use rand::RngExt;

/// Printed characters of text in a scene.
const CHARACTERS: usize = 400;

/// One case.
#[derive(Clone, Copy, Debug)]
pub struct Case {
    /// Energy of an element over noise density, mean over time, dB.
    pub es_n0_db: f64,
    /// What the ionosphere does.
    pub channel: Channel,
}

const fn steady(es_n0_db: f64) -> Case {
    Case {
        es_n0_db,
        channel: Channel::Steady,
    }
}

const fn fading(es_n0_db: f64, channel: Channel) -> Case {
    Case { es_n0_db, channel }
}

/// All of them.
pub const CASES: [Case; 10] = [
    steady(8.0),
    steady(6.0),
    steady(5.0),
    steady(4.0),
    fading(14.0, Channel::MID_LATITUDE_MODERATE),
    fading(11.0, Channel::MID_LATITUDE_MODERATE),
    fading(9.0, Channel::MID_LATITUDE_MODERATE),
    fading(14.0, Channel::MID_LATITUDE_DISTURBED),
    fading(11.0, Channel::MID_LATITUDE_DISTURBED),
    fading(9.0, Channel::MID_LATITUDE_DISTURBED),
];

impl Case {
    /// Its name.
    pub fn name(&self) -> String {
        match self.channel {
            Channel::TwoPath {
                delay_ms,
                spread_hz,
            } => format!(
                "two paths {delay_ms} ms {spread_hz} Hz, {} dB",
                self.es_n0_db
            ),
            _ => format!("steady {} dB", self.es_n0_db),
        }
    }

    /// Whether the tones fade.
    pub fn fades(&self) -> bool {
        self.channel != Channel::Steady
    }

    /// What is on the air with this seed.
    pub fn scene(&self, seed: u64) -> Scene {
        let mut draw = draw(&self.name(), seed);
        let text = message(&mut draw, CHARACTERS);
        let body = encode(&text, FiguresRow::Ita2, EncodeOptions::default());
        let codes = [Code::LETTERS, Code::LETTERS].into_iter();
        let middle_hz = if draw.random_bool(0.5) {
            2210.0
        } else {
            1360.0
        };
        let sender = Sender {
            codes: codes
                .chain(body.expect("texts hold sendable characters"))
                .collect(),
            centre_hz: middle_hz + draw.random_range(-20.0..20.0),
            begin_s: draw.random_range(1.0..2.0),
            channel: self.channel,
            ..Sender::default()
        };
        Scene {
            seed: draw.random(),
            senders: vec![sender],
            noise: Noise::EsN0Db(self.es_n0_db),
            silence_after_s: 2.0,
            ..Scene::default()
        }
    }
}
