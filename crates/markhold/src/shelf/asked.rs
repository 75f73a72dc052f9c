//! What `markhold shelf note`, `choose` and `delete` may be told.

use clap::Args;
use std::str::FromStr;

#[derive(Args, Debug)]
pub struct Note {
    /// The evening
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// The note, in place of the one before
    #[arg(value_name = "TEXT")]
    pub text: Option<String>,

    /// Whom it was heard from
    #[arg(long, value_name = "NAME")]
    pub station: Option<String>,
}

#[derive(Args, Debug)]
pub struct Choose {
    /// The evening
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// The reading, counted from 1, or best: the one that the shelf would choose
    #[arg(value_name = "READING")]
    pub reading: Standing,
}

/// Which reading is to stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standing {
    /// The surest of itself.
    Best,
    /// This one, counted from 1.
    Reading(usize),
}

impl FromStr for Standing {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        match word.parse() {
            _ if word.eq_ignore_ascii_case("best") => Ok(Standing::Best),
            Ok(count) if count > 0 => Ok(Standing::Reading(count)),
            _ => Err(
                "expected a number from 1 on, as markhold shelf list --json counts them, or best"
                    .into(),
            ),
        }
    }
}

#[derive(Args, Debug)]
pub struct Delete {
    /// The evening
    #[arg(value_name = "EVENING")]
    pub evening: String,

    /// Without asking again
    #[arg(long)]
    pub yes: bool,
}
