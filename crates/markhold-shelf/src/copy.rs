//! The copy of a reading: signals and lines as they were kept.

use super::details::{Entry, know_language, unpack};
use super::{Shelf, ShelfError};
use markhold_event::{Character, Event, Sense, Signal, SignalId};
use rusqlite::Row;
use std::collections::BTreeMap;

/// A signal of a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptSignal {
    /// Its number in the reading; counts up from 1.
    pub number: u32,
    /// What was measured when it was found, if that was kept.
    pub found: Option<Signal>,
    /// The final measurements; `None` if it never ended.
    pub ended: Option<Signal>,
}

impl KeptSignal {
    /// The latest measurements.
    pub fn latest(&self) -> Option<&Signal> {
        self.ended.as_ref().or(self.found.as_ref())
    }
}

/// A line of copy.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptLine {
    /// The number of its signal in the reading.
    pub signal: u32,
    /// Where its first character begins, s from the first sample of the evening.
    pub begin_s: f64,
    /// Where its last character begins, s.
    pub end_s: f64,
    /// What is printed.
    pub text: String,
    /// How many of its characters are doubtful.
    pub doubtful: u64,
    /// How many of them language made others, or would have; `None` where that was not
    /// kept.
    pub changed: Option<u64>,
    /// Every character packed, see [`KeptLine::characters`].
    details: Vec<u8>,
}

impl KeptLine {
    /// Its columns, where `s` is its signal and `l` the line.
    pub(super) const COLUMNS: &str =
        "s.number, l.begin_s, l.end_s, l.text, l.doubtful, l.changed, l.details";

    /// Every character received, line ends and shifts among them. Other readings of a
    /// character that were together less likely than 0.1 % come back with probability 0.
    ///
    /// Errors: [`ShelfError::Details`]; the text is whole nevertheless.
    pub fn characters(&self) -> Result<Vec<Character>, ShelfError> {
        let decided = |entry| match entry {
            Entry::Decided(character) => Some(character),
            Entry::Unlikely(_) => None,
        };
        Ok(self.entries()?.into_iter().filter_map(decided).collect())
    }

    /// The same, with readings between them that are more likely noise, where those were
    /// kept.
    pub fn entries(&self) -> Result<Vec<Entry>, ShelfError> {
        unpack(&self.details, SignalId(self.signal))
    }

    /// Whether its characters tell what language had to do with them. Version 0.1.0 let
    /// language join and dropped that.
    pub fn knows_language(&self) -> bool {
        know_language(&self.details)
    }

    /// A line from the columns of [`KeptLine::COLUMNS`], the first of them in place `at`.
    pub(super) fn of_row(row: &Row, at: usize) -> rusqlite::Result<Self> {
        Ok(KeptLine {
            signal: row.get(at)?,
            begin_s: row.get(at + 1)?,
            end_s: row.get(at + 2)?,
            text: row.get(at + 3)?,
            doubtful: row.get::<_, i64>(at + 4)? as u64,
            changed: row.get::<_, Option<i64>>(at + 5)?.map(|count| count as u64),
            details: row.get(at + 6)?,
        })
    }
}

impl Shelf {
    /// The signals of a reading, by number.
    pub fn signals(&self, reading: i64) -> Result<Vec<KeptSignal>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT s.number, m.* FROM signals s LEFT JOIN measurements m ON m.signal = s.id
             WHERE s.reading = ?1 ORDER BY s.number, m.final",
        )?;
        let mut signals: BTreeMap<u32, KeptSignal> = BTreeMap::new();
        let mut rows = query.query([reading])?;
        while let Some(row) = rows.next()? {
            let number = row.get(0)?;
            let (found, ended) = (None, None);
            let signal = signals.entry(number).or_insert(KeptSignal {
                number,
                found,
                ended,
            });
            match row.get::<_, Option<bool>>("final")? {
                Some(true) => signal.ended = Some(measured(number, row)?),
                Some(false) => signal.found = Some(measured(number, row)?),
                None => {}
            }
        }
        Ok(signals.into_values().collect())
    }

    /// Gives every line of a reading to `take`, in order of time.
    pub fn lines(&self, reading: i64, take: &mut dyn FnMut(KeptLine)) -> Result<(), ShelfError> {
        let mut query = self.archive().prepare_cached(&format!(
            "SELECT {} FROM lines l JOIN signals s ON s.id = l.signal
             WHERE s.reading = ?1 ORDER BY l.begin_s, l.id",
            KeptLine::COLUMNS
        ))?;
        let mut rows = query.query([reading])?;
        while let Some(row) = rows.next()? {
            take(KeptLine::of_row(row, 0)?);
        }
        Ok(())
    }

    /// Everything of a reading as the receiver reported it, line by line in order of time;
    /// times count from the first sample of the evening.
    ///
    /// Errors: also a line with damaged details, after everything else was given.
    pub fn events(&self, reading: i64, report: &mut dyn FnMut(Event)) -> Result<(), ShelfError> {
        let signals = self.signals(reading)?;
        let mut waiting: Vec<&KeptSignal> = signals.iter().rev().collect();
        let mut damage = None;
        self.lines(reading, &mut |line| {
            while let Some(signal) = waiting.pop_if(|s| s.number <= line.signal) {
                report_found(signal, report);
            }
            match line.entries() {
                Ok(entries) => entries.into_iter().map(event_of).for_each(&mut *report),
                Err(error) => damage = Some(error),
            }
        })?;
        waiting
            .into_iter()
            .rev()
            .for_each(|signal| report_found(signal, report));
        for signal in &signals {
            signal
                .ended
                .clone()
                .map(Event::Ended)
                .into_iter()
                .for_each(&mut *report);
        }
        damage.map_or(Ok(()), Err)
    }
}

fn event_of(entry: Entry) -> Event {
    match entry {
        Entry::Decided(character) => Event::Character(character),
        Entry::Unlikely(character) => Event::Unlikely(character),
    }
}

fn report_found(signal: &KeptSignal, report: &mut dyn FnMut(Event)) {
    signal
        .found
        .clone()
        .map(Event::Found)
        .into_iter()
        .for_each(report);
}

fn measured(number: u32, row: &Row) -> rusqlite::Result<Signal> {
    let value = |name: &str| -> rusqlite::Result<f64> {
        Ok(row.get::<_, Option<f64>>(name)?.unwrap_or(f64::NAN))
    };
    Ok(Signal {
        id: SignalId(number),
        begin_s: value("begin_s")?,
        until_s: value("until_s")?,
        mark_hz: value("mark_hz")?,
        space_hz: value("space_hz")?,
        shift_hz: value("shift_hz")?,
        usual_shift_hz: row.get("usual_shift_hz")?,
        rate_baud: value("rate_baud")?,
        usual_rate_baud: row.get("usual_rate_baud")?,
        sense: if row.get("mark_is_higher")? {
            Sense::HigherTone
        } else {
            Sense::LowerTone
        },
        stop_units: row.get("stop_units")?,
        // Not kept: every character has the shift and the row in which it was read.
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: value("es_n0_db")?,
        snr_3khz_db: value("snr_3khz_db")?,
        drift_hz: value("drift_hz")?,
        drift_hz_per_min: value("drift_hz_per_min")?,
    })
}
