//! What became of skeds, kept in the archive.

use super::{Shelf, ShelfError};
use jiff::{SignedDuration, Timestamp};
use markhold_skeds::MarkOnAir;
use markhold_skeds::watch::{Held, Run, RunState};
use rusqlite::{OptionalExtension, Row, params};

impl Shelf {
    /// Keeps what is known of a run, in place of what was known before.
    pub fn keep_run(&mut self, run: &Run) -> Result<(), ShelfError> {
        let held = run.held;
        self.archive().execute(
            "INSERT OR REPLACE INTO sked_runs
                 (sked, begins_ms, ends_ms, title, shift_hz, rate_baud, mark, state, cause,
                  last_ms, kept_in)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
            params![
                run.sked,
                run.begins.as_millisecond(),
                run.ends.as_millisecond(),
                run.title,
                held.shift_hz,
                held.rate_baud,
                held.mark.map(word),
                run.state.word(),
                run.cause,
                run.last_heard.map(Timestamp::as_millisecond),
                serde_json::json!(run.kept_in).to_string(),
            ],
        )?;
        Ok(())
    }

    /// The runs that were due from then on, in order of time.
    pub fn runs(&self, from: Timestamp) -> Result<Vec<Run>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT sked, begins_ms, ends_ms, title, shift_hz, rate_baud, mark, state, cause,
                    last_ms, kept_in
             FROM sked_runs WHERE begins_ms >= ?1 ORDER BY begins_ms, sked",
        )?;
        let runs = query.query_map([from.as_millisecond()], run)?;
        Ok(runs.collect::<Result<_, _>>()?)
    }

    /// The names of an evening: of the skeds that were heard in it, each once, in order of time.
    pub(super) fn names(&self, evening: i64) -> Result<Vec<String>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT title FROM sked_runs, json_each(kept_in) AS part
             WHERE json_valid(kept_in) AND json_extract(part.value, '$[0]') = ?1
                   AND json_array_length(part.value, '$[1]') > 0
             GROUP BY title ORDER BY min(begins_ms), title",
        )?;
        let names = query.query_map([evening], |row| row.get(0))?;
        Ok(names.collect::<Result<_, _>>()?)
    }

    /// Notes that skeds were looked after at that time.
    pub fn watched(&mut self, looked: Timestamp) -> Result<(), ShelfError> {
        self.archive().execute(
            "INSERT OR REPLACE INTO watched (id, looked_ms) VALUES (1, ?1)",
            [looked.as_millisecond()],
        )?;
        Ok(())
    }

    /// When skeds were last looked after; `None` if they never were.
    pub fn last_watched(&self) -> Result<Option<Timestamp>, ShelfError> {
        let mut query = self
            .archive()
            .prepare_cached("SELECT looked_ms FROM watched")?;
        let looked: Option<i64> = query.query_row([], |row| row.get(0)).optional()?;
        Ok(looked.and_then(|ms| Timestamp::from_millisecond(ms).ok()))
    }
}

fn word(mark: MarkOnAir) -> &'static str {
    match mark {
        MarkOnAir::Higher => "higher",
        MarkOnAir::Lower => "lower",
    }
}

fn run(row: &Row) -> rusqlite::Result<Run> {
    let time = |ms| Timestamp::from_millisecond(ms).unwrap_or_default();
    let mark = match row.get::<_, Option<String>>(6)?.as_deref() {
        Some("higher") => Some(MarkOnAir::Higher),
        Some("lower") => Some(MarkOnAir::Lower),
        _ => None,
    };
    Ok(Run {
        sked: row.get(0)?,
        begins: time(row.get(1)?),
        ends: time(row.get(2)?),
        title: row.get(3)?,
        held: Held {
            middle_khz: None,
            shift_hz: row.get(4)?,
            rate_baud: row.get(5)?,
            mark,
        },
        state: RunState::from_word(&row.get::<_, String>(7)?),
        cause: row.get(8)?,
        last_heard: row.get::<_, Option<i64>>(9)?.map(time),
        heard_for: SignedDuration::ZERO,
        kept_in: serde_json::from_str(&row.get::<_, String>(10)?).unwrap_or_default(),
    })
}
