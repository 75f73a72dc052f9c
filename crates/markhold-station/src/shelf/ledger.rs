//! One reading on its way into the archive: events are gathered and saved in batches.
//!
//! What is not saved yet stays here, so a batch that fails is simply tried again. Rows go
//! by natural names (signal by number, line by number), so saving twice changes nothing.

use super::details::pack;
use super::line::{Line, LineMaker};
use markhold_receive::event::{Character, Event, Sense, Signal, SignalId};
use rusqlite::{Connection, Transaction, named_params, params};
use std::collections::{BTreeMap, VecDeque};

/// Lines that wait for an archive that cannot be written; a full evening of one signal.
/// Beyond that the oldest are given up and counted.
const MOST_WAITING: usize = 20_000;

/// One reading.
#[derive(Debug)]
pub(super) struct Ledger {
    // Configured.
    reading: i64,
    // State.
    /// Where the receiver's time 0 lies, s from the first sample of the evening.
    origin_s: f64,
    /// The receiver's names of signals and their numbers in the reading.
    numbers: BTreeMap<SignalId, u32>,
    next_number: u32,
    makers: BTreeMap<u32, LineMaker>,
    measured: VecDeque<(u32, bool, Signal)>,
    lines: VecDeque<(u32, Line)>,
    heard_s: f64,
    characters: u64,
    doubtful: u64,
    given_up: u64,
}

/// A reading about to begin.
pub(super) struct NewReading<'a> {
    pub(super) evening: i64,
    pub(super) settings: &'a serde_json::Value,
    pub(super) live: bool,
}

impl Ledger {
    /// Enters a new reading into the archive.
    pub(super) fn begin(archive: &Connection, new: &NewReading) -> rusqlite::Result<Self> {
        archive.execute(
            "INSERT INTO readings (evening, made_ms, receiver, settings, live, whole, finished,
                                   heard_s, characters, doubtful)
             VALUES (:evening, :made, :receiver, :settings, :live, :live, 0, 0, 0, 0)",
            named_params! {
                ":evening": new.evening,
                ":made": jiff::Timestamp::now().as_millisecond(),
                ":receiver": super::RECEIVER,
                ":settings": new.settings.to_string(),
                ":live": new.live,
            },
        )?;
        Ok(Ledger {
            reading: archive.last_insert_rowid(),
            origin_s: 0.0,
            numbers: BTreeMap::new(),
            next_number: 1,
            makers: BTreeMap::new(),
            measured: VecDeque::new(),
            lines: VecDeque::new(),
            heard_s: 0.0,
            characters: 0,
            doubtful: 0,
            given_up: 0,
        })
    }

    pub(super) fn reading(&self) -> i64 {
        self.reading
    }

    /// A new receiver listens: its time 0 lies `origin_s` after the evening's first
    /// sample, and it names signals anew.
    pub(super) fn restart(&mut self, origin_s: f64) {
        self.close_lines();
        self.numbers.clear();
        self.origin_s = origin_s;
    }

    /// Sound was heard until `seconds` after the evening's first sample.
    pub(super) fn heard(&mut self, seconds: f64) {
        self.heard_s = self.heard_s.max(seconds);
    }

    /// Takes an event. What is not of the archive, such as early readings, is passed over.
    pub(super) fn event(&mut self, event: &Event) {
        if let Event::Character(character) = event {
            self.character(character);
        } else if let Event::Found(signal) = event {
            let number = self.number(signal.id);
            self.measured(number, false, signal);
        } else if let Event::Ended(signal) = event {
            let number = self.number(signal.id);
            self.measured(number, true, signal);
            let last = self
                .makers
                .remove(&number)
                .and_then(|mut maker| maker.close());
            self.lines.extend(last.map(|line| (number, line)));
            self.numbers.remove(&signal.id);
        }
    }

    fn character(&mut self, character: &Character) {
        let number = self.number(character.signal);
        self.characters += 1;
        self.doubtful += u64::from(character.doubt.is_some());
        let character = Character {
            start_s: character.start_s + self.origin_s,
            ..character.clone()
        };
        let mut closed = Vec::new();
        self.makers
            .entry(number)
            .or_default()
            .take(&character, &mut closed);
        self.lines
            .extend(closed.into_iter().map(|line| (number, line)));
        while self.lines.len() > MOST_WAITING {
            self.lines.pop_front();
            self.given_up += 1;
        }
    }

    fn number(&mut self, id: SignalId) -> u32 {
        let next = &mut self.next_number;
        *self.numbers.entry(id).or_insert_with(|| {
            *next += 1;
            *next - 1
        })
    }

    fn measured(&mut self, number: u32, last: bool, signal: &Signal) {
        let signal = Signal {
            begin_s: signal.begin_s + self.origin_s,
            until_s: signal.until_s + self.origin_s,
            ..signal.clone()
        };
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
        for (number, line) in &self.lines {
            save_line(change, self.reading, *number, line)?;
        }
        for (number, maker) in &mut self.makers {
            if let Some(line) = maker.changed() {
                save_line(change, self.reading, *number, &line)?;
            }
        }
        change
            .prepare_cached(
                "UPDATE readings SET heard_s = ?2, characters = ?3, doubtful = ?4 WHERE id = ?1",
            )?
            .execute(params![
                self.reading,
                self.heard_s,
                self.characters as i64,
                self.doubtful as i64
            ])?;
        Ok(())
    }

    /// What was written last is committed.
    pub(super) fn saved(&mut self) {
        self.measured.clear();
        self.lines.clear();
    }

    /// Writes all that is left and marks the reading as finished; `whole` says whether it
    /// heard all sound of the evening.
    pub(super) fn finish(&mut self, change: &Transaction, whole: bool) -> rusqlite::Result<()> {
        self.close_lines();
        self.save(change)?;
        change.execute(
            "UPDATE readings SET finished = 1, whole = ?2 WHERE id = ?1",
            params![self.reading, whole],
        )?;
        Ok(())
    }
}

fn save_measured(
    change: &Transaction,
    reading: i64,
    number: u32,
    last: bool,
    signal: &Signal,
) -> rusqlite::Result<()> {
    let row = signal_row(change, reading, number)?;
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO measurements
             VALUES (:signal, :final, :begin, :until, :mark, :space, :shift, :usual_shift,
                     :rate, :usual_rate, :higher, :stop, :es_n0, :snr, :drift, :drift_per_min)",
        )?
        .execute(named_params! {
            ":signal": row,
            ":final": last,
            ":begin": signal.begin_s,
            ":until": signal.until_s,
            ":mark": signal.mark_hz,
            ":space": signal.space_hz,
            ":shift": signal.shift_hz,
            ":usual_shift": signal.usual_shift_hz,
            ":rate": signal.rate_baud,
            ":usual_rate": signal.usual_rate_baud,
            ":higher": signal.sense == Sense::HigherTone,
            ":stop": signal.stop_units,
            ":es_n0": signal.es_n0_db,
            ":snr": signal.snr_3khz_db,
            ":drift": signal.drift_hz,
            ":drift_per_min": signal.drift_hz_per_min,
        })?;
    Ok(())
}

fn save_line(change: &Transaction, reading: i64, number: u32, line: &Line) -> rusqlite::Result<()> {
    let row = signal_row(change, reading, number)?;
    let begin_s = line.characters.first().map_or(0.0, |c| c.start_s);
    let end_s = line.characters.last().map_or(begin_s, |c| c.start_s);
    change
        .prepare_cached(
            "INSERT INTO lines (signal, number, begin_s, end_s, text, characters, doubtful,
                                closed, details)
             VALUES (:signal, :number, :begin, :end, :text, :characters, :doubtful, :closed,
                     :details)
             ON CONFLICT (signal, number) DO UPDATE SET
                 end_s = excluded.end_s, text = excluded.text,
                 characters = excluded.characters, doubtful = excluded.doubtful,
                 closed = excluded.closed, details = excluded.details
             WHERE NOT closed",
        )?
        .execute(named_params! {
            ":signal": row,
            ":number": line.number,
            ":begin": finite(begin_s),
            ":end": finite(end_s),
            ":text": line.text,
            ":characters": line.characters.len() as i64,
            ":doubtful": line.doubtful,
            ":closed": line.closed,
            ":details": pack(&line.characters),
        })?;
    Ok(())
}

fn signal_row(change: &Transaction, reading: i64, number: u32) -> rusqlite::Result<i64> {
    change
        .prepare_cached("INSERT OR IGNORE INTO signals (reading, number) VALUES (?1, ?2)")?
        .execute(params![reading, number])?;
    change
        .prepare_cached("SELECT id FROM signals WHERE reading = ?1 AND number = ?2")?
        .query_row(params![reading, number], |row| row.get(0))
}

/// The database holds no time that is no number.
fn finite(seconds: f64) -> f64 {
    if seconds.is_finite() { seconds } else { 0.0 }
}
