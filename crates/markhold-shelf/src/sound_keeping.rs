//! The thread that writes sound: files and notes in the evening's folder. It waits for nothing
//! but the disk.

use super::disk::Disk;
use super::folder;
use super::notes::Note;
use super::recorder::Segment;
use super::recording::Recording;
use super::shared::{Item, Shared};
use super::{Evening, Gap, GapCause, KeepNotice, KeepSettings, room};
use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long the thread sleeps when nothing comes.
const IDLE: Duration = Duration::from_millis(200);

/// How often the archive's thread is told how long the files are.
const TELL: Duration = Duration::from_millis(500);

/// Writes the sound of one evening.
pub(super) struct SoundKeeping {
    // Configured.
    shared: Arc<Shared>,
    // State.
    recording: Recording,
    rate: u32,
    origin_s: f64,
    /// Until where sound was handed in, s from the evening's first sample.
    heard_s: f64,
    /// All files of the evening that are there.
    segments: BTreeMap<u32, Segment>,
    told: Instant,
}

impl SoundKeeping {
    pub(super) fn new(
        shared: &Arc<Shared>,
        disk: Arc<dyn Disk>,
        place: &Path,
        evening: &Evening,
        settings: &KeepSettings,
    ) -> Self {
        let segment_s = room::segment_s(settings, evening.rate);
        SoundKeeping {
            shared: Arc::clone(shared),
            recording: Recording::new(place, disk, evening, segment_s, settings),
            rate: evening.rate,
            origin_s: 0.0,
            heard_s: 0.0,
            segments: BTreeMap::new(),
            told: Instant::now(),
        }
    }

    /// Works until no more sound comes. Returns what holds the mark that the evening is being
    /// kept: that stays until its copy is in the archive.
    pub(super) fn run(mut self) -> Recording {
        loop {
            let (items, finish) = self.take();
            for item in items {
                self.item(item);
                self.recording.flush(self.heard_s);
            }
            self.recording.flush(self.heard_s);
            self.watch();
            if finish {
                return self.finish();
            }
            if self.told.elapsed() >= TELL {
                self.tell_files();
            }
        }
    }

    fn take(&mut self) -> (VecDeque<Item>, bool) {
        let mut desk = self.shared.wait_for_sound(IDLE);
        (std::mem::take(&mut desk.items), desk.finish)
    }

    fn item(&mut self, item: Item) {
        match item {
            Item::Sound { position, samples } => {
                let at_s = self.second(position);
                self.heard_s = self.second(position + samples.len() as u64);
                self.sound(position, &samples, at_s);
                self.shared.sound_desk().waiting -= samples.len() as u64;
            }
            Item::Gap {
                position,
                samples,
                cause,
            } => {
                self.gap(Gap {
                    begin_s: self.second(position),
                    length_s: samples.map(|samples| samples as f64 / f64::from(self.rate)),
                    cause,
                });
                self.heard_s = self.second(position + samples.unwrap_or(0));
            }
            Item::Restart {
                input,
                rate,
                origin_s,
                gap,
            } => {
                self.recording.note(Note::Input {
                    input: input.clone(),
                });
                self.shared.copy_desk().facts.inputs.push(input);
                gap.into_iter().for_each(|gap| self.gap(gap));
                (self.rate, self.origin_s, self.heard_s) = (rate, origin_s, origin_s);
                self.recording.restart(rate, origin_s);
            }
            Item::Step(step) => {
                let (at_s, by_s) = (step.at_s, step.by_s);
                self.recording.note(Note::Clock { at_s, by_s });
                self.shared.copy_desk().facts.steps.push(step);
            }
            Item::Sent(line) => {
                self.recording.note(Note::Sent {
                    line: line.number,
                    at_s: line.at_s,
                    text: line.text.clone(),
                });
                self.shared.copy_desk().facts.sent.push(line);
            }
            Item::Settings(settings) => self.recording.note(Note::Settings { settings }),
            Item::Number(number, station) => {
                self.recording.note(Note::of_number(number, station));
            }
        }
    }

    /// Seconds from the evening's first sample to a position.
    fn second(&self, position: u64) -> f64 {
        self.origin_s + position as f64 / f64::from(self.rate)
    }

    fn sound(&mut self, position: u64, samples: &[f32], at_s: f64) {
        if let Some(gap) = self.recording.sound(position, samples, at_s) {
            self.missing(gap);
        }
        self.tell_state();
    }

    fn tell_state(&self) {
        self.shared
            .tell_sound(self.recording.trouble().map_or(Ok(()), Err));
    }

    /// What is missing, also told to the person.
    fn missing(&mut self, gap: Gap) {
        self.gap(gap);
        self.shared.notice(KeepNotice::SoundMissing {
            missing_s: gap.length_s.unwrap_or(0.0),
            cause: gap.cause,
        });
    }

    fn gap(&mut self, gap: Gap) {
        self.recording.note(Note::of_gap(&gap));
        self.shared.copy_desk().facts.gaps.push(gap);
    }

    /// Looks whether there is room, and whether the files are still there.
    fn watch(&mut self) {
        if let Some(missing) = self.recording.look(self.heard_s) {
            missing.into_iter().for_each(|gap| self.missing(gap));
            self.tell_state();
        }
        let folder = self.recording.folder().map(Path::to_path_buf);
        let lost = self.recording.watch();
        if lost.is_none() && self.recording.folder().is_some() == folder.is_some() {
            return;
        }
        self.segments
            .extend(lost.map(|segment| (segment.number, segment)));
        let gone = |segment: &Segment| {
            let path = folder.as_ref().map(|folder| folder.join(&segment.file));
            path.is_some_and(|path| !folder::is_file(&path))
        };
        let gone: Vec<Segment> = self
            .segments
            .values()
            .filter(|s| gone(s))
            .cloned()
            .collect();
        for segment in gone {
            self.segments.remove(&segment.number);
            self.missing(Gap {
                begin_s: segment.begin_s,
                length_s: Some(segment.end_s() - segment.begin_s),
                cause: GapCause::Deleted,
            });
            let empty = Segment {
                samples: 0,
                ..segment
            };
            let segments = &mut self.shared.copy_desk().facts.segments;
            segments.insert(empty.number, empty);
        }
    }

    /// Tells the archive's thread what the files hold by now.
    fn tell_files(&mut self) {
        self.told = Instant::now();
        let changed = self.recording.changed();
        let changed = changed.into_iter().map(|segment| (segment.number, segment));
        let changed: BTreeMap<u32, Segment> = changed.collect();
        self.segments
            .extend(changed.iter().map(|(n, s)| (*n, s.clone())));
        let mut desk = self.shared.copy_desk();
        desk.facts.folder = self.recording.folder().map(Path::to_path_buf);
        desk.facts.segments.extend(changed);
        desk.facts.heard_s = self.heard_s;
    }

    fn finish(mut self) -> Recording {
        if let Some(gap) = self.recording.finish(self.heard_s) {
            self.gap(gap);
        }
        self.recording.note(Note::End {
            heard_s: self.heard_s,
        });
        self.tell_files();
        self.recording
    }
}
