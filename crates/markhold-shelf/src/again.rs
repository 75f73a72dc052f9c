//! Copies an evening again from its kept sound, with today's receiver. The new reading
//! stands beside the old ones.

use super::earlier::Earlier;
use super::ledger::{Ledger, NewReading};
use super::{KeptEvening, Segment, Shelf, ShelfError, settings_to_json};
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};
use markhold_sound::{ReadOptions, SoundReader};
use rusqlite::{Transaction, TransactionBehavior};
use std::path::Path;

/// A hole up to this long between files is silence to the receiver, which then need not
/// find its signals anew; a longer one ends them, s.
const LONGEST_SILENCE_S: f64 = 60.0;

/// Sound missing from an evening that is heard as whole all the same, s: what a crash may
/// have cut off.
const MISSING_S: f64 = 2.0;

const BLOCK: usize = 4096;

/// What happens while an evening is copied again.
#[derive(Clone, Debug)]
pub enum Again<'a> {
    /// So many of so many seconds of sound are heard.
    Heard(f64, f64),
    /// The receiver reports; times count from the last beginning of a receiver.
    Event(&'a Event),
    /// A file that could not be read to its end, and why.
    Damaged(&'a Path, String),
}

impl Shelf {
    /// Copies an evening again from the sound that is left of it and returns the new
    /// reading's name in the archive.
    ///
    /// The reading becomes the one to show only if all sound of the evening was there.
    /// Errors: no such evening, no sound left, settings that cannot work. What was copied
    /// before an error is kept as an unfinished reading.
    pub fn copy_again(
        &mut self,
        evening: i64,
        settings: &Settings,
        tell: &mut dyn FnMut(Again),
    ) -> Result<i64, ShelfError> {
        let about = self.evening(evening)?;
        let files = self.sound(evening)?;
        let there_s: f64 = files.iter().map(|(s, _)| s.end_s() - s.begin_s).sum();
        if there_s == 0.0 {
            return Err(ShelfError::NoSound { evening });
        }
        settings.check(f64::from(files[0].0.rate))?;
        let described = &settings_to_json(settings);
        let settings = &Settings {
            unlikely: true,
            ..settings.clone()
        };
        let earlier = match about.best_reading() {
            Some(reading) => Earlier::of(self, reading)?,
            None => Earlier::default(),
        };
        let new = NewReading {
            evening,
            begin_ms: about.begin.timestamp().as_millisecond(),
            settings: described,
            live: false,
            earlier,
        };
        let mut walk = Walk {
            ledger: Ledger::begin(self.archive(), new)?,
            shelf: self,
            settings,
            tell,
            receiver: None,
            heard_s: 0.0,
            there_s,
            // A file that is gone for other reasons counts as well.
            whole: missing_s(&about) + (about.sound_s - there_s) < MISSING_S,
        };
        for (segment, path) in &files {
            walk.file(segment, path)?;
        }
        walk.finish()
    }
}

/// Length of the sound that the live receiver heard and that is not there, s.
fn missing_s(evening: &KeptEvening) -> f64 {
    let heard = evening.gaps.iter().filter(|gap| gap.cause.was_heard());
    let gaps_s: f64 = heard.filter_map(|gap| gap.length_s).sum();
    evening.removed_s + gaps_s
}

struct Walk<'a> {
    shelf: &'a mut Shelf,
    settings: &'a Settings,
    tell: &'a mut dyn FnMut(Again),
    ledger: Ledger,
    receiver: Option<Listening>,
    heard_s: f64,
    there_s: f64,
    whole: bool,
}

struct Listening {
    receiver: Receiver,
    rate: u32,
    /// Where the next sample is expected, s from the first sample of the evening.
    until_s: f64,
}

impl Walk<'_> {
    fn file(&mut self, segment: &Segment, path: &Path) -> Result<(), ShelfError> {
        let mut sound = match SoundReader::open(path, &ReadOptions::default()) {
            Ok(sound) => sound,
            Err(error) => return self.damaged(path, &error.to_string()),
        };
        if sound.rate() != segment.rate {
            let (found, kept) = (sound.rate(), segment.rate);
            return self.damaged(
                path,
                &format!("its rate is {found} Hz, {kept} Hz were kept"),
            );
        }
        self.join(segment)?;
        let mut block = vec![0.0; BLOCK];
        let mut left = segment.samples;
        while left > 0 {
            let most = block.len().min(usize::try_from(left).unwrap_or(usize::MAX));
            match sound.read(&mut block[..most]) {
                Ok(0) => {
                    return self.damaged(path, &format!("{left} samples are missing at its end"));
                }
                Ok(count) => {
                    self.hear(&block[..count]);
                    left -= count as u64;
                }
                Err(error) => return self.damaged(path, &error.to_string()),
            }
        }
        self.save()
    }

    fn damaged(&mut self, path: &Path, why: &str) -> Result<(), ShelfError> {
        (self.tell)(Again::Damaged(path, why.to_string()));
        self.whole = false;
        self.save()
    }

    /// Makes the receiver ready for a file: with silence for a short hole, with a new
    /// receiver after a long one.
    fn join(&mut self, segment: &Segment) -> Result<(), ShelfError> {
        let hole_s = self.receiver.as_ref().map(|r| segment.begin_s - r.until_s);
        let same = self
            .receiver
            .as_ref()
            .is_some_and(|r| r.rate == segment.rate);
        match hole_s {
            Some(hole_s) if same && (-0.001..=LONGEST_SILENCE_S).contains(&hole_s) => {
                let samples = (hole_s.max(0.0) * f64::from(segment.rate)).round() as usize;
                self.hear(&vec![0.0; samples]);
            }
            _ => {
                self.end_receiver();
                self.ledger.restart(segment.begin_s);
                self.receiver = Some(Listening {
                    receiver: Receiver::new(f64::from(segment.rate), self.settings.clone())?,
                    rate: segment.rate,
                    until_s: segment.begin_s,
                });
            }
        }
        Ok(())
    }

    fn hear(&mut self, samples: &[f32]) {
        let Some(listening) = &mut self.receiver else {
            return;
        };
        let length_s = samples.len() as f64 / f64::from(listening.rate);
        listening.until_s += length_s;
        self.heard_s += length_s;
        self.ledger.heard(listening.until_s);
        let (ledger, tell) = (&mut self.ledger, &mut *self.tell);
        listening.receiver.process(samples, &mut |event| {
            tell(Again::Event(&event));
            ledger.event(&event);
        });
        tell(Again::Heard(self.heard_s, self.there_s));
    }

    fn end_receiver(&mut self) {
        let (ledger, tell) = (&mut self.ledger, &mut *self.tell);
        if let Some(mut listening) = self.receiver.take() {
            listening.receiver.finish(&mut |event| {
                tell(Again::Event(&event));
                ledger.event(&event);
            });
        }
    }

    fn save(&mut self) -> Result<(), ShelfError> {
        let change = change(self.shelf)?;
        self.ledger.save(&change)?;
        change.commit()?;
        self.ledger.saved();
        Ok(())
    }

    fn finish(mut self) -> Result<i64, ShelfError> {
        self.end_receiver();
        let change = change(self.shelf)?;
        self.ledger.finish(&change, self.whole)?;
        change.commit()?;
        Ok(self.ledger.reading())
    }
}

fn change(shelf: &mut Shelf) -> rusqlite::Result<Transaction<'_>> {
    shelf
        .archive_mut()
        .transaction_with_behavior(TransactionBehavior::Immediate)
}
