//! One reading on its way into the archive: events are gathered and saved in batches.
//!
//! What is not saved yet stays here, so a batch that fails is simply tried again.

use super::certainty;
use super::earlier::{Earlier, Named};
use super::line::{Line, LineMaker, is_changed};
use super::rows::{save_line, save_measured, signal_row};
use markhold_event::{Character, Event, Signal, SignalId};
use rusqlite::{Connection, Transaction, named_params, params};
use std::collections::{BTreeMap, VecDeque};

/// Lines that wait for an archive that cannot be written; a full evening of one signal.
/// Beyond that the oldest are given up and counted.
const MOST_WAITING: usize = 20_000;

/// One reading.
#[derive(Debug)]
pub(super) struct Ledger {
    // Configured.
    /// Its name in the archive, once it was entered there.
    reading: i64,
    /// When the evening began, Unix ms.
    begin_ms: i64,
    // State.
    /// Where the receiver's time 0 lies, s from the first sample of the evening.
    origin_s: f64,
    /// The receiver's names of signals, and who they are in the evening.
    named: BTreeMap<SignalId, Named>,
    next_number: u32,
    /// The signals of an earlier reading that this one has not met yet.
    earlier: Earlier,
    makers: BTreeMap<u32, LineMaker>,
    measured: VecDeque<(u32, bool, Signal)>,
    lines: VecDeque<(u32, Line)>,
    heard_s: f64,
    /// Until where the receiver heard the sound.
    copied_s: f64,
    /// From where on copy is missing that the receiver gave.
    missing_from_s: f64,
    characters: u64,
    /// How many of them the archive is known to hold.
    kept: u64,
    doubtful: u64,
    changed: u64,
    /// See [`certainty`].
    certainty: f64,
    given_up: u64,
}

/// A reading about to begin.
pub(super) struct NewReading<'a> {
    pub(super) evening: i64,
    /// When the evening began, Unix ms.
    pub(super) begin_ms: i64,
    pub(super) settings: &'a serde_json::Value,
    pub(super) live: bool,
    /// What is known of the evening's signals already.
    pub(super) earlier: Earlier,
    /// From where on it was copied again after the live copy.
    pub(super) again_from_s: Option<f64>,
}

impl Ledger {
    /// Of an evening that began then, Unix ms; not in the archive yet.
    pub(super) fn new(begin_ms: i64) -> Self {
        Ledger {
            reading: 0,
            begin_ms,
            origin_s: 0.0,
            named: BTreeMap::new(),
            next_number: 1,
            earlier: Earlier::default(),
            makers: BTreeMap::new(),
            measured: VecDeque::new(),
            lines: VecDeque::new(),
            heard_s: 0.0,
            copied_s: 0.0,
            missing_from_s: f64::INFINITY,
            characters: 0,
            kept: 0,
            doubtful: 0,
            changed: 0,
            certainty: 0.0,
            given_up: 0,
        }
    }

    /// Enters a new reading into the archive.
    pub(super) fn begin(archive: &Connection, new: NewReading) -> rusqlite::Result<Self> {
        let mut ledger = Ledger::new(new.begin_ms);
        ledger.enter(archive, &new)?;
        ledger.next_number = new.earlier.next_number();
        ledger.earlier = new.earlier;
        Ok(ledger)
    }

    /// Enters this reading into an archive that does not know it.
    pub(super) fn enter(&mut self, archive: &Connection, new: &NewReading) -> rusqlite::Result<()> {
        archive.execute(
            "INSERT INTO readings (evening, made_ms, receiver, settings, live, whole, finished,
                                   heard_s, characters, doubtful, changed, again_from_s)
             VALUES (:evening, :made, :receiver, :settings, :live, :live, 0, 0, 0, 0, 0, :from)",
            named_params! {
                ":evening": new.evening,
                ":made": jiff::Timestamp::now().as_millisecond(),
                ":receiver": super::RECEIVER,
                ":settings": new.settings.to_string(),
                ":live": new.live,
                ":from": new.again_from_s,
            },
        )?;
        self.reading = archive.last_insert_rowid();
        Ok(())
    }

    /// Goes on with a reading that the archive knows. Whether it holds all that was committed: one that
    /// was out of reach for a while does, one put back from a copy does not.
    pub(super) fn go_on(&mut self, archive: &Connection, reading: i64) -> rusqlite::Result<bool> {
        archive.execute("UPDATE readings SET finished = 0 WHERE id = ?1", [reading])?;
        self.reading = reading;
        let held = "SELECT characters FROM readings WHERE id = ?1";
        let held: i64 = archive.query_row(held, [reading], |row| row.get(0))?;
        Ok(u64::try_from(held) == Ok(self.kept))
    }

    /// What was in the archive before is lost with it.
    pub(super) fn lost_all(&mut self) {
        self.missing_from_s = 0.0;
    }

    /// The receiver has heard the sound until here, s of its own time.
    pub(super) fn copied(&mut self, until_s: f64) {
        self.copied_s = self.origin_s + until_s;
    }

    pub(super) fn reading(&self) -> i64 {
        self.reading
    }

    /// A new receiver listens: its time 0 lies `origin_s` after the evening's first
    /// sample, and it names signals anew.
    pub(super) fn restart(&mut self, origin_s: f64) {
        self.close_lines();
        self.named.clear();
        self.origin_s = origin_s;
    }

    /// Sound was heard until `seconds` after the evening's first sample.
    pub(super) fn heard(&mut self, seconds: f64) {
        self.heard_s = self.heard_s.max(seconds);
    }

    /// Takes an event. What is not of the archive, such as early readings, is passed over.
    pub(super) fn event(&mut self, event: &Event) {
        match event.clone().placed(self.origin_s, 0) {
            Event::Found(signal) => {
                let named = self.earlier.meet(&signal);
                if let Some(named) = named {
                    self.named.insert(signal.id, named);
                }
                let number = self.named(signal.id).number;
                self.measured(number, false, signal);
            }
            Event::Character(character) => self.character(character),
            Event::Unlikely(character) => self.unlikely(character),
            Event::Ended(signal) => self.ended(signal),
            Event::Early(_) => {}
        }
    }

    fn ended(&mut self, signal: Signal) {
        let number = self.named(signal.id).number;
        self.named.remove(&signal.id);
        self.measured(number, true, signal);
        let last = self
            .makers
            .remove(&number)
            .and_then(|mut maker| maker.close());
        self.lines.extend(last.map(|line| (number, line)));
    }

    fn unlikely(&mut self, mut character: Character) {
        let named = self.named(character.signal);
        character.id = named.id_of_unlikely(&character);
        let number = named.number;
        self.makers
            .entry(number)
            .or_default()
            .take_unlikely(&character);
    }

    fn character(&mut self, mut character: Character) {
        let named = self.named(character.signal);
        character.id = named.id_of(&character);
        let number = named.number;
        self.characters += 1;
        self.doubtful += u64::from(character.doubt.is_some());
        self.changed += u64::from(is_changed(&character));
        self.certainty += certainty::of(&character);
        let mut closed = Vec::new();
        self.makers
            .entry(number)
            .or_default()
            .take(&character, &mut closed);
        self.lines
            .extend(closed.into_iter().map(|line| (number, line)));
        while self.lines.len() > MOST_WAITING {
            let line = self.lines.pop_front();
            let first = line.and_then(|(_, line)| Some(line.characters().next()?.start_s));
            self.missing_from_s = self.missing_from_s.min(first.unwrap_or(0.0));
            self.given_up += 1;
        }
    }

    fn named(&mut self, id: SignalId) -> &mut Named {
        let next = &mut self.next_number;
        self.named.entry(id).or_insert_with(|| {
            *next += 1;
            Named::new(*next - 1)
        })
    }

    fn measured(&mut self, number: u32, last: bool, signal: Signal) {
        self.measured.push_back((number, last, signal));
        self.measured.truncate(MOST_WAITING);
    }

    fn close_lines(&mut self) {
        for (number, mut maker) in std::mem::take(&mut self.makers) {
            self.lines.extend(maker.close().map(|line| (number, line)));
        }
    }

    /// Lines that could not be kept because the archive could not be written for too long,
    /// since this was last asked.
    pub(super) fn given_up(&mut self) -> u64 {
        std::mem::take(&mut self.given_up)
    }

    /// Writes what is new; to be followed by [`Ledger::saved`] once it is committed.
    pub(super) fn save(&mut self, change: &Transaction) -> rusqlite::Result<()> {
        for (number, last, signal) in &self.measured {
            save_measured(change, self.reading, *number, *last, signal)?;
        }
        let (reading, begin_ms) = (self.reading, self.begin_ms);
        for (number, line) in &self.lines {
            let row = signal_row(change, reading, *number)?;
            save_line(change, row, begin_ms, line)?;
        }
        for (number, maker) in &mut self.makers {
            if let Some(line) = maker.changed() {
                let row = signal_row(change, reading, *number)?;
                save_line(change, row, begin_ms, &line)?;
            }
        }
        change
            .prepare_cached(
                "UPDATE readings SET heard_s = ?2, characters = ?3, doubtful = ?4, changed = ?5,
                                     copied_s = ?6
                 WHERE id = ?1",
            )?
            .execute(params![
                self.reading,
                self.heard_s,
                self.characters as i64,
                self.doubtful as i64,
                self.changed as i64,
                self.copied_s.min(self.missing_from_s)
            ])?;
        Ok(())
    }

    /// What was written last is committed.
    pub(super) fn saved(&mut self) {
        self.kept = self.characters;
        self.measured.clear();
        self.lines.clear();
    }

    /// Writes all that is left and marks the reading as finished; `whole` says whether it
    /// heard all sound of the evening.
    pub(super) fn finish(&mut self, change: &Transaction, whole: bool) -> rusqlite::Result<()> {
        self.close_lines();
        self.save(change)?;
        change.execute(
            "UPDATE readings SET finished = 1, whole = ?2, certainty = ?3 WHERE id = ?1",
            params![self.reading, whole, self.certainty],
        )?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::rows::IDS_PER_MS;
    use super::super::schema;
    use super::super::testing::characters;
    use super::*;

    fn archive() -> (tempfile::TempDir, Connection, Ledger) {
        let folder = tempfile::tempdir().unwrap();
        let archive = schema::open(folder.path()).unwrap();
        let evening = "INSERT INTO evenings VALUES (1, 5, NULL, 'UTC', 'test', 'null', 'x', 1, NULL, NULL, NULL)";
        archive.execute(evening, []).unwrap();
        let settings = &serde_json::Value::Null;
        let new = NewReading {
            evening: 1,
            begin_ms: 5,
            settings,
            live: true,
            earlier: Earlier::default(),
            again_from_s: None,
        };
        let ledger = Ledger::begin(&archive, new).unwrap();
        (folder, archive, ledger)
    }

    fn ids(archive: &Connection) -> Vec<(i64, String)> {
        let mut query = archive
            .prepare("SELECT id, text FROM lines ORDER BY id")
            .unwrap();
        let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
        rows.unwrap().map(Result::unwrap).collect()
    }

    #[test]
    fn a_batch_that_failed_is_saved_again_without_doubles() {
        let (_folder, mut archive, mut ledger) = archive();
        let text = characters(1, "ONE\r\nTWO");
        for character in text {
            ledger.event(&Event::Character(character));
            // Every second batch is not committed.
            for commit in [false, true] {
                let change = archive.transaction().unwrap();
                ledger.save(&change).unwrap();
                if commit {
                    change.commit().unwrap();
                    ledger.saved();
                }
            }
        }
        let change = archive.transaction().unwrap();
        ledger.finish(&change, true).unwrap();
        change.commit().unwrap();
        // The first character begins 4 s, the sixth 4.825 s after Unix time 0.005 s.
        let expected = [(4_005 * 1_024, "ONE"), (4_830 * 1_024, "TWO")];
        assert_eq!(
            ids(&archive),
            expected.map(|(id, text)| (id, text.to_string()))
        );
    }

    #[test]
    fn any_number_of_lines_may_begin_at_once() {
        let (_folder, mut archive, mut ledger) = archive();
        let count = IDS_PER_MS + 10;
        let line_end = characters(1, "\n").remove(0);
        for _ in 0..count {
            let mut character = line_end.clone();
            character.start_s = f64::NAN;
            ledger.event(&Event::Character(character));
        }
        let change = archive.transaction().unwrap();
        ledger.save(&change).unwrap();
        change.commit().unwrap();
        assert_eq!(ids(&archive).len() as i64, count);
    }
}
