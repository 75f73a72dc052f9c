//! Samples: characters that a receiver copied from a scene whose truth is known.

use crate::cause::Causes;
use crate::cover::cover;
use markhold_air::{Air, Scene, SentCharacter};
use markhold_code::{Code, Shift};
use markhold_receive::event::{Character, Doubt, Event};
use markhold_receive::{Receiver, Settings};

/// Samples a second: what telephone bandwidth needs.
pub const SAMPLE_RATE: u32 = 8000;
/// A character is right if it was sent within half an element of where it was copied.
const NEAR: f64 = 0.5;

/// One copied character.
#[derive(Clone, Debug)]
pub struct Sample {
    /// As it was copied.
    pub character: Character,
    /// Whether its code was sent there.
    pub right: bool,
    /// Whether a character was sent there, with whatever code.
    pub present: bool,
    /// Whether it was sent there, and taken in another shift than it was sent in.
    pub shift_wrong: bool,
    /// What troubled it in truth.
    pub cause: Option<Doubt>,
}

/// A sent character and the shift in which it was sent.
struct Sent {
    character: SentCharacter,
    shift: Shift,
    element_s: f64,
}

/// Lets a new receiver hear scenes one after the other; all characters that it copies.
/// `covered` says whether shift characters are covered by noise.
pub fn listen(scenes: &[Scene], covered: Option<u64>) -> Vec<Sample> {
    let mut sound = Vec::new();
    let mut sent = Vec::new();
    let mut causes = Causes::default();
    for scene in scenes {
        let from_s = sound.len() as f64 / f64::from(SAMPLE_RATE);
        let air = Air::new(scene.clone(), SAMPLE_RATE).expect("scenes make sense");
        let truth = air.truth();
        causes.add(&truth, from_s);
        let element_s = scene.senders[0].speed.element_s();
        for character in truth.characters(0) {
            let start_s = character.start_s + from_s;
            sent.push((SentCharacter { start_s, ..character }, element_s));
        }
        sound.extend(air.render());
    }
    let sent = with_shift(sent);
    if let Some(seed) = covered {
        let shifts = sent.iter().map(|s| s.character);
        causes.covered = cover(&mut sound, shifts, seed);
    }
    let copied = copy(&sound);
    copied
        .into_iter()
        .map(|character| judge(character, &sent, &causes))
        .collect()
}

/// Shifts as they stand before each character.
fn with_shift(sent: Vec<(SentCharacter, f64)>) -> Vec<Sent> {
    let mut shift = Shift::Letters;
    sent.into_iter()
        .map(|(character, element_s)| {
            let before = shift;
            match character.code {
                Code::LETTERS => shift = Shift::Letters,
                Code::FIGURES => shift = Shift::Figures,
                _ => {}
            }
            Sent {
                character,
                shift: before,
                element_s,
            }
        })
        .collect()
}

fn copy(sound: &[f32]) -> Vec<Character> {
    let settings = Settings::default();
    let mut receiver = Receiver::new(f64::from(SAMPLE_RATE), settings).expect("default settings");
    let mut copied = Vec::new();
    let mut take = |event| {
        if let Event::Character(character) = event {
            copied.push(character);
        }
    };
    for block in sound.chunks(SAMPLE_RATE as usize / 4) {
        receiver.process(block, &mut take);
    }
    receiver.finish(&mut take);
    copied
}

fn judge(character: Character, sent: &[Sent], causes: &Causes) -> Sample {
    let off_s = |s: &Sent| (s.character.start_s - character.start_s).abs();
    let near = sent
        .iter()
        .filter(|s| off_s(s) < NEAR * s.element_s)
        .min_by(|a, b| off_s(a).total_cmp(&off_s(b)));
    let right = near.is_some_and(|s| s.character.code == character.code);
    let means_something = !matches!(
        character.code,
        Code::LETTERS | Code::FIGURES | Code::SPACE | Code::CARRIAGE_RETURN | Code::LINE_FEED
    );
    let shift_wrong =
        right && means_something && near.is_some_and(|s| s.shift != character.shift);
    let cause = causes.of(character.start_s);
    Sample {
        right,
        present: near.is_some(),
        shift_wrong,
        cause: if shift_wrong {
            Some(Doubt::ShiftLost)
        } else {
            cause
        },
        character,
    }
}
