//! What an archive's own copy teaches, kept in the archive.
//!
//! The model is made from the copy of the latest evenings and can always be made again: to
//! forget an evening is to make it without that one.

use super::lessons::{Lessons, texts};
use super::{Shelf, ShelfError};
use jiff::Timestamp;
use markhold_language::Learned;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeMap;

/// Characters of copy that are looked at, the latest first: some twenty hours of continuous
/// sending at 45.45 baud. Making the model of as many takes about a second.
const MOST: u64 = 400_000;

/// What was learned.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// When.
    pub made: Timestamp,
    /// Evenings that were looked at.
    pub evenings: u64,
    /// Words learned from, each as often as it came.
    pub words: u64,
    /// Their letters.
    pub characters: u64,
    /// The model.
    pub learned: Learned,
}

/// Which evenings are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evenings {
    /// Those that are on the shelf now.
    All,
    /// This one.
    One(i64),
}

impl Shelf {
    /// What was learned last; `None` if nothing was.
    ///
    /// Errors: damage, which learning anew mends.
    pub fn lesson(&self) -> Result<Option<Lesson>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT made_ms, json_array_length(readings), words, characters, counts FROM learned",
        )?;
        let row = query.query_row([], |row| {
            let counts: Vec<u8> = row.get(4)?;
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, counts))
        });
        let Some((made_ms, evenings, words, characters, counts)) = row.optional()? else {
            return Ok(None);
        };
        let count = |n: i64| n as u64;
        Ok(Some(Lesson {
            made: Timestamp::from_millisecond(made_ms).unwrap_or_default(),
            evenings: count(evenings),
            words: count(words),
            characters: count(characters),
            learned: Learned::from_bytes(&counts)
                .map_err(|error| ShelfError::Learned(error.to_string()))?,
        }))
    }

    /// Learns from the best readings of the latest evenings that ended, unless that was done
    /// already. See [`super::lessons`] for what counts.
    pub fn learn(&mut self) -> Result<Lesson, ShelfError> {
        let readings = self.teachers()?;
        let named = serde_json::json!(readings).to_string();
        let known: Option<String> = self
            .archive()
            .query_row("SELECT readings FROM learned", [], |row| row.get(0))
            .optional()?;
        if known.as_ref() == Some(&named)
            && let Ok(Some(lesson)) = self.lesson()
        {
            return Ok(lesson);
        }
        let texts = texts(&self.words(&readings)?);
        let mut learned = Learned::default();
        texts.iter().for_each(|text| learned.learn(text));
        let words = texts.iter().map(|text| text.split_whitespace().count());
        let letters = |text: &String| text.bytes().filter(u8::is_ascii_uppercase).count();
        let lesson = Lesson {
            made: Timestamp::now(),
            evenings: readings.len() as u64,
            words: words.sum::<usize>() as u64,
            characters: texts.iter().map(letters).sum::<usize>() as u64,
            learned,
        };
        self.archive().execute(
            "INSERT OR REPLACE INTO learned VALUES (1, ?1, ?2, ?3, ?4, ?5)",
            params![
                lesson.made.as_millisecond(),
                named,
                lesson.words as i64,
                lesson.characters as i64,
                lesson.learned.to_bytes()
            ],
        )?;
        Ok(lesson)
    }

    /// Forgets what evenings taught; nothing is learned from them again until
    /// [`Shelf::teach_again`]. Their copy stays. What the others taught stays as well.
    ///
    /// Errors: no such evening.
    pub fn forget(&mut self, evenings: Evenings) -> Result<(), ShelfError> {
        self.set_teaches(evenings, false)?;
        // Gone at once, also where learning anew fails.
        self.archive().execute("DELETE FROM learned", [])?;
        Ok(())
    }

    /// Learns from evenings again that were forgotten.
    ///
    /// Errors: no such evening.
    pub fn teach_again(&mut self, evenings: Evenings) -> Result<(), ShelfError> {
        self.set_teaches(evenings, true)
    }

    fn set_teaches(&self, evenings: Evenings, teaches: bool) -> Result<(), ShelfError> {
        let one = match evenings {
            Evenings::All => None,
            Evenings::One(id) => Some(self.evening(id)?.id),
        };
        self.archive().execute(
            "UPDATE evenings SET teaches = ?1 WHERE ?2 IS NULL OR id = ?2",
            params![teaches, one],
        )?;
        Ok(())
    }

    /// The readings to learn from, the latest evening first.
    fn teachers(&self) -> Result<Vec<i64>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT r.id, r.characters FROM evenings e
                 JOIN best_readings b ON b.evening = e.id JOIN readings r ON r.id = b.reading
             WHERE e.teaches AND e.end_ms IS NOT NULL AND r.characters > 0 AND r.corrects IS NULL
             ORDER BY e.begin_ms DESC, e.id DESC",
        )?;
        let mut rows = query.query([])?;
        let (mut readings, mut characters) = (Vec::new(), 0);
        while let Some(row) = rows.next()? {
            if characters >= MOST {
                break;
            }
            readings.push(row.get(0)?);
            characters += row.get::<_, i64>(1)? as u64;
        }
        Ok(readings)
    }

    /// The words of readings that may be learned from.
    fn words(&self, readings: &[i64]) -> Result<Vec<Option<String>>, ShelfError> {
        let mut words = Vec::new();
        for reading in readings {
            let mut signals: BTreeMap<u32, Lessons> = BTreeMap::new();
            self.lines(*reading, &mut |line| {
                // Damage, and what was dropped, teach nothing.
                let characters = line.characters().unwrap_or_default();
                if line.knows_language() {
                    let lessons = signals.entry(line.signal).or_default();
                    characters.iter().for_each(|c| lessons.take(c));
                }
            })?;
            for lessons in signals.into_values() {
                words.extend(lessons.finish());
                words.push(None);
            }
        }
        Ok(words)
    }
}
