//! One recording, heard by both receivers.

use crate::copied::{Copied, copy};
use crate::draw::Draw;
use crate::evening::{Evening, Recording};
use crate::floor::{Told, read};
use crate::glyphs::{Score, page, plain};
use crate::keep;
use crate::kinds::{Kind, evening};
use std::path::Path;

/// The textbook receiver reads where fewer glyphs than this are wrong.
const READS: f64 = 0.4;
/// So often it is drawn again where it does not.
const MOST_DRAWS: u64 = 12;

/// What came of one recording.
pub struct Outcome {
    pub markhold: Score,
    pub floor: Score,
    pub first_s: Option<f64>,
    pub seconds: f64,
    pub took_s: f64,
    /// Evenings that were drawn before one that the textbook receiver reads.
    pub refused: u64,
}

/// Draws, records and hears one recording of a kind.
pub fn measure(kind: &Kind, seed: u64, folder: Option<&Path>) -> Outcome {
    let (evening, recording, by_floor, refused) = readable(kind, seed);
    let sent = plain(&recording.glyphs);
    let pair = evening.sender.mark_hz / 2.0 + evening.sender.space_hz / 2.0;
    let copied = copy(&recording, evening.pointed.then_some(pair));
    let printed = page(copied.glyphs.iter().copied());
    if let Some(folder) = folder {
        let name = format!("{}-{seed}", kind.name.replace([' ', ','], "-"));
        keep::write(folder, &name, &evening, &recording, &by_floor, &printed);
    }
    outcome(
        &recording,
        &copied,
        Score::of(&sent, &printed),
        Score::of(&sent, &plain(&by_floor)),
        refused,
    )
}

fn outcome(
    recording: &Recording,
    copied: &Copied,
    markhold: Score,
    floor: Score,
    refused: u64,
) -> Outcome {
    Outcome {
        markhold,
        floor,
        first_s: copied.first_s,
        seconds: recording.sound.len() as f64 / recording.rate,
        took_s: copied.took_s,
        refused,
    }
}

/// The first evening that the textbook receiver reads, and what it reads.
fn readable(kind: &Kind, seed: u64) -> (Evening, Recording, String, u64) {
    let mut draw = Draw::new(kind.name, seed);
    let mut refused = 0;
    loop {
        let mut own = draw.branch();
        let evening = evening(kind, &mut own);
        let recording = evening.record(&mut own);
        let s = &evening.sender;
        let told = Told {
            mark_hz: s.mark_hz,
            space_hz: s.space_hz,
            baud: s.baud,
            row: s.row,
            unshift: s.unshift,
        };
        let text = read(&recording.sound, recording.rate, &told);
        let rate = Score::of(&plain(&recording.glyphs), &plain(&text)).rate();
        if rate < READS || refused + 1 == MOST_DRAWS {
            return (evening, recording, text, refused);
        }
        refused += 1;
    }
}
