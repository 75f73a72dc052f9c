//! Copies an evening again from its kept sound, with today's receiver. The new reading
//! stands beside the old ones.

use super::earlier::Earlier;
use super::ledger::{Ledger, NewReading};
use super::{KeptEvening, Segment, Shelf, ShelfError, settings_to_json};
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};
use markhold_sound::{ReadOptions, SoundReader};
use rusqlite::{Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};

/// Sound missing for up to this long is silence to the receiver, live and when it is copied again, so that it
/// need not find its signals anew; after a longer hole another receiver begins, s. One that is led across a long
/// one reads what lies before it as if its signal had been there: noise is copied as text.
pub const LONGEST_SILENCE_S: f64 = 5.0;

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
            again_from_s: None,
        };
        let mut taker = Copied {
            ledger: Ledger::begin(self.archive(), new)?,
            shelf: self,
            tell,
            until_s: 0.0,
            heard_s: 0.0,
            there_s,
            whole: is_whole(&about, there_s),
        };
        Walk::new(&mut taker, settings, 0.0, &|| false).hear(&files)?;
        taker.finish()
    }
}

/// Whether so much sound is all of an evening's.
pub(super) fn is_whole(evening: &KeptEvening, there_s: f64) -> bool {
    // A file that is gone for other reasons counts as well.
    missing_s(evening) + (evening.sound_s - there_s) < MISSING_S
}

/// Length of the sound that the live receiver heard and that is not there, s.
fn missing_s(evening: &KeptEvening) -> f64 {
    let heard = evening.gaps.iter().filter(|gap| gap.cause.was_heard());
    let gaps_s: f64 = heard.filter_map(|gap| gap.length_s).sum();
    evening.removed_s + gaps_s
}

/// What a walk through kept sound gives to. Times of events count from the last beginning of a
/// receiver.
pub(super) trait Taker {
    /// A new receiver begins here, s from the first sample of the evening.
    fn restart(&mut self, origin_s: f64);

    /// Sound was heard until here, s from the first sample of the evening.
    fn heard(&mut self, until_s: f64);

    /// The receiver reports.
    fn event(&mut self, event: &Event);

    /// A file could not be read to its end.
    fn damaged(&mut self, _path: &Path, _why: String) {}

    /// A file is at its end.
    ///
    /// Errors: what was reported could not be kept.
    fn end_of_file(&mut self) -> Result<(), ShelfError> {
        Ok(())
    }
}

/// Gives to a reading in the archive, and tells how far it is.
struct Copied<'a> {
    shelf: &'a mut Shelf,
    tell: &'a mut dyn FnMut(Again),
    ledger: Ledger,
    until_s: f64,
    heard_s: f64,
    there_s: f64,
    whole: bool,
}

impl Taker for Copied<'_> {
    fn restart(&mut self, origin_s: f64) {
        self.ledger.restart(origin_s);
        self.until_s = origin_s;
    }

    fn heard(&mut self, until_s: f64) {
        self.heard_s += until_s - self.until_s;
        self.until_s = until_s;
        self.ledger.heard(until_s);
        (self.tell)(Again::Heard(self.heard_s, self.there_s));
    }

    fn event(&mut self, event: &Event) {
        (self.tell)(Again::Event(event));
        self.ledger.event(event);
    }

    fn damaged(&mut self, path: &Path, why: String) {
        (self.tell)(Again::Damaged(path, why));
        self.whole = false;
    }

    fn end_of_file(&mut self) -> Result<(), ShelfError> {
        let change = change(self.shelf)?;
        self.ledger.save(&change)?;
        change.commit()?;
        self.ledger.saved();
        Ok(())
    }
}

impl Copied<'_> {
    fn finish(mut self) -> Result<i64, ShelfError> {
        let change = change(self.shelf)?;
        self.ledger.finish(&change, self.whole)?;
        change.commit()?;
        Ok(self.ledger.reading())
    }
}

/// A walk of a receiver through the sound files of an evening.
pub(super) struct Walk<'a, T: Taker> {
    // Configured.
    taker: &'a mut T,
    settings: &'a Settings,
    /// What lies before is passed over, s.
    from_s: f64,
    stop: &'a dyn Fn() -> bool,
    // State.
    receiver: Option<Listening>,
}

struct Listening {
    receiver: Receiver,
    rate: u32,
    /// Where the next sample is expected, s from the first sample of the evening.
    until_s: f64,
}

impl<'a, T: Taker> Walk<'a, T> {
    /// Begins `from_s` after the first sample of the evening; `stop` is asked now and then.
    pub(super) fn new(
        taker: &'a mut T,
        settings: &'a Settings,
        from_s: f64,
        stop: &'a dyn Fn() -> bool,
    ) -> Self {
        Walk {
            taker,
            settings,
            from_s,
            stop,
            receiver: None,
        }
    }

    /// Hears the files to their end; `false` if it was stopped.
    ///
    /// Errors: settings that cannot work; of the taker.
    pub(super) fn hear(mut self, files: &[(Segment, PathBuf)]) -> Result<bool, ShelfError> {
        for (segment, path) in files {
            if segment.end_s() > self.from_s {
                self.file(segment, path)?;
            }
        }
        if (self.stop)() {
            return Ok(false);
        }
        self.end_receiver();
        Ok(true)
    }

    fn file(&mut self, segment: &Segment, path: &Path) -> Result<(), ShelfError> {
        let mut sound = match SoundReader::open(path, &ReadOptions::default()) {
            Ok(sound) => sound,
            Err(error) => return self.damaged(path, error.to_string()),
        };
        if sound.rate() != segment.rate {
            let (found, kept) = (sound.rate(), segment.rate);
            return self.damaged(path, format!("its rate is {found} Hz, {kept} Hz were kept"));
        }
        let rate = f64::from(segment.rate);
        let mut pass = ((self.from_s - segment.begin_s) * rate).max(0.0) as u64;
        self.join(segment, segment.begin_s + pass as f64 / rate)?;
        let mut block = vec![0.0; BLOCK];
        let mut left = segment.samples;
        while left > 0 && !(self.stop)() {
            let most = if pass > 0 { left.min(pass) } else { left };
            let most = block.len().min(usize::try_from(most).unwrap_or(usize::MAX));
            match sound.read(&mut block[..most]) {
                Ok(0) => {
                    return self.damaged(path, format!("{left} samples are missing at its end"));
                }
                Ok(count) => {
                    if pass == 0 {
                        self.block(&block[..count]);
                    }
                    pass -= pass.min(count as u64);
                    left -= count as u64;
                }
                Err(error) => return self.damaged(path, error.to_string()),
            }
        }
        self.taker.end_of_file()
    }

    fn damaged(&mut self, path: &Path, why: String) -> Result<(), ShelfError> {
        self.taker.damaged(path, why);
        self.taker.end_of_file()
    }

    /// Makes the receiver ready for sound that begins at `begin_s`: with silence for a short
    /// hole, with a new receiver after a long one.
    fn join(&mut self, segment: &Segment, begin_s: f64) -> Result<(), ShelfError> {
        let hole_s = self.receiver.as_ref().map(|r| begin_s - r.until_s);
        let same = self
            .receiver
            .as_ref()
            .is_some_and(|r| r.rate == segment.rate);
        match hole_s {
            Some(hole_s) if same && (-0.001..=LONGEST_SILENCE_S).contains(&hole_s) => {
                let samples = (hole_s.max(0.0) * f64::from(segment.rate)).round() as usize;
                self.block(&vec![0.0; samples]);
            }
            _ => {
                self.end_receiver();
                self.taker.restart(begin_s);
                self.receiver = Some(Listening {
                    receiver: Receiver::new(f64::from(segment.rate), self.settings.clone())?,
                    rate: segment.rate,
                    until_s: begin_s,
                });
            }
        }
        Ok(())
    }

    fn block(&mut self, samples: &[f32]) {
        let Some(listening) = &mut self.receiver else {
            return;
        };
        listening.until_s += samples.len() as f64 / f64::from(listening.rate);
        let (until_s, taker) = (listening.until_s, &mut *self.taker);
        listening
            .receiver
            .process(samples, &mut |event| taker.event(&event));
        self.taker.heard(until_s);
    }

    fn end_receiver(&mut self) {
        let taker = &mut *self.taker;
        if let Some(mut listening) = self.receiver.take() {
            listening.receiver.finish(&mut |event| taker.event(&event));
        }
    }
}

fn change(shelf: &mut Shelf) -> rusqlite::Result<Transaction<'_>> {
    shelf
        .archive_mut()
        .transaction_with_behavior(TransactionBehavior::Immediate)
}
