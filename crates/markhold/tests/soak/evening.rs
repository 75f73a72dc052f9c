//! The invented evening: bulletins by different senders with pauses, over and over, so that
//! every sample and every character of any hour is known.

use markhold_air::{Air, Noise, Scene, Sender, SentCharacter};
use markhold_code::{Code, FiguresRow, Sense, StartStop};
use std::path::Path;

/// Samples a second, Hz.
pub const RATE: u32 = 8_000;

/// Length of one sender's turn, s; it is silent for most of it.
const TURN_S: f64 = 120.0;

/// How long each sends, s: about a quarter of the time.
const SENDS_S: f64 = 32.0;

/// Strong enough that whatever is missing is missing because of a fault, dB.
const ES_N0_DB: f64 = 20.0;

/// Rates, shifts and senses in use (common practice).
const SENDERS: [(f64, f64, f64, Sense); 6] = [
    (1.0 / 0.022, 1.42, 170.0, Sense::LowerTone),
    (50.0, 1.5, 450.0, Sense::HigherTone),
    (75.0, 1.5, 425.0, Sense::LowerTone),
    (50.0, 1.5, 170.0, Sense::HigherTone),
    (1.0 / 0.022, 1.5, 850.0, Sense::LowerTone),
    (50.0, 1.5, 425.0, Sense::LowerTone),
];

const WORDS: [&str; 16] = [
    "BULLETIN", "FROM", "Q1MARSH", "THE", "ROPEWALK", "OPENS", "AT", "NINE", "WIND", "FROM",
    "NORTH", "TIDE", "IS", "LATE", "ALL", "STATIONS",
];

/// Sound that comes again and again.
pub struct Evening {
    pub samples: Vec<i16>,
    /// What was sent: where it begins, s, and the code.
    pub characters: Vec<(f64, Code)>,
}

impl Evening {
    /// So many senders, one after the other.
    pub fn new(turns: usize, seed: u64) -> Self {
        let mut evening = Evening {
            samples: Vec::new(),
            characters: Vec::new(),
        };
        for turn in 0..turns {
            evening.add(turn, seed.wrapping_mul(100) + turn as u64);
        }
        evening
    }

    fn add(&mut self, turn: usize, seed: u64) {
        let (rate, stop, shift_hz, sense) = SENDERS[turn % SENDERS.len()];
        let speed = StartStop::new(rate, stop);
        let count = (SENDS_S / speed.character_s()) as usize;
        let mut text = String::new();
        for k in 0.. {
            if text.len() >= count {
                break;
            }
            let place = (seed as usize * 7 + k * 5 + k * k) % WORDS.len();
            text += WORDS[place];
            text += if k % 9 == 8 { "\r\n" } else { " " };
        }
        let sender = Sender {
            speed,
            shift_hz,
            sense,
            begin_s: 20.0 + (seed * 13 % 40) as f64,
            ..Sender::of_text(&text, FiguresRow::Ita2).expect("it can be sent")
        };
        let scene = Scene {
            seed,
            duration_s: Some(TURN_S),
            senders: vec![sender],
            noise: Noise::EsN0Db(ES_N0_DB),
            level_dbfs: -20.0,
            ..Scene::default()
        };
        let air = Air::new(scene, RATE).expect("a scene");
        let begin_s = self.length_s();
        let sent = air.truth().characters(0);
        let placed = |c: SentCharacter| (begin_s + c.start_s, c.code);
        self.characters.extend(sent.into_iter().map(placed));
        let sound = air.render();
        self.samples.extend(sound.iter().map(|s| sixteen_bits(*s)));
    }

    /// After so long it begins anew, s.
    pub fn length_s(&self) -> f64 {
        self.samples.len() as f64 / f64::from(RATE)
    }

    /// The sample at this place of a sound without end.
    pub fn at(&self, place: u64) -> i16 {
        self.samples[(place % self.samples.len() as u64) as usize]
    }

    /// What was sent in this stretch, whole characters of it, by places in s.
    pub fn sent(&self, from_s: f64, until_s: f64) -> Vec<(f64, Code)> {
        let length_s = self.length_s();
        let (first, last) = ((from_s / length_s) as u64, (until_s / length_s) as u64);
        let times = (first..=last).flat_map(|time| {
            let placed = move |c: &(f64, Code)| (c.0 + time as f64 * length_s, c.1);
            self.characters.iter().map(placed)
        });
        times
            .filter(|(at_s, _)| (from_s..until_s - LONGEST_S).contains(at_s))
            .collect()
    }

    /// Leaves the samples for another process.
    pub fn save(&self, path: &Path) {
        let bytes: Vec<u8> = self.samples.iter().flat_map(|s| s.to_le_bytes()).collect();
        std::fs::write(path, bytes).expect("written");
    }

    /// Only the samples.
    pub fn load(path: &Path) -> Self {
        let bytes = std::fs::read(path).expect("the evening's sound");
        let samples = bytes.chunks_exact(2);
        Evening {
            samples: samples.map(|b| i16::from_le_bytes([b[0], b[1]])).collect(),
            characters: Vec::new(),
        }
    }
}

/// The longest character, s: 7.5 elements at 45 baud.
const LONGEST_S: f64 = 0.17;

/// As it is kept.
pub fn sixteen_bits(sample: f32) -> i16 {
    (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16
}
