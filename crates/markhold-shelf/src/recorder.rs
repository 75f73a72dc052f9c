//! Received sound, on the disk before anything clever happens to it.
//!
//! An evening's sound is a row of WAV files, 16 bits, each with the time it begins. Four
//! times a second it is handed to the system by itself; after [`Recorder::flush`] a program that is
//! killed loses nothing, once what [`Recorder::settling`] returns is done a power cut neither; the
//! header states the length as of the last flush.

use super::disk::{Disk, SoundFile};
use super::folder::{self, Mark};
use super::settling::Settle;
use markhold_sound::{Bext, Encoding, SoundError, WavSpec, WavWriter, repair_wav};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A hole up to this long is filled with silence; after a longer one a new file begins, s.
const SHORT_HOLE_S: u64 = 2;

/// How often in a second of sound it is handed to the system, at least.
const FLUSHES_PER_S: u64 = 4;

/// Bytes before the samples, rounded up, for reckoning with room.
const HEADER_BYTES: u64 = 1024;

/// Bytes a sample takes.
const SAMPLE_BYTES: u64 = 2;

/// One file of an evening's sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Counts the files of an evening from 1.
    pub number: u32,
    /// The file's name in the evening's folder.
    pub file: String,
    /// Its first sample, s from the first sample of the evening.
    pub begin_s: f64,
    /// Sample rate, Hz.
    pub rate: u32,
    /// Samples in it.
    pub samples: u64,
}

impl Segment {
    /// Bytes it takes on the disk, to within a header.
    pub fn bytes(&self) -> u64 {
        bytes_of(self.samples)
    }

    /// Its last sample, s from the first sample of the evening.
    pub fn end_s(&self) -> f64 {
        self.begin_s + self.samples as f64 / f64::from(self.rate)
    }
}

/// Bytes of a file of so many samples.
pub(super) fn bytes_of(samples: u64) -> u64 {
    HEADER_BYTES + SAMPLE_BYTES * samples
}

/// Writes one evening's sound.
pub struct Recorder {
    // Configured.
    folder: PathBuf,
    disk: Arc<dyn Disk>,
    begin: jiff::Timestamp,
    /// Samples after which a new file begins, s.
    segment_s: f64,
    // State.
    rate: u32,
    /// Where position 0 lies, s from the beginning of the evening.
    origin_s: f64,
    number: u32,
    open: Option<Open>,
    /// Files that are new or longer since they were last asked for.
    changed: Vec<Segment>,
    /// What puts closed files on the disk itself.
    closed: Vec<Settle>,
}

struct Open {
    writer: WavWriter<Box<dyn SoundFile>>,
    segment: Segment,
    /// Position of the first sample.
    begin: u64,
    /// Samples handed to the system.
    flushed: u64,
    /// Samples that were to be put on the disk itself.
    settled: u64,
    /// Which file it is.
    mark: Option<Mark>,
}

impl Recorder {
    /// Records into `folder`, which exists. `begin` is the time of the first sample,
    /// `segment_s` the length of a file.
    pub fn new(
        folder: &Path,
        disk: Arc<dyn Disk>,
        begin: jiff::Timestamp,
        rate: u32,
        segment_s: f64,
    ) -> Self {
        Recorder {
            folder: folder.to_path_buf(),
            disk,
            begin,
            segment_s,
            rate,
            origin_s: 0.0,
            number: 0,
            open: None,
            changed: Vec::new(),
            closed: Vec::new(),
        }
    }

    /// From here on sound of another rate comes; its position 0 lies `origin_s` after
    /// the first sample of the evening. A new file begins.
    pub fn restart(&mut self, rate: u32, origin_s: f64) {
        self.close();
        (self.rate, self.origin_s) = (rate, origin_s);
    }

    /// Writes samples, -1 to 1, that stand at `position`. What lies between them and the
    /// ones before becomes silence, or a new file if it is long.
    ///
    /// Errors: the disk is full or gone. The open file is closed then, with everything
    /// in it that was written; the next call tries a new file.
    pub fn write(&mut self, position: u64, samples: &[f32]) -> Result<(), SoundError> {
        let result = self.try_write(position, samples);
        if result.is_err() {
            self.close();
        }
        result
    }

    fn try_write(&mut self, mut position: u64, mut samples: &[f32]) -> Result<(), SoundError> {
        self.fill_hole(position)?;
        let most = ((self.segment_s * f64::from(self.rate)) as u64).max(1);
        while !samples.is_empty() {
            if self
                .open
                .as_ref()
                .is_some_and(|o| o.segment.samples >= most)
            {
                self.flush()?;
                self.close();
            }
            if self.open.is_none() {
                self.open = Some(self.create(position)?);
            }
            let Some(open) = &mut self.open else { break };
            let room = usize::try_from(most - open.segment.samples).unwrap_or(usize::MAX);
            let (now, later) = samples.split_at(samples.len().min(room));
            open.writer.write(now)?;
            open.segment.samples += now.len() as u64;
            position += now.len() as u64;
            samples = later;
            if open.segment.samples - open.flushed >= u64::from(self.rate) / FLUSHES_PER_S {
                self.flush()?;
            }
        }
        Ok(())
    }

    fn fill_hole(&mut self, position: u64) -> Result<(), SoundError> {
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        let end = open.begin + open.segment.samples;
        match position.checked_sub(end) {
            Some(hole) if hole <= SHORT_HOLE_S * u64::from(self.rate) => {
                open.writer.write(&vec![0.0; hole as usize])?;
                open.segment.samples += hole;
            }
            _ => {
                self.flush()?;
                self.close();
            }
        }
        Ok(())
    }

    fn create(&mut self, position: u64) -> Result<Open, SoundError> {
        let begin_s = self.origin_s + position as f64 / f64::from(self.rate);
        let begin = self.begin + jiff::SignedDuration::from_secs_f64(begin_s);
        let clock = jiff::tz::Offset::UTC.to_datetime(begin);
        let number = self.number + 1;
        let file = format!("{number:04}-{}.wav", clock.strftime("%H%M%SZ"));
        let path = self.folder.join(&file);
        // A name is tried once: a file that is there already is never written over.
        self.number = number;
        let output = self.disk.create(&path)?;
        let spec = WavSpec {
            rate: self.rate,
            channels: 1,
            encoding: Encoding::S16,
            bext: Some(Bext::at(
                begin,
                self.rate,
                "Kept evening, times UTC",
                "markhold",
            )),
        };
        let (rate, samples) = (self.rate, 0);
        Ok(Open {
            writer: WavWriter::new(output, spec).inspect_err(|_| remove(&path))?,
            segment: Segment {
                number,
                file,
                begin_s,
                rate,
                samples,
            },
            begin: position,
            flushed: 0,
            settled: 0,
            mark: folder::mark(&path),
        })
    }

    /// Hands everything to the system. Errors as of [`Recorder::write`].
    pub fn flush(&mut self) -> Result<(), SoundError> {
        let Some(open) = &mut self.open else {
            return Ok(());
        };
        if open.flushed == open.segment.samples {
            return Ok(());
        }
        let result = open.writer.flush();
        match result {
            Ok(()) => open.flushed = open.segment.samples,
            Err(_) => self.close(),
        }
        result
    }

    /// What puts on the disk itself all that was flushed and was not returned by this before, in
    /// order.
    pub fn settling(&mut self) -> Vec<Settle> {
        let mut jobs = std::mem::take(&mut self.closed);
        let open = self.open.as_mut();
        if let Some(open) = open.filter(|open| open.settled < open.flushed) {
            open.settled = open.flushed;
            jobs.push(open.writer.output_mut().settling());
        }
        jobs
    }

    /// Ends the open file; the next samples begin a new one. What was not flushed may be
    /// lost if the disk is full.
    pub fn close(&mut self) {
        let Some(open) = self.open.take() else {
            return;
        };
        let Open {
            writer,
            mut segment,
            flushed,
            ..
        } = open;
        match writer.finish() {
            Ok(mut file) => self.closed.push(file.settling()),
            Err(_) => {
                let path = self.folder.join(&segment.file);
                let found = repair_wav(&path).ok();
                segment.samples = found.map_or(flushed, |repaired| repaired.frames);
            }
        }
        match segment.samples {
            0 => remove(&self.folder.join(&segment.file)),
            _ => self.changed.push(segment),
        }
    }

    /// Into this folder from now on, which exists. A new file begins.
    pub(super) fn move_to(&mut self, folder: &Path) {
        self.close();
        self.folder = folder.to_path_buf();
    }

    /// Whether the file being written still stands at its place: not where it was deleted or
    /// moved away under the writer, who would not notice.
    pub(super) fn is_there(&self) -> bool {
        let stands = |open: &Open| folder::stands(&self.folder.join(&open.segment.file), open.mark);
        self.open.as_ref().is_none_or(stands)
    }

    /// Lets go of a file that is no longer there; what it held is lost.
    pub(super) fn forget(&mut self) -> Option<Segment> {
        self.open.take().map(|open| open.segment)
    }

    /// The files that are new or longer since this was last asked.
    pub fn changed(&mut self) -> Vec<Segment> {
        let mut changed = std::mem::take(&mut self.changed);
        changed.extend(self.open.as_ref().map(|open| open.segment.clone()));
        changed
    }

    /// The file being written.
    pub fn current(&self) -> Option<&Segment> {
        self.open.as_ref().map(|open| &open.segment)
    }
}

/// Removes a file just made that holds no sound; a full disk would else gather them.
fn remove(path: &Path) {
    let _ = std::fs::remove_file(path);
}

impl Drop for Recorder {
    fn drop(&mut self) {
        self.close();
        for settle in self.settling() {
            let _ = settle();
        }
    }
}
