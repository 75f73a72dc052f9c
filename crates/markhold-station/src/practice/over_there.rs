//! What the other end hears of an over: the codes through sound, path and a receiver.

use super::operator::Heard;
use markhold_air::{Agc, Air, Channel, Noise, Scene, Sender, Sense};
use markhold_code::{Code, StartStop};
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};

/// Samples a second of the other end, Hz.
const RATE: u32 = 8000;
/// Read so surely a character is written down without a mark.
const SURE: f32 = 0.9;

/// The path of one over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    /// Energy of an element over the noise density, dB.
    pub es_n0_db: f64,
    /// What the ionosphere does.
    pub channel: Channel,
    /// Everything random.
    pub seed: u64,
}

/// How it was sent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sent {
    /// Modulation rate and stop element.
    pub speed: StartStop,
    /// The lower tone, Hz of audio.
    pub lower_hz: f64,
    /// Distance of the tones, Hz.
    pub shift_hz: f64,
    /// Mark is the lower radio frequency.
    pub reversed: bool,
}

impl Default for Sent {
    /// As usual: 45.45 baud, 170 Hz, mark the higher radio frequency.
    fn default() -> Self {
        Sent {
            speed: StartStop::new(markhold_code::usual::RATES_BAUD[0], 1.5),
            lower_hz: 2125.0,
            shift_hz: 170.0,
            reversed: false,
        }
    }
}

/// What a receiver at the other end makes of it; nothing where that cannot be sent.
///
/// The same codes and path give the same characters.
pub fn heard(codes: &[Code], sent: Sent, path: Path) -> Heard {
    let sender = Sender {
        codes: codes.to_vec(),
        speed: sent.speed,
        begin_s: 1.0,
        lead_in_s: 2.0,
        tail_s: 0.5,
        shift_hz: sent.shift_hz,
        // The other receiver is on the lower sideband, where the usual mark is the lower tone.
        sense: match sent.reversed {
            true => Sense::HigherTone,
            false => Sense::LowerTone,
        },
        channel: path.channel,
        ..Sender::default()
    };
    let scene = Scene {
        seed: path.seed,
        silence_after_s: 3.0,
        senders: vec![sender],
        noise: Noise::EsN0Db(path.es_n0_db),
        agc: Some(Agc::default()),
        ..Scene::default()
    };
    let receiver = Receiver::new(f64::from(RATE), Settings::default());
    match (Air::new(scene, RATE), receiver) {
        (Ok(air), Ok(receiver)) => read(&air.render(), receiver),
        _ => Heard::default(),
    }
}

fn read(sound: &[f32], mut receiver: Receiver) -> Heard {
    let mut characters = Vec::new();
    let mut take = |event| {
        if let Event::Character(c) = event {
            let glyph = match c.symbol.text() {
                Some(glyph) if !glyph.is_control() => glyph,
                Some(_) => ' ',
                None => return,
            };
            characters.push((glyph, c.doubt.is_none() && c.probability >= SURE));
        }
    };
    receiver.process(sound, &mut take);
    receiver.finish(&mut take);
    Heard { characters }
}
