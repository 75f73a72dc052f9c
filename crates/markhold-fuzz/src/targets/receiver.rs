//! Any samples whatever, in any blocks: events that make sense.
//!
//! ```text
//! byte 0: sample rate and whether every signal is wanted
//! byte 1: what the rest is: samples as they are, or the keying of two tones
//! byte 2: lengths of blocks
//! rest:   16-bit samples, low byte first; or lengths of mark and space in turn, 1 ms each
//! ```

use super::{size, went};
use crate::{Target, Went};
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};

const RATES_HZ: [u32; 4] = [8000, 6000, 11_025, 48_000];
/// Longest sound that is tried, s: long enough for a find.
const MOST_S: usize = 8;

pub const RECEIVER: Target = Target {
    name: "receiver",
    try_bytes: receive,
    seeds: || {
        vec![
            [vec![0, 1, 9], keying()].concat(),
            vec![5, 0, 0, 0, 0, 255, 127, 0, 128],
        ]
    },
    words: &[],
    longest: 1 << 16,
};

fn receive(bytes: &[u8]) -> Went {
    let [first, kind, blocks, content @ ..] = bytes else {
        return went(0);
    };
    let rate = RATES_HZ[usize::from(first % 4)];
    let most = MOST_S * rate as usize;
    let sound = if kind % 2 == 0 {
        samples(content, most)
    } else {
        keyed(content, rate, most)
    };
    let settings = Settings {
        all: first & 4 != 0,
        ..Settings::default()
    };
    let mut receiver = Receiver::new(f64::from(rate), settings).expect("a rate that is taken");
    let mut told = 0;
    let mut take = |event: Event| {
        told += 1;
        check(&event);
    };
    // Blocks of 1 to 4082 samples, each longer or shorter than the one before.
    let (mut left, mut length) = (&sound[..], 1 + 16 * usize::from(*blocks));
    while !left.is_empty() {
        let (block, rest) = left.split_at(length.min(left.len()));
        receiver.process(block, &mut take);
        left = rest;
        length = 1 + (length * 7 + 13) % 4082;
    }
    receiver.finish(&mut take);
    went(size(told))
}

/// RY without end at 45.45 baud, as lengths in ms.
fn keying() -> Vec<u8> {
    [22].repeat(400)
}

/// Eight seconds of it at 8 kHz.
pub(super) fn sounding() -> Vec<f32> {
    keyed(&keying(), 8000, 8 * 8000)
}

/// The bytes as samples, over and over until there is enough for a find.
fn samples(bytes: &[u8], most: usize) -> Vec<f32> {
    let (pairs, _) = bytes.as_chunks::<2>();
    let once = pairs
        .iter()
        .map(|&pair| f32::from(i16::from_le_bytes(pair)) / 32768.0);
    once.cycle()
        .take(if pairs.is_empty() { 0 } else { most })
        .collect()
}

/// Two tones keyed as the bytes say: what a fuzzer would not hit upon by itself.
fn keyed(bytes: &[u8], rate: u32, most: usize) -> Vec<f32> {
    let mut turns = 0.0_f64;
    let lengths = bytes.iter().enumerate();
    let tones = lengths.flat_map(|(k, &ms)| {
        let hz = if k % 2 == 0 { 1275.0 } else { 1445.0 };
        std::iter::repeat_n(hz, usize::from(ms) * rate as usize / 1000)
    });
    let sample = |hz: f64| {
        turns = (turns + hz / f64::from(rate)).fract();
        (0.3 * (std::f64::consts::TAU * turns).sin()) as f32
    };
    tones.take(most).map(sample).collect()
}

fn check(event: &Event) {
    if let Event::Character(character) = event {
        let [second, third] = character.alternatives.map(|a| a.probability);
        for p in [character.probability, second, third] {
            assert!((0.0..=1.0).contains(&p), "{character:?}");
        }
        assert!(character.start_s.is_finite(), "{character:?}");
    }
}
