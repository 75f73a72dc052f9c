//! A passage of an evening's sound as one WAV file.

use markhold_shelf::{Segment, Shelf};
use markhold_sound::{ReadOptions, SoundReader};
use std::path::Path;

/// Longest passage, s: some ten megabytes at the rates of sound cards.
const LONGEST_S: f64 = 120.0;
/// Samples read at once.
const BLOCK: usize = 8192;

/// The sound from there on, s from the first sample of the evening, for so long or to its end.
/// What is missing in it is silence.
///
/// Errors: no such evening, or no sound of that passage, in words.
pub fn passage(shelf: &Shelf, evening: i64, from_s: f64, length_s: f64) -> Result<Vec<u8>, String> {
    shelf.evening(evening).map_err(|error| error.to_string())?;
    let files = shelf.sound(evening).map_err(|error| error.to_string())?;
    let (from_s, most_s) = (from_s.max(0.0), length_s.clamp(0.0, LONGEST_S));
    let until_s = from_s + most_s;
    let here = |segment: &Segment| segment.begin_s < until_s && segment.end_s() > from_s;
    let files: Vec<_> = files.into_iter().filter(|(s, _)| here(s)).collect();
    let Some((first, _)) = files.first() else {
        return Err("the sound of this passage is not there any more".into());
    };
    let rate = first.rate;
    let end_s = files.iter().map(|(s, _)| s.end_s()).fold(from_s, f64::max);
    let count = ((end_s.min(until_s) - from_s) * f64::from(rate)) as usize;
    let mut samples = vec![0.0; count];
    for (segment, path) in files.iter().filter(|(s, _)| s.rate == rate) {
        lay(&mut samples, from_s, segment, path)?;
    }
    Ok(wav(rate, &samples))
}

/// Lays the part of a file that belongs there into the passage.
fn lay(passage: &mut [f32], from_s: f64, segment: &Segment, path: &Path) -> Result<(), String> {
    let mut sound =
        SoundReader::open(path, &ReadOptions::default()).map_err(|error| error.to_string())?;
    // Where the file's first sample stands in the passage; before it, below 0.
    let mut at = ((segment.begin_s - from_s) * f64::from(segment.rate)).round() as i64;
    let mut block = [0.0; BLOCK];
    while at < passage.len() as i64 {
        // What a damaged file still gives is heard.
        let count = sound.read(&mut block).unwrap_or(0);
        if count == 0 {
            break;
        }
        for (k, sample) in block[..count].iter().enumerate() {
            let place = usize::try_from(at + k as i64).ok();
            if let Some(to) = place.and_then(|place| passage.get_mut(place)) {
                *to = *sample;
            }
        }
        at += count as i64;
    }
    Ok(())
}

/// One channel of 16 bit samples (RIFF WAVE, PCM).
fn wav(rate: u32, samples: &[f32]) -> Vec<u8> {
    let bytes = 2 * samples.len() as u32;
    let mut out = Vec::with_capacity(44 + bytes as usize);
    out.extend(b"RIFF");
    out.extend((36 + bytes).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    for word in [1_u16, 1] {
        out.extend(word.to_le_bytes());
    }
    for long in [rate, 2 * rate] {
        out.extend(long.to_le_bytes());
    }
    for word in [2_u16, 16] {
        out.extend(word.to_le_bytes());
    }
    out.extend(b"data");
    out.extend(bytes.to_le_bytes());
    for sample in samples {
        let full = f32::from(i16::MAX);
        out.extend(((sample * full).clamp(-full, full) as i16).to_le_bytes());
    }
    out
}
