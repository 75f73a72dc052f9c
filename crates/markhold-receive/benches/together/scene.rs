//! One transmission as several receivers hear it, each with fading, noise, tones and a clock of
//! its own.

#[path = "../common/text.rs"]
#[allow(dead_code, reason = "shared with other benches")]
mod text;

use markhold_air::{Air, Channel, Noise, Scene, Sender};
use markhold_code::{Code, FiguresRow, Sense, StartStop};

/// Samples a second.
pub const RATE: u32 = 8000;
/// Between gains, s.
const GAINS_S: f64 = 0.005;

/// How a transmission is heard.
#[derive(Clone, Copy)]
pub struct Way {
    pub channel: Channel,
    pub es_n0_db: f64,
    /// The clock of each receiver after the first, s ahead and ppm fast, by turns of sign.
    pub clock: (f64, f64),
    pub characters: usize,
}

/// What one receiver heard.
pub struct Heard {
    pub sound: Vec<f32>,
    pub element_s: f64,
    /// Codes and when they begin, s of its own time.
    pub characters: Vec<(Code, f64)>,
    gains: Vec<[f64; 2]>,
}

impl Heard {
    /// Amplitude gains of mark and of space.
    pub fn gains_at(&self, at_s: f64) -> [f64; 2] {
        let at = (at_s / GAINS_S).round().max(0.0) as usize;
        self.gains[at.min(self.gains.len() - 1)]
    }
}

/// Es/N0, linear.
pub fn es(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

/// Middles and senses of the receivers: two receivers are seldom tuned alike.
const TUNED: [(f64, Sense); 4] = [
    (1360.0, Sense::LowerTone),
    (1715.0, Sense::HigherTone),
    (1085.0, Sense::LowerTone),
    (2210.0, Sense::HigherTone),
];

/// What receiver `k` hears of the transmission of a seed.
pub fn hear(way: &Way, k: usize, seed: u64) -> Heard {
    let text = text::message(&mut text::draw("together", seed), way.characters);
    let side = match k {
        0 => 0.0,
        k if k % 2 == 1 => 1.0,
        _ => -1.0,
    };
    let (ahead_s, ppm) = (side * way.clock.0, side * way.clock.1);
    let usual = markhold_code::usual::RATES_BAUD[0];
    let (centre_hz, sense) = TUNED[k % TUNED.len()];
    let sender = Sender {
        speed: StartStop::new(usual / (1.0 + ppm * 1e-6), 1.5),
        begin_s: 6.0 + ahead_s,
        centre_hz,
        sense,
        channel: way.channel,
        ..Sender::of_text(&text, FiguresRow::Ita2).expect("in the alphabet")
    };
    let scene = Scene {
        seed: 1000 * seed + k as u64,
        senders: vec![sender],
        noise: Noise::EsN0Db(way.es_n0_db),
        silence_after_s: 3.0,
        ..Scene::default()
    };
    let air = Air::new(scene, RATE).expect("makes sense");
    let truth = air.truth();
    let gains = truth.fading(0, GAINS_S).map(|g| [g.mark, g.space]);
    Heard {
        gains: gains.collect(),
        characters: truth
            .characters(0)
            .iter()
            .map(|c| (c.code, c.start_s))
            .collect(),
        element_s: (1.0 + ppm * 1e-6) / usual,
        sound: air.render(),
    }
}
