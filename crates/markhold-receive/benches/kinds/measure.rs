//! One recording, heard by both receivers.

use crate::copied::{Copied, copy};
use crate::evenings::draw::Draw;
use crate::evenings::evening::{Evening, Recording};
use crate::floor::{Told, read};
use crate::glyphs::{Score, page, plain};
use crate::keep;
use crate::kinds::Kind;
use crate::options::Options;

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
    pub es_n0_db: f64,
}

/// Draws, records and hears one recording of a kind.
pub fn measure(kind: &Kind, seed: u64, options: &Options) -> Outcome {
    let (evening, recording, by_floor, refused) = readable(kind, seed);
    let sent = plain(&recording.glyphs);
    let pair_hz = (evening.sender.mark_hz + evening.sender.space_hz) / 2.0;
    let copied = if options.floor_only {
        Copied::default()
    } else {
        copy(&recording, evening.pointed.then_some(pair_hz))
    };
    let printed = page(copied.glyphs);
    if let Some(folder) = &options.keep {
        let name = format!("{}-{seed}", kind.name.replace([' ', ','], "-"));
        keep::write(folder, &name, &evening, &recording, &by_floor, &printed);
    }
    Outcome {
        markhold: Score::of(&sent, &printed),
        floor: Score::of(&sent, &plain(&by_floor)),
        first_s: copied.first_s,
        seconds: recording.sound.len() as f64 / recording.rate,
        took_s: copied.took_s,
        refused,
        es_n0_db: evening.es_n0_db,
    }
}

/// The first evening that the textbook receiver reads, and what it reads.
fn readable(kind: &Kind, seed: u64) -> (Evening, Recording, String, u64) {
    let mut draw = Draw::new(kind.name, seed);
    let mut refused = 0;
    loop {
        let mut own = draw.branch();
        let evening = kind.evening(&mut own);
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
