//! One copy out of several evenings', for whoever shows it.
//!
//! * [`Shelf::join`]: evenings in, a [`Joined`] out; [`Shelf::join_again`] hears once more what
//!   does not go together.
//! * [`Joined::lines`]: what stands on each line, from the left: characters with the probability
//!   of what they print, and variants.
//! * [`Joined::missing`]: what even all copies together do not tell.

mod again;
mod copies;
mod lines;
mod missing;
mod plain;
mod printed;
mod repeats;
mod says;

pub use again::Looked;
pub use copies::{KeptCopy, Which};
pub use lines::{JointLine, Piece};
pub use missing::{Missing, Why};
pub use printed::{Printed, THERE};
pub use says::Says;

use super::{Shelf, ShelfError};
use markhold_code::{FiguresRow, Symbol};
use markhold_join::{Copied, Joint, JointCharacter, Wording, join};

/// Copies and what they say together.
#[derive(Clone, Debug)]
pub struct Joined {
    /// The signals of the evenings asked for, in the order in which they were heard.
    pub copies: Vec<KeptCopy>,
    /// One joint copy for each text that two of them or more have.
    pub joints: Vec<Joint>,
    /// Stretches that were heard again, in order of copies and time.
    pub looked: Vec<Looked>,
    /// The figures row in which they are read.
    row: FiguresRow,
}

impl Shelf {
    /// Joins what these evenings, or signals of them, repeat; by the reading of each that stands.
    ///
    /// Errors: no such evening or signal; the archive.
    pub fn join(&self, asked: &[Which]) -> Result<Joined, ShelfError> {
        let copies = self.kept_copies(asked)?;
        let given: Vec<Copied> = copies.iter().map(|c| c.copied.clone()).collect();
        Ok(Joined {
            joints: join(&given),
            looked: Vec::new(),
            row: row(&copies),
            copies,
        })
    }

    /// The copies of these evenings, or signals of them, each once, in the order in which they
    /// were heard.
    ///
    /// Errors: no such evening or signal; the archive.
    pub fn kept_copies(&self, asked: &[Which]) -> Result<Vec<KeptCopy>, ShelfError> {
        copies::copies(self, asked)
    }
}

/// The figures row by which most of what the copies read in figures was read.
pub fn row(copies: &[KeptCopy]) -> FiguresRow {
    copies::row(copies)
}

impl KeptCopy {
    /// Its lines as plain text: doubtful between [ and ].
    pub fn texts(&self) -> Vec<String> {
        plain::lines_of(self)
    }
}

impl Joined {
    /// What a character prints.
    pub fn printed(&self, character: &JointCharacter) -> Printed {
        printed::printed(character, self.row)
    }

    /// What else a character may be, the likeliest first, with probabilities.
    pub fn others(&self, character: &JointCharacter) -> Vec<(Symbol, f32)> {
        says::others(character, self.row)
    }

    /// What each copy that bears a character reads there.
    pub fn says(&self, character: &JointCharacter) -> Vec<Says> {
        says::says(character, &self.copies)
    }

    /// What a wording of a variant prints.
    pub fn wording(&self, joint: &Joint, variant: usize, wording: &Wording) -> String {
        let first = joint.variants[variant].characters.start;
        printed::wording(wording, joint.characters[first].shift(), self.row)
    }

    /// The lines of a joint copy.
    pub fn lines(&self, joint: &Joint) -> Vec<JointLine> {
        lines::lines(joint, self.copies.len(), self.row)
    }

    /// The same as plain text: doubtful between [ and ], variants as <117|118>.
    pub fn texts(&self, joint: &Joint) -> Vec<String> {
        let lines = self.lines(joint);
        lines.iter().map(|l| plain::line(self, joint, l)).collect()
    }

    /// What a joint copy does not tell, in order.
    pub fn missing(&self, joint: &Joint) -> Vec<Missing> {
        missing::missing(joint, &self.copies, self.row)
    }

    /// How many characters of a joint copy are shown, and how many of them are doubtful;
    /// variants are none of these.
    pub fn counted(&self, joint: &Joint) -> (usize, usize) {
        let shown: Vec<&JointCharacter> = printed::shown(joint).map(|(_, c)| c).collect();
        let plain = |c: &&&JointCharacter| c.variant.is_none() && self.printed(c).is_doubtful();
        (shown.len(), shown.iter().filter(plain).count())
    }

    /// The copies that repeat none of the others.
    pub fn alone(&self) -> Vec<usize> {
        let joined = |k: &usize| self.joints.iter().any(|j| j.copies.contains(k));
        (0..self.copies.len()).filter(|k| !joined(k)).collect()
    }

    /// What copies are called, as `A, B and D`.
    pub fn names(&self, which: &[usize]) -> String {
        let mut which = which.to_vec();
        which.sort_unstable();
        let names: Vec<&str> = which
            .iter()
            .map(|k| self.copies[*k].name.as_str())
            .collect();
        match names.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => names.concat(),
        }
    }
}
