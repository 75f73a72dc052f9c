//! Sound and copy for other programs: SigMF recordings (version 1.2.6).
//!
//! A recording is `NAME.sigmf-data`, bare 16-bit samples, beside `NAME.sigmf-meta`, JSON:
//! a capture for every stretch without a hole, an annotation for every signal and every
//! line of copy. Frequencies are those of the sound, not of the radio.

use super::{KeptLine, RECEIVER, Segment, Shelf, ShelfError};
use jiff::Timestamp;
use markhold_sound::{ReadOptions, SoundReader};
use serde_json::{Value, json};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

const VERSION: &str = "1.2.6";

/// Holes shorter than this are none, s: what times are rounded to.
const HOLE_S: f64 = 1e-3;

/// A stretch of sound without a hole.
struct Stretch {
    /// First sample, in the file of samples.
    at: u64,
    samples: u64,
    begin_s: f64,
}

/// Sound of one rate, as it was written.
struct Written {
    rate: u32,
    stretches: Vec<Stretch>,
}

impl Shelf {
    /// Writes what is left of an evening's sound and one of its readings into `folder`,
    /// which is made if it is missing: one recording for each change of rate. Files that
    /// are there are not written over. Returns the names of the metadata files.
    ///
    /// Errors: no sound left, the sound cannot be read or the files not written.
    pub fn export_sigmf(
        &self,
        evening: i64,
        reading: i64,
        folder: &Path,
    ) -> Result<Vec<PathBuf>, ShelfError> {
        let about = self.evening(evening)?;
        let sound = self.sound(evening)?;
        if sound.is_empty() {
            return Err(ShelfError::NoSound { evening });
        }
        std::fs::create_dir_all(folder).map_err(ShelfError::at(folder))?;
        let mut metas = Vec::new();
        for (k, run) in sound.chunk_by(|a, b| a.0.rate == b.0.rate).enumerate() {
            let name = match k {
                0 => format!("evening-{evening}"),
                k => format!("evening-{evening}-{}", k + 1),
            };
            let written = write_samples(&folder.join(format!("{name}.sigmf-data")), run)?;
            let meta = json!({
                "global": {
                    "core:datatype": "ri16_le",
                    "core:sample_rate": written.rate,
                    "core:version": VERSION,
                    "core:num_channels": 1,
                    "core:recorder": RECEIVER,
                    "core:description": format!("Evening {evening}, {}", about.input),
                },
                "captures": written.captures(about.begin.timestamp()),
                "annotations": self.annotations(reading, &written)?,
            });
            let path = folder.join(format!("{name}.sigmf-meta"));
            let mut file = create(&path)?;
            serde_json::to_writer_pretty(&mut file, &meta)
                .map_err(std::io::Error::from)
                .and_then(|()| file.flush())
                .map_err(ShelfError::at(&path))?;
            metas.push(path);
        }
        Ok(metas)
    }

    /// Signals and lines that lie in the written sound, in order of their samples.
    fn annotations(&self, reading: i64, sound: &Written) -> Result<Vec<Value>, ShelfError> {
        let mut annotations = Vec::new();
        for signal in self.signals(reading)? {
            let Some(latest) = signal.latest() else {
                continue;
            };
            let label = format!("signal {}", signal.number);
            if let Some((start, count)) = sound.place(latest.begin_s, latest.until_s) {
                annotations.push(json!({
                    "core:sample_start": start,
                    "core:sample_count": count,
                    "core:freq_lower_edge": latest.tones().lower_hz(),
                    "core:freq_upper_edge": latest.tones().higher_hz(),
                    "core:label": label,
                    "core:comment": format!("{:.2} baud, shift {:.0} Hz", latest.rate_baud, latest.shift_hz),
                    "core:generator": RECEIVER,
                }));
            }
        }
        self.lines(reading, &mut |line: KeptLine| {
            if let (false, Some((start, count))) = (
                line.text.trim().is_empty(),
                sound.place(line.begin_s, line.end_s),
            ) {
                annotations.push(json!({
                    "core:sample_start": start,
                    "core:sample_count": count,
                    "core:label": format!("copy of signal {}", line.signal),
                    "core:comment": line.text,
                    "core:generator": RECEIVER,
                }));
            }
        })?;
        annotations.sort_by_key(|a| a["core:sample_start"].as_u64());
        Ok(annotations)
    }
}

impl Written {
    fn captures(&self, begin: Timestamp) -> Vec<Value> {
        let capture = |stretch: &Stretch| {
            let begin = begin + jiff::SignedDuration::from_secs_f64(stretch.begin_s);
            json!({
                "core:sample_start": stretch.at,
                "core:datetime": format!("{begin:.6}"),
            })
        };
        self.stretches.iter().map(capture).collect()
    }

    /// First sample and number of samples of a span of the evening, as far as it lies in
    /// the stretch in which it begins; `None` where that sound is not there.
    fn place(&self, begin_s: f64, end_s: f64) -> Option<(u64, u64)> {
        let rate = f64::from(self.rate);
        self.stretches.iter().find_map(|stretch| {
            let from = (begin_s - stretch.begin_s) * rate;
            let inside = from >= 0.0 && from < stretch.samples as f64;
            let count = ((end_s - begin_s).max(0.0) * rate) as u64;
            inside.then(|| {
                let from = from as u64;
                (stretch.at + from, count.min(stretch.samples - from))
            })
        })
    }
}

/// Writes the samples of files of one rate one after the other.
fn write_samples(path: &Path, run: &[(Segment, PathBuf)]) -> Result<Written, ShelfError> {
    let mut file = create(path)?;
    let rate = run.first().map_or(0, |(segment, _)| segment.rate);
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut at = 0;
    for (segment, sound) in run {
        let samples = write_file(&mut file, path, sound, segment.samples)?;
        let joined = stretches.last_mut().filter(|last| {
            let end_s = last.begin_s + last.samples as f64 / f64::from(rate);
            (segment.begin_s - end_s).abs() < HOLE_S
        });
        match joined {
            Some(last) => last.samples += samples,
            None => stretches.push(Stretch {
                at,
                samples,
                begin_s: segment.begin_s,
            }),
        }
        at += samples;
    }
    file.flush().map_err(ShelfError::at(path))?;
    Ok(Written { rate, stretches })
}

fn write_file(
    to: &mut impl Write,
    path: &Path,
    sound: &Path,
    most: u64,
) -> Result<u64, ShelfError> {
    let mut sound = SoundReader::open(sound, &ReadOptions::default())?;
    let mut block = vec![0.0; 4096];
    let mut written = 0;
    while written < most {
        let count = sound.read(&mut block)?.min((most - written) as usize);
        if count == 0 {
            break;
        }
        // The scale of the files read: every 16-bit value comes back.
        let bytes = block[..count]
            .iter()
            .flat_map(|s| ((s * 32_768.0).round() as i16).to_le_bytes());
        to.write_all(&bytes.collect::<Vec<u8>>())
            .map_err(ShelfError::at(path))?;
        written += count as u64;
    }
    Ok(written)
}

fn create(path: &Path) -> Result<BufWriter<File>, ShelfError> {
    let file = File::options().write(true).create_new(true).open(path);
    Ok(BufWriter::new(file.map_err(ShelfError::at(path))?))
}
