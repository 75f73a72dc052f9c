//! How a run of a sked went, by what was kept of it.

use super::{Shelf, ShelfError};
use markhold_event::Signal;
use markhold_skeds::watch::Run;

/// What was kept of a run, added up over its signals.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct KeptOf {
    /// Characters copied.
    pub characters: u64,
    /// How many of them are doubtful.
    pub doubtful: u64,
    /// Signal to noise in 3 kHz, dB, of its longest signal.
    pub snr_3khz_db: Option<f64>,
    /// How far that one drifted from its begin to its end, Hz.
    pub drift_hz: Option<f64>,
}

impl KeptOf {
    /// The share of characters that are sure, 0 to 1; 0 where there are none.
    pub fn sure(&self) -> f64 {
        match self.characters {
            0 => 0.0,
            all => 1.0 - self.doubtful as f64 / all as f64,
        }
    }
}

impl Shelf {
    /// What was kept of a run. What the shelf has no longer counts as nothing.
    pub fn kept_of(&self, run: &Run) -> Result<KeptOf, ShelfError> {
        let mut kept = KeptOf::default();
        let mut longest: Option<Signal> = None;
        for (evening, signals) in &run.kept_in {
            for signal in signals {
                self.count(*evening, *signal, &mut kept)?;
            }
            for signal in self.measured(*evening, signals)? {
                let length = |s: &Signal| s.until_s - s.begin_s;
                if longest.as_ref().is_none_or(|l| length(l) < length(&signal)) {
                    longest = Some(signal);
                }
            }
        }
        let number = |value: f64| Some(value).filter(|v| v.is_finite());
        kept.snr_3khz_db = longest.as_ref().and_then(|s| number(s.snr_3khz_db));
        kept.drift_hz = longest.as_ref().and_then(|s| number(s.drift_hz));
        Ok(kept)
    }

    fn count(&self, evening: i64, signal: u32, kept: &mut KeptOf) -> Result<(), ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT total(l.characters), total(l.doubtful)
             FROM best_readings b JOIN signals s ON s.reading = b.reading
                  JOIN lines l ON l.signal = s.id
             WHERE b.evening = ?1 AND s.number = ?2",
        )?;
        let (characters, doubtful): (f64, f64) =
            query.query_row((evening, signal), |row| Ok((row.get(0)?, row.get(1)?)))?;
        kept.characters += characters as u64;
        kept.doubtful += doubtful as u64;
        Ok(())
    }

    /// The latest measurements of some signals of an evening.
    fn measured(&self, evening: i64, signals: &[u32]) -> Result<Vec<Signal>, ShelfError> {
        if signals.is_empty() {
            return Ok(Vec::new());
        }
        let mut query = self
            .archive()
            .prepare_cached("SELECT reading FROM best_readings WHERE evening = ?1")?;
        let mut rows = query.query([evening])?;
        let Some(row) = rows.next()? else {
            return Ok(Vec::new());
        };
        let all = self.signals(row.get(0)?)?;
        let of_it = all.iter().filter(|signal| signals.contains(&signal.number));
        Ok(of_it
            .filter_map(|signal| signal.latest().cloned())
            .collect())
    }
}
