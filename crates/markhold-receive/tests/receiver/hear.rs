//! Sound of a scene, and what a receiver makes of sound.

use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::{Code, FiguresRow};
use markhold_receive::event::{Character, Event, Signal, SignalId};
use markhold_receive::{Receiver, Settings};

/// A sender of `text`, elsewhere as in the default.
pub fn sender(text: &str) -> Sender {
    Sender::of_text(text, FiguresRow::Ita2).expect("the text can be sent")
}

/// One sender in steady noise, a second of noise after it.
pub fn scene(sender: Sender, es_n0_db: f64) -> Scene {
    Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(es_n0_db),
        silence_after_s: 1.0,
        ..Scene::default()
    }
}

/// All samples of a scene.
pub fn render(scene: Scene, sample_rate: u32) -> Vec<f32> {
    let air = Air::new(scene, sample_rate).expect("the scene makes sense");
    air.render()
}

/// Everything that was reported, in order.
#[derive(Debug, Default, PartialEq)]
pub struct Heard {
    pub events: Vec<Event>,
}

impl Heard {
    pub fn characters(&self) -> impl Iterator<Item = &Character> {
        self.events.iter().filter_map(|event| match event {
            Event::Character(character) => Some(character),
            _ => None,
        })
    }

    pub fn codes(&self) -> Vec<Code> {
        self.characters().map(|c| c.code).collect()
    }

    /// The codes of one signal.
    pub fn codes_of(&self, signal: SignalId) -> Vec<Code> {
        self.characters()
            .filter(|c| c.signal == signal)
            .map(|c| c.code)
            .collect()
    }

    pub fn found(&self) -> Vec<&Signal> {
        let found = self.events.iter().filter_map(|event| match event {
            Event::Found(signal) => Some(signal),
            _ => None,
        });
        found.collect()
    }

    pub fn ended(&self) -> Vec<&Signal> {
        let ended = self.events.iter().filter_map(|event| match event {
            Event::Ended(signal) => Some(signal),
            _ => None,
        });
        ended.collect()
    }

    /// What was printed.
    pub fn printed(&self) -> String {
        self.characters().filter_map(|c| c.symbol.text()).collect()
    }
}

/// A new receiver hears all samples in blocks of these lengths, over and over.
pub fn hear_in_blocks(
    samples: &[f32],
    sample_rate: u32,
    settings: Settings,
    lengths: &[usize],
) -> Heard {
    let mut receiver = Receiver::new(f64::from(sample_rate), settings).expect("good settings");
    let mut heard = Heard::default();
    let mut left = samples;
    let mut lengths = lengths.iter().copied().cycle();
    while !left.is_empty() {
        let length = lengths
            .next()
            .map_or(left.len(), |l| l.clamp(1, left.len()));
        let (block, rest) = left.split_at(length);
        receiver.process(block, &mut |event| heard.events.push(event));
        left = rest;
    }
    receiver.finish(&mut |event| heard.events.push(event));
    heard
}

/// A new receiver hears all samples.
pub fn hear(samples: &[f32], sample_rate: u32, settings: Settings) -> Heard {
    hear_in_blocks(samples, sample_rate, settings, &[1000])
}

/// What the receiver makes of a scene at 8 kHz, everything found by itself.
pub fn hear_scene(scene: Scene) -> Heard {
    hear(&render(scene, 8000), 8000, Settings::default())
}
