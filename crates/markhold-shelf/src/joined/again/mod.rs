//! Looking again: where a copy does not go with the others, its sound is heard once more by what
//! is known of its signal by now.
//!
//! ```text
//!   place of the joint copy   1 2 3 4 5 6 7 8 9 ...
//!   copy B                    z k o k n . . 8 9      `stretches`: what does not go together
//!   its sound                 ~~~~~~~~~~~~~~~~~      `listen`: heard again, rate, tones and
//!                                                     sense known from the first sample on
//!   copy B                    1 2 3 4 x 6 7 8 9      the surer of both
//! ```
//!
//! A receiver that has yet to find a signal may read its begin, or what follows a deep fade, by
//! a wrong rate or with starts in wrong places. By the end of the evening all of that is known.
//! What the other copies say decides where to look and nothing else: neither what is heard there
//! nor whether it is taken, so no evidence counts twice.

mod listen;
mod stretches;

use super::copies::{KeptCopy, row};
use super::{Joined, Which};
use crate::{Shelf, ShelfError, certainty};
use listen::{Listened, listen};
use markhold_join::{Copied, join};
use stretches::{Stretch, stretches};

/// A stretch of a copy that was heard again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looked {
    /// The copy, by its place among those joined.
    pub copy: usize,
    /// From where to where, s from the first sample of its evening.
    pub from_s: f64,
    /// See `from_s`.
    pub until_s: f64,
    /// Whether what was heard now is surer than what was copied before, and stands in its place.
    pub better: bool,
}

impl Shelf {
    /// As [`Shelf::join`]; then looks again where copies do not go together and their sound is
    /// still there, and joins once more. `tell` is told of every stretch before it is heard.
    ///
    /// The archive stays as it is. Errors: no such evening or signal; the archive.
    pub fn join_again(
        &self,
        asked: &[Which],
        tell: &mut dyn FnMut(&KeptCopy, f64, f64),
    ) -> Result<Joined, ShelfError> {
        let mut joined = self.join(asked)?;
        let found: Vec<Vec<Stretch>> = (0..joined.copies.len())
            .map(|k| stretches(&joined, k))
            .collect();
        for (k, stretches) in found.iter().enumerate() {
            for heard in listen(self, &joined.copies[k], stretches, tell)? {
                let better = taken(&mut joined.copies[k], &heard);
                joined.looked.push(Looked {
                    copy: k,
                    from_s: heard.from_s,
                    until_s: heard.until_s,
                    better,
                });
            }
        }
        if joined.looked.iter().any(|l| l.better) {
            let given: Vec<Copied> = joined.copies.iter().map(|c| c.copied.clone()).collect();
            joined.joints = join(&given);
            joined.row = row(&joined.copies);
        }
        Ok(joined)
    }
}

/// Puts what was heard in the place of what the copy has there, if it is surer.
fn taken(copy: &mut KeptCopy, heard: &Listened) -> bool {
    let times = heard.from_s..heard.until_s;
    let old = copy
        .characters
        .iter()
        .filter(|c| times.contains(&c.start_s));
    let before: f64 = old.map(certainty::of).sum();
    let now: f64 = heard.decided().map(certainty::of).sum();
    let is_better = now > before.max(0.0);
    if is_better {
        copy.replace(times, &heard.entries);
    }
    is_better
}
