//! What a receiver copied of a sound of which the truth is known.

use markhold_air::{Air, Scene, SentCharacter};
use markhold_code::{Code, Shift};
use markhold_receive::copy::observer::Observer;
use markhold_receive::event::{Character, Event};
use markhold_receive::pair::conditions::Conditions;
use markhold_receive::settings::LanguageUse;
use markhold_receive::{Receiver, Settings};
use std::collections::HashMap;

/// Samples a second: what telephone bandwidth needs.
pub const SAMPLE_RATE: u32 = 8000;
/// A character was sent where it was copied if it began within so many elements of there.
const NEAR: f64 = 0.5;

/// A character as it was sent.
#[derive(Clone, Copy, Debug)]
pub struct Sent {
    /// Its code, and where it begins in the whole sound.
    pub character: SentCharacter,
    /// The shift in which it was sent.
    #[allow(dead_code, reason = "one of the benches has no use for it")]
    pub shift: Shift,
    /// How long its elements were, s.
    pub element_s: f64,
}

/// The sound of scenes one directly after the other, and what was sent in them.
pub fn render(scenes: &[Scene]) -> (Vec<f32>, Vec<Sent>) {
    let (mut sound, mut sent) = (Vec::new(), Vec::new());
    let mut shift = Shift::Letters;
    for scene in scenes {
        let from_s = sound.len() as f64 / f64::from(SAMPLE_RATE);
        let air = Air::new(scene.clone(), SAMPLE_RATE).expect("scenes make sense");
        for character in air.truth().characters(0) {
            sent.push(Sent {
                character: SentCharacter {
                    start_s: character.start_s + from_s,
                    ..character
                },
                shift,
                element_s: scene.senders[0].speed.element_s(),
            });
            match character.code {
                Code::LETTERS => shift = Shift::Letters,
                Code::FIGURES => shift = Shift::Figures,
                _ => {}
            }
        }
        sound.extend(air.render());
    }
    (sound, sent)
}

/// All characters that a new receiver copies, and under what conditions it did.
pub fn copy(sound: &[f32]) -> Vec<(Character, Conditions)> {
    copy_at(sound, f64::from(SAMPLE_RATE))
}

/// The same with sound of so many samples a second.
pub fn copy_at(sound: &[f32], rate: f64) -> Vec<(Character, Conditions)> {
    // What the signal says is measured; language has a bench of its own.
    let settings = Settings {
        language: LanguageUse::Off,
        ..Settings::default()
    };
    let mut receiver = Receiver::new(rate, settings).expect("sound as it may be");
    let observer = Observer::default();
    receiver.show(observer.clone());
    let mut copied = Vec::new();
    let mut take = |event| {
        if let Event::Character(character) = event {
            copied.push(character);
        }
    };
    for block in sound.chunks(rate as usize / 4) {
        receiver.process(block, &mut take);
    }
    receiver.finish(&mut take);
    let observed = observer.take().into_iter();
    let observed: HashMap<_, _> = observed.map(|(s, c, seen)| ((s, c), seen)).collect();
    let with_conditions = |c: Character| {
        let seen = observed[&(c.signal, c.id)];
        (c, seen)
    };
    copied.into_iter().map(with_conditions).collect()
}

/// What was sent where a character was copied, if anything was.
pub fn sent_there(character: &Character, sent: &[Sent]) -> Option<Sent> {
    let off_s = |s: &Sent| (s.character.start_s - character.start_s).abs();
    let near = sent.iter().filter(|s| off_s(s) < NEAR * s.element_s);
    near.min_by(|a, b| off_s(a).total_cmp(&off_s(b))).copied()
}
