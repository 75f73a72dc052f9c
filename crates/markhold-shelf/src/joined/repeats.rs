//! Skeds name their repeats: what was kept of their runs, and when there is another chance.

use super::Which;
use crate::{Shelf, ShelfError};
use jiff::{SignedDuration, Timestamp};

/// How far ahead another chance is looked for: a year.
const AHEAD: SignedDuration = SignedDuration::from_hours(366 * 24);

impl Shelf {
    /// The signals that were kept of the runs of these skeds from that time on, each once. What
    /// the shelf has no longer is left out.
    ///
    /// Errors: no such sked; the archive.
    pub fn kept_of_skeds(&self, skeds: &[i64], from: Timestamp) -> Result<Vec<Which>, ShelfError> {
        skeds.iter().try_for_each(|id| self.sked(*id).map(|_| ()))?;
        let mut all: Vec<Which> = Vec::new();
        for run in self.runs(from)? {
            let kept = run.kept_in.iter().filter(|_| skeds.contains(&run.sked));
            for (evening, signals) in kept {
                let signal = |signal: &u32| Which {
                    evening: *evening,
                    signal: Some(*signal),
                };
                let known = self.kept_copies(&[Which {
                    evening: *evening,
                    signal: None,
                }]);
                let copied: Vec<u32> = match known {
                    Ok(copies) => copies.iter().map(|c| c.signal).collect(),
                    Err(ShelfError::NoEvening { .. }) => Vec::new(),
                    Err(error) => return Err(error),
                };
                let there = signals.iter().filter(|s| copied.contains(s)).map(signal);
                all.extend(there.filter(|w| !all.contains(w)).collect::<Vec<_>>());
            }
        }
        Ok(all)
    }

    /// The sked of these that is due next, and when; `None` if none comes within a year.
    ///
    /// Errors: no such sked, or one that cannot be read; the archive.
    pub fn next_chance(
        &self,
        skeds: &[i64],
        after: Timestamp,
    ) -> Result<Option<(i64, Timestamp)>, ShelfError> {
        let until = after.saturating_add(AHEAD).unwrap_or(Timestamp::MAX);
        let mut next: Option<(i64, Timestamp)> = None;
        for id in skeds {
            let when = self.sked(*id)?.when;
            let comes = when.occurrences(jiff::tz::db(), (after, until), 1);
            let comes = comes.map_err(|error| ShelfError::Sked {
                id: *id,
                why: error.to_string(),
            })?;
            let sooner = |at: &&Timestamp| next.is_none_or(|n| **at < n.1);
            if let Some(at) = comes.first().filter(sooner) {
                next = Some((*id, *at));
            }
        }
        Ok(next)
    }
}
